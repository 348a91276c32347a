"""Seats that nobody gets to."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING, Any

import numpy as np

from wellheard.checks.model import Draft
from wellheard.checks.registry import rule
from wellheard.checks.relaxation import limit_in_force
from wellheard.checks.seating import on_soft_seat, seated, solids, tables
from wellheard.checks.wording import length, listed
from wellheard.predict.evidence import Evidence, Talker
from wellheard.room.document import Room
from wellheard.room.finishes import Patch

if TYPE_CHECKING:
    import shapely

CODE = "seat-unreachable"
STEP = 0.6
"""From where a person stands to the seat, one step and a turn (common practice). [m]"""
THRESHOLD = 0.1
"""A door begins this near to the floor, and is stood before to within this. [m]"""


@rule(CODE, "warning", strength="house", cites="", thresholds=(CODE,))
def seat_unreachable(evidence: Evidence) -> Iterator[Draft]:
    """A way leads from a door to every seat.

    Free is the floor that tables, cupboards, sofas, columns and partial walls leave; a way is
    free floor 0.5 m wide all along. Chairs are pushed aside. A door is a patch of a wall,
    down to the floor, whose id or finish says door; where the document has none, the
    largest part of the floor counts as within reach. From the way to a seat is one step, 0.6 m.
    One finding for each part of the floor that is cut off. Escape routes by law are not assessed.
    """
    people = seated(evidence)
    if not people:
        return
    import shapely  # 0.1 s

    room, gap = evidence.room, limit_in_force(evidence, CODE)
    parts = _walkable(room, gap)
    doors = {name: _opening(room, patch) for name, patch in _doors(room).items()}
    reached: set[int] = set()
    for name, opening in doors.items():
        near = [
            i
            for i, part in enumerate(parts)
            if shapely.distance(part, opening) <= gap / 2 + THRESHOLD
        ]
        reached.update(near)
        if not near:
            yield Draft(
                at=f"space.finishes.patches.{name}",
                message=(
                    f"{name} opens onto no floor that is {length(evidence, gap)} wide: nobody gets "
                    "in there."
                ),
                limit=gap,
                unit="m",
                remedy=f"Move the furniture away from {name}.",
            )
    if not reached and parts:
        reached = {max(range(len(parts)), key=lambda i: float(parts[i].area))}
    pockets: dict[int, list[Talker]] = {}
    for one, place in zip(people, _places(room, people), strict=True):
        distances = [float(shapely.distance(place, part)) for part in parts]
        if not any(distances[i] <= STEP + 1e-9 for i in reached):
            inside = [i for i, distance in enumerate(distances) if distance <= STEP + 1e-9]
            pockets.setdefault(inside[0] if inside else -1, []).append(one)
    start = f"{listed(list(doors))}" if doors else "the largest free floor"
    for cut_off in pockets.values():
        names = listed([one.id for one in cut_off])
        yield Draft(
            at=cut_off[0].owner,
            message=(
                f"No way {length(evidence, gap)} wide leads from {start} to {names}: furniture, "
                "columns or walls close it."
            ),
            limit=gap,
            unit="m",
            remedy=(
                f"Open a gap of {length(evidence, gap)} or more, or state the door that leads "
                "there as a patch of its wall."
            ),
        )


def _walkable(room: Room, gap: float) -> list[Any]:
    """Parts of the floor where the middle of a walking person can be, without a way between."""
    import shapely

    taken = [*tables(room).values(), *(outline for _, outline in solids(room).values())]
    taken += [
        np.asarray(piece.outline, dtype=np.float64)
        for piece in room.furniture.values()
        if piece.kind == "soft"
    ]
    floor = shapely.Polygon(room.space.outline)
    free = floor.difference(shapely.union_all([shapely.Polygon(outline) for outline in taken]))
    # A hair less, so that a gap exactly as wide as wanted stays open.
    walked = free.buffer(-(gap / 2 - 1e-6))
    return [part for part in shapely.get_parts(walked).tolist() if part.area > 0]


def _doors(room: Room) -> dict[str, Patch]:
    return {
        name: patch
        for name, patch in room.space.finishes.wall_patches.items()
        if patch.bottom <= THRESHOLD
        and ("door" in name or (isinstance(patch.finish, str) and "door" in patch.finish))
    }


def _opening(room: Room, patch: Patch) -> shapely.LineString:
    import shapely

    start, end = (np.asarray(corner) for corner in room.space.wall_ends(patch.wall))
    along = (end - start) / np.linalg.norm(end - start)
    return shapely.LineString([start + patch.from_ * along, start + patch.to * along])


def _places(room: Room, people: tuple[Talker, ...]) -> list[Any]:
    """Where each person is stepped to: their head, or the whole sofa they are on."""
    import shapely

    heads = np.array([one.at[:2] for one in people])
    soft = on_soft_seat(room, heads).tolist()
    pieces = list(room.furniture.values())
    found: list[Any] = []
    for head, index in zip(heads, soft, strict=True):
        piece = pieces[index] if index >= 0 else None
        outline = piece.outline if piece is not None and piece.kind == "soft" else None
        found.append(shapely.Point(head) if outline is None else shapely.Polygon(outline))
    return found
