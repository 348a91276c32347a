"""A room that divides, as the rooms that it divides into.

Each space that an arrangement leaves is a document of its own: what is predicted, placed and
checked in it needs to know nothing of partitions. An open partition is just not there: the
stacked panels are not modelled.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import count
from typing import TYPE_CHECKING, Any

from wellheard.geometry.division import Cell, Division
from wellheard.geometry.division import divide as divide_polygon
from wellheard.room.devices import Device
from wellheard.room.document import Room
from wellheard.room.finishes import AnyPatch, FinishRef
from wellheard.room.furniture import Display, Furniture, Lectern, Screen
from wellheard.room.isolation import Isolation
from wellheard.room.processing import keeping

if TYPE_CHECKING:
    from wellheard.room.space import Space

NEAR = 1e-3
"""Slack of every comparison of places: a millimetre. [m]"""

HEARD = ("microphone", "loudspeaker", "combined")
"""Devices that belong to the space they are in; electronics serve every space."""

Point = tuple[float, float]


@dataclass(frozen=True)
class Part:
    """One space of one arrangement, as a room of its own.

    ``name`` is '' for a room without arrangements, the arrangement's where that leaves one
    space with people, else the arrangement's and the space's: ``split.a``. Spaces are lettered
    by their lowest x, then their lowest y; a space where nobody sits or stands is none.
    """

    name: str
    arrangement: str
    cell: str
    room: Room

    @property
    def title(self) -> str:
        """The name as it is spoken: split, space a."""
        return spoken(self.name)


def spoken(name: str) -> str:
    """Name of a part as a reader reads it.

    Examples
    --------
    >>> spoken("joined"), spoken("split.a")
    ('joined', 'split, space a')
    """
    arrangement, _, cell = name.partition(".")
    return f"{arrangement}, space {cell}" if cell else arrangement


def parts(room: Room) -> tuple[Part, ...]:
    """Every space of every arrangement, in the document's order.

    Parameters
    ----------
    room : Room
        Without contradictions, see `wellheard.room.consistency`.

    Returns
    -------
    tuple of Part
        The room itself where there are no arrangements. Ids are kept: a wall that a partition
        meets keeps its name on both sides, a partition is a wall under its own id, the second
        piece of a thing within one space is ``name-2``. Lengths along a wall count from the
        first corner of its piece. Patches and whatever lies flat on the plan are cut where a
        closed partition crosses them. Equipment and electronics stay in every part; microphones,
        loudspeakers, links and processing are in the part where they are. Decay times that were
        measured hold for the undivided room only.

    Examples
    --------
    >>> room = Room.model_validate(
    ...     {
    ...         "wellheard": 1,
    ...         "space": {"outline": [[0, 0], [6, 0], [6, 4], [0, 4]], "height": 2.7},
    ...         "people": {"seats": {"s1": {"at": [1, 1]}, "s2": {"at": [5, 1]}}},
    ...         "partitions": {"fold": {"from": [2, 0], "to": [2, 4]}},
    ...         "arrangements": {"joined": {"open": ["fold"]}, "split": {"closed": ["fold"]}},
    ...     }
    ... )
    >>> for part in parts(room):
    ...     print(part.name, part.room.space.walls, list(part.room.people.seats))
    joined ('w0', 'w1', 'w2', 'w3') ['s1', 's2']
    split.a ('w0', 'fold', 'w2', 'w3') ['s1']
    split.b ('w0', 'w1', 'w2', 'fold') ['s2']
    """
    if not room.arrangements:
        return (Part("", "", "", room),)
    found: list[Part] = []
    for key in room.arrangements:
        rooms = _spaces(room, key)
        for letter, one in zip(letters(len(rooms)), rooms, strict=True):
            name = f"{key}.{letter}" if letter else key
            found.append(Part(name, key, letter, one))
    return tuple(found)


def letters(spaces: int) -> tuple[str, ...]:
    """Names of this many spaces: none for one alone, else a, b, …, z, aa, ab, …

    Examples
    --------
    >>> letters(1), letters(2), letters(28)[-2:]
    (('',), ('a', 'b'), ('aa', 'ab'))
    """
    if spaces == 1:
        return ("",)
    found = []
    for number in range(spaces):
        text, rest = "", number + 1
        while rest:
            rest, digit = divmod(rest - 1, 26)
            text = chr(ord("a") + digit) + text
        found.append(text)
    return tuple(found)


def closed_in(room: Room, arrangement: str) -> tuple[str, ...]:
    """Partitions of the document that are closed in an arrangement, in the document's order."""
    closed = room.arrangements[arrangement].closed
    return tuple(key for key in room.partitions if key in closed)


def division(room: Room, closed: Sequence[str]) -> Division:
    """The cells of the plan with these partitions closed."""
    lines = [(room.partitions[key].from_, room.partitions[key].to) for key in closed]
    return divide_polygon(room.space.outline, lines, tolerance=NEAR)


def home(cells: Sequence[Cell], at: Sequence[float]) -> int:
    """The cell that a place is in, or nearest to."""
    import numpy as np

    from wellheard import geometry

    plan = np.array([at[:2]], dtype=float)
    away = [float(geometry.distance_outside(np.array(c.corners), plan)[0]) for c in cells]
    return min(range(len(cells)), key=lambda i: (away[i], i))


def inhabited(room: Room, cells: Sequence[Cell]) -> set[int]:
    """Cells in which somebody sits, or may stand."""
    found = {home(cells, seat.at) for seat in room.people.seats.values()}
    for area in room.people.standing.values():
        found |= pieces(cells, area.outline).keys()
    return found


def pieces(
    cells: Sequence[Cell], outline: Sequence[Point]
) -> dict[int, tuple[tuple[Point, ...], ...]]:
    """Outlines of what each cell holds of an outline: all of it in one cell, or a piece in several.

    What reaches over a partition by less than a millimetre does not.
    """
    import numpy as np

    from wellheard import geometry

    polygon = np.array(outline, dtype=float)
    for i, cell in enumerate(cells):
        if geometry.contains_polygon(np.array(cell.corners), polygon, tolerance=NEAR):
            return {i: (tuple(outline),)}
    import shapely

    found: dict[int, tuple[tuple[Point, ...], ...]] = {}
    for i, cell in enumerate(cells):
        common = shapely.Polygon(outline).intersection(shapely.Polygon(cell.corners))
        kept = [
            piece
            for piece in getattr(common, "geoms", [common])
            if piece.geom_type == "Polygon" and not piece.buffer(-NEAR / 2).is_empty
        ]
        if kept:
            found[i] = tuple(_corners(piece) for piece in sorted(kept, key=lambda p: p.bounds))
    return found


def _corners(piece: Any) -> tuple[Point, ...]:
    import shapely

    ring = shapely.remove_repeated_points(
        shapely.geometry.polygon.orient(piece).exterior, tolerance=NEAR
    )
    return tuple((float(x), float(y)) for x, y in list(ring.coords)[:-1])


def _spaces(room: Room, arrangement: str) -> list[Room]:
    closed = closed_in(room, arrangement)
    if not closed:
        return [_tidied(room.model_copy(update={"partitions": {}, "arrangements": {}}))]
    cells = division(room, closed).cells
    return [_Cut(room, closed, cells, i).room() for i in sorted(inhabited(room, cells))]


class _Cut:
    """What one cell holds of a room."""

    def __init__(
        self, room: Room, closed: Sequence[str], cells: Sequence[Cell], index: int
    ) -> None:
        self.whole, self.closed, self.cells, self.index = room, closed, cells, index
        self.cell = cells[index]
        people = room.people
        self.seats = {k: s for k, s in people.seats.items() if self._here(s.at)}
        self.standing = self._outlined(people.standing)
        self.walls = self._names()

    def _here(self, at: Sequence[float]) -> bool:
        return home(self.cells, at) == self.index

    def _touches(self, at: Sequence[float]) -> bool:
        """Whether a place is here, or on the partition beside."""
        import numpy as np

        from wellheard import geometry

        corners, plan = np.array(self.cell.corners), np.array([at[:2]], dtype=float)
        return bool(geometry.contains_points(corners, plan, tolerance=NEAR)[0]) or self._here(at)

    def _outlined(self, items: Mapping[str, Any]) -> dict[str, Any]:
        """Those of an outline's things that are here, cut at the partitions."""
        found: dict[str, Any] = {}
        for key, item in items.items():
            for piece in pieces(self.cells, item.outline).get(self.index, ()):
                same = piece == item.outline
                name = _free(key, found.keys() | (items.keys() - {key}))
                found[name] = item if same else _with(item, outline=piece)
        return found

    def _names(self) -> tuple[str, ...]:
        """Name of each edge: of the wall or the partition that it is a piece of."""
        sides = self.whole.space.walls
        names: list[str] = []
        for owner in self.cell.owners:
            name = sides[owner] if owner < len(sides) else self.closed[owner - len(sides)]
            names.append(_free(name, {*names, *((set(sides) | set(self.closed)) - {name})}))
        return tuple(names)

    def _runs(self) -> Iterator[tuple[str, str, float, float]]:
        """Pieces of the walls of the whole: name here, name there, from and to along it."""
        space, corners = self.whole.space, self.cell.corners
        for i, owner in enumerate(self.cell.owners):
            if owner < len(space.walls):
                start = space.outline[owner]
                there = space.walls[owner]
                end = corners[(i + 1) % len(corners)]
                yield self.walls[i], there, math.dist(start, corners[i]), math.dist(start, end)

    def _partitions(self) -> Iterator[tuple[str, str]]:
        """Closed partitions of the edge: name here, and id in the document."""
        walls = len(self.whole.space.walls)
        for i, owner in enumerate(self.cell.owners):
            if owner >= walls:
                yield self.walls[i], self.closed[owner - walls]

    def _finishes(self) -> dict[str, FinishRef]:
        """Finish by wall: what the document names, and that of each partition."""
        told = self.whole.space.finishes
        named: dict[str, FinishRef] = {
            name: self.whole.partitions[key].finish for name, key in self._partitions()
        }
        for here, there, _, _ in self._runs():
            # A wall of which nothing is said stays one of which nothing is said.
            if isinstance(told.walls, dict):
                if there in told.walls:
                    named[here] = told.walls[there]
            elif "walls" in told.model_fields_set:
                named[here] = told.walls
        return named

    def _isolation(self) -> dict[str, Isolation]:
        """What each wall keeps back; beyond a partition is the same background as here, if told.

        A background that nobody told must not hide what is said next door.
        """
        told = self.whole.space.isolation
        kept = {here: told[there] for here, there, _, _ in self._runs() if there in told}
        noise = self.whole.noise
        beyond = noise.background if "background" in noise.model_fields_set else None
        for name, key in self._partitions():
            kept[name] = Isolation(stc=self.whole.partitions[key].stc, outside=beyond)
        return kept

    def _patches(self) -> dict[str, AnyPatch]:
        patches = self.whole.space.finishes.patches
        found: dict[str, AnyPatch] = {}
        for key, patch in self.whole.space.finishes.wall_patches.items():
            for here, there, start, end in self._runs():
                low, high = max(patch.from_, start), min(patch.to, end)
                if there != patch.wall or high - low <= NEAR:
                    continue
                name = _free(key, found.keys() | (patches.keys() - {key}))
                found[name] = _with(patch, wall=here, from_=low - start, to=high - start)
        return {**found, **self._outlined(self.whole.space.finishes.level_patches)}

    def _pictures(self) -> dict[str, Furniture]:
        found: dict[str, Furniture] = {}
        for key, item in self.whole.furniture.items():
            if not isinstance(item, Display | Screen):
                continue
            for here, there, start, end in self._runs():
                if there == item.wall and start <= item.centre[0] <= end:
                    centre = (item.centre[0] - start, item.centre[1])
                    found[key] = _with(item, wall=here, centre=centre)
                    break
        return found

    def _furniture(self) -> dict[str, Furniture]:
        """In the document's order, pieces of one after the other."""
        flat = {
            k: f
            for k, f in self.whole.furniture.items()
            if not isinstance(f, Display | Screen | Lectern)
        }
        lecterns: dict[str, Furniture] = {
            k: f
            for k, f in self.whole.furniture.items()
            if isinstance(f, Lectern) and self._touches(f.at)
        }
        mine = {**self._pictures(), **lecterns, **self._outlined(flat)}
        place = {key: i for i, key in enumerate(self.whole.furniture)}
        ordered = sorted(mine, key=lambda k: place.get(k, place.get(k.rpartition("-")[0], 0)))
        return {key: mine[key] for key in ordered}

    def _space(self) -> Space:
        space = self.whole.space
        finishes = space.finishes.model_copy(
            update={"walls": self._finishes(), "patches": self._patches()}
        )
        return space.model_copy(
            update={
                "outline": self.cell.corners,
                "walls": self.walls,
                "finishes": finishes,
                "isolation": self._isolation(),
                "obstacles": self._outlined(space.obstacles),
                "measured_reverberation": None,
            }
        )

    def _device_here(self, device: Device) -> bool:
        if device.kind not in HEARD:
            return True
        housed = self.whole.equipment.get(device.equipment or "")
        at = device.at or (housed.at if housed is not None else None)
        return at is None or self._here(at)

    def room(self) -> Room:
        """The cell as a document."""
        whole = self.whole
        devices = {k: d for k, d in whole.devices.items() if self._device_here(d)}
        here = {*devices, *whole.equipment}

        def all_here(*ports: str) -> bool:
            return all(port.partition(".")[0] in here for port in ports)

        sources = {k: s for k, s in whole.noise.sources.items() if self._touches(s.at)}
        people = {"seats": self.seats, "standing": self.standing}
        return _tidied(
            whole.model_copy(
                update={
                    "space": self._space(),
                    "furniture": self._furniture(),
                    "people": whole.people.model_copy(update=people),
                    "noise": whole.noise.model_copy(update={"sources": sources}),
                    "overhead": self._outlined(whole.overhead),
                    "devices": devices,
                    "links": {k: v for k, v in whole.links.items() if all_here(v.from_, v.to)},
                    "processing": keeping(whole.processing, here.__contains__),
                    "partitions": {},
                    "arrangements": {},
                }
            )
        )


def _with(item: Any, **changes: object) -> Any:
    """The same with other values; what was left to a default still is."""
    return item.model_copy(update=changes)


def _free(name: str, taken: Iterable[str]) -> str:
    """The name, or the first of ``name-2``, ``name-3``, … that is not taken."""
    known = set(taken)
    if name not in known:
        return name
    return next(f"{name}-{n}" for n in count(2) if f"{name}-{n}" not in known)


def _tidied(room: Room) -> Room:
    """The room without a basis of what it does not hold."""
    from wellheard.room.consistency import missing_step

    kept = {path: word for path, word in room.basis.items() if missing_step(room, path) is None}
    return room if len(kept) == len(room.basis) else room.model_copy(update={"basis": kept})
