"""What no single field can show: a document that contradicts itself.

A seat outside the room, a device above the ceiling, a link to a device that is not there. These
are errors, not findings: whatever were computed from such a document would be about another room.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import Any, TypeAlias

from wellheard.forms.refusals import Refusal, near
from wellheard.forms.source import Path
from wellheard.room.devices import Device
from wellheard.room.divide import NEAR
from wellheard.room.document import Room
from wellheard.room.faults import (
    array_of,
    edge_of,
    polygon_faults,
    printed,
    unknown,
    wall_length,
)
from wellheard.room.furniture import Display, Lectern, Screen
from wellheard.room.patched import patch_faults

Names: TypeAlias = Mapping[str, Sequence[str] | None]
"""Ids by collection (``devices``, ``equipment``, ``partitions``, ``walls``,
``pictures``); null is not known."""


def names_of(room: Room) -> dict[str, Sequence[str] | None]:
    """Ids that other parts of the document may refer to."""
    return {
        "devices": tuple(room.devices),
        "equipment": tuple(room.equipment),
        "partitions": tuple(room.partitions),
        "walls": room.space.walls,
        "pictures": tuple(
            key for key, item in room.furniture.items() if isinstance(item, Display | Screen)
        ),
    }


def contradictions(room: Room, *, names: Names | None = None) -> Iterator[Refusal]:
    """Everything in a room that contradicts something else in it.

    Parameters
    ----------
    room : Room
        Each of its fields is well formed.
    names : mapping, optional
        Ids to know beside those of ``room``: while a document with errors is read, an entry that
        could not be read is still there to be referred to.
    """
    known = names or names_of(room)
    yield from _outline(room)
    yield from _walls(room)
    yield from patch_faults(room, known["walls"])
    yield from _pictures(room, known)
    yield from _people(room, known)
    yield from _overhead_heights(room)
    yield from _inside(room)
    yield from _in_columns(room)
    yield from _references(room, known)
    yield from _arrangements(room, known)
    yield from _choices(room)
    yield from _basis(room)


def _outline(room: Room) -> Iterator[Refusal]:
    from wellheard import geometry

    outline, walls = room.space.outline, room.space.walls
    path: Path = ("space", "outline")
    plain = edge_of(outline)

    def edge(i: int) -> str:
        return plain(i) + (f" ({walls[i]})" if len(walls) == len(outline) else "")

    faults = list(polygon_faults(path, outline, room.units, edge=edge))
    yield from faults
    if faults:
        return
    area = geometry.polygon_area(array_of(outline))
    if area < 0:
        yield Refusal(
            path,
            "the corners run clockwise",
            "list them counter-clockwise: the same corners in the opposite order, and wall names "
            "to match",
        )
    elif area < 1.0:
        yield Refusal(path, f"the room has {area:.2g} m²", "at least 1 m²; is the unit right?")


def _walls(room: Room) -> Iterator[Refusal]:
    space = room.space
    if len(space.walls) != len(space.outline):
        yield Refusal(
            ("space", "walls"),
            f"{len(space.walls)} names for {len(space.outline)} walls",
            "one for each corner of the outline, wall i from corner i to the next",
        )
    for i, name in enumerate(space.walls):
        if name in space.walls[:i]:
            yield Refusal(("space", "walls", i), f"{name} is the name of another wall", "each once")
        if name == "absorption":
            yield Refusal(("space", "walls", i), "a wall called absorption", "another name")


def _pictures(room: Room, known: Names) -> Iterator[Refusal]:
    unit, walls = room.units, known["walls"]
    if walls is None or len(room.space.walls) != len(room.space.outline):
        return
    for key, item in room.furniture.items():
        if not isinstance(item, Display | Screen):
            continue
        path: Path = ("furniture", key)
        if item.wall not in walls:
            yield unknown((*path, "wall"), "wall", item.wall, walls)
            continue
        length, (along, up), (wide, tall) = wall_length(room, item.wall), item.centre, item.size
        if along - wide / 2 < -NEAR or along + wide / 2 > length + NEAR:
            yield Refusal(
                (*path, "centre"),
                f"the picture reaches from {printed(along - wide / 2, unit)} to "
                f"{printed(along + wide / 2, unit)} along wall {item.wall}",
                f"within 0 to {printed(length, unit)}",
            )
        if up - tall / 2 < -NEAR or up + tall / 2 > room.space.height + NEAR:
            yield Refusal(
                (*path, "centre"),
                f"the picture reaches from {printed(up - tall / 2, unit)} to "
                f"{printed(up + tall / 2, unit)} above the floor",
                f"within 0 to {printed(room.space.height, unit)}",
            )


def _people(room: Room, known: Names) -> Iterator[Refusal]:
    people = room.people
    if not people.seats and not people.standing:
        yield Refusal(
            ("people",), "nobody is in the room", "at least one seat or one standing area"
        )
    pictures = known["pictures"]
    groups: tuple[tuple[str, Mapping[str, Any]], ...] = (
        ("seats", people.seats),
        ("standing", people.standing),
    )
    for group, members in groups:
        for key, member in members.items():
            path: Path = ("people", group, key)
            if "display" in member.facing and pictures == ():
                yield Refusal(
                    (*path, "facing"),
                    "faces a display, and there is none",
                    "furniture of kind display or screen, or another facing",
                )
            if member.height > room.space.height:
                yield Refusal(
                    (*path, "height"),
                    f"{printed(member.height, room.units)} is above the ceiling",
                    f"at most {printed(room.space.height, room.units)}",
                )


def _overhead_heights(room: Room) -> Iterator[Refusal]:
    height, unit = room.space.height, room.units
    tops: list[tuple[Path, float | None]] = [
        *((("overhead", k, "bottom"), o.bottom) for k, o in room.overhead.items()),
        *((("space", "obstacles", k, "height"), o.height) for k, o in room.space.obstacles.items()),
        *(
            (("furniture", k, "height"), getattr(f, "height", None))
            for k, f in room.furniture.items()
        ),
    ]
    for path, top in tops:
        if top is not None and top > height + NEAR:
            yield Refusal(
                path,
                f"{printed(top, unit)} is above the ceiling",
                f"at most {printed(height, unit)}",
            )


def _inside(room: Room) -> Iterator[Refusal]:
    """Places outside the room, and outlines that are none."""
    from wellheard import geometry

    outline, unit = array_of(room.space.outline), room.units
    corners_ok = not any(
        polygon_faults((), room.space.outline, unit, edge=edge_of(room.space.outline))
    )
    points: list[tuple[Path, str, Sequence[float]]] = [
        *((("people", "seats", k, "at"), "seat", s.at) for k, s in room.people.seats.items()),
        *(
            (("furniture", k, "at"), "lectern", f.at)
            for k, f in room.furniture.items()
            if isinstance(f, Lectern)
        ),
        *((("noise", "sources", k, "at"), "source", s.at) for k, s in room.noise.sources.items()),
        *((("equipment", k, "at"), "equipment", e.at) for k, e in room.equipment.items()),
        *((("devices", k, "at"), "device", d.at) for k, d in room.devices.items() if d.at),
        *((("partitions", k, "from"), "partition", p.from_) for k, p in room.partitions.items()),
        *((("partitions", k, "to"), "partition", p.to) for k, p in room.partitions.items()),
    ]
    if points and corners_ok:
        plan = array_of([at[:2] for _, _, at in points])
        beyond = geometry.distance_outside(outline, plan)
        for (path, name, at), gap in zip(points, beyond, strict=True):
            if gap > NEAR:
                yield Refusal(
                    path,
                    f"the {name} is {printed(float(gap), unit)} outside the room",
                    "a point inside the outline",
                )
            if len(at) == 3 and at[2] > room.space.height + NEAR:
                yield Refusal(
                    path,
                    f"the {name} is {printed(at[2] - room.space.height, unit)} above the ceiling",
                    f"a height of 0 to {printed(room.space.height, unit)}",
                )
            if len(at) == 3 and at[2] < -NEAR:
                yield Refusal(
                    path,
                    f"the {name} is {printed(-at[2], unit)} below the floor",
                    f"a height of 0 to {printed(room.space.height, unit)}",
                )
    areas: list[tuple[Path, str, tuple[tuple[float, float], ...]]] = [
        *(
            (("furniture", k, "outline"), f.kind, f.outline)
            for k, f in room.furniture.items()
            if not isinstance(f, Lectern | Display | Screen)
        ),
        *(
            (("people", "standing", k, "outline"), "standing area", s.outline)
            for k, s in room.people.standing.items()
        ),
        *(
            (("space", "obstacles", k, "outline"), "obstacle", o.outline)
            for k, o in room.space.obstacles.items()
        ),
        *((("overhead", k, "outline"), "keep-out", o.outline) for k, o in room.overhead.items()),
        *(
            (("space", "finishes", "patches", k, "outline"), "patch", p.outline)
            for k, p in room.space.finishes.level_patches.items()
        ),
    ]
    for path, name, corners in areas:
        faults = list(polygon_faults(path, corners, unit, edge=edge_of(corners)))
        yield from faults
        if not corners_ok or faults:
            continue
        if not geometry.contains_polygon(outline, array_of(corners), tolerance=NEAR):
            gap = float(geometry.distance_outside(outline, array_of(corners)).max())
            far = f" by {printed(gap, unit)}" if gap > NEAR else ""
            yield Refusal(path, f"the {name} leaves the room{far}", "an outline inside the room")


def _in_columns(room: Room) -> Iterator[Refusal]:
    """Devices inside what is solid: no sound comes there."""
    from wellheard import geometry

    placed = {key: device.at for key, device in room.devices.items() if device.at}
    for name, column in room.space.obstacles.items():
        top = room.space.height if column.height is None else column.height
        for key, at in placed.items():
            plan = array_of([at[:2]])
            inside = geometry.contains_points(array_of(column.outline), plan, tolerance=-NEAR)[0]
            if inside and at[2] < top + NEAR:
                what = f"the device is inside {name}, which is solid"
                yield Refusal(("devices", key, "at"), what, "a point outside it")


def _references(room: Room, known: Names) -> Iterator[Refusal]:
    devices, equipment = known["devices"], known["equipment"]
    for key, device in room.devices.items():
        yield from _housing(key, device, equipment)
    ports: list[tuple[Path, str | None]] = []
    pictures = known["pictures"]
    for key, link in room.links.items():
        for role, end in (("from", link.from_), ("to", link.to)):
            if pictures is not None and not _is_display(room, end.partition(".")[0]):
                ports.append((("links", key, role), end))
        if link.from_ == link.to:
            yield Refusal(("links", key, "to"), "both ends are the same port", "two ports")
    for key, stage in room.processing.items():
        path: Path = ("processing", key)
        ports += [((*path, "on"), stage.on), ((*path, "reference"), stage.reference)]
        ports += [((*path, "sources", i), port) for i, port in enumerate(stage.sources)]
    if devices is None or equipment is None:
        return
    for path, port in ports:
        # What the customer brings is connected too: a computer, a codec.
        if port is not None and port.partition(".")[0] not in (*devices, *equipment):
            yield unknown(path, "device", port.partition(".")[0], devices)


def _is_display(room: Room, name: str) -> bool:
    """A display takes cables too; nothing is processed on it."""
    return isinstance(room.furniture.get(name), Display)


def _housing(key: str, device: Device, equipment: Sequence[str] | None) -> Iterator[Refusal]:
    path: Path = ("devices", key)
    if device.at is not None and device.equipment is not None:
        yield Refusal(path, "has both at and equipment", "one of them")
    if device.at is None and device.equipment is None:
        # Electronics may wait for a place; what is heard or hears may not.
        if device.kind in ("microphone", "loudspeaker", "combined"):
            yield Refusal(path, f"a {device.kind} without a place", "at: [x, y, z] or equipment")
        return
    named = device.equipment
    if named is not None and equipment is not None and named not in equipment:
        yield unknown((*path, "equipment"), "equipment", named, equipment)


def _arrangements(room: Room, known: Names) -> Iterator[Refusal]:
    from wellheard.room import partitions as dividing

    partitions = known["partitions"]
    if partitions is None:
        return
    named = True
    for key, arrangement in room.arrangements.items():
        for state in ("open", "closed"):
            for i, name in enumerate(getattr(arrangement, state)):
                if name not in partitions:
                    path: Path = ("arrangements", key, state, i)
                    yield unknown(path, "partition", name, partitions)
                named = named and name in room.partitions
        both = [name for name in arrangement.open if name in arrangement.closed]
        if both:
            named = False
            yield Refusal(("arrangements", key), f"{both[0]} is open and closed", "one of them")
    space = room.space
    faults = [*_outline(room), *_walls(room)]
    if named and room.partitions and not faults and len(space.walls) == len(space.outline):
        yield from dividing.faults(room)


def _choices(room: Room) -> Iterator[Refusal]:
    choices = room.choices
    for i, product in enumerate(choices.exclude):
        for name in ("allow", "prefer"):
            if product in getattr(choices, name):
                yield Refusal(
                    ("choices", "exclude", i), f"{product} is under {name} too", "one of them"
                )


def _basis(room: Room) -> Iterator[Refusal]:
    for path in room.basis:
        gone = missing_step(room, path)
        if gone is not None:
            step, known = gone
            allowed = near(step, known, else_=f"known there: {', '.join(known[:12]) or 'nothing'}")
            yield Refusal(("basis", path), f"there is no {path} in the document", allowed, True)


def missing_step(room: Room, path: str) -> tuple[str, list[str]] | None:
    """First step of a dotted path that leads nowhere, with what there is instead.

    Examples
    --------
    >>> room = Room.model_validate(
    ...     {
    ...         "wellheard": 1,
    ...         "space": {"outline": [[0, 0], [4, 0], [4, 3], [0, 3]], "height": 2.7},
    ...         "people": {"seats": {"s1": {"at": [1, 1]}}},
    ...     }
    ... )
    >>> missing_step(room, "people.seats.s1.at") is None
    True
    >>> missing_step(room, "people.seats.s2")
    ('s2', ['s1'])
    """
    here: Any = room
    for step in path.split("."):
        if isinstance(here, dict):
            known = [str(k) for k in here]
            following = {str(k): v for k, v in here.items()}
        elif isinstance(here, tuple | list):
            known = [str(i) for i in range(len(here))]
            following = dict(zip(known, here, strict=True))
        elif hasattr(type(here), "model_fields"):
            following = {
                (f.alias or n): getattr(here, n) for n, f in type(here).model_fields.items()
            }
            known = list(following)
        else:
            return step, []
        if step not in following:
            return step, known
        here = following[step]
    return None
