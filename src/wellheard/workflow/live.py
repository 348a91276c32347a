"""A room that answers while somebody moves things in it: figures, quick answers, full ones."""

from __future__ import annotations

import threading
from collections import OrderedDict
from collections.abc import Callable, Mapping, Sequence
from functools import cached_property
from typing import Any

import numpy as np

from wellheard.dossier.words import sentence
from wellheard.drawings.livemap import QUICK, live_map
from wellheard.drawings.view import FieldPiece
from wellheard.errors import InputError
from wellheard.predict.wayback import Inbound
from wellheard.room.consistency import contradictions
from wellheard.room.document import Room
from wellheard.units import Unit
from wellheard.workflow import figures
from wellheard.workflow.ahead import named, next_places
from wellheard.workflow.back_figures import back_figures
from wellheard.workflow.bothways import ears_of, silent_why
from wellheard.workflow.dragged import (
    Dragged,
    Move,
    placed_quickly,
    refused,
    waits,
    with_moves,
)
from wellheard.workflow.load import Loaded
from wellheard.workflow.maps import QUANTITIES, MappedSpace, target_of
from wellheard.workflow.prediction import Prediction, piece_of
from wellheard.workflow.ways import path_strip
from wellheard.workflow.wiring_sheet import WiringSheet

NO_MAP = "No microphone is placed in this room, so there is nothing to map: place one."
NO_MAP_HERE = "No microphone hears the spaces of this arrangement, so there is nothing to map."
NOTHING_PLAYS = "Not assessed: {why}, so there is nothing to map."
NOTHING_PLAYS_HERE = "No loudspeaker plays into the spaces of this arrangement: nothing to map."
LATER = "What is heard of the far end follows when the hand rests."

STI = QUANTITIES["sti"].key

REMEMBERED = 96
"""Quick answers that are kept: a hand comes back to where it was."""


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

    @cached_property
    def _ears(self) -> dict[str, tuple[Inbound, ...]]:
        return ears_of(self._now.judged.evidence)

    @cached_property
    def wiring(self) -> WiringSheet:
        """Diagram, cables and bill of the room as it stands."""
        return WiringSheet(self.loaded)

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

    def path(self, seat: str, *, unit: Unit, way: str = "outbound") -> dict[str, Any]:
        """The path strip of a place: its worst point, in its worst arrangement.

        Parameters
        ----------
        seat : str
            Id or item path of a seat or standing area, or id of one of its points.
        unit : {"m", "ft"}
            Of lengths in words.
        way : {"outbound", "inbound", "echo", "lift"}
            Which path; one that is not there has dashes and says why.

        Raises
        ------
        InputError
            There is no such place, or no such way.
        """
        with self._lock:
            return path_strip(self._now, seat, way, unit=unit)

    def _ready(self) -> Dragged:
        if self._dragged is None:
            now = self._now
            self._dragged = Dragged(now.room, now.catalogue, now.scenes, now.arrangement)
        return self._dragged

    def _quick(self, room: Room, *, unit: Unit, quantity: str, worst: bool) -> dict[str, Any]:
        mapped = QUANTITIES[quantity]
        now = self._ready().after(room, lows=worst and not mapped.is_inbound)
        rows = figures.quick_rows(now, room, self._ears, unit=unit)
        drawn = None
        if now.mapped and not now.map_stays and not mapped.is_inbound:
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
            known = any(space.maps for space in self._now.spaces(mapped))
            levels = self._now.drawn(quantity, worst=worst).levels if known else None
            drawn = figures.map_json(
                live_map(pieces, levels=levels, labelled=False, cells=QUICK),
                quantity,
                conditions=self._now.conditions(spaces, quantity, worst=worst, unit=unit),
                grid=grid_of(pieces, quantity),
            )
        before = figures.marks(self._now.judged.evidence, self._now.values, mapped, worst=worst)
        return {
            "map": drawn,
            "map_words": "" if now.mapped else NO_MAP,
            "rows": rows,
            "marks": figures.quick_marks(now, mapped, rows, before, worst=worst),
            "waits": self._later(room),
        }

    def _later(self, room: Room) -> str:
        """What is still to come of a room that was worked out quickly; '' for nothing."""
        if self._now.judged.evidence.playback is None:
            return ""
        same = _sounding(room) == _sounding(self.loaded.room)
        return "" if same else LATER


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
        "back": back_figures(judged.evidence),
    }


def _sounding(room: Room) -> tuple[object, ...]:
    """What the way in depends on of what a hand moves quickly: loudspeakers and ears."""
    playing = [(k, d.at) for k, d in room.devices.items() if d.kind in ("loudspeaker", "combined")]
    return (playing, [seat.at for seat in room.people.seats.values()])


def _map(
    found: Prediction, *, unit: Unit, quantity: str, worst: bool
) -> tuple[dict[str, Any] | None, str]:
    evidence, mapped = found.judged.evidence, QUANTITIES[quantity]
    if mapped.is_inbound and evidence.playback is None:
        return None, NOTHING_PLAYS.format(why=sentence(silent_why(evidence)))
    if not mapped.is_inbound and not evidence.microphones:
        return None, NO_MAP
    spaces = found.spaces(mapped)
    if not any(space.maps for space in spaces):
        return None, NOTHING_PLAYS_HERE if mapped.is_inbound else NO_MAP_HERE
    pieces = found.pieces(quantity, worst=worst)
    return (
        figures.map_json(
            found.drawn(quantity, worst=worst),
            quantity,
            conditions=found.conditions(spaces, quantity, worst=worst, unit=unit),
            grid=grid_of(pieces, quantity),
        ),
        "",
    )


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
