"""Gaps and jumps: where samples of a recording were lost."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

import numpy as np

from wellheard.arrays import Array
from wellheard.measurement.clipping import Indices, extremes, runs, smallest_step
from wellheard.measurement.results import Fault

HARMFUL_SHARE: Final = 1e-3
"""Share of lost time from which nothing is read from a recording; common practice."""

_SHORTEST = 0.001  # of a gap; what one lost packet or buffer comes to at least [s]
_LONGEST = 0.5  # beyond it is a pause [s]
_EDGE, _AROUND = 0.002, 0.02  # where sound has to be on both sides, and what it is compared with
_ALIVE = 4.0  # differences between samples, in steps of the converter, that are sound
_ABRUPT = 0.3  # of the differences around, which those at the edge still have: no fade
_JUMP = 12.0  # times the bends around
_ALIKE = 0.7  # of the larger of its own two, that the smaller has
_LARGE, _SURE = 0.02, 32.0  # that a jump comes to: of the largest sample, in steps
_REACH = 8  # samples on either side


def dropouts(samples: Array, rate: float) -> Iterator[Fault]:
    """Gaps and jumps inside sound.

    Parameters
    ----------
    samples : ndarray, shape (samples,)
        Re full scale.
    rate : float
        [Hz]

    Yields
    ------
    Fault
        ``dropout``, an error where more than :data:`HARMFUL_SHARE` of the time is lost, or
        ``jump``.

    Notes
    -----
    A gap is a run of zeros, or of one repeated value, of 1 ms to 0.5 s into which sound breaks off
    and out of which it comes without a fade. Pauses of a talker fade, flat tops are at the
    extreme, and quiet stretches of few bits have hardly any differences around them. A jump is a
    step alone, which no sound through a converter's filter makes: that rings. It is found where
    sound is smooth, in the lower part of a sweep say, and missed in noise.
    """
    if len(samples) < 4 * _REACH:
        return
    step = smallest_step(samples)
    gaps = list(_gaps(samples, rate, step))
    if gaps:
        lost = sum(last - first + 1 for first, last in gaps)
        share = lost / len(samples)
        yield Fault(
            "dropout",
            "error" if share > HARMFUL_SHARE else "warning",
            f"{_times(len(gaps), 'gap')} inside sound, {1000.0 * lost / rate:.1f} ms in all, the "
            f"first at {gaps[0][0] / rate:.3f} s",
            "close other programs, take larger buffers or a cable instead of radio, and record "
            "again",
        )
    jumps = _jumps(samples, step)
    if len(jumps):
        yield Fault(
            "jump",
            "warning",
            f"{_times(len(jumps), 'jump')} from one sample to the next, as lost samples leave, the "
            f"first at {jumps[0] / rate:.3f} s",
            "close other programs, take larger buffers, let one clock drive all devices, and "
            "record again",
        )


def _times(count: int, what: str) -> str:
    return f"one {what}" if count == 1 else f"{count:,} {what}s"


def _gaps(samples: Array, rate: float, step: float) -> Iterator[tuple[int, int]]:
    """First and last sample of each gap."""
    shortest = max(16, round(_SHORTEST * rate))
    half = shortest // 2
    blocks = samples[: len(samples) // half * half].reshape(-1, half)
    flat = np.flatnonzero(blocks.max(axis=1) == blocks.min(axis=1))
    lowest, highest = extremes(samples)
    for block_first, block_last in zip(*runs(flat), strict=True):
        first, last = int(block_first) * half, int(block_last + 1) * half - 1
        first -= _equal(samples[max(0, first - half) : first][::-1], samples[first])
        last += _equal(samples[last + 1 : last + 1 + half], samples[last])
        long = shortest <= last - first + 1 <= _LONGEST * rate
        clipped = samples[first] != 0.0 and not lowest < samples[first] < highest
        if long and not clipped and _breaks_off(samples, first, last, rate, step):
            yield first, last


def _equal(samples: Array, value: float) -> int:
    """How many samples from the first on have a value."""
    other = np.flatnonzero(samples != value)
    return int(other[0]) if len(other) else len(samples)


def _breaks_off(samples: Array, first: int, last: int, rate: float, step: float) -> bool:
    """Whether there is sound up to both ends of a run."""
    edge, around = round(_EDGE * rate), round(_AROUND * rate)
    before = np.abs(np.diff(samples[max(0, first - around) : first]))[::-1]
    after = np.abs(np.diff(samples[last + 1 : last + 1 + around]))
    for side in (before, after):
        if len(side) < edge:
            return False
        near = float(np.median(side[:edge]))
        if near < _ALIVE * step or near < _ABRUPT * float(np.median(side)):
            return False
    return True


def _jumps(samples: Array, step: float) -> Indices:
    """Samples after which there is a jump: two bends, one against the other, and none around."""
    bend = np.diff(samples, 2)
    size = np.abs(bend)
    least = max(_SURE * step, _LARGE * float(np.abs(samples).max()))
    first, second = size[_REACH : -_REACH - 1], size[_REACH + 1 : -_REACH]
    before, after = size[_REACH - 1 : -_REACH - 2], size[_REACH + 2 : len(size) - _REACH + 1]
    smaller = np.minimum(first, second)
    found = np.flatnonzero(
        (smaller > least) & (smaller > _JUMP * before) & (smaller > _JUMP * after)
    )
    at = found + _REACH
    beside = np.concatenate([np.arange(-_REACH, 0), np.arange(2, _REACH + 1)])
    around = size[at[:, None] + beside].max(axis=1, initial=0.0)
    alone = smaller[found] > _JUMP * np.maximum(around, step)
    across = bend[at] * bend[at + 1] < 0.0
    alike = smaller[found] > _ALIKE * np.maximum(first[found], second[found])
    return at[alone & across & alike & (around > 0.0)] + 1
