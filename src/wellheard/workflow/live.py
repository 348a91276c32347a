"""A room that answers while somebody moves things in it: figures, quick answers, full ones."""

from __future__ import annotations

import threading
from collections import OrderedDict
from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from functools import cached_property
from typing import Any

import numpy as np

from wellheard.catalog.catalogue import Catalogue
from wellheard.drawings.livemap import QUICK, LiveMap, live_map
from wellheard.drawings.view import FieldMap, FieldPiece
from wellheard.errors import InputError
from wellheard.predict.coverage import Coverage, SeatValue, at_talkers
from wellheard.predict.evidence import Evidence
from wellheard.predict.parts import PartEvidence, PartScene, build_parts
from wellheard.predict.scene import Scene
from wellheard.room.consistency import contradictions
from wellheard.room.document import Room
from wellheard.units import Unit
from wellheard.workflow import figures
from wellheard.workflow.ahead import named, next_places
from wellheard.workflow.design import Judged, judge
from wellheard.workflow.dragged import (
    Dragged,
    Move,
    placed_quickly,
    refused,
    waits,
    with_moves,
)
from wellheard.workflow.load import Loaded
from wellheard.workflow.map_pictures import LOW_END, MIDDLE, conditions
from wellheard.workflow.maps import (
    QUANTITIES,
    Asked,
    Mapped,
    MappedSpace,
    RoomMap,
    mapped_spaces,
    target_of,
)
from wellheard.workflow.strip import strip, unknown

NO_MAP = "No microphone is placed in this room, so there is nothing to map: place one."
NO_MAP_HERE = "No microphone hears the spaces of this arrangement, so there is nothing to map."

STI = QUANTITIES["sti"].key

REMEMBERED = 96
"""Quick answers that are kept: a hand comes back to where it was."""

SEAT_CLEAR, DEVICE_CLEAR = 0.35, 0.3
"""No label of a map stands so near to the middle of a seat, or of a device. [m]"""


class Prediction:
    """Everything that is predicted of one room, each part when it is first asked for."""

    def __init__(self, room: Room, catalogue: Catalogue) -> None:
        self.room, self.catalogue = room, catalogue
        self._drawn: dict[tuple[str, bool], LiveMap] = {}

    @cached_property
    def scenes(self) -> tuple[PartScene, ...]:
        """The room, or every space of every arrangement, ready for sound."""
        return build_parts(self.room, self.catalogue)

    @cached_property
    def judged(self) -> Judged:
        """Evidence and findings, the same as ``wellheard predict`` has."""
        return judge(self.room, self.catalogue, scenes=self.scenes)

    @cached_property
    def shown(self) -> tuple[tuple[PartScene, PartEvidence], ...]:
        """The room, or the spaces of the arrangement in which the worst seat is."""
        judged = self.judged
        if not judged.parts:
            (only,) = self.scenes
            return ((only, PartEvidence(only.part, judged.evidence)),)
        arrangement = judged.leads.partition(".")[0]
        return tuple(
            (scene, PartEvidence(part.part, part.evidence))
            for scene, part in zip(self.scenes, judged.parts, strict=True)
            if part.part.arrangement == arrangement
        )

    @cached_property
    def values(self) -> dict[str, dict[str, SeatValue]]:
        """Every quantity at every talking point, as it is in its worst arrangement."""
        judged = self.judged
        if not judged.parts:
            return at_talkers(self.scenes[0].scene, judged.evidence)
        each = {p.name: at_talkers(p.scene, p.evidence) for p in judged.parts}
        return {
            row.talker.id: each[row.arrangement][row.talker.id] for row in judged.evidence.outbound
        }

    @cached_property
    def spaces(self) -> tuple[MappedSpace, ...]:
        """Maps of every quantity, of every space that is shown."""
        return mapped_spaces(self.room, [(s.scene, e) for s, e in self.shown], Asked())

    @property
    def arrangement(self) -> str:
        """Key of the arrangement whose map is shown; '' for a room that does not divide."""
        return self.shown[0][0].part.arrangement

    def drawn(self, quantity: str, *, worst: bool) -> LiveMap:
        """One map, drawn once."""
        if (quantity, worst) not in self._drawn:
            pieces = self.pieces(quantity, worst=worst)
            self._drawn[quantity, worst] = live_map(pieces, keep_off=_keep_off(self.room))
        return self._drawn[quantity, worst]

    def pieces(self, quantity: str, *, worst: bool) -> list[FieldPiece]:
        """One map, space by space."""
        mapped = QUANTITIES[quantity]
        target = target_of(self.judged.evidence, mapped)
        return [
            piece_of(space.maps[mapped.key], space.scene.room, mapped, worst=worst, target=target)
            for space in self.spaces
            if space.maps
        ]

    def conditions(self, spaces: Sequence[MappedSpace], *, worst: bool, unit: Unit) -> str:
        """Whose map it is: which value, and who talks how; lengths in ``unit``."""
        told = self.room.model_copy(update={"units": unit})
        evidence = replace(self.judged.evidence, room=told)
        found = RoomMap(Asked(), evidence, tuple(spaces), self.arrangement, document="")
        return f"{LOW_END if worst else MIDDLE}. {conditions(found)}"


class Live:
    """One state of a document, answering for its room and for what it would be if things moved.

    Safe to ask from several threads: one answers at a time.

    Parameters
    ----------
    loaded : Loaded
        The document with its catalogue.
    """

    def __init__(self, loaded: Loaded) -> None:
        self.loaded = loaded
        self._lock = threading.RLock()
        self._now = Prediction(loaded.room, loaded.catalogue)
        self._dragged: Dragged | None = None
        self._answers: OrderedDict[tuple[str, Unit, str, bool], dict[str, Any]] = OrderedDict()
        self._was: tuple[float, float] | None = None

    def figures(self, *, unit: Unit, quantity: str = "sti", worst: bool = False) -> dict[str, Any]:
        """Headline, ledger, marks, findings and map of the room as it stands.

        Parameters
        ----------
        unit : {"m", "ft"}
            Of lengths in words.
        quantity : str
            What is mapped and stands at the seats: a key of `wellheard.workflow.maps.QUANTITIES`.
        worst : bool
            Map the low end (10 % point) in place of the middle value.

        Raises
        ------
        InputError
            There is no such quantity.
        """
        known_quantity(quantity)
        with self._lock:
            return answer(self._now, unit=unit, quantity=quantity, worst=worst)

    def prepare(self) -> None:
        """Work out what the first of the quick answers would have to wait for."""
        with self._lock:
            self._ready()

    def moved(
        self,
        moves: Mapping[str, Move],
        *,
        unit: Unit,
        quantity: str = "sti",
        worst: bool = False,
    ) -> dict[str, Any]:
        """Map and rows while a hand moves things: middle values, over a coarse grid.

        Parameters
        ----------
        moves : mapping of str to Move
            New places by item path, see `wellheard.workflow.dragged.with_moves`.
        unit, quantity, worst
            As for `figures`.

        Returns
        -------
        dict
            ``map`` is null where it stays as it is, and where ``waits`` has words: then nothing
            is answered before the hand rests, or the place is none.

        Raises
        ------
        InputError
            There is no such quantity.
        """
        known_quantity(quantity)
        asking = (named(moves), unit, quantity, worst)
        with self._lock:
            if asking not in self._answers:
                self._answers[asking] = self._moved(moves, unit, quantity, worst)
            self._answers.move_to_end(asking)
            while len(self._answers) > REMEMBERED:
                self._answers.popitem(last=False)
            return self._answers[asking]

    def look_ahead(
        self,
        moves: Mapping[str, Move],
        *,
        unit: Unit,
        quantity: str,
        worst: bool,
        stop: Callable[[], bool],
    ) -> None:
        """Work out where tiles will draw a microphone next, until somebody asks for something.

        Parameters
        ----------
        moves, unit, quantity, worst
            As they were asked last.
        stop : callable
            Whether to leave it at that; asked before each place.
        """
        places = next_places(self.loaded.room, moves, self._was)
        if places:
            ((x, y, *_),) = moves.values()
            self._was = (float(x), float(y))
        for place in places:
            if stop():
                return
            self.moved(place, unit=unit, quantity=quantity, worst=worst)

    def _moved(
        self, moves: Mapping[str, Move], unit: Unit, quantity: str, worst: bool
    ) -> dict[str, Any]:
        room = self.loaded.room
        said = waits(room, moves)
        if said:
            return _nothing(said)
        try:
            there = placed_quickly(room, moves)
        except InputError as error:
            return _nothing(str(error))
        said = refused(there, moves, unit=unit)
        if said:
            return _nothing(said)
        return self._quick(there, unit=unit, quantity=quantity, worst=worst)

    def rested(
        self,
        moves: Mapping[str, Move],
        *,
        unit: Unit,
        quantity: str = "sti",
        worst: bool = False,
    ) -> dict[str, Any]:
        """The same as `figures` for the room with things moved; nothing is saved.

        A place that is none is answered as `moved` answers it.

        Raises
        ------
        InputError
            There is no such quantity.
        """
        # Of a room of its own, so that a hand that moves on waits for none of it.
        known_quantity(quantity)
        try:
            room = with_moves(self.loaded.room, moves, unit=unit)
        except InputError as error:
            return _nothing(str(error))
        said = refused(room, moves, unit=unit) or next(
            (f"{'.'.join(map(str, r.path))}: {r.what}" for r in contradictions(room)), ""
        )
        if said:
            return _nothing(said)
        found = Prediction(room, self.loaded.catalogue)
        return {**answer(found, unit=unit, quantity=quantity, worst=worst), "waits": ""}

    def path(self, seat: str, *, unit: Unit) -> dict[str, Any]:
        """The path strip of a place: its worst point, in its worst arrangement.

        Parameters
        ----------
        seat : str
            Id or item path of a seat or standing area, or id of one of its points.
        unit : {"m", "ft"}
            Of lengths in words.

        Raises
        ------
        InputError
            There is no such place.
        """
        with self._lock:
            evidence = self._now.judged.evidence
            mine = [t for t in evidence.talkers if seat in (t.id, t.owner, _id(t.owner))]
            if not mine:
                names = ", ".join(dict.fromkeys(_id(t.owner) for t in evidence.talkers))
                raise InputError(f"no place {seat!r}; there are {names}")
            ids = {t.id for t in mine}
            row = next((r for r in evidence.worst_first() if r.talker.id in ids), None)
            if row is None:
                why = figures.UNHEARD if evidence.microphones else figures.NO_MICROPHONE
                return unknown(_id(mine[0].owner), mine[0].owner, why)
            scene, own = self._space_of(row.arrangement)
            here = next(r for r in own.outbound if r.talker.id == row.talker.id)
            return strip(scene, own, here, unit=unit, arrangement=row.arrangement)

    def _space_of(self, name: str) -> tuple[Scene, Evidence]:
        judged = self._now.judged
        for part in judged.parts:
            if part.name == name:
                return part.scene, part.evidence
        return self._now.scenes[0].scene, judged.evidence

    def _ready(self) -> Dragged:
        if self._dragged is None:
            now = self._now
            self._dragged = Dragged(now.room, now.catalogue, now.scenes, now.arrangement)
        return self._dragged

    def _quick(self, room: Room, *, unit: Unit, quantity: str, worst: bool) -> dict[str, Any]:
        now = self._ready().after(room, lows=worst)
        mapped = QUANTITIES[quantity]
        rows = figures.quick_rows(now, room, unit=unit)
        drawn = None
        if now.mapped and not now.map_stays:
            target = target_of(self._now.judged.evidence, mapped)
            evidence = self._now.judged.evidence
            # The words read the facings off the map of the STI.
            spaces = [
                MappedSpace(
                    "", scene, evidence, {k: ground.cover(k) for k in {STI, mapped.key}}, {}
                )
                for scene, ground in now.mapped
            ]
            pieces = [
                piece_of(one.maps[mapped.key], one.scene.room, mapped, worst=worst, target=target)
                for one in spaces
            ]
            # The same lines and tints all the way: a colour keeps its meaning under the hand.
            known = any(space.maps for space in self._now.spaces)
            levels = self._now.drawn(quantity, worst=worst).levels if known else None
            drawn = figures.map_json(
                live_map(pieces, levels=levels, labelled=False, cells=QUICK),
                quantity,
                conditions=self._now.conditions(spaces, worst=worst, unit=unit),
                grid=grid_of(pieces, quantity),
            )
        return {
            "map": drawn,
            "map_words": "" if now.mapped else NO_MAP,
            "rows": rows,
            "marks": figures.quick_marks(now, mapped, worst=worst),
            "waits": "",
        }


def _id(path: str) -> str:
    return path.rpartition(".")[2]


def _nothing(said: str) -> dict[str, Any]:
    """No answer but words."""
    return {"map": None, "map_words": "", "rows": [], "marks": {}, "waits": said}


def known_quantity(quantity: str) -> None:
    """Refuse a quantity that is not mapped.

    Raises
    ------
    InputError
        There is no such quantity.
    """
    if quantity not in QUANTITIES:
        raise InputError(f"no quantity {quantity!r}; there are {', '.join(figures.SHORT)}")


def answer(found: Prediction, *, unit: Unit, quantity: str, worst: bool) -> dict[str, Any]:
    """What a screen shows of a prediction: JSON of numbers and finished words."""
    judged = found.judged
    drawn, why = _map(found, unit=unit, quantity=quantity, worst=worst)
    return {
        "headline": figures.headline(judged),
        "ledger": figures.ledger(judged, unit=unit),
        "marks": figures.marks(judged.evidence, found.values, QUANTITIES[quantity], worst=worst),
        "findings": figures.findings(judged.findings, found.room),
        "map": drawn,
        "map_words": why,
        "quantities": figures.quantities(),
    }


def _map(
    found: Prediction, *, unit: Unit, quantity: str, worst: bool
) -> tuple[dict[str, Any] | None, str]:
    if not found.judged.evidence.microphones:
        return None, NO_MAP
    if not any(space.maps for space in found.spaces):
        return None, NO_MAP_HERE
    pieces = found.pieces(quantity, worst=worst)
    return (
        figures.map_json(
            found.drawn(quantity, worst=worst),
            quantity,
            conditions=found.conditions(found.spaces, worst=worst, unit=unit),
            grid=grid_of(pieces, quantity),
        ),
        "",
    )


def piece_of(
    cover: Coverage, room: Room, mapped: Mapped, *, worst: bool, target: float | None
) -> FieldPiece:
    """The map of one space as it is drawn."""
    field = FieldMap(
        values=cover.low if worst else cover.values,
        x=cover.x,
        y=cover.y,
        quantity=mapped.title,
        unit=mapped.unit,
        target=target,
        step=mapped.step,
        decimals=mapped.decimals,
    )
    return FieldPiece(field, room.space.outline)


def grid_of(pieces: Sequence[FieldPiece], quantity: str) -> dict[str, Any]:
    """Values on one even grid over all pieces, for the figure under the pointer."""
    places = QUANTITIES[quantity].places
    if len(pieces) == 1:
        field = pieces[0].field
        return figures.grid_json(field.values, field.x, field.y, places)
    step = min(
        min(float(p.field.x[1] - p.field.x[0]), float(p.field.y[1] - p.field.y[0])) for p in pieces
    )
    low = [min(float(axis[0]) for axis in axes) for axes in _axes(pieces)]
    high = [max(float(axis[-1]) for axis in axes) for axes in _axes(pieces)]
    x, y = (np.arange(a, b + step / 2, step) for a, b in zip(low, high, strict=True))
    values = np.full((len(y), len(x)), np.nan)
    for piece in pieces:
        columns, inside_x = _nearest(x, np.asarray(piece.field.x))
        rows, inside_y = _nearest(y, np.asarray(piece.field.y))
        there = np.ix_(np.flatnonzero(inside_y), np.flatnonzero(inside_x))
        values[there] = piece.field.values[np.ix_(rows[inside_y], columns[inside_x])]
    return figures.grid_json(values, x, y, places)


def _axes(pieces: Sequence[FieldPiece]) -> tuple[list[np.ndarray], list[np.ndarray]]:
    return [np.asarray(p.field.x) for p in pieces], [np.asarray(p.field.y) for p in pieces]


def _nearest(places: np.ndarray, axis: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Index of the node nearest to each place, and whether it is near enough to speak for it."""
    step = axis[1] - axis[0]
    index = np.rint((places - axis[0]) / step).astype(int)
    inside = (index >= 0) & (index < len(axis))
    return np.clip(index, 0, len(axis) - 1), inside


def _keep_off(room: Room) -> list[tuple[tuple[float, float], float]]:
    seats = [((s.at[0], s.at[1]), SEAT_CLEAR) for s in room.people.seats.values()]
    devices = [
        ((d.at[0], d.at[1]), DEVICE_CLEAR) for d in room.devices.values() if d.at is not None
    ]
    return [*seats, *devices]
