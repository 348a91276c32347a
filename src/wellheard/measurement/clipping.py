"""Flat tops: where a recorder, or whatever came before it, ran out of range."""

from __future__ import annotations

from typing import Final, TypeAlias

import numpy as np
import numpy.typing as npt

from wellheard.arrays import Array
from wellheard.measurement.results import Fault
from wellheard.units import level_db

HARMFUL_SHARE: Final = 1e-3
"""Share of clipped samples from which nothing is read from a recording; common practice."""

Indices: TypeAlias = npt.NDArray[np.int64]

_SHORTEST = 3  # samples of a flat top
_FEWEST = 6  # samples of flat tops altogether
_FLAT = 3e-4  # of the extreme; what noise at −70 dB leaves of a flat top
_STEEP = 4.0  # times what a round top of the same width falls by two samples further out
_SEEN = 1 << 18  # samples that the step of the converter is found from


def smallest_step(samples: Array) -> float:
    """Difference between neighbouring values of a converter; next to nothing if floating.

    Parameters
    ----------
    samples : ndarray, shape (samples,)
        Re full scale.

    Examples
    --------
    >>> smallest_step(np.array([0.5, -0.25, 0.125, 0.5]))
    0.375
    """
    stride = max(1, len(samples) // _SEEN)
    values = np.unique(samples[::stride])
    return float(np.diff(values).min()) if len(values) > 1 else 0.0


def clipping(samples: Array) -> Fault | None:
    """Flat tops of a recording, also below full scale.

    Parameters
    ----------
    samples : ndarray, shape (samples,)
        Re full scale.

    Returns
    -------
    Fault or None
        An error where more than :data:`HARMFUL_SHARE` of all samples are clipped.

    Notes
    -----
    A top counts as flat where three samples or more are as good as equal to the extreme of the
    recording, and the signal falls away from them far more steeply than from a round top of that
    width: so a slow sine, whose crest is flat too for a while, is none. What was clipped and then
    filtered is not found, and a square wave from a generator cannot be told from clipping.
    """
    if len(samples) == 0:
        return None
    step = smallest_step(samples)
    tops = [(extreme, _flat_tops(side, step)) for side, extreme in _sides(samples)]
    count = sum(int(lengths.sum()) for _, lengths in tops)
    if count < _FEWEST:
        return None
    places = sum(len(lengths) for _, lengths in tops)
    extreme = max(extreme for extreme, lengths in tops if len(lengths))
    share = count / len(samples)
    at = f"{level_db(extreme**2):.1f} dB re full scale".replace("-", "−")
    return Fault(
        "clipping",
        "error" if share > HARMFUL_SHARE else "warning",
        f"clipped at {places:,} places, {count:,} samples in all ({100.0 * share:.2g} %), at {at}",
        "lower the input gain, or the level of the signal, until peaks stay 6 dB below full scale, "
        "and record again; below full scale it is a stage before the recorder that clips",
    )


def extremes(samples: Array) -> tuple[float, float]:
    """Lowest and highest value that a flat top may be at, a little inside."""
    lowest, highest = float(samples.min()), float(samples.max())
    return lowest * (1.0 - _FLAT), highest * (1.0 - _FLAT)


def _sides(samples: Array) -> list[tuple[Array, float]]:
    both = ((samples, float(samples.max())), (-samples, float(-samples.min())))
    return [(side, extreme) for side, extreme in both if extreme > 0.0]


def _flat_tops(side: Array, step: float) -> Indices:
    """Lengths of the flat tops on the upper side."""
    extreme = float(side.max())
    near = max(step, _FLAT * extreme)
    if extreme <= 4.0 * near:
        return np.zeros(0, dtype=np.int64)
    first, last = runs(np.flatnonzero(side >= extreme - near))
    long = last - first + 1 >= _SHORTEST
    first, last = first[long], last[long]
    length = last - first + 1
    ends = np.stack([np.maximum(first - 2, 0), np.minimum(last + 2, len(side) - 1)])
    fall = (extreme - side[ends]).mean(axis=0)
    round_top = near * (1.0 + 4.0 / length) ** 2
    return length[fall > _STEEP * round_top]


def runs(indices: Indices) -> tuple[Indices, Indices]:
    """First and last of each run of indices that follow each other.

    Examples
    --------
    >>> first, last = runs(np.array([3, 4, 5, 9]))
    >>> first.tolist(), last.tolist()
    ([3, 9], [5, 9])
    """
    if len(indices) == 0:
        return indices, indices
    gaps = np.flatnonzero(np.diff(indices) > 1)
    return (
        indices[np.concatenate([[0], gaps + 1])],
        indices[np.concatenate([gaps, [len(indices) - 1]])],
    )
