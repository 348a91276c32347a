"""Parallel hard walls that face each other at head height: flutter.

::

    wall i  ──────────────────────►      t along i
                  ╎  d  ╎                 hard facing hard: flutters
    wall j  ◄────────▒▒▒▒▒▒──────         ▒ a patch that absorbs: does not
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import pairwise
from statistics import median

import numpy as np

from wellheard.arrays import Array
from wellheard.catalog.catalogue import Catalogue
from wellheard.checks.model import Draft
from wellheard.checks.registry import rule
from wellheard.checks.relaxation import limit_in_force
from wellheard.checks.wording import length, some_length
from wellheard.geometry import edge_lengths, edge_normals, edge_vectors
from wellheard.predict.evidence import Evidence
from wellheard.room.document import Room
from wellheard.room.finishes import InlineFinish

CODE = "parallel-hard-walls"
SHARE = "parallel-hard-walls-share"
SPLAY = "parallel-hard-walls-splay-deg"
LENGTH = "parallel-hard-walls-length"
MIDDLE_HIGH = slice(3, 6)
"""1, 2 and 4 kHz within the seven octaves."""


@dataclass(frozen=True)
class Facing:
    """Two walls that face each other: for how long, how far apart, how much of it hard."""

    first: str
    second: str
    facing: float
    apart: float
    hard: float
    """Length along which both are hard. [m]"""
    longest: float
    """The same without a break. [m]"""
    absorption: tuple[float, float]
    """Mean absorption of each along that length."""


@rule(CODE, "warning", strength="house", cites="", thresholds=(CODE, SHARE, SPLAY, LENGTH))
def parallel_hard_walls(evidence: Evidence) -> Iterator[Draft]:
    """Of two parallel walls that face each other one absorbs at head height.

    Sound between two hard faces runs to and fro and flutters. Two walls count as
    parallel within 5°, as facing where no other wall or full column stands between them,
    and as hard where their absorption at 1 to 4 kHz is below 0.1. The patches at
    seated head height decide, not the whole wall: a panel above the heads does not
    help. A finding where hard faces hard along more than half of the length that
    they face each other, for at least 1 m without a break. Furniture and pictures are left out.
    """
    hard_below, share, splay_deg, shortest = (
        limit_in_force(evidence, code) for code in (CODE, SHARE, SPLAY, LENGTH)
    )
    for pair in facing_walls(evidence.room, evidence.catalogue, hard_below, splay_deg):
        panel = pair.hard - share * pair.facing
        # Exactly half is no more than half, whatever a sum of floats makes of it.
        if pair.longest < shortest or panel < 1e-6:
            continue
        flutter = evidence.reverberation.speed_of_sound / (2 * pair.apart)
        yield Draft(
            at=_path(evidence.room, pair.first),
            message=(
                f"Walls {pair.first} and {pair.second} face each other "
                f"{length(evidence, pair.apart)} apart, both hard at head height along "
                f"{length(evidence, pair.hard)} (absorption {pair.absorption[0]:.2f} and "
                f"{pair.absorption[1]:.2f} at 1–4 kHz): flutter at {flutter:.0f} Hz."
            ),
            value=max(pair.absorption),
            limit=hard_below,
            remedy=(
                f"Give {pair.first} or {pair.second} at least {some_length(evidence, panel)} of "
                f"absorber at head height, or splay one by {splay_deg:g}°."
            ),
        )


def facing_walls(
    room: Room, catalogue: Catalogue, hard_below: float, splay_deg: float
) -> Iterator[Facing]:
    """Every pair of parallel walls that see each other, in the document's order."""
    outline = np.asarray(room.space.outline, dtype=np.float64)
    along = edge_vectors(outline) / edge_lengths(outline)[:, None]
    head = _head_height(room)
    limit = -math.cos(math.radians(splay_deg))
    blockers = _blockers(room, outline, head)
    for i, first in enumerate(room.space.walls):
        for j in range(i + 1, len(outline)):
            # Exactly at the splay that cures, a wall is no longer parallel.
            if float(along[i] @ along[j]) < limit - 1e-12:
                second = room.space.walls[j]
                pair = _facing(room, catalogue, (i, j), (first, second), head, hard_below, blockers)
                if pair is not None:
                    yield pair


def _facing(
    room: Room,
    catalogue: Catalogue,
    index: tuple[int, int],
    names: tuple[str, str],
    head: float,
    hard_below: float,
    blockers: Array,
) -> Facing | None:
    outline = np.asarray(room.space.outline, dtype=np.float64)
    lengths = edge_lengths(outline)
    i, j = index
    along = edge_vectors(outline)[i] / lengths[i]
    normal = edge_normals(outline)[i]
    # Coordinates along wall i (t) and into the room (u).
    start, end = outline[j] - outline[i], outline[(j + 1) % len(outline)] - outline[i]
    (t0, u0), (t1, u1) = (start @ along, start @ normal), (end @ along, end @ normal)
    low, high = max(0.0, float(min(t0, t1))), min(float(lengths[i]), float(max(t0, t1)))
    segments = np.stack(
        [(blockers - outline[i]) @ along, (blockers - outline[i]) @ normal], axis=-1
    )
    own = _patch_edges(room, names[0], head)
    other = [t0 + s / lengths[j] * (t1 - t0) for s in _patch_edges(room, names[1], head)]
    cuts = sorted({low, high, *own, *map(float, other), *map(float, segments[..., 0].ravel())})
    cuts = [cut for cut in cuts if low <= cut <= high]
    facing = hard = longest = unbroken = apart = 0.0
    absorbed = np.zeros(2)
    for a, b in pairwise(cuts):
        t, piece = (a + b) / 2, b - a
        across = float(u0 + (t - t0) / (t1 - t0) * (u1 - u0))
        if piece < 1e-9:
            continue
        if across <= 1e-6 or _is_blocked(segments, t, across):
            unbroken = 0.0
            continue
        s = float((t - t0) / (t1 - t0) * lengths[j])
        pair = np.array(
            [
                _absorption(room, catalogue, names[0], t, head),
                _absorption(room, catalogue, names[1], s, head),
            ]
        )
        facing += piece
        apart += piece * across
        if pair.max() >= hard_below:
            unbroken = 0.0
            continue
        hard += piece
        absorbed += piece * pair
        unbroken += piece
        longest = max(longest, unbroken)
    if facing < 1e-6:
        return None
    mean = absorbed / hard if hard > 0 else absorbed
    return Facing(
        first=names[0],
        second=names[1],
        facing=facing,
        apart=apart / facing,
        hard=hard,
        longest=longest,
        absorption=(float(mean[0]), float(mean[1])),
    )


def _head_height(room: Room) -> float:
    people = room.people
    seats = [seat.height for seat in people.seats.values()]
    return median(seats or [area.height for area in people.standing.values()])


def _blockers(room: Room, outline: Array, head: float) -> Array:
    """Segments that stop sound at head height, shape (segments, 2 ends, 2)."""
    polygons = [outline]
    for obstacle in room.space.obstacles.values():
        if obstacle.height is None or obstacle.height > head:
            polygons.append(np.asarray(obstacle.outline, dtype=np.float64))
    return np.concatenate(
        [np.stack([corners, np.roll(corners, -1, axis=0)], axis=1) for corners in polygons]
    )


def _is_blocked(segments: Array, t: float, across: float) -> bool:
    """Whether a segment crosses the straight way from (t, 0) to (t, across)."""
    (t0, u0), (t1, u1) = segments[:, 0].T, segments[:, 1].T
    straddles = (t0 - t) * (t1 - t) < 0
    run = np.where(straddles, t1 - t0, 1.0)
    height = u0 + (t - t0) / run * (u1 - u0)
    return bool(np.any(straddles & (height > 1e-6) & (height < across - 1e-6)))


def _patch_edges(room: Room, wall: str, head: float) -> list[float]:
    return [
        edge
        for patch in room.space.finishes.wall_patches.values()
        if patch.wall == wall and patch.bottom <= head <= patch.top
        for edge in (patch.from_, patch.to)
    ]


def _absorption(room: Room, catalogue: Catalogue, wall: str, s: float, head: float) -> float:
    """Mean absorption of a wall at 1–4 kHz, ``s`` along it at head height."""
    finish = room.space.wall_finish(wall)
    for patch in room.space.finishes.wall_patches.values():
        if (
            patch.wall == wall
            and patch.from_ <= s <= patch.to
            and patch.bottom <= head <= patch.top
        ):
            finish = patch.finish
    found = finish if isinstance(finish, InlineFinish) else catalogue.finish(finish)
    return float(np.mean(found.absorption[MIDDLE_HIGH]))


def _path(room: Room, wall: str) -> str:
    named = isinstance(room.space.finishes.walls, dict)
    return f"space.finishes.walls.{wall}" if named else "space.finishes.walls"
