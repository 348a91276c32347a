"""Energy response of a room between talkers and microphones: direct, early, late, modulation.

::

    source ──────────────── microphone          direct, exact
        ╲        ╱╲        ╱
         ╲______╱  ╲______╱                     image sources up to a limit
    ~~~~~~~~~~~~~~~~~~~~~~~~~~~~                what is scattered or later, as the room's mean
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Protocol

import numpy as np
import numpy.typing as npt

from wellheard.acoustics import images_box, images_plan
from wellheard.acoustics.arrivals import (
    NEAREST,
    Job,
    LateField,
    Numbers,
    Reflected,
    lanes,
    tables,
)
from wellheard.acoustics.enclosure import Enclosure
from wellheard.acoustics.images_box import BELOW
from wellheard.arrays import Array, Mask
from wellheard.geometry.sight import clear_line

LIMIT = 0.060
"""Up to when images are followed, re the direct sound. [s]"""


@dataclass(frozen=True, eq=False)
class Sources:
    """R talkers or loudspeakers, all with one pattern.

    Parameters
    ----------
    at : ndarray, shape (R, 3)
        [m]
    facing : ndarray, shape (R, 3)
        Unit vectors.
    pattern : ndarray, shape (entries, 7)
        Energy re in front over equally spaced cosines from −1 to 1.
    diffuse : ndarray, shape (7,)
        Mean of the pattern over the sphere.
    """

    at: Array
    facing: Array
    pattern: Array
    diffuse: Array


@dataclass(frozen=True, eq=False)
class Receivers:
    """M microphones and K patterns that they may have.

    Parameters
    ----------
    at : ndarray, shape (M, 3)
        [m]
    patterns : ndarray, shape (K, entries, 7)
        Energy re on the axis over equally spaced cosines from −1 to 1, as many as the sources'.
    diffuse : ndarray, shape (K, 7)
        Random energy efficiency of each pattern.
    """

    at: Array
    patterns: Array
    diffuse: Array


@dataclass(frozen=True, eq=False)
class Pairs:
    """P pairs of source and microphone; axis and pattern are theirs, for beams follow talkers.

    Parameters
    ----------
    row, column : ndarray of int, shape (P,)
        Source and microphone.
    axis : ndarray, shape (P, 3)
        Unit vectors.
    pattern : ndarray of int, shape (P,)
        Index into the patterns.
    upper_only : ndarray of bool, shape (P,)
        Whether nothing arrives from below: a microphone in a table top.
    """

    row: Numbers
    column: Numbers
    axis: Array
    pattern: Numbers
    upper_only: Mask


@dataclass(frozen=True, eq=False)
class Response:
    """Energies re the free field of the source 1 m in front of it.

    Parameters
    ----------
    distance : ndarray, shape (P,)
        [m]
    direct : ndarray, shape (P, 7)
        0 where the straight line is not free.
    joined : ndarray, shape (P, 7)
        Reflections within a millisecond of the direct sound, which belong to it: those of the
        surface that a microphone is set into.
    early, late : ndarray, shape (P, 7)
        Before and after 50 ms, all the rest.
    modulation : ndarray, complex, shape (P, 14, 7)
        Transform of early and late at the modulation frequencies, re the direct sound, in single
        precision.
    """

    distance: Array
    direct: Array
    joined: Array
    early: Array
    late: Array
    modulation: npt.NDArray[np.complex64]


class ResolvedField(Protocol):
    """Scattered energy by place, where the mean of the room is not enough; see ``resolved``."""

    def lookup(
        self, row: Numbers, points: Array, t0: Array
    ) -> tuple[
        npt.NDArray[np.floating[Any]],
        npt.NDArray[np.floating[Any]],
        npt.NDArray[np.complexfloating[Any, Any]],
    ]:
        """Return early (P, 8), late (P, 8) and modulation (P, 14, 8) re the direct sound.

        Of each pair: its source, where its microphone is, and when its direct sound gets there.
        """


def respond(
    enclosure: Enclosure,
    late: LateField,
    sources: Sources,
    receivers: Receivers,
    pairs: Pairs,
    *,
    speed: float,
    air: npt.ArrayLike,
    limit: float = LIMIT,
    resolved: ResolvedField | None = None,
    threads: int = 1,
) -> Response:
    """Energy response of a room for P pairs.

    Parameters
    ----------
    enclosure : Enclosure
        The room.
    late : LateField
        Of the same room: what no image brings.
    sources, receivers, pairs : Sources, Receivers, Pairs
        Who talks, what listens, and which belong together. Points lie in the room or on its
        surfaces.
    speed : float
        Of sound. [m/s]
    air : array_like, shape (7,)
        Power that air takes. [1/m]
    limit : float
        Up to when images are followed one by one, re the direct sound. [s]
    resolved : ResolvedField, optional
        Takes the place of the scattered energy of ``late``.
    threads : int
        Of the compiled kernel.

    Returns
    -------
    Response

    Raises
    ------
    ValueError
        Patterns of sources and microphones have different numbers of entries, an index names
        nothing, or the limit is not positive.

    Notes
    -----
    The image sources carry what is neither absorbed nor scattered; the rest of the energy is the
    traced room's: mirrored energy from the limit on and scattered energy from the direct sound
    on. No part is counted twice, so the limit decides nothing.

    References
    ----------
    .. [1] allen-berkley:1979, image sources.
    """
    _check(sources, receivers, pairs, limit)
    if not len(pairs.row):
        none = np.zeros((0, 7))
        return Response(np.zeros(0), none, none, none, none, np.zeros((0, 14, 7), np.complex64))
    row, column, pattern = (
        np.ascontiguousarray(each, dtype=np.int64)
        for each in (pairs.row, pairs.column, pairs.pattern)
    )
    at, microphone = _points(sources.at), _points(receivers.at)
    distance = np.linalg.norm(microphone[column] - at[row], axis=1)
    held = np.maximum(distance, NEAREST)
    forest = None
    if not enclosure.is_box:
        forest = images_plan.grow_forest(
            enclosure, at, microphone, row=row, column=column, direct=held, reach=speed * limit
        )
        limit = min(limit, forest.reach / speed)
    job = Job(
        tables=tables(late, held, limit=limit, speed=speed, air=air, scattered=resolved is None),
        row=row,
        column=column,
        pattern=pattern,
        axis=_units(pairs.axis),
        upper_only=np.ascontiguousarray(pairs.upper_only, dtype=np.uint8),
        at=at,
        facing=_units(sources.facing),
        talker=lanes(sources.pattern),
        microphone=microphone,
        patterns=lanes(receivers.patterns),
        diffuse=lanes(sources.diffuse * receivers.diffuse),
        direct=held,
        front_air=lanes(np.exp(-np.asarray(air, dtype=np.float64) * held[:, None])),
    )
    if forest is None:
        reflected = images_box.reflect_box(enclosure, job, threads=threads)
    else:
        reflected = images_plan.reflect_plan(enclosure, job, threads=threads, forest=forest)
    if resolved is not None:
        reflected = _with(reflected, resolved, job)
    return Response(
        distance,
        _direct(enclosure, job, sources.pattern, receivers.patterns),
        reflected.joined,
        reflected.early,
        reflected.late,
        reflected.modulation,
    )


def _direct(enclosure: Enclosure, job: Job, talker: Array, patterns: Array) -> Array:
    """Energy of the straight lines, shape (P, 7); 0 where a wall stands in the way."""
    between = job.microphone[job.column] - job.at[job.row]
    leaves = np.einsum("pi,pi->p", job.facing[job.row], between) / job.direct
    meets = -np.einsum("pi,pi->p", job.axis, between) / job.direct
    energy = _between_entries(talker[None], np.zeros_like(job.pattern), leaves)
    energy *= _between_entries(patterns, job.pattern, meets)
    energy *= job.front_air[:, :7] / np.square(job.direct)[:, None]
    energy[job.upper_only.astype(bool) & (-between[:, 2] < BELOW * job.direct)] = 0.0
    if not enclosure.is_box:
        a, b = job.at[job.row, :2], job.microphone[job.column, :2]
        energy[~clear_line(enclosure.walls, a, b)] = 0.0
    return energy


def _with(reflected: Reflected, resolved: ResolvedField, job: Job) -> Reflected:
    """Add the scattered energy by place."""
    points, time = job.microphone[job.column], job.direct / job.tables.speed
    early, late, modulation = resolved.lookup(job.row, points, time)
    diffuse = job.diffuse[job.pattern, :7]
    turned = diffuse[:, None, :] * modulation[..., :7]
    return Reflected(
        joined=reflected.joined,
        early=reflected.early + diffuse * early[:, :7],
        late=reflected.late + diffuse * late[:, :7],
        modulation=reflected.modulation + turned.astype(np.complex64, copy=False),
    )


def _check(sources: Sources, receivers: Receivers, pairs: Pairs, limit: float) -> None:
    if sources.pattern.shape[0] != receivers.patterns.shape[1]:
        raise ValueError(
            f"the pattern of the sources has {sources.pattern.shape[0]} entries, those of the "
            f"microphones have {receivers.patterns.shape[1]}"
        )
    if not limit > 0.0:
        raise ValueError(f"a limit of {limit} s; images are followed for some time, as 0.060 s")
    indices = (
        ("source", pairs.row, len(sources.at)),
        ("microphone", pairs.column, len(receivers.at)),
        ("pattern", pairs.pattern, len(receivers.patterns)),
    )
    for what, named, count in indices:
        if len(named) and (np.min(named) < 0 or np.max(named) >= count):
            raise ValueError(f"a pair names a {what} that is not there; there are {count}")


def _points(given: Array) -> Array:
    return np.ascontiguousarray(given, dtype=np.float64).reshape(-1, 3)


def _units(given: Array) -> Array:
    """Unit vectors; one without a length stays so, and hears everything from its side."""
    ways = _points(given)
    length = np.linalg.norm(ways, axis=1, keepdims=True)
    return np.divide(ways, length, out=np.zeros_like(ways), where=length > 0.0)


def _between_entries(patterns: Array, which: Numbers, cosine: Array) -> Array:
    """Pattern at a cosine, in proportion between its entries, shape (P, 7)."""
    entries = patterns.shape[1]
    place = (np.clip(cosine, -1.0, 1.0) + 1.0) * (0.5 * (entries - 1))
    entry = np.minimum(place.astype(np.int64), entries - 2)
    share = (place - entry)[:, None]
    return patterns[which, entry] * (1.0 - share) + patterns[which, entry + 1] * share
