"""Rays through an enclosure, from hit to hit: the specification of ``native/rays.c``.

All rays take a step at a time here and one after another there, but every ray does the same
operations in the same order in double precision, so the two follow the same paths: no sine or
cosine of a library, whose last digit may differ, and random numbers that are a hash of ray, hit
and purpose instead of a sequence.

A ray that finds itself outside, or that meets nothing, is sent back diffusely from just before
where it was last; one that cannot get away from a corner, or that meets many times more faces
than rays do on average, is lost: all of it is absorbed there. Both are counted.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from wellheard.acoustics.enclosure import CEILING, FIRST_WALL, FLOOR
from wellheard.acoustics.facets import TOUCH, Facets
from wellheard.arrays import Array, Mask

BEHIND = 1e-6
"""A face that is met from behind counts as so much farther than one met from in front. [m]"""

STALL, STALLS = 1e-6, 64
"""So many legs in a row shorter than this [m], and a ray is stuck."""

OFF = 2e-9
"""A ray leaves from so far in front of a face: more than faces reach past their edges, so that
one without thickness, or flush with another, is met from one side only. [m]"""

TRIES = 8
"""How often a ray is sent back from the same place before it is lost."""

NEVER = np.iinfo(np.int32).max
LOST = -1
_OUTSIDE = -2
_AT_ONCE = 1 << 20  # rays × faces

Integers = npt.NDArray[np.int64]
Words = npt.NDArray[np.uint64]


@dataclass(frozen=True, eq=False)
class Walk:
    """Hits of all rays in a row; see :class:`wellheard.acoustics.rays.Flights`."""

    first: Integers
    path: npt.NDArray[np.float32]
    surface: npt.NDArray[np.int16]
    points: npt.NDArray[np.float32]
    scattered: npt.NDArray[np.int32]
    object: npt.NDArray[np.int32]
    turned_back: int
    lost: int


@dataclass(eq=False)
class _Met:
    """What each ray meets next; a surface below 0 is none."""

    leg: Array
    surface: Integers
    normal: Array
    object: Mask

    def take(self, where: npt.NDArray[np.intp], other: _Met) -> None:
        """Let another meeting come first for the rays at ``where``."""
        self.leg[where] = other.leg
        self.surface[where] = other.surface
        self.normal[where] = other.normal
        self.object[where] = other.object


def walk(
    faces: Facets, start: Array, direction: Array, *, length: float, seed: int, most_hits: int
) -> Walk:
    """Follow rays until each has gone ``length``; coordinates from the origin of ``faces``."""
    rays = len(start)
    numbers: Words = np.arange(rays, dtype=np.uint64)
    numbers += _mix(np.array([seed], dtype=np.uint64))
    key = _mix(numbers)
    p, u, safe = start.copy(), direction.copy(), start.copy()
    normal = np.tile([0.0, 0.0, 1.0], (rays, 1))
    gone, hits = np.zeros(rays), np.zeros(rays, dtype=np.int64)
    stalls, tries = np.zeros(rays, dtype=np.int64), np.zeros(rays, dtype=np.int64)
    scattered, object_ = np.full(rays, NEVER, np.int32), np.full(rays, NEVER, np.int32)
    turned_back = 0
    log: list[tuple[npt.NDArray[np.intp], Integers, Array, Integers, Array]] = []
    live = np.flatnonzero(gone < length)
    while len(live):
        met = _meet_next(faces, p[live], u[live])
        counter = (tries[live].astype(np.uint64) << np.uint64(40)) + np.uint64(3) * hits[
            live
        ].astype(np.uint64)

        back = (met.surface < 0) & (tries[live] < TRIES)
        if back.any():
            again = live[back]
            tries[again] += 1
            turned_back += len(again)
            p[again] = safe[again]
            u[again] = _lambert(normal[again], key[again], counter[back])
            fresh = again[scattered[again] == NEVER]
            scattered[fresh] = hits[fresh] - 1

        lost = ~back & (
            (met.surface < 0) | (stalls[live] >= STALLS) | (hits[live] + 1 >= most_hits)
        )
        on = ~back & ~lost
        moved = live[on]
        p[moved] += met.leg[on, None] * u[moved]
        far = moved[met.leg[on] > 2.0 * BEHIND]
        safe[far] = p[far] - BEHIND * u[far]
        p[moved] += OFF * met.normal[on]
        p[moved[met.surface[on] == FLOOR], 2] = 0.0
        p[moved[met.surface[on] == CEILING], 2] = faces.height
        gone[moved] += met.leg[on]
        stalls[moved] = np.where(met.leg[on] < STALL, stalls[moved] + 1, 0)
        tries[moved] = 0

        met.surface[lost] = LOST
        ended = live[~back]
        log.append((ended, hits[ended], gone[ended], met.surface[~back], p[ended]))
        hits[ended] += 1

        normal[moved] = met.normal[on]
        diffuse = _draw(key[moved], counter[on]) < faces.scattering[met.surface[on]]
        u[moved] = np.where(
            diffuse[:, None],
            _lambert(normal[moved], key[moved], counter[on]),
            _mirrored(u[moved], normal[moved]),
        )
        touched = moved[met.object[on] & (object_[moved] == NEVER)]
        object_[touched] = hits[touched] - 1
        first_time = moved[(met.object[on] | diffuse) & (scattered[moved] == NEVER)]
        scattered[first_time] = hits[first_time] - 1
        live = live[~lost]
        live = live[gone[live] < length]
    return _in_a_row(log, hits, scattered, object_, turned_back)


def _in_a_row(
    log: list[tuple[npt.NDArray[np.intp], Integers, Array, Integers, Array]],
    hits: Integers,
    scattered: npt.NDArray[np.int32],
    object_: npt.NDArray[np.int32],
    turned_back: int,
) -> Walk:
    first = np.concatenate([[0], np.cumsum(hits)])
    path = np.empty(first[-1], dtype=np.float32)
    surface = np.empty(first[-1], dtype=np.int16)
    points = np.empty((first[-1], 3), dtype=np.float32)
    for ray, hit, gone, met, at in log:
        row = first[ray] + hit
        path[row], surface[row], points[row] = gone, met, at
    lost = int((surface == LOST).sum())
    return Walk(first, path, surface, points, scattered, object_, turned_back, lost)


# --- Random numbers -------------------------------------------------------------------------


def _mix(z: Words) -> Words:
    """Stafford's variant 13 of the finaliser of MurmurHash3, as in SplitMix64."""
    z = (z ^ (z >> np.uint64(30))) * np.uint64(0xBF58476D1CE4E5B9)
    z = (z ^ (z >> np.uint64(27))) * np.uint64(0x94D049BB133111EB)
    return z ^ (z >> np.uint64(31))


def _draw(key: Words, counter: Words) -> Array:
    """Numbers within 0 and 1, both excluded."""
    bits = _mix(key + (counter + np.uint64(1)) * np.uint64(0x9E3779B97F4A7C15))
    return (bits >> np.uint64(11)).astype(np.float64) * 2.0**-53 + 2.0**-54


def _lambert(normal: Array, key: Words, counter: Words) -> Array:
    """Directions off faces, as many as the cosine from the normal says."""
    a, w = _draw(key, counter + np.uint64(1)), _draw(key, counter + np.uint64(2)) - 0.5
    x = np.pi * w
    q = x * x
    series: Array = 1.0 - q / 156.0
    for divisor in (110.0, 72.0, 42.0, 20.0, 6.0):
        series = 1.0 - q / divisor * series
    half = x * series  # sine of half the azimuth, to 7e-10
    sine = 2.0 * half * np.sqrt(np.maximum(1.0 - half * half, 0.0))
    cosine = 1.0 - 2.0 * half * half
    r, up = np.sqrt(a), np.sqrt(1.0 - a)
    first, second = r * cosine, r * sine
    x, y, z = normal.T
    level = z != 0.0
    return np.stack(
        [
            np.where(level, first, up * x - first * y),
            np.where(level, second, up * y + first * x),
            np.where(level, up * z, second),
        ],
        axis=1,
    )


def _mirrored(u: Array, normal: Array) -> Array:
    level = normal[:, 2] != 0.0
    twice = 2.0 * (u[:, 0] * normal[:, 0] + u[:, 1] * normal[:, 1])
    x, y = u[:, 0] - twice * normal[:, 0], u[:, 1] - twice * normal[:, 1]
    return np.stack([x, y, np.where(level, -u[:, 2], u[:, 2])], axis=1)


# --- What is met next -----------------------------------------------------------------------


def _meet_next(faces: Facets, p: Array, u: Array) -> _Met:
    rows = max(1, _AT_ONCE // len(faces.walls))
    parts = [_meet_walls(faces, p[i : i + rows], u[i : i + rows]) for i in range(0, len(p), rows)]
    met = _Met(
        np.concatenate([part.leg for part in parts]),
        np.concatenate([part.surface for part in parts]),
        np.concatenate([part.normal for part in parts]),
        np.concatenate([part.object for part in parts]),
    )
    _meet_floor_or_ceiling(faces, p, u, met)
    if len(faces.solids):
        _meet_solids(faces, p, u, met)
    return met


def _meet_walls(faces: Facets, p: Array, u: Array) -> _Met:
    nx, ny, offset, dx, dy, start, size = faces.walls.T
    px, py, ux, uy = p[:, :1], p[:, 1:2], u[:, :1], u[:, 1:2]
    towards = ux * nx + uy * ny
    before = px * nx + py * ny - offset
    front = (towards < 0.0) & (before >= -TOUCH)
    behind = (towards > 0.0) & (before < -TOUCH)
    with np.errstate(divide="ignore", invalid="ignore", over="ignore"):
        leg = np.where(
            front, np.maximum(before, 0.0) / -towards, -before / towards + BEHIND
        )  # one or the other where it counts
        along = dx * (px + leg * ux) + dy * (py + leg * uy) - start
    reach = np.where(front, TOUCH, -TOUCH)
    hit = (front | behind) & (along >= -reach) & (along <= size + reach)
    leg = np.where(hit, leg, np.inf)
    wall = leg.argmin(axis=1)
    ray = np.arange(len(p))
    best, met_front = leg[ray, wall], hit[ray, wall] & front[ray, wall]
    normal = np.stack([nx[wall], ny[wall], np.zeros(len(p))], axis=1)
    surface = np.where(met_front, FIRST_WALL + wall, _OUTSIDE)
    z = p[:, 2] + np.where(met_front, best, 0.0) * u[:, 2]
    place = along[ray, wall]
    for patched in np.flatnonzero(np.diff(faces.patch_first)):
        of_wall = met_front & (wall == patched)
        left = of_wall.copy()
        for row in range(faces.patch_first[patched], faces.patch_first[patched + 1]):
            low, high, bottom, top = faces.patches[row]
            on = left & (place >= low) & (place <= high) & (z >= bottom) & (z <= top)
            surface[on] = faces.patch_surface[row]
            left &= ~on
    return _Met(best, surface, normal, np.zeros(len(p), dtype=bool))


def _meet_floor_or_ceiling(faces: Facets, p: Array, u: Array, met: _Met) -> None:
    pz, uz = p[:, 2], u[:, 2]
    before = np.where(uz > 0.0, faces.height - pz, pz)
    with np.errstate(divide="ignore", over="ignore"):
        leg = np.where(uz != 0.0, np.maximum(before, 0.0) / np.abs(uz), np.inf)
    first = np.flatnonzero(leg < met.leg)
    up = uz[first] > 0.0
    normal = np.zeros((len(first), 3))
    normal[:, 2] = np.where(up, -1.0, 1.0)
    met.take(
        first,
        _Met(leg[first], np.where(up, CEILING, FLOOR), normal, np.zeros(len(first), dtype=bool)),
    )


def _meet_solids(faces: Facets, p: Array, u: Array, met: _Met) -> None:
    rows = max(1, _AT_ONCE // len(faces.solids))
    for i in range(0, len(p), rows):
        part = slice(i, i + rows)
        ray, solid = _near(faces, p[part], u[part], met.leg[part])
        if not len(ray):
            continue
        found = _meet_solid(faces, p[part][ray], u[part][ray], solid)
        # The nearest of each ray; the lower index where two are met at once.
        order = np.lexsort((solid, found.leg, ray))
        nearest = order[np.append(True, np.diff(ray[order]) > 0)]
        nearest = nearest[found.leg[nearest] < met.leg[part][ray[nearest]]]
        met.take(
            i + ray[nearest],
            _Met(
                found.leg[nearest],
                found.surface[nearest],
                found.normal[nearest],
                np.ones(len(nearest), dtype=bool),
            ),
        )


def _near(
    faces: Facets, p: Array, u: Array, leg: Array
) -> tuple[npt.NDArray[np.intp], npt.NDArray[np.intp]]:
    """Pairs of a ray and an object worth a closer look."""
    bottom, top, _, _, x, y, radius = faces.solids.T
    end = p[:, 2] + np.minimum(leg, 1e9) * u[:, 2]
    low, high = np.minimum(p[:, 2], end) - BEHIND, np.maximum(p[:, 2], end) + BEHIND
    ux, uy = u[:, :1], u[:, 1:2]
    aside = (x - p[:, :1]) * uy - (y - p[:, 1:2]) * ux
    ray, solid = np.nonzero(
        (aside * aside <= radius * radius * (ux * ux + uy * uy))
        & (low[:, None] <= top)
        & (high[:, None] >= bottom)
    )
    return ray, solid


def _meet_solid(faces: Facets, p: Array, u: Array, solid: npt.NDArray[np.intp]) -> _Met:
    """Meeting of each ray with one object; infinitely far away if there is none."""
    bottom, top, bare_bottom, bare_top = faces.solids[solid, :4].T
    met = _meet_sides(faces, p, u, solid)
    pz, uz = p[:, 2], u[:, 2]
    above = (uz < 0.0) & (bare_top != 0.0) & (pz >= top - TOUCH)
    below = (uz > 0.0) & (bare_bottom != 0.0) & (pz <= bottom + TOUCH)
    before = np.where(above, pz - top, bottom - pz)
    with np.errstate(divide="ignore", invalid="ignore", over="ignore"):
        leg = np.maximum(before, 0.0) / np.abs(uz)
    first = np.flatnonzero((above | below) & (leg < met.leg))
    x, y = (p[first, :2] + leg[first, None] * u[first, :2]).T
    first = first[_holds(faces, solid[first], x, y)]
    normal = np.zeros((len(first), 3))
    normal[:, 2] = np.where(above[first], 1.0, -1.0)
    surface = faces.solid_surface[solid[first]].astype(np.int64)
    met.take(first, _Met(leg[first], surface, normal, np.ones(len(first), dtype=bool)))
    return met


def _meet_sides(faces: Facets, p: Array, u: Array, solid: npt.NDArray[np.intp]) -> _Met:
    pair, edge = _edges_of(faces, solid)
    nx, ny, offset, dx, dy, start, size = faces.edges[edge, :7].T
    px, py, pz = p[pair].T
    ux, uy, uz = u[pair].T
    towards = ux * nx + uy * ny
    before = px * nx + py * ny - offset
    with np.errstate(divide="ignore", invalid="ignore", over="ignore"):
        leg = np.maximum(before, 0.0) / -towards
        along = dx * (px + leg * ux) + dy * (py + leg * uy) - start
        z = pz + leg * uz
        hit = (towards < 0.0) & (before >= -TOUCH) & (along >= -TOUCH) & (along <= size + TOUCH)
        low, high = faces.solids[solid[pair], :2].T
        hit &= (z >= low - TOUCH) & (z <= high + TOUCH)
    leg = np.where(hit, leg, np.inf)
    order = np.lexsort((edge, leg, pair))
    nearest = order[np.append(True, np.diff(pair[order]) > 0)]
    normal = np.stack([nx[nearest], ny[nearest], np.zeros(len(solid))], axis=1)
    surface = faces.solid_surface[solid].astype(np.int64)
    return _Met(leg[nearest], surface, normal, np.ones(len(solid), dtype=bool))


def _edges_of(
    faces: Facets, solid: npt.NDArray[np.intp]
) -> tuple[npt.NDArray[np.intp], npt.NDArray[np.intp]]:
    """Pairs of an entry of ``solid`` and an edge of that object, entries in order."""
    first = faces.edge_first[solid].astype(np.intp)
    count = faces.edge_first[solid + 1] - first
    pair = np.repeat(np.arange(len(solid)), count)
    return pair, np.arange(len(pair)) - np.repeat(np.cumsum(count) - count, count) + first[pair]


def _holds(faces: Facets, solid: npt.NDArray[np.intp], x: Array, y: Array) -> Mask:
    """Whether the plan of an object holds a point, entry by entry."""
    pair, edge = _edges_of(faces, solid)
    last = edge + 1 == faces.edge_first[solid[pair] + 1]
    after = np.where(last, faces.edge_first[solid[pair]], edge + 1)
    ax, ay = faces.edges[edge, 7:].T
    bx, by = faces.edges[after, 7:].T
    crosses = (ay > y[pair]) != (by > y[pair])
    with np.errstate(divide="ignore", invalid="ignore"):
        crosses &= x[pair] < ax + (y[pair] - ay) * ((bx - ax) / (by - ay))
    return np.bincount(pair[crosses], minlength=len(solid)) % 2 == 1
