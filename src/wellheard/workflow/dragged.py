"""A room while a hand moves devices and seats in it: the places refused, the rest worked out."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any, TypeAlias

import numpy as np

from wellheard.catalog.catalogue import Catalogue
from wellheard.geometry.points import contains_points, distance_outside
from wellheard.predict.devices import placed_microphones
from wellheard.predict.dragging import Ground, Points, SeatNow, seated
from wellheard.predict.evidence import PlacedMicrophone, Talker
from wellheard.predict.parts import PartScene, aimed
from wellheard.predict.planes import solids
from wellheard.predict.scene import Scene
from wellheard.predict.talkers import talkers
from wellheard.room import operations
from wellheard.room.divide import HEARD, NEAR, closed_in, division, home, inhabited
from wellheard.room.document import Room
from wellheard.room.refused import OperationError
from wellheard.units import Unit, format_length
from wellheard.workflow.places import middle_of, thing_at

Move: TypeAlias = Sequence[float] | Mapping[str, Sequence[float]]
"""Where something goes, ``(x, y)`` or ``(x, y, z)``, or ``{"by": (dx, dy)}``. [m]"""

DEVICES, SEATS = "devices.", "people.seats."

WAITS = (
    ("people.standing.", "a standing area is sampled anew"),
    ("furniture.", "furniture changes the room’s reverberation"),
    ("space.", "the shape and the surfaces of a room change its reverberation"),
    ("noise.", "a source changes the noise everywhere"),
    ("partitions.", "a partition changes the spaces"),
)
AT_REST = "figures follow when the hand rests"


# ---- moves -------------------------------------------------------------------------------


def with_moves(room: Room, moves: Mapping[str, Move], *, unit: Unit) -> Room:
    """The room with things moved; it is not checked against itself.

    Parameters
    ----------
    room : Room
        As it is.
    moves : mapping of str to Move
        By item path. A place is that of the item itself; of one that has an outline the middle
        of its bounds. A device keeps its height where none is given.
    unit : {"m", "ft"}
        Of lengths in words.

    Raises
    ------
    InputError
        There is no such thing, it cannot be moved, or its new place is none.
    """
    return operations.apply(
        room, [_operation(room, path, move) for path, move in moves.items()], unit=unit
    ).room


def _operation(room: Room, path: str, move: Move) -> dict[str, Any]:
    if isinstance(move, Mapping):
        by = _numbers(path, move.get("by", ()), (2,))
        return {"do": "move", "items": [path], "by": list(by)}
    thing = thing_at(path, room)
    if thing is None:
        raise OperationError(path, "there is no such thing in the room", "the path of one")
    to = _numbers(path, move, (2, 3))
    at = getattr(thing, "at", None)
    if at is not None:
        return {"path": f"{path}.at", "set": [*to[: len(at)], *at[len(to) :]]}
    outline = getattr(thing, "outline", None)
    if outline is None:
        raise OperationError(path, "has no place of its own", "move it by a distance")
    middle = middle_of(outline)
    return {"do": "move", "items": [path], "by": [to[0] - middle[0], to[1] - middle[1]]}


def _numbers(path: str, given: object, lengths: tuple[int, ...]) -> tuple[float, ...]:
    if (
        not isinstance(given, list | tuple)
        or len(given) not in lengths
        or not all(isinstance(v, int | float) and math.isfinite(v) for v in given)
    ):
        forms = " or ".join(str(n) for n in lengths)
        raise OperationError(path, "its new place is no point", f"{forms} finite numbers in metres")
    return tuple(float(value) for value in given)


def placed_quickly(room: Room, moves: Mapping[str, Move]) -> Room:
    """The room with devices and seats at other places, which are points of it.

    As `with_moves`, a hundred times quicker, of what `is_quick` only.

    Raises
    ------
    InputError
        There is no such device or seat, it has no place of its own, or the new one is none.
    """
    devices, seats = dict(room.devices), dict(room.people.seats)
    for path, move in moves.items():
        kept = devices if path.startswith(DEVICES) else seats
        name = path.rpartition(".")[2]
        thing: Any = kept.get(name)
        if thing is None or thing.at is None:
            raise OperationError(path, "there is no such thing with a place", "a device or seat")
        if getattr(thing, "locked", False):
            raise OperationError(path, f"{name} is locked", "unlock it first")
        if isinstance(move, Mapping):
            dx, dy = _numbers(path, move.get("by", ()), (2,))
            to: tuple[float, ...] = (thing.at[0] + dx, thing.at[1] + dy)
        else:
            to = _numbers(path, move, (2, 3))
        at = (*to[: len(thing.at)], *thing.at[len(to) :])
        kept[name] = thing.model_copy(update={"at": at})
    people = room.people.model_copy(update={"seats": seats})
    return room.model_copy(update={"devices": devices, "people": people})


def waits(room: Room, moves: Mapping[str, Move]) -> str:
    """Why figures have to wait until the hand rests; '' where they need not."""
    for path in moves:
        if path.startswith(DEVICES):
            continue
        if path.startswith(SEATS):
            if room.arrangements:
                return f"a seat may change spaces in a room that divides: {AT_REST}"
            continue
        said = next((words for start, words in WAITS if path.startswith(start)), "")
        return f"{said}: {AT_REST}" if said else AT_REST
    return ""


def refused(room: Room, moves: Mapping[str, Move], *, unit: Unit) -> str:
    """Why a moved device or seat cannot be where it is; '' where it can."""
    for path in moves:
        thing = thing_at(path, room)
        at = getattr(thing, "at", None)
        if at is None:
            continue
        height = float(at[2]) if len(at) == 3 else float(getattr(thing, "height", 0.0))
        said = _not_there(room, (at[0], at[1]), height, unit=unit)
        if said:
            return f"{path.rpartition('.')[2]} {said}"
    return ""


def _not_there(room: Room, plan: tuple[float, float], height: float, *, unit: Unit) -> str:
    def length(metres: float) -> str:
        return format_length(metres, unit=unit)

    point = np.array([plan])
    gap = float(distance_outside(np.asarray(room.space.outline, dtype=np.float64), point)[0])
    if gap > NEAR:
        return f"is {length(gap)} outside the room: bring it inside the walls"
    top = room.space.height
    if height > top + NEAR:
        return f"is {length(height - top)} above the ceiling: at most {length(top)} is allowed"
    if height < -NEAR:
        return f"is {length(-height)} below the floor: 0 or more is allowed"
    for above, outline in solids(room):
        shape = np.asarray(outline, dtype=np.float64)
        inside = height < above - NEAR or above > top - NEAR
        if inside and contains_points(shape, point, tolerance=-NEAR)[0]:
            return f"is inside {_solid_name(room, outline)}, which is solid: bring it outside"
    return ""


def _solid_name(room: Room, outline: Sequence[Sequence[float]]) -> str:
    named = [*room.space.obstacles.items(), *room.furniture.items()]
    return next(k for k, one in named if getattr(one, "outline", None) == outline)


# ---- what is heard -----------------------------------------------------------------------


@dataclass(frozen=True)
class Heard:
    """One talking point as it is now, in the space where it is worst."""

    talker: Talker
    now: SeatNow
    space: str

    @property
    def badness(self) -> tuple[float, float, str]:
        """Orders the rows of a ledger, the least first, as `Evidence.worst_first` does."""
        kept = self.now.promise
        return (
            round(kept.chance, 9),
            round(kept.quantities["sti_outbound"].value, 9),
            self.talker.id,
        )


@dataclass(frozen=True)
class Now:
    """A room with things moved.

    Attributes
    ----------
    heard : tuple of Heard
        Every talking point that some microphone hears in every arrangement, worst first.
    unheard : tuple of Talker
        The others.
    mapped : tuple of (Scene, Ground)
        The spaces whose map is shown.
    map_stays : bool
        Whether the map is what it was.
    """

    heard: tuple[Heard, ...]
    unheard: tuple[Talker, ...]
    mapped: tuple[tuple[Scene, Ground], ...]
    map_stays: bool


class Dragged:
    """A room of which devices and seats are moved, and every space of it.

    Parameters
    ----------
    room : Room
        As it stands.
    catalogue : Catalogue
        Of its products.
    scenes : sequence of PartScene
        Of `wellheard.predict.parts.build_parts`.
    shown : str
        Arrangement whose map is shown; '' for a room that does not divide.
    """

    def __init__(
        self, room: Room, catalogue: Catalogue, scenes: Sequence[PartScene], shown: str
    ) -> None:
        self.room, self.catalogue, self.shown = room, catalogue, shown
        self._spaces = tuple(scenes)
        self._people = talkers(room)
        self._points: dict[str, Points] = {}
        self._cells = {key: division(room, closed_in(room, key)).cells for key in room.arrangements}
        self._home = {key: sorted(inhabited(room, cells)) for key, cells in self._cells.items()}
        whole = aimed(room, catalogue, self._people) if room.arrangements else room
        self._grounds = [self._ground(i, *self._part(i, whole)) for i in range(len(scenes))]

    def after(self, room: Room, *, lows: bool = True) -> Now:
        """Predict the room with devices or seats elsewhere.

        Parameters
        ----------
        room : Room
            Of `placed_quickly`.
        lows : bool
            Whether low ends of the map are wanted, too.
        """
        whole = room
        if room.arrangements:
            whole = aimed(room, self.catalogue, self._people)
        grounds: list[Ground | None] = []
        for index, before in enumerate(self._grounds):
            scene, placed = self._part(index, whole)
            if scene.mouths is not self._spaces[index].scene.mouths:
                grounds.append(self._with_seats(before, scene, placed))
            elif before is None or not placed:
                grounds.append(self._ground(index, scene, placed))
            else:
                grounds.append(before.moved(scene, placed, lows=lows))
        rows = self._worst(grounds)
        arrangement = self.shown
        if rows and self.room.arrangements:
            arrangement = min(rows, key=lambda one: one.badness[:2]).space.partition(".")[0]
        mapped = []
        for index, ground in enumerate(grounds):
            if self._spaces[index].part.arrangement != arrangement or ground is None:
                continue
            if ground.points is None and not self._map_stays(index, ground):
                ground = Ground(ground.scene, ground.microphones, self._points_of(index))
            mapped.append((ground.scene, ground))
        stays = arrangement == self.shown and all(
            ground is None or self._map_stays(i, ground)
            for i, ground in enumerate(grounds)
            if self._spaces[i].part.arrangement == arrangement
        )
        known = {one.talker.id for one in rows}
        return Now(
            heard=tuple(sorted(rows, key=lambda one: one.badness)),
            unheard=tuple(t for t in self._people if t.id not in known),
            mapped=tuple(mapped),
            map_stays=stays,
        )

    def _part(self, index: int, whole: Room) -> tuple[Scene, tuple[PlacedMicrophone, ...]]:
        """One space with the devices and seats that it now has, and its microphones."""
        built = self._spaces[index]
        room = whole
        if built.part.arrangement:
            devices = {k: d for k, d in whole.devices.items() if self._holds(index, whole, k)}
            room = built.part.room.model_copy(update={"devices": devices})
        scene = replace(built.scene, room=room)
        if not built.part.arrangement and room.people.seats != self.room.people.seats:
            scene = seated(scene)
        return scene, placed_microphones(room, self.catalogue, scene.talkers)

    def _holds(self, index: int, whole: Room, name: str) -> bool:
        part, device = self._spaces[index].part, whole.devices[name]
        if device.kind not in HEARD:
            return True
        housed = whole.equipment.get(device.equipment or "")
        at = device.at or (housed.at if housed is not None else None)
        mine = [s.part.name for s in self._spaces if s.part.arrangement == part.arrangement]
        cell = self._home[part.arrangement][mine.index(part.name)]
        return at is None or home(self._cells[part.arrangement], at) == cell

    def _ground(
        self, index: int, scene: Scene, placed: tuple[PlacedMicrophone, ...]
    ) -> Ground | None:
        if not placed or not scene.talkers:
            return None
        shown = self._spaces[index].part.arrangement == self.shown
        return Ground(scene, placed, self._points_of(index) if shown else None)

    def _with_seats(
        self, before: Ground | None, scene: Scene, placed: tuple[PlacedMicrophone, ...]
    ) -> Ground | None:
        """Other mouths: all their rows anew, the map only where it is not what it was."""
        if before is None or not placed:
            return None
        same = before.microphones == placed and before.same_map(scene)
        return Ground(scene, placed, None if same else before.points)

    def _map_stays(self, index: int, ground: Ground) -> bool:
        before = self._grounds[index]
        return (
            before is not None
            and before.points is not None
            and ground.points in (None, before.points)
            and ground.microphones == before.microphones
            and _loudspeakers(ground.scene.room) == _loudspeakers(before.scene.room)
            and before.same_map(ground.scene)
        )

    def _points_of(self, index: int) -> Points:
        built = self._spaces[index]
        if built.part.name not in self._points:
            self._points[built.part.name] = Points.over(built.scene)
        return self._points[built.part.name]

    def _worst(self, grounds: Sequence[Ground | None]) -> list[Heard]:
        """Every talking point in the space where it is worst; none that some space leaves out."""
        deaf = {
            t.id
            for built, ground in zip(self._spaces, grounds, strict=True)
            if ground is None
            for t in built.scene.talkers
        }
        worst: dict[str, Heard] = {}
        for built, ground in zip(self._spaces, grounds, strict=True):
            for now in () if ground is None else ground.seats():
                assert ground is not None
                one = Heard(ground.scene.talkers[now.talker], now, built.part.name)
                name = one.talker.id
                if name not in deaf and (
                    name not in worst or one.badness[:2] < worst[name].badness[:2]
                ):
                    worst[name] = one
        return list(worst.values())


def _loudspeakers(room: Room) -> list[object]:
    return [d.at for d in room.devices.values() if d.kind in ("loudspeaker", "combined")]
