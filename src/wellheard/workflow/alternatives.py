"""Other designs of one room: each solved, wired and predicted whole, and weighed against the rest.

::

    document ─► variations ─► place, wire, judge each ─► frontier ─► so many, well spread
                    └─ left out where a proof says that nothing new can come of it

The chance that two designs are weighed by is the least of all talking points: of the promised
quantities of `wellheard.predict.evidence.SEAT_TARGETS` at the far end and, where loudspeakers have
a place, of speech, level and evenness in the room. What has no chance by place, such as noise,
decay and echo, has to hold by the rules, or the design does not keep the promise at all.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from typing import Literal, TypeAlias

from wellheard.errors import CatalogError, DocumentError, InputError
from wellheard.place.microphones import TIME_LIMIT
from wellheard.room import codec
from wellheard.room.document import Room
from wellheard.room.finishes import AnyPatch
from wellheard.schedules.bill import Bill, bill, cents
from wellheard.schedules.cables import cable_schedule
from wellheard.treatment.solve import Site, Treated, site, treat
from wellheard.treatment.task import DecayTarget, decay_target
from wellheard.workflow.design import (
    Designed,
    Judged,
    Placed,
    Progress,
    design,
    judge,
    place,
    quiet,
)
from wellheard.workflow.disruption import Disruption, disruption
from wellheard.workflow.frontier import Figures, dominates, frontier, well_spread
from wellheard.workflow.load import Loaded
from wellheard.workflow.naming import named
from wellheard.workflow.variations import Variation, variations
from wellheard.workflow.wiring import wire_room

MOST = 9
"""Alternatives that may be asked for."""
MOST_SOLVED = 14
"""Ways that are solved; those that do two things at once and come after are counted as left."""

Outcome: TypeAlias = Literal["not kept", "impossible", "no place", "no need", "met", "beaten"]
OUTCOMES: dict[Outcome, str] = {
    "not kept": "cannot keep the promise",
    "impossible": "cannot, since a laxer way cannot either",
    "no place": "leaves no product or no place",
    "no need": "finds no finishes to lay, or not enough",
    "met": "is met by the design of a laxer way, and no devices cost less",
    "beaten": "costs too much to come before one that is there",
}


@dataclass(frozen=True)
class Tried:
    """One whole design with what it is weighed by.

    Parameters
    ----------
    variation : Variation
    designed : Designed
        With the choices and the promise of the document itself; only where nothing is to be
        cut, its choices say so.
    figures : Figures
    disruption : Disruption
    bill : Bill
        Of devices, cables and finishes.
    treated : Treated or None
        Finishes that come first.
    treatment_price : float
        What they add to the bill. [currency]
    """

    variation: Variation
    designed: Designed
    figures: Figures
    disruption: Disruption
    bill: Bill = field(repr=False)
    treated: Treated | None = field(default=None, repr=False)
    treatment_price: float = 0.0

    @property
    def price(self) -> float:
        """Installed, with cables and finishes. [currency]"""
        return self.figures.price

    @property
    def counts(self) -> dict[str, int]:
        """Microphones and loudspeakers by product."""
        return dict(Counter(d.product for d in self.designed.placed.proposal.devices))


@dataclass(frozen=True)
class Skipped:
    """A way that no design came of, and why."""

    variation: Variation
    outcome: Outcome
    why: str = ""


@dataclass(frozen=True)
class Alternative:
    """A design that nothing tried dominates.

    Parameters
    ----------
    name, slug : str
        What distinguishes it, in words and as the name of a folder.
    why : str
        What it has over the others, and for what.
    tried : Tried
    leading : bool
        It is the design of the document as it is.
    """

    name: str
    slug: str
    why: str
    tried: Tried
    leading: bool


@dataclass(frozen=True)
class Alternatives:
    """What to choose from, and all that it was chosen from.

    Parameters
    ----------
    chosen : tuple of Alternative
        Cheapest first.
    tried : tuple of Tried
        Whole designs, that of the document as it is first.
    skipped : tuple of Skipped
    left : tuple of Variation
        Neither solved nor ruled out.
    kept : bool
        Whether those chosen keep the promise; where no design does, all are weighed.
    """

    chosen: tuple[Alternative, ...]
    tried: tuple[Tried, ...]
    skipped: tuple[Skipped, ...]
    left: tuple[Variation, ...]
    kept: bool

    @property
    def weighed(self) -> tuple[Tried, ...]:
        """Those that alternatives were chosen from."""
        return tuple(one for one in self.tried if one.designed.kept or not self.kept)

    @property
    def dominated(self) -> tuple[Tried, ...]:
        """Those of them that others are no worse than in anything, or equal to."""
        figures = [one.figures for one in self.weighed]
        front = frontier(figures)
        return tuple(one for i, one in enumerate(self.weighed) if i not in front)

    def dominating(self, one: Tried) -> Tried | None:
        """What is no worse than a design in anything: one of those chosen, else another; or None.

        Of equal ones the first counts as better.
        """
        chosen = [alternative.tried for alternative in self.chosen]
        earlier = self.tried[: self.tried.index(one)]
        return next(
            (
                other
                for other in (*chosen, *self.weighed)
                if dominates(other.figures, one.figures)
                or (other in earlier and other.figures.burdens == one.figures.burdens)
            ),
            None,
        )


def alternatives(
    loaded: Loaded,
    number: int = 3,
    *,
    leading: Designed | None = None,
    time_limit: float = TIME_LIMIT,
    say: Progress = quiet,
) -> Alternatives:
    """Find designs of a room that differ in price, chance and what they do to the building.

    Parameters
    ----------
    loaded : Loaded
        The document.
    number : int
        How many at most, 1 to `MOST`; fewer come where no more are truly different.
    leading : Designed, optional
        The answer of `wellheard.workflow.design.design` for this document, where it is there.
    time_limit : float
        For each search [s].
    say : callable
        Told how far things are.

    Raises
    ------
    InputError
        ``number`` is out of range, no product is left to choose from, or prices are in several
        currencies and cannot be compared.
    """
    if not 1 <= number <= MOST:
        raise InputError(f"alternatives: {number}; 1 to {MOST} are allowed")
    search = _Search(loaded, time_limit, say)
    ways = variations(loaded.room, loaded.catalogue)
    search.add(ways[0], leading or design(loaded, time_limit=time_limit, say=say), None)
    left: list[Variation] = []
    for way in ways[1:]:
        if len(search.solved) >= MOST_SOLVED:
            left.append(way)
        else:
            search.look(way)
    tried = tuple(search.tried)
    kept = any(one.designed.kept for one in tried)
    weighed = [one for one in tried if one.designed.kept or not kept]
    picked = well_spread([one.figures for one in weighed], number)
    chosen = sorted((weighed[i] for i in picked), key=lambda one: one.figures.burdens)
    words = named(chosen, loaded.catalogue, loaded.room, kept=kept)
    return Alternatives(
        chosen=tuple(
            Alternative(w.name, w.slug, w.why, one, one is tried[0])
            for w, one in zip(words, chosen, strict=True)
        ),
        tried=tried,
        skipped=tuple(search.skipped),
        left=tuple(left),
        kept=kept,
    )


@dataclass
class _Search:
    """Designs as they are found; each asks first what the others prove of it."""

    loaded: Loaded
    time_limit: float
    say: Progress
    tried: list[Tried] = field(default_factory=list)
    solved: list[tuple[Variation, Placed]] = field(default_factory=list)
    skipped: list[Skipped] = field(default_factory=list)
    _dried: dict[float, Treated | None] = field(default_factory=dict)
    _site: tuple[Site, DecayTarget] | None = None

    def look(self, way: Variation) -> None:
        """Design one way, unless a proof says that nothing new comes of it."""
        treated = None
        if way.drier is not None:
            treated = self._treated(way.drier)
            if treated is None:
                self._skip(way, "no need")
                return
        known = self._known(way, treated)
        if known is not None:
            self.skipped.append(known)
            return
        self.say(f"trying {way.words} …")
        room = self.loaded.room if treated is None else treated.room
        try:
            found = self._designed(way, room)
        except (CatalogError, DocumentError, InputError) as error:
            self._skip(way, "no place", str(error))
            return
        if found is not None:
            self.add(way, found, treated)

    def add(self, way: Variation, designed: Designed, treated: Treated | None) -> None:
        """Keep a whole design with its figures."""
        if not any(known == way for known, _ in self.solved):
            self.solved.append((way, designed.placed))
        room, catalogue = designed.room, self.loaded.catalogue
        cables = cable_schedule(room, catalogue)
        costs = bill(room, catalogue, cables)
        finishes = self._price_of_finishes(treated)
        area = treated.area if treated is not None else 0.0
        harm = disruption(room, catalogue, cables, area)
        figures = Figures(
            price=price_of(costs),
            chance=least_chance(designed.judged),
            openings=harm.openings,
            treatment_area=harm.treatment_area,
        )
        self.tried.append(Tried(way, designed, figures, harm, costs, treated, finishes))

    def _designed(self, way: Variation, room: Room) -> Designed | None:
        """The design of one way, written into the document with its own choices and promise."""
        asked = replace(
            self.loaded,
            document=codec.edit_document(
                self.loaded.document, way.asked(room, self.loaded.catalogue)
            ),
        )
        placed = place(asked, time_limit=self.time_limit)
        self.solved.append((way, placed))
        if placed.proposal.proof.status == "infeasible" and self.tried[0].designed.kept:
            self._skip(way, "not kept")
            return None
        wired = wire_room(asked, placed.room, time_limit=self.time_limit)
        given, choices = self.loaded.room, self.loaded.room.choices
        if way.whole:
            # Else a ceiling that lets devices hang from its surface would be cut after all.
            choices = choices.model_copy(update={"new_holes": False})
        own = wired.room.model_copy(update={"choices": choices, "targets": given.targets})
        wired = replace(wired, room=own, text=codec.edit(self.loaded.document, own))
        judged = judge(own, self.loaded.catalogue, assumptions=False)
        return Designed(placed, judged, wired)

    def _skip(self, way: Variation, outcome: Outcome, why: str = "") -> None:
        self.skipped.append(Skipped(way, outcome, why))

    def _known(self, way: Variation, treated: Treated | None) -> Skipped | None:
        """What laxer ways prove of this one; None where it has to be solved."""
        laxer = [(w, placed) for w, placed in self.solved if w.relaxes(way)]
        for other, placed in laxer:
            if placed.proposal.proof.status == "infeasible":
                return Skipped(way, "impossible", other.words)
        for other, placed in laxer:
            if placed.proposal.proof.status != "optimal":
                continue
            mine = next((t for t in self.tried if t.variation == other), None)
            if mine is not None and _would_do(mine, way):
                return Skipped(way, "met", other.words)
        least = max(
            (
                placed.proposal.price or 0.0
                for _, placed in laxer
                # Wiring may still find a cheaper amplifier than placement counted.
                if placed.proposal.proof.status == "optimal" and not placed.proposal.amplifiers
            ),
            default=0.0,
        )
        area = treated.area if treated else 0.0
        best = Figures(least + self._price_of_finishes(treated), 1.0, 0, area)
        for one in self.tried:
            if one.designed.kept and dominates(one.figures, best):
                return Skipped(way, "beaten", one.variation.words)
        return None

    def _price_of_finishes(self, treated: Treated | None) -> float:
        """What finishes add to the bill of the document as it is. [currency]"""
        if treated is None:
            return 0.0
        catalogue = self.loaded.catalogue
        after, before = (
            price_of(bill(room, catalogue, cable_schedule(room, catalogue)))
            for room in (treated.room, self.loaded.room)
        )
        return cents(after - before)

    def _treated(self, share: float) -> Treated | None:
        """Finishes for a share of the decay target; None where none are needed or enough."""
        if share not in self._dried:
            self._dried[share] = self._treat(share)
        return self._dried[share]

    def _treat(self, share: float) -> Treated | None:
        try:
            if self._site is None:
                ground = site(self.loaded.room, self.loaded.catalogue)
                self._site = ground, decay_target(self.loaded.room, ground.decay.volume)
        except InputError:
            return None
        ground, target = self._site
        found = treat(ground, target.tightened(share), time_limit=self.time_limit)
        known = [one.patches for one in self._dried.values() if one is not None]
        short = found.status == "infeasible" or not found.patches
        return None if short or found.patches in known else found


def _would_do(one: Tried, way: Variation) -> bool:
    """Whether an optimum of a laxer way is among the designs of a stricter one."""
    proposal = one.designed.placed.proposal
    return (
        one.designed.kept
        and one.figures.chance >= way.chance
        and (one.figures.openings == 0 or not way.whole)
        and all(
            d.product in way.products
            for d in proposal.devices
            if d.kind == "microphone" and not d.locked
        )
    )


def least_chance(judged: Judged) -> float:
    """Least chance of any place and target, out of the room and into it; 0 where nobody is heard.

    A place that no microphone hears in some arrangement has none.
    """
    evidence = judged.evidence
    heard = {row.talker.id for row in evidence.outbound}
    chances = [row.chance for row in evidence.outbound]
    chances += [0.0 for talker in evidence.talkers if talker.id not in heard]
    if evidence.playback is not None:
        chances += [row.chance for row in evidence.playback.rows if row.binds]
        even = evidence.playback.uniformity.chance
        chances += [] if even is None else [even]
    return min(chances, default=0.0)


def price_of(costs: Bill) -> float:
    """What devices, cables and finishes come to. [currency]

    Raises
    ------
    InputError
        In several currencies.
    """
    lines = (*costs.lines, *costs.others)
    prices = {line.currency for line in lines if line.amount}
    if len(prices) > 1:
        raise InputError(
            f"alternatives: prices in {' and '.join(sorted(prices))} cannot be compared; give the "
            "products of choices.allow prices in one currency"
        )
    return cents(sum(line.amount for line in lines))


def new_patches(given: Room, designed: Room) -> dict[str, AnyPatch]:
    """Patches of a design that its document did not have."""
    before = given.space.finishes.patches
    return {k: v for k, v in designed.space.finishes.patches.items() if k not in before}


def currency_of(found: Sequence[Tried]) -> str:
    """Of all prices."""
    return next(
        (
            line.currency
            for one in found
            for line in (*one.bill.lines, *one.bill.others)
            if line.amount
        ),
        found[0].designed.room.project.currency,
    )
