"""Places as a customer counts them: a seat is one, a standing area is one, however sampled."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from wellheard.dossier.words import NBSP, brief, figure, listed, with_unit
from wellheard.predict.evidence import SEAT_TARGETS, Evidence, Outbound, Quantity, State
from wellheard.room.divide import spoken


@dataclass(frozen=True)
class TargetWords:
    """How one promised quantity is spoken of."""

    asked: str
    promised: str
    """Form of the promise, with the figure for {}."""
    unit: str
    places: int
    binds: str
    reason: str
    noun: str


TARGETS: dict[str, TargetWords] = {
    "sti_outbound": TargetWords(
        "Understood at the far end",
        "STI {}",
        "",
        2,
        "STI",
        "the words do not come through clearly enough",
        "the speech transmission index",
    ),
    "direct_to_reverberant_db": TargetWords(
        "Close, not hollow: direct to reverberant",
        "{}",
        "dB",
        1,
        "direct/reverb",
        "too much of the room is heard beside the voice",
        "the direct-to-reverberant ratio",
    ),
    "speech_to_noise_db": TargetWords(
        "Speech over noise",
        "{}",
        "dB",
        1,
        "speech to noise",
        "noise comes too near the voice",
        "the speech-to-noise ratio",
    ),
}


@dataclass(frozen=True)
class Place:
    """One place of the room with the ledger rows that belong to it, worst first."""

    owner: str
    kind: Literal["seat", "standing"]
    rows: tuple[Outbound, ...]

    @property
    def worst(self) -> Outbound:
        """The row that decides."""
        return self.rows[0]

    @property
    def chance(self) -> float:
        """Least chance among the rows."""
        return self.worst.chance

    @property
    def state(self) -> State:
        """State of the row that decides; never better than any other row's."""
        return worst_state([row.state for row in self.rows])

    @property
    def name(self) -> str:
        """Name for running text."""
        return spoken_name(self.owner, self.kind)

    @property
    def arrangement(self) -> str:
        """Arrangement in which it is worst, as it is spoken; '' in a room that does not divide."""
        return spoken(self.worst.arrangement)


_ORDER: dict[State, int] = {"broken": 0, "not assessed": 1, "at risk": 2, "kept": 3}


def worst_state(states: Sequence[State]) -> State:
    """Return the worst of several states; nothing at all is not assessed.

    Examples
    --------
    >>> worst_state(["kept", "at risk"]), worst_state([])
    ('at risk', 'not assessed')
    """
    return min(states, key=_ORDER.__getitem__, default="not assessed")


def spoken_name(owner: str, kind: str) -> str:
    """Name of a place in running text, from its path in the document.

    Examples
    --------
    >>> spoken_name("people.seats.s10", "seat")
    'seat s10'
    >>> spoken_name("people.standing.presenter", "standing")
    'presenter'
    """
    identifier = owner.rpartition(".")[2]
    return f"seat {identifier}" if kind == "seat" else identifier


def places_worst_first(evidence: Evidence) -> tuple[Place, ...]:
    """Return all places that were predicted, worst first."""
    found: dict[str, list[Outbound]] = {}
    for row in evidence.worst_first():
        found.setdefault(row.talker.owner, []).append(row)
    return tuple(Place(owner, rows[0].talker.kind, tuple(rows)) for owner, rows in found.items())


def together(owners: Sequence[tuple[str, str]], *, most: int | None = None) -> str:
    """Name several places (owner, kind) in one breath; beyond ``most`` the rest is counted.

    Examples
    --------
    >>> together([("people.seats.s1", "seat"), ("people.seats.s4", "seat")])
    'seats s1 and s4'
    >>> together([("people.seats.s1", "seat"), ("people.standing.presenter", "standing")])
    'seat s1 and presenter'
    """
    seats = [owner.rpartition(".")[2] for owner, kind in owners if kind == "seat"]
    others = [spoken_name(owner, kind) for owner, kind in owners if kind != "seat"]
    first = "seats " if len(seats) > 1 else "seat " if seats else ""
    return first + listed([*seats, *others], most=most)


def named_together(evidence: Evidence, talkers: Sequence[str], *, most: int | None = None) -> str:
    """Name the places that own these talkers, each once, in the order given."""
    known = {talker.id: (talker.owner, talker.kind) for talker in evidence.talkers}
    owners: dict[tuple[str, str], None] = {}
    for name in talkers:
        # A name may carry its arrangement, as in "s3 (split)": the place is the same.
        identifier = name.partition(" ")[0]
        owners[known.get(identifier, (identifier, "standing"))] = None
    return together(tuple(owners), most=most)


def quantity_state(quantity: Quantity, wanted: float | None) -> State:
    """State of one promised quantity, by the rule of the ledger's rows.

    Broken where the middle value misses, kept only when the chance reaches the wanted one;
    without a wanted chance the middle value decides.
    """
    if quantity.target is None or quantity.chance is None:
        return "not assessed"
    if quantity.value < quantity.target:
        return "broken"
    return "kept" if wanted is None or quantity.chance >= wanted else "at risk"


def quantity_of(row: Outbound, target: str) -> Quantity:
    """Return the quantity of a ledger row that a target speaks of."""
    return row.quantities[SEAT_TARGETS.index(target)]


def value_text(target: str, value: float) -> str:
    """Value of a promised quantity with its unit, at the decimals of the ledger."""
    words = TARGETS[target]
    return with_unit(figure(value, words.places), words.unit)


def promised_text(target: str, value: float) -> str:
    """Return a promise as it is written in the table."""
    words = TARGETS[target]
    text = figure(value, 2) if target == "sti_outbound" else brief(value, 1)
    return words.promised.format(with_unit(text, words.unit)).replace(" ", NBSP)
