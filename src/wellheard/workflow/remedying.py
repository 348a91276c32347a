"""What a change that may mend a finding really does: predicted, checked and compared.

No change is offered untried. Each is judged as a document of its own, in every arrangement of a
room that divides, and held against the document as it stands.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from itertools import islice
from typing import Any

from wellheard.catalog.catalogue import Catalogue
from wellheard.checks.cabling import runs_of
from wellheard.checks.model import Finding
from wellheard.predict.parts import PartScene, build_parts
from wellheard.remedies.model import Change, Situation
from wellheard.remedies.registry import changes_for
from wellheard.room.consistency import contradictions
from wellheard.room.document import Room
from wellheard.room.rewriting import operations_between
from wellheard.schedules.bill import Bill, bill
from wellheard.schedules.cables import cable_schedule
from wellheard.workflow.judging import Judged, Progress, judge, quiet
from wellheard.workflow.prices import Total, compared, total
from wellheard.workflow.remedy_effects import Effects, effects, grave, key, names
from wellheard.workflow.remedy_words import achieves, figure, value_after

__all__ = ["Offer", "Search", "key", "offers", "search"]

MARK = "#"
"""Between the name of a finding and the number of one of its further changes."""
MOST_TRIED = 8
"""Changes that are tried for one finding."""
DEARER = 100.0
"""Prices this near to each other are alike. [currency]"""
SEARCH_TIME = 10.0
"""For each search that a remedy makes. [s]"""


@dataclass(frozen=True)
class Offer:
    """A change that was tried, and what it does.

    Attributes
    ----------
    finding : Finding
        What it is offered for.
    name : str
        How it is asked for on a command line: the finding's name, see
        `wellheard.workflow.remedy_effects.names`, and ``#2`` for the second of its changes.
    says, note : str
        The change in a sentence, and what to know besides.
    figure : str
        What becomes of the finding alone.
    achieves : str
        What it does, with figures before and after, in sentences.
    value_after : float or None
        What the rule measures then, in the finding's unit; None where it measures nothing.
    after : Finding or None
        What is left of the finding; None where nothing is.
    mends, worsens : tuple of str
        ``code@place`` of errors and warnings that go, and of those that come or get worse.
    room : Room
    judged : Judged
        The document after it.
    operations : list
        That make it, for `wellheard.room.operations.apply`.
    further : tuple of Offer
        Other changes for the same finding, the best first.
    """

    finding: Finding
    name: str
    says: str
    note: str
    figure: str
    achieves: str
    value_after: float | None
    after: Finding | None
    mends: tuple[str, ...]
    worsens: tuple[str, ...]
    room: Room = field(repr=False)
    judged: Judged = field(repr=False)
    operations: list[dict[str, Any]] = field(repr=False)
    further: tuple[Offer, ...] = ()

    @property
    def key(self) -> str:
        """``code@place`` of its finding."""
        return key(self.finding)


@dataclass(frozen=True)
class Search:
    """What came of looking for changes.

    Attributes
    ----------
    offers : tuple of Offer
        For each finding that has one, its best change.
    tried : mapping of Finding to int
        Of every finding that was meant, how many changes were tried for it; 0 where none is known.
    """

    offers: tuple[Offer, ...]
    tried: Mapping[Finding, int]

    @property
    def helpless(self) -> int:
        """Findings for which changes were tried and none helps."""
        return sum(map(bool, self.tried.values())) - len(self.offers)

    @property
    def unknown(self) -> int:
        """Findings for which no change is known."""
        return sum(not number for number in self.tried.values())


def offers(
    room: Room,
    catalogue: Catalogue,
    judged: Judged,
    *,
    scenes: tuple[PartScene, ...] | None = None,
    only: Collection[Finding] | None = None,
    time_limit: float = SEARCH_TIME,
    say: Progress = quiet,
) -> tuple[Offer, ...]:
    """The offers of `search`."""
    return search(
        room, catalogue, judged, scenes=scenes, only=only, time_limit=time_limit, say=say
    ).offers


def search(
    room: Room,
    catalogue: Catalogue,
    judged: Judged,
    *,
    scenes: tuple[PartScene, ...] | None = None,
    only: Collection[Finding] | None = None,
    time_limit: float = SEARCH_TIME,
    say: Progress = quiet,
) -> Search:
    """A tried change for every error and warning that has one, in the order of the findings.

    A change is offered where its finding goes, or is clearly less, and no error comes that was
    not there. Of several the one that leaves fewest errors goes first, then fewest warnings, then
    the cheapest.

    Parameters
    ----------
    room, catalogue
        The document.
    judged : Judged
        The same as it stands.
    scenes : tuple of PartScene, optional
        Of `wellheard.predict.parts.build_parts`, where somebody has built them already.
    only : collection of Finding, optional
        Findings to mend, of ``judged``; None for all.
    time_limit : float
        For each search that a remedy makes. [s]
    say : callable
        Told what is being tried.
    """
    named = names(judged)
    meant = [one for one in grave(judged) if only is None or one in only]
    if not meant:
        return Search((), {})
    situation = Situation(
        room=room,
        catalogue=catalogue,
        evidence=judged.evidence,
        parts=scenes or build_parts(room, catalogue),
        findings=judged.findings,
        time_limit=time_limit,
    )
    trials = _Trials(room, catalogue, judged, say)
    found, tried = [], {}
    for finding in meant:
        changes = tuple(islice(changes_for(situation, finding), MOST_TRIED))
        tried[finding] = len(changes)
        every = _offers_for(situation, finding, named[finding], changes, trials)
        best = sorted(every, key=lambda pair: pair[0])
        if best:
            first, *rest = (offer for _, offer in best)
            found.append(_with(first, rest))
    return Search(tuple(found), tried)


_Rank = tuple[int, int, int, bool, float, int]


def _offers_for(
    situation: Situation,
    finding: Finding,
    name: str,
    changes: Sequence[Change],
    trials: _Trials,
) -> Iterator[tuple[_Rank, Offer]]:
    """Offers for one finding, each with what orders them; the makers' order comes last."""
    for number, change in enumerate(changes):
        tried = trials.of(change)
        if tried is None or not tried.effects.mends_or_eases(finding):
            continue
        offer = Offer(
            finding=finding,
            name=name,
            says=change.says,
            note=change.note,
            figure=figure(tried.judged, finding, tried.effects),
            achieves=achieves(trials.judged, tried.judged, finding, tried.effects, tried.money),
            value_after=value_after(tried.judged, finding, tried.effects),
            after=tried.effects.left(finding),
            mends=tried.effects.mends,
            worsens=tried.effects.worsens,
            room=change.room,
            judged=tried.judged,
            operations=operations_between(situation.room, change.room),
        )
        errors, warnings = tried.effects.counts
        amount = tried.money[1].amount
        # A longer drop rod is no reason to go farther: the makers give the gentlest first.
        dear = float("inf") if amount is None else round(amount / DEARER)
        yield (errors, warnings, len(offer.worsens), offer.after is not None, dear, number), offer


def _with(best: Offer, rest: Sequence[Offer]) -> Offer:
    further = (replace(one, name=f"{best.name}{MARK}{n}") for n, one in enumerate(rest, start=2))
    return replace(best, further=tuple(further))


@dataclass(frozen=True)
class _Tried:
    judged: Judged
    effects: Effects
    money: tuple[Total, Total]


class _Trials:
    """Judgements of changed documents, each made once."""

    def __init__(self, room: Room, catalogue: Catalogue, judged: Judged, say: Progress) -> None:
        self.catalogue = catalogue
        self.judged = judged
        self._say = say
        self._price = total(room, catalogue)
        self._bill = self._billed(room, judged)
        self._known: dict[str, _Tried | None] = {self._name(room): None}
        self._names: dict[int, str] = {}
        self._asked: list[Change] = []

    def of(self, change: Change) -> _Tried | None:
        """What a change does; None where it is none, or its document contradicts itself."""
        name = self._names.get(id(change))
        if name is None:
            self._asked.append(change)  # so that its id stays its own
            name = self._names.setdefault(id(change), self._name(change.room))
        if name not in self._known:
            self._say(f"trying: {change.says}")
            self._known[name] = self._tried(change)
        return self._known[name]

    def _tried(self, change: Change) -> _Tried | None:
        room = change.room
        if any(True for _ in contradictions(room)):
            return None
        judged = judge(room, self.catalogue, assumptions=False)
        devices = (self._price, total(room, self.catalogue))
        money = compared(devices, (self._bill, self._billed(room, judged)))
        return _Tried(judged, effects(self.judged, judged), money)

    def _billed(self, room: Room, judged: Judged) -> Bill:
        """Bill of a document, on the runs that its rules were judged by."""
        runs = runs_of(judged.evidence) if judged.evidence.room is room else None
        return bill(room, self.catalogue, cable_schedule(room, self.catalogue, runs))

    @staticmethod
    def _name(room: Room) -> str:
        return room.model_dump_json(by_alias=True, exclude_unset=True)
