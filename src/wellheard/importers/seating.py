"""Who sits where in a plan: its chairs, else places at its tables, else anybody anywhere."""

from __future__ import annotations

import math
from collections.abc import Sequence

from wellheard.importers.draft import Data, Draft, free
from wellheard.importers.found import FoundRoom, FoundSeat, Noted, Point, Ring
from wellheard.room.document import Room
from wellheard.room.furniture import Table
from wellheard.room.refused import OperationError
from wellheard.room.tables import MOST_AT_ONCE, PITCHES, seated_around

OFF_WALLS = 0.5
"""Nobody stands nearer to a wall. [m]"""
ANYWHERE = "anywhere"


def seats(draft: Draft, found: Sequence[FoundSeat]) -> Data:
    """Return the seats of a document, by id."""
    entered: Data = {}
    for seat in found:
        key = seat.id if seat.id and seat.id not in entered else free(entered, "s1")
        entered[key] = {"at": draft.point(seat.at)}
        if seat.facing_deg is not None:
            entered[key]["facing"] = round(seat.facing_deg, 1)
    if entered:
        draft.report.append(Noted(True, "seat", len(entered)))
    return entered


def anywhere(draft: Draft, found: FoundRoom) -> Data:
    """Return somebody who stands anywhere, for a room that has nobody else."""
    return {"standing": {ANYWHERE: {"outline": draft.ring(_off_walls(found.outline))}}}


def _off_walls(outline: Ring) -> Ring:
    """Return the outline kept off its walls; its greatest part where it falls apart."""
    from shapely.geometry import Polygon

    inner = Polygon(outline).buffer(-OFF_WALLS, join_style="mitre").simplify(0.01)
    parts = [part for part in getattr(inner, "geoms", [inner]) if isinstance(part, Polygon)]
    whole = [part for part in parts if not part.is_empty]
    if not whole:
        return outline
    ring = max(whole, key=lambda part: part.area).exterior
    corners = tuple((float(x), float(y)) for x, y in ring.coords[:-1])
    return corners if ring.is_ccw else corners[::-1]


def seated(draft: Draft, room: Room) -> Room:
    """Return a room of no seats with people at its tables, else as it is; says which."""
    placed = room
    wanted = draft.settled.seats
    left = wanted
    tables = {k: places(t.outline) for k, t in room.furniture.items() if isinstance(t, Table)}
    for key, most in sorted(tables.items(), key=lambda one: -one[1]):
        count = min(most if left is None else left, MOST_AT_ONCE)
        if count < 1:
            continue
        try:
            placed, created = seated_around(placed, key, count)
        except OperationError:
            continue
        left = None if left is None else left - len(created)
    if placed is room:
        asked = f"the {wanted} that were asked for have no place, and " if wanted else ""
        draft.assume(
            f"people.standing.{ANYWHERE}",
            f"The plan has no chairs, and no table with room round it: {asked}somebody who may "
            f"stand anywhere {draft.said(OFF_WALLS)} off the walls is taken. Enter the seats.",
        )
        return room
    count = len(placed.people.seats)
    fewer = "" if not left else f" of {wanted}"
    draft.assume(
        "people.seats",
        f"The plan has no chairs: {count}{fewer} seats are put round its tables.",
    )
    people = placed.people.model_copy(update={"standing": {}})
    return placed.model_copy(update={"people": people})


def places(outline: Sequence[Point]) -> int:
    """Return how many people have room at ease along the edges of a table.

    Examples
    --------
    >>> places(((0, 0), (3.2, 0), (3.2, 1.2), (0, 1.2)))
    10
    """
    ends = zip(outline, (*outline[1:], outline[0]), strict=True)
    return sum(int(math.dist(a, b) / PITCHES[0] + 1e-6) for a, b in ends)
