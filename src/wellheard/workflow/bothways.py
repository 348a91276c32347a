"""A place judged both ways: what the far end hears of it, and what it hears of the far end."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final, Literal

from wellheard.dossier.places import TARGETS, Place, places_worst_first, worst_state
from wellheard.dossier.words import NOT_ASSESSED
from wellheard.predict.evidence import Evidence, State
from wellheard.predict.promises import Promise
from wellheard.predict.wayback import Inbound

BINDS: Final = {
    "direct_to_reverberant_db": "D/R",
    "speech_to_noise_db": "S/N",
    "sti_inbound": "STI in",
    "listening_level_dba": "level in",
}
"""Targets in as few words as a column has room for: the heads of the ledgers in print."""

NO_LOUDSPEAKER = "no loudspeaker is placed"
SILENT = "some arrangement leaves it without a loudspeaker"


@dataclass(frozen=True)
class BothWays:
    """One place of the room.

    Attributes
    ----------
    owner : str
        Item path.
    kind : {"seat", "standing"}
    out : Place or None
        What the far end hears of it; None where nothing hears it.
    ears : tuple of Inbound
        What its ears hear of the far end, the worst first; empty where nothing plays for it.
    """

    owner: str
    kind: Literal["seat", "standing"]
    out: Place | None
    ears: tuple[Inbound, ...] = ()

    @property
    def ear(self) -> Inbound | None:
        """The ear that hears worst."""
        return self.ears[0] if self.ears else None

    @property
    def _judged(self) -> list[tuple[float, State, str]]:
        """Chance, state and binding target of each way that anything is promised of."""
        found: list[tuple[float, State, str]] = []
        if self.out is None:
            found.append((0.0, "not assessed", ""))
        elif self.out.worst.binds:
            found.append((self.out.chance, self.out.state, self.out.worst.binds))
        found += [(e.chance, e.state, e.binds) for e in self.ears if e.binds]
        return found

    @property
    def state(self) -> State:
        """The worse of both ways; a way that nothing is promised of does not count."""
        return worst_state([state for _, state, _ in self._judged])

    @property
    def chance(self) -> float:
        """Least chance of all that is promised of it, 1 where nothing is."""
        return min((chance for chance, _, _ in self._judged), default=1.0)

    @property
    def binds(self) -> str:
        """Target with the least chance in the worse way; '' where nothing is promised."""
        worse = [one for one in self._judged if one[1] == self.state]
        return min(worse, key=lambda one: round(one[0], 9), default=(1.0, "", ""))[2]

    @property
    def badness(self) -> tuple[float, float, str]:
        """Orders places, the least first: chance, STI at the far end, name."""
        sti = 1.0 if self.out is None else self.out.worst.sti.value
        return (round(self.chance, 9), round(sti, 9), self.owner)


def binds_word(target: str) -> str:
    """What binds, in as few words as a column has room for; an en dash for nothing."""
    if target in BINDS:
        return BINDS[target]
    return TARGETS[target].binds if target in TARGETS else NOT_ASSESSED


def both_ways(evidence: Evidence) -> tuple[BothWays, ...]:
    """Every place that is heard, the worst first; then those that nothing hears, in order."""
    heard = {place.owner: place for place in places_worst_first(evidence)}
    ears = ears_of(evidence)
    kinds = {talker.owner: talker.kind for talker in evidence.talkers}
    every = [
        BothWays(owner, kind, heard.get(owner), ears.get(owner, ()))
        for owner, kind in kinds.items()
    ]
    known = sorted((one for one in every if one.out is not None), key=lambda one: one.badness)
    return (*known, *(one for one in every if one.out is None))


def ears_of(evidence: Evidence) -> dict[str, tuple[Inbound, ...]]:
    """Rows of the way in by the item path of their place, the worst of each first."""
    rows = () if evidence.playback is None else evidence.playback.rows
    found: dict[str, list[Inbound]] = {}
    for row in sorted(rows, key=_badness):
        found.setdefault(row.talker.owner, []).append(row)
    return {owner: tuple(mine) for owner, mine in found.items()}


def _badness(row: Inbound) -> tuple[float, float, str]:
    return (round(row.chance, 9), round(row.sti.value, 9), row.talker.id)


def silent_why(evidence: Evidence) -> str:
    """Why nothing is said of what a place hears of the far end."""
    if evidence.playback is not None:
        return SILENT
    if any(device.kind == "loudspeaker" for device in evidence.others):
        return "no loudspeaker has a place"
    return NO_LOUDSPEAKER


def quick_state(promise: Promise, ears: Sequence[Inbound]) -> tuple[State, str]:
    """State of a place whose way out is worked out anew, and which target binds."""
    ways: list[Promise | Inbound] = [promise, *ears]
    judged: list[tuple[State, float, str]] = [
        (one.state, round(one.chance, 9), one.binds) for one in ways if one.binds
    ]
    state = worst_state([one[0] for one in judged])
    worse = [one for one in judged if one[0] == state]
    return state, min(worse, key=lambda one: one[1], default=("", 1.0, ""))[2]
