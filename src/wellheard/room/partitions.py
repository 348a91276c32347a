"""Partitions that contradict the room: they end nowhere, part nothing, or stand where something is.

What stands here is an error and no finding, since no space could be told from another.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from math import dist

from wellheard.forms.refusals import Refusal
from wellheard.forms.source import Path
from wellheard.geometry.division import Division, Point, contains_line, distance_to_line
from wellheard.room.divide import HEARD, NEAR, closed_in, division, home
from wellheard.room.document import Room
from wellheard.room.furniture import Display, Screen
from wellheard.units import format_length


def faults(room: Room) -> Iterator[Refusal]:
    """What is wrong with the partitions and arrangements of a room.

    Parameters
    ----------
    room : Room
        Its outline is sound, and its arrangements name partitions that it has.
    """
    alone = [*_ids(room), *_lines(room)]
    yield from alone
    told = list(_unsaid(room))
    yield from told
    if alone or told:
        return
    dividing = list(_idle(room))
    yield from dividing
    if dividing:
        return
    seen: set[Path] = set()
    for fault in (*_in_the_way(room), *_cut_pictures(room), *_without_a_picture(room)):
        if fault.path not in seen:
            seen.add(fault.path)
            yield fault


def _ids(room: Room) -> Iterator[Refusal]:
    for key in room.partitions:
        path: Path = ("partitions", key)
        if key in room.space.walls:
            yield Refusal(path, f"{key} is the name of a wall", "an id of its own", True)
        elif key == "absorption":
            yield Refusal(path, "a partition called absorption", "another id", True)


def _lines(room: Room) -> Iterator[Refusal]:
    outline = room.space.outline
    sides = list(zip(outline, (*outline[1:], outline[0]), strict=True))
    for key, partition in room.partitions.items():
        path: Path = ("partitions", key)
        if dist(partition.from_, partition.to) <= NEAR:
            yield Refusal((*path, "to"), "a partition without length", "two points")
            continue
        others = [(p.from_, p.to) for k, p in room.partitions.items() if k != key]
        adrift = False
        for end, at in (("from", partition.from_), ("to", partition.to)):
            gap = min(distance_to_line(at, line) for line in (*sides, *others))
            if gap > NEAR:
                adrift = True
                if _outside(outline, at):
                    continue  # said already, as of anything outside
                yield Refusal(
                    (*path, end),
                    f"ends {format_length(gap, unit=room.units)} from the nearest wall or "
                    "partition",
                    "a point on a wall or on another partition",
                )
        if not adrift and not contains_line(
            outline, (partition.from_, partition.to), tolerance=NEAR
        ):
            yield Refusal(path, "leaves the room between its ends", "a straight line inside it")


def _outside(outline: Sequence[Point], at: Point) -> bool:
    import numpy as np

    from wellheard import geometry

    gap = geometry.distance_outside(np.array(outline, dtype=float), np.array([at]))
    return float(gap[0]) > NEAR


def _unsaid(room: Room) -> Iterator[Refusal]:
    for key, arrangement in room.arrangements.items():
        unsaid = [k for k in room.partitions if k not in (*arrangement.open, *arrangement.closed)]
        if unsaid:
            are = "is" if len(unsaid) == 1 else "are"
            yield Refusal(
                ("arrangements", key),
                f"does not say whether {' and '.join(unsaid)} {are} open or closed",
                "each partition under open or under closed",
            )


def _divided(room: Room) -> Iterator[tuple[str, tuple[str, ...], Division]]:
    for key in room.arrangements:
        closed = closed_in(room, key)
        if closed:
            yield key, closed, division(room, closed)


def _idle(room: Room) -> Iterator[Refusal]:
    for key, closed, found in _divided(room):
        for k in found.idle:
            name = closed[k]
            path: Path = ("arrangements", key, "closed", room.arrangements[key].closed.index(name))
            beside = _open_end(room, name, closed)
            if beside:
                yield Refusal(
                    path,
                    f"{name} ends at {beside}, which is open here",
                    f"{beside} closed too, or {name} open",
                )
            else:
                yield Refusal(
                    path,
                    f"{name} parts no space from another",
                    "a partition from a wall or a closed partition to another one",
                )


def _open_end(room: Room, name: str, closed: Sequence[str]) -> str:
    """The open partition that an end of a closed one leans on, '' if there is none."""
    outline = room.space.outline
    sides = list(zip(outline, (*outline[1:], outline[0]), strict=True))
    partition = room.partitions[name]
    for at in (partition.from_, partition.to):
        held = [*sides, *(_line(room, k) for k in closed if k != name)]
        if min(distance_to_line(at, line) for line in held) <= NEAR:
            continue
        for other in room.partitions:
            if other not in closed and distance_to_line(at, _line(room, other)) <= NEAR:
                return other
    return ""


def _line(room: Room, partition: str) -> tuple[Point, Point]:
    return room.partitions[partition].from_, room.partitions[partition].to


def _in_the_way(room: Room) -> Iterator[Refusal]:
    """Seats, and devices that belong to a space, where a partition closes."""
    points: list[tuple[Path, str, Point]] = [
        *((("people", "seats", k, "at"), "seat", s.at) for k, s in room.people.seats.items()),
        *(
            (("devices", k, "at"), d.kind, (d.at[0], d.at[1]))
            for k, d in room.devices.items()
            if d.at is not None and d.kind in HEARD
        ),
    ]
    for key, closed, _ in _divided(room):
        for path, name, at in points:
            for partition in closed:
                if distance_to_line(at, _line(room, partition)) <= NEAR:
                    yield Refusal(
                        path,
                        f"the {name} is where partition {partition} closes ({key})",
                        "a place beside it",
                    )


def _cut_pictures(room: Room) -> Iterator[Refusal]:
    space = room.space
    for key, closed, _ in _divided(room):
        for name, item in room.furniture.items():
            if not isinstance(item, Display | Screen) or item.wall not in space.walls:
                continue
            owner = space.walls.index(item.wall)
            half = item.size[0] / 2 - NEAR
            for partition in closed:
                for at in _line(room, partition):
                    along = dist(space.outline[owner], at)
                    on_it = distance_to_line(at, space.wall_ends(item.wall)) <= NEAR
                    if on_it and abs(along - item.centre[0]) < half:
                        yield Refusal(
                            ("furniture", name, "centre"),
                            f"partition {partition} meets wall {item.wall} behind the picture "
                            f"({key})",
                            "a picture beside it",
                        )


def _without_a_picture(room: Room) -> Iterator[Refusal]:
    """People who look at a display, in a space that has none."""
    people = room.people
    if not any(isinstance(item, Display | Screen) for item in room.furniture.values()):
        return  # said already, of the room as a whole
    looking: list[tuple[Path, tuple[Point, ...]]] = [
        *(
            (("people", "seats", k, "facing"), (s.at,))
            for k, s in people.seats.items()
            if "display" in s.facing
        ),
        *(
            (("people", "standing", k, "facing"), s.outline)
            for k, s in people.standing.items()
            if "display" in s.facing
        ),
    ]
    for key, closed, found in _divided(room):
        shown = _with_pictures(room, found)
        lacking: dict[int, list[Path]] = {}
        for path, places in looking:
            for cell in sorted({home(found.cells, at) for at in places} - shown):
                lacking.setdefault(cell, []).append(path)
        for paths in lacking.values():
            others = len(paths) - 1
            also = f", like {others} more," if others else ","
            are = "is" if len(closed) == 1 else "are"
            yield Refusal(
                paths[0],
                f"faces a display{also} and its space has none while {' and '.join(closed)} {are} "
                f"closed ({key})",
                "a display or screen on a wall of that space, or another facing",
            )


def _with_pictures(room: Room, found: Division) -> set[int]:
    """Cells that a picture hangs in."""
    space = room.space
    shown: set[int] = set()
    for item in room.furniture.values():
        if not isinstance(item, Display | Screen) or item.wall not in space.walls:
            continue
        (x0, y0), (x1, y1) = space.wall_ends(item.wall)
        share = item.centre[0] / max(dist((x0, y0), (x1, y1)), NEAR)
        shown.add(home(found.cells, (x0 + share * (x1 - x0), y0 + share * (y1 - y0))))
    return shown
