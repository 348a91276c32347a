"""The phone answer: four numbers to a range of microphones, why, and what would change it.

Nothing is estimated by a rule of thumb: a room is written from the four numbers, and the solver
places microphones in it as in any other, once for each condition that nobody has told yet.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from wellheard.acoustics.directivity import TALKER_DIRECTIVITY_INDEX_DB
from wellheard.catalog.catalogue import Catalogue
from wellheard.dossier.words import percent
from wellheard.errors import InputError
from wellheard.place.microphones import place_microphones
from wellheard.place.proposal import FewerDevices, Proposal
from wellheard.predict import ledger, scene
from wellheard.predict.evidence import Evidence, Reverberation
from wellheard.room import codec, edit
from wellheard.room.devices import Device
from wellheard.room.document import Room
from wellheard.room.finishes import Finishes
from wellheard.room.new import starting_document
from wellheard.room.noise import Background, Noise
from wellheard.units import FOOT, Unit, format_length

USUAL_PRODUCT = "ceiling-head-3"
"""What is counted unless another product is asked for."""

OTHER_PRODUCTS: dict[Unit, tuple[str, ...]] = {
    "m": ("ceiling-head-2", "ceiling-head-6", "ceiling-array-16", "table-boundary"),
    "ft": ("ceiling-head-2", "ceiling-head-6", "ceiling-array-16-24in", "table-boundary"),
}
"""What else is tried in the usual room, by the units of the answer: its tiles are 0.6 m or 2 ft."""

TIME_LIMIT = 20.0
"""For each placement; a count that is not proven by then says so. [s]"""

SOFT = "two walls of fabric panels, carpet, mineral-tile ceiling, NC-25"
USUAL = "carpet, mineral-tile ceiling, plasterboard walls, NC-30"
UNCONFIRMED = "nothing is confirmed yet, as new writes it"
HARD = "vinyl floor, plasterboard ceiling, one long wall of glass, NC-30"

HIGHER: dict[Unit, float] = {"m": 0.6, "ft": 2 * FOOT}
"""How much higher a ceiling is tried, by the units of the answer. [m]"""


@dataclass(frozen=True)
class Count:
    """Fewest microphones of one product under one condition.

    Parameters
    ----------
    condition : str
        In words.
    product : str
    microphones : int or None
        None where no number keeps the promise.
    because : str
        What binds: why not one fewer, or why none; empty where nothing does.
    proven : bool
    """

    condition: str
    product: str
    microphones: int | None
    because: str
    proven: bool


@dataclass(frozen=True)
class QuickAnswer:
    """How many microphones a room of four numbers needs.

    Parameters
    ----------
    size : tuple of 3 floats
        [m]
    soft, usual, hard : Count
        In an absorbent and quiet, a usual, and a hard room of that size.
    reasons : tuple of str
        Three sentences with the figures of the usual room.
    changes : tuple of Count
        Other conditions and products in the usual room, those that change the number first.
    """

    size: tuple[float, float, float]
    seats: int
    units: Unit
    product: str
    soft: Count
    usual: Count
    hard: Count
    reasons: tuple[str, str, str]
    changes: tuple[Count, ...]

    @property
    def least(self) -> int | None:
        """Fewest of the three rooms; None where none of them can be kept."""
        return min(self._counts, default=None)

    @property
    def most(self) -> int | None:
        """Most of the three rooms; None where one of them cannot be kept by any number."""
        rooms = (self.soft, self.usual, self.hard)
        if any(room.microphones is None for room in rooms):
            return None
        return max(self._counts)

    @property
    def _counts(self) -> list[int]:
        rooms = (self.soft, self.usual, self.hard)
        return [room.microphones for room in rooms if room.microphones is not None]


def quick(
    size: tuple[float, float, float],
    seats: int,
    *,
    units: Unit = "m",
    product: str = USUAL_PRODUCT,
    catalogue: Catalogue | None = None,
    say: Callable[[str], None] = lambda message: None,
) -> QuickAnswer:
    """How many microphones a rectangular meeting room needs, why, and what would change it.

    Parameters
    ----------
    size : (float, float, float)
        Length, width, height. [m]
    seats : int
        Around one table, 2 to 24.
    units : {"m", "ft"}
        In which the sentences speak.
    product : str
        The microphone that is counted.
    catalogue : Catalogue, optional
        The shipped one if not given.
    say : callable
        Told what is being counted.

    Raises
    ------
    UsageError
        No such table fits the room.
    CatalogError
        The product is not a microphone of the catalogue.

    Notes
    -----
    The usual room has carpet tile, a mineral-tile ceiling, plasterboard walls and NC-30; the
    soft one two walls of fabric panels besides and NC-25; the hard one a vinyl floor, a
    plasterboard ceiling and glass along one wall. Everybody is heard both when facing across the
    table and when facing the picture.
    """
    known = catalogue or Catalogue.shipped()
    known.microphone(product)
    unconfirmed = codec.parse(starting_document(size, seats, units))
    # What a condition says in words is given, not guessed.
    room = unconfirmed.model_copy(update={"basis": {}})

    def counted(changed: Room, condition: str, one: str = product) -> Count:
        say(f"counting: {condition} …")
        return _counted(_asked(changed, one), condition, one, known)[0]

    say(f"counting: {USUAL} …")
    asked = _asked(room, product)
    usual, proposal = _counted(asked, USUAL, product, known)
    evidence = _predicted(asked, proposal, known)
    changes = [counted(unconfirmed, UNCONFIRMED)]
    changes += [counted(change(room), words) for words, change in _CHANGES.items()]
    changes.append(
        counted(_higher(room), f"a ceiling {format_length(HIGHER[units], unit=units)} higher")
    )
    changes += [
        counted(room, f"{one.name} instead", one.id)
        for one in known.microphones
        if one.id in OTHER_PRODUCTS[units] and one.id != product
    ]
    # Of what changes the number the largest step first, then what changes nothing.
    changes.sort(key=lambda c: -_step(c, usual))
    return QuickAnswer(
        size=size,
        seats=seats,
        units=units,
        product=product,
        soft=counted(_soft(room), SOFT),
        usual=usual,
        hard=counted(_hard(room), HARD),
        reasons=(
            _distance(proposal, evidence),
            _reverberation(proposal, evidence),
            _noise(evidence, usual),
        ),
        changes=tuple(changes),
    )


def _step(changed: Count, usual: Count) -> float:
    """How far a change moves the number; no number at all is farther than any."""
    if changed.microphones is None or usual.microphones is None:
        return 0.0 if changed.microphones == usual.microphones else 1e3
    return abs(changed.microphones - usual.microphones)


def _asked(room: Room, product: str) -> Room:
    """The room with this product alone to choose from."""
    allowed = room.choices.model_copy(update={"allow": (product,)})
    return room.model_copy(update={"choices": allowed})


def _counted(
    asked: Room, condition: str, product: str, catalogue: Catalogue
) -> tuple[Count, Proposal | None]:
    """Place the one product that is allowed; None where the rules leave no place for it."""
    try:
        proposal = place_microphones(scene.build(asked, catalogue), time_limit=TIME_LIMIT)
    except InputError:
        return Count(condition, product, None, "the rules leave no place for it", True), None
    impossible = proposal.proof.status == "infeasible"
    count = Count(
        condition=condition,
        product=product,
        microphones=None if impossible else proposal.count,
        because=_binds(proposal),
        proven=proposal.proof.status != "gap",
    )
    return count, proposal


def _predicted(asked: Room, proposal: Proposal | None, catalogue: Catalogue) -> Evidence:
    """The room with what is proposed for it, or as it stands."""
    if proposal is None:
        return ledger.evidence(scene.build(asked, catalogue))
    placed = edit.replacing_devices(
        asked,
        {"microphone"},
        {
            d.id: Device(kind="microphone", product=d.product, at=d.at, aim_deg=d.aim_deg)
            for d in proposal.devices
        },
    )
    return ledger.evidence(scene.build(placed, catalogue), assumptions=False)


_TARGETS = {
    "sti_outbound": "speech too blurred",
    "direct_to_reverberant_db": "too much room in the sound",
    "speech_to_noise_db": "too much noise",
    "rated-distance": "too far from a mouth",
    "served-together": "the rules of distance between devices",
    "loudspeaker-nearer-than-talkers": "a loudspeaker nearer than the talkers",
}


def _binds(proposal: Proposal) -> str:
    """What binds first, in words."""
    return next((_TARGETS.get(name, name) for name in proposal.proof.binding), "")


def _distance(proposal: Proposal | None, evidence: Evidence) -> str:
    unit = evidence.room.units
    rows = evidence.outbound
    if not rows:
        return "Distance: no place is left for this microphone, so no mouth is in its reach."
    farthest = max(rows, key=lambda row: row.path.distance)
    product = next(m.product for m in evidence.microphones if m.id == farthest.path.microphone)
    rated = (
        f"; it is rated to {format_length(product.usual_distance, unit=unit)}"
        if np.isfinite(product.usual_distance)
        else ""
    )
    fewer = proposal.proof.fewer if proposal is not None else None
    short = (
        f" With {fewer.count} some mouths would be beyond that."
        if fewer is not None and fewer.target == "rated-distance"
        else ""
    )
    return (
        f"Distance: the farthest mouth is {format_length(farthest.path.distance, unit=unit)} from "
        f"its microphone{rated}.{short}"
    )


def _reverberation(proposal: Proposal | None, evidence: Evidence) -> str:
    unit = evidence.room.units
    decay = evidence.reverberation
    time = float(np.mean(decay.time[2:4]))
    wanted = evidence.room.targets.direct_to_reverberant_db
    text = (
        f"Reverberation: about {time:.2f} s at mid frequencies; a microphone that hears all round "
        f"gets more room than voice beyond {format_length(_even_distance(decay), unit=unit)} from "
        "a talker who faces it."
    )
    if evidence.outbound:
        worst = min(row.path.direct_to_reverberant_db for row in evidence.outbound)
        text += f" The worst seat has {_db(worst)} of voice to room"
        text += f", {_db(wanted)} is promised" if wanted is not None else ""
        fewer = proposal.proof.fewer if proposal is not None else None
        if fewer is not None:
            text += f"; with {fewer.count} it would be {_db(fewer.worst_direct_to_reverberant_db)}"
            text += _unsure(fewer, evidence)
        text += "."
    return text


def _even_distance(decay: Reverberation) -> float:
    """Where voice and room are equal in front of a talker, at 500 Hz and 1 kHz [m]."""
    index_db = float(np.mean(TALKER_DIRECTIVITY_INDEX_DB[2:4]))
    return decay.critical_distance * 10 ** (index_db / 20)


def _unsure(fewer: FewerDevices, evidence: Evidence) -> str:
    """Why a figure that reaches its target is not enough: it must do so at the wanted chance."""
    targets = evidence.room.targets
    wanted, chance = targets.direct_to_reverberant_db, targets.chance
    reached = wanted is not None and fewer.worst_direct_to_reverberant_db >= wanted
    if fewer.target != "direct_to_reverberant_db" or not reached or chance is None:
        return ""
    return f", kept at a chance of {percent(fewer.worst_chance)} where {percent(chance)} is asked"


def _noise(evidence: Evidence, usual: Count) -> str:
    wanted = evidence.room.targets.speech_to_noise_db
    text = f"Noise: {evidence.noise.told_as} in the room"
    if evidence.outbound:
        worst = min(row.path.speech_to_noise_db for row in evidence.outbound)
        text += f"; at the microphone the voice of the worst seat is {_db(worst)} over the noise"
        text += f", {_db(wanted)} is promised" if wanted is not None else ""
    doubled = 10 * np.log10(evidence.open_microphones) if evidence.outbound else 0.0
    if usual.microphones and usual.microphones > 1:
        text += (
            f". {usual.microphones} microphones behind an automatic mixer add {_db(doubled)}; "
            f"without one they would add {_db(10 * np.log10(usual.microphones))}"
        )
    return text + "."


def _db(value: float) -> str:
    return f"{value:.1f} dB".replace("-", "−")


def _finished(room: Room, finishes: Finishes, *, ceiling: str | None = None) -> Room:
    change: dict[str, object] = {"finishes": finishes}
    if ceiling is not None:
        change["ceiling"] = room.space.ceiling.model_copy(update={"kind": ceiling})
    return room.model_copy(update={"space": room.space.model_copy(update=change)})


def _noisy(room: Room, nc: float) -> Room:
    return room.model_copy(update={"noise": Noise(background=Background(nc=nc))})


def _long_wall(room: Room) -> str:
    (x0, y0), (x1, y1) = room.space.wall_ends("south")
    (x2, y2), (x3, y3) = room.space.wall_ends("east")
    along, across = abs(x1 - x0) + abs(y1 - y0), abs(x3 - x2) + abs(y3 - y2)
    return "south" if along >= across else "east"


def _soft(room: Room) -> Room:
    walls = {"south": "fabric-panel", "east": "fabric-panel"}
    finishes = Finishes(
        floor="carpet-tile",
        ceiling="ceiling-mineral-tile",
        walls={**dict.fromkeys(room.space.walls, "plasterboard"), **walls},
    )
    return _noisy(_finished(room, finishes), 25.0)


def _hard(room: Room) -> Room:
    finishes = Finishes(
        floor="vinyl-floor",
        ceiling="ceiling-plasterboard",
        walls={**dict.fromkeys(room.space.walls, "plasterboard"), _long_wall(room): "glass-front"},
    )
    return _finished(room, finishes, ceiling="hard")


def _hard_ceiling(room: Room) -> Room:
    finishes = room.space.finishes.model_copy(update={"ceiling": "ceiling-plasterboard"})
    return _finished(room, finishes, ceiling="hard")


def _glass(room: Room) -> Room:
    walls = {**dict.fromkeys(room.space.walls, "plasterboard"), _long_wall(room): "glass-front"}
    return _finished(room, room.space.finishes.model_copy(update={"walls": walls}))


def _higher(room: Room) -> Room:
    higher = room.space.model_copy(update={"height": room.space.height + HIGHER[room.units]})
    return room.model_copy(update={"space": higher})


def _flush(room: Room) -> Room:
    return room.model_copy(update={"choices": room.choices.model_copy(update={"max_drop": 0.0})})


def _facing_picture(room: Room) -> Room:
    seats = {
        name: seat.model_copy(update={"facing": ("display",)})
        for name, seat in room.people.seats.items()
    }
    return room.model_copy(update={"people": room.people.model_copy(update={"seats": seats})})


_CHANGES: dict[str, Callable[[Room], Room]] = {
    "a plasterboard ceiling": _hard_ceiling,
    "glass along one long wall": _glass,
    "ventilation at NC-25": lambda room: _noisy(room, 25.0),
    "ventilation at NC-35": lambda room: _noisy(room, 35.0),
    "everybody only faces the picture": _facing_picture,
    "nothing may hang below the ceiling": _flush,
}
