"""Which loudspeakers to choose: the integer program, and the rows that it needs.

Columns: one for each place, one count for each way of feeding a product, one for each amplifier.
Rows of levels are laid in only once a choice breaks them: few ever do.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field
from functools import cached_property
from typing import Literal, TypeAlias

import numpy as np

from wellheard.arrays import Array, Mask
from wellheard.catalog.products import Loudspeaker
from wellheard.milp import SLACK, Indices, Outcome, Program
from wellheard.place.amplifying import Channels, cents_of, most_of
from wellheard.place.audience import Audience, Wanted
from wellheard.place.cover import clique_cover
from wellheard.place.feeding import Feed, Supply, least_mean
from wellheard.place.programs import Clock
from wellheard.place.sounding import SoundingOptions

Aim: TypeAlias = Literal["price", "number", "lines", "any"]

ROW_SLACK_DB = 1e-4
"""What a choice may miss a row of levels by: more than the solver's own tolerance [dB]."""

AT_ONCE = 3
"""Rows of one kind that are laid in after each choice that breaks some."""

Level: TypeAlias = tuple[int, int]
"""Space and ear that is too soft, or too loud."""
Apart: TypeAlias = tuple[int, int, int]
"""Space, ear that is louder, and ear that is softer."""


@dataclass(frozen=True)
class Choice:
    """Loudspeakers, and the amplifiers for them."""

    chosen: tuple[int, ...]
    amplifiers: tuple[int, ...]
    """Of each supply, those that are there among them."""
    channels: tuple[Channels, ...]


@dataclass(frozen=True)
class Limits:
    """What a step keeps of the steps before it."""

    budget: int | None = None
    """[cents]"""
    number: int | None = None
    wanted: tuple[Wanted, ...] | None = None
    """In place of what is promised."""
    lines: int | None = None
    at_least: int = 0
    """New loudspeakers."""


@dataclass(frozen=True)
class Laid:
    """Where the columns of loudspeakers lie in a program, and what they cost."""

    places: Indices
    amplifiers: Indices
    counts: Indices
    channels: Indices
    cents: Array
    """Of `places` and `amplifiers`, one after the other."""


@dataclass(frozen=True)
class Answered:
    """A choice, or none, and whether that is proven; ``bound`` limits the aim."""

    choice: Choice | None
    proven: bool
    bound: float


@dataclass(eq=False)
class Question:
    """The loudspeakers of one room, and all that is known of choices that will not do."""

    audiences: tuple[Audience, ...]
    wanted: tuple[Wanted, ...]
    options: SoundingOptions
    supplies: tuple[Supply, ...]
    feeds: tuple[Feed, ...]
    prices: Array
    """Of the candidates. [cents]"""
    conflicts: Mask
    clock: Clock
    soft: dict[Level, None] = field(default_factory=dict)
    loud: dict[Level, None] = field(default_factory=dict)
    apart: dict[Apart, None] = field(default_factory=dict)
    needed: list[Mask] = field(default_factory=list)
    """Sets of which any choice needs one."""
    excluded: list[tuple[int, ...]] = field(default_factory=list)
    """Choices that the full prediction refused."""

    def __post_init__(self) -> None:
        found: dict[bytes, Mask] = {}
        for space, audience in enumerate(self.audiences):
            if not audience.always.any():
                held = self.options.holding[space]
                found[held.tobytes()] = held
            for ear in range(len(audience.always)):
                mask = audience.needed_of(ear)
                if mask is not None:
                    mask = mask & self.options.holding[space]
                    found[mask.tobytes()] = mask
        self.needed += [
            one
            for one in found.values()
            if not any(other is not one and not (other & ~one).any() for other in found.values())
        ]

    @property
    def count(self) -> int:
        """Number of candidates."""
        return len(self.options.allowed)

    @cached_property
    def cliques(self) -> list[Indices]:
        """Sets of places of which one at most is taken."""
        return clique_cover(self.conflicts, np.ones(self.count, dtype=np.bool_))

    # The program.

    def lay(self, program: Program, aim: Aim, limits: Limits, barred: Mask | None = None) -> Laid:
        """Lay columns and rows of the loudspeakers into a program.

        Parameters
        ----------
        program : Program
            Perhaps with the microphones in it already.
        aim : {"price", "number", "lines", "any"}
            What the columns cost there.
        limits : Limits
            What is kept.
        barred : ndarray of bool, shape (candidates,), optional
            Places that are not to be taken.
        """
        lower = np.zeros(self.count)
        lower[list(self.options.locked)] = 1.0
        upper = np.ones(self.count)
        if barred is not None:
            upper[barred & (lower < 1.0)] = 0.0
        per_place = self.prices if aim == "price" else float(aim == "number")
        x = program.columns(self.count, cost=per_place, lower=lower, upper=upper, whole=True)
        amplifiers, counts, channels = self._lay_feeds(program, x, aim)
        cents = np.concatenate([self.prices, self._amplifier_cents])
        bought = np.concatenate([x, amplifiers])
        there = float(sum(len(one.there) for one in self.supplies))
        paid = float(self._there @ self._amplifier_cents)
        if limits.budget is not None:
            program.row(bought, cents, upper=limits.budget + paid + SLACK)
        if limits.number is not None:
            program.row(bought, 1.0, upper=limits.number + there + SLACK)
        if limits.at_least:
            program.row(x[lower < 1.0], 1.0, lower=float(limits.at_least))
        for mask in self.needed:
            program.row(x[mask], 1.0, lower=1.0)
        for clique in self.cliques:
            free = clique[lower[clique] < 1.0]
            if len(free) > 1:
                program.row(x[free], 1.0, upper=1.0)
        for chosen in self.excluded:
            sign = np.ones(self.count)
            sign[list(chosen)] = -1.0
            program.row(x, sign, lower=1.0 - len(chosen))
        self._lay_levels(program, x, limits.wanted or self.wanted)
        if aim == "lines" or limits.lines is not None:
            self._lay_lines(program, x, aim, limits)
        return Laid(x, amplifiers, counts, channels, cents)

    @cached_property
    def _there(self) -> Array:
        return np.array([float(len(one.there)) for one in self.supplies])

    @cached_property
    def _amplifier_cents(self) -> Array:
        return cents_of(self.supplies)

    def _lay_feeds(self, program: Program, x: Indices, aim: Aim) -> tuple[Indices, ...]:
        """Amplifiers, loudspeakers on each way of feeding, and the channels that these take."""
        amplifiers = program.columns(
            len(self.supplies),
            cost=self._amplifier_cents if aim == "price" else float(aim == "number"),
            lower=self._there,
            upper=most_of(self.supplies),
            whole=True,
        )
        width = len(self.feeds)
        units = np.array([float(one.loudspeaker.units) for one in self.feeds])
        counts = program.columns(width, upper=float(self.count), whole=True)
        channels = program.columns(width, upper=units * self.count, whole=True)
        used = program.columns(width, whole=True)
        plays = self._lay_plays(program, x)
        for product in self._passive:
            mine = np.array([f.loudspeaker is product for f in self.feeds], dtype=np.bool_)
            places = x[[one.product is product for one in self.options.allowed]]
            row = np.concatenate([places, counts[mine]])
            sign = np.concatenate([np.ones(len(places)), -np.ones(int(mine.sum()))])
            program.row(row, sign, lower=0.0, upper=0.0)
        for i, feed in enumerate(self.feeds):
            program.row(np.array([counts[i], used[i]]), np.array([1.0, -self.count]), upper=0.0)
            pair = np.array([counts[i], channels[i]])
            program.row(pair, np.array([units[i], -float(feed.per_channel)]), upper=0.0)
            for space, audience in enumerate(self.audiences):
                flag = plays.get((space, feed.loudspeaker.id))
                if flag is not None:
                    self._lay_least(program, x, audience, feed.loudspeaker, feed, [flag, used[i]])
        for s, supply in enumerate(self.supplies):
            mine = np.array([f.supply == s for f in self.feeds], dtype=np.bool_)
            if mine.any():
                row = np.append(channels[mine], amplifiers[s])
                sign = np.append(np.ones(int(mine.sum())), -float(supply.product.channels))
                program.row(row, sign, upper=0.0)
        return amplifiers, counts, channels

    @cached_property
    def _passive(self) -> tuple[Loudspeaker, ...]:
        every = {one.product.id: one.product for one in self.options.allowed}
        return tuple(one for one in every.values() if not one.active)

    def _lay_plays(self, program: Program, x: Indices) -> dict[tuple[int, str], int]:
        """Whether any new loudspeaker of a product plays in a space; it is not asked too much."""
        found: dict[tuple[int, str], int] = {}
        for space, audience in enumerate(self.audiences):
            by_product: dict[str, list[int]] = {}
            for i, one in enumerate(self.options.allowed):
                if one.id is None and self.options.holding[space, i]:
                    by_product.setdefault(one.product.id, []).append(i)
            for name, members in by_product.items():
                flag = program.columns(1, whole=True)[0]
                found[space, name] = int(flag)
                pairs = np.column_stack([x[members], np.full(len(members), flag)]).ravel()
                program.rows(
                    np.full(len(members), 2),
                    pairs,
                    np.tile([1.0, -1.0], len(members)),
                    upper=0.0,
                )
                product = self.options.allowed[members[0]].product
                self._lay_least(program, x, audience, product, None, [flag])
        return found

    def _lay_least(
        self,
        program: Program,
        x: Indices,
        audience: Audience,
        product: Loudspeaker,
        feed: Feed | None,
        flags: list[int],
    ) -> None:
        """Where all ``flags`` are set, the mean energy is at least what the product needs."""
        wanted = self.wanted[self.audiences.index(audience)]
        least = least_mean(audience.scene.room, product, wanted.mean_dba, feed)
        mean, always = audience.energy.mean(axis=0), float(audience.always.mean())
        heard = mean[mean > 0.0]
        if always + (float(heard.min()) if len(heard) else 0.0) >= least:
            return
        row = np.concatenate([x, flags])
        sign = np.concatenate([mean, np.full(len(flags), -least)])
        program.row(row, sign, lower=-always - least * (len(flags) - 1))

    # Levels.

    def _lay_levels(self, program: Program, x: Indices, wanted: tuple[Wanted, ...]) -> None:
        def lay(energy: Array, always: float, held: Mask, *, least: bool) -> None:
            """``energy·x + always ≥ 0``, and the cover that follows: one with a share above 0."""
            program.row(x, energy, lower=-always)
            if least and always <= 0.0:
                program.row(x[(energy >= 0.0) & held], 1.0, lower=1.0)

        for (space, ear), bound in (
            *((k, "soft") for k in self.soft),
            *((k, "loud") for k in self.loud),
        ):
            audience, one = self.audiences[space], wanted[space]
            limit = one.lowest_dba if bound == "soft" else one.highest_dba
            if limit is None:
                continue
            share = 10 ** ((limit - one.mean_dba) / 10)
            sign = 1.0 if bound == "soft" else -1.0
            mean, always = audience.energy.mean(axis=0), float(audience.always.mean())
            lay(
                sign * (audience.energy[ear] - share * mean),
                sign * (float(audience.always[ear]) - share * always),
                self.options.holding[space],
                least=True,
            )
        for space, louder, softer in self.apart:
            audience, within = self.audiences[space], wanted[space].apart_db
            if within is None:
                continue
            ratio = 10 ** (within / 10)
            lay(
                ratio * audience.energy[softer] - audience.energy[louder],
                float(ratio * audience.always[softer] - audience.always[louder]),
                self.options.holding[space],
                least=True,
            )

    def levels_db(self, chosen: Sequence[int]) -> list[Array]:
        """Levels at the ears of every space, re the mean there. [dB]"""
        found = []
        for audience in self.audiences:
            energy = audience.energy[:, list(chosen)].sum(axis=1) + audience.always
            with np.errstate(divide="ignore", invalid="ignore"):
                found.append(10 * np.log10(energy / energy.mean()))
        return found

    def learn(self, chosen: Sequence[int], wanted: tuple[Wanted, ...]) -> bool:
        """Lay in the rows that a choice breaks worst; whether there are any."""
        known = len(self.soft) + len(self.loud) + len(self.apart)
        for space, (level, one) in enumerate(zip(self.levels_db(chosen), wanted, strict=True)):
            order = np.argsort(level)
            if one.lowest_dba is not None:
                short = one.lowest_dba - one.mean_dba - level
                for ear in order[:AT_ONCE].tolist():
                    if short[ear] > ROW_SLACK_DB:
                        self.soft.setdefault((space, ear))
            if one.highest_dba is not None:
                over = level - (one.highest_dba - one.mean_dba)
                for ear in order[::-1][:AT_ONCE].tolist():
                    if over[ear] > ROW_SLACK_DB:
                        self.loud.setdefault((space, ear))
            if one.apart_db is not None:
                for louder in order[::-1][:AT_ONCE].tolist():
                    for softer in order[:AT_ONCE].tolist():
                        if level[louder] - level[softer] - one.apart_db > ROW_SLACK_DB:
                            self.apart.setdefault((space, louder, softer))
        return len(self.soft) + len(self.loud) + len(self.apart) > known

    def within(self, chosen: Sequence[int], wanted: tuple[Wanted, ...]) -> bool:
        """Whether a choice keeps all levels, whichever rows are laid in."""
        for level, one in zip(self.levels_db(chosen), wanted, strict=True):
            low, high = float(level.min()), float(level.max())
            if one.lowest_dba is not None and low < one.lowest_dba - one.mean_dba - ROW_SLACK_DB:
                return False
            if one.highest_dba is not None and high > one.highest_dba - one.mean_dba + ROW_SLACK_DB:
                return False
            if one.apart_db is not None and high - low > one.apart_db + ROW_SLACK_DB:
                return False
        return True

    def _lay_lines(self, program: Program, x: Indices, aim: Aim, limits: Limits) -> None:
        at = np.round(1000 * np.array([one.at for one in self.options.allowed])).astype(np.int64)
        drawn = []
        for axis in (0, 1):
            names, line = np.unique(at[:, axis], return_inverse=True)
            u = program.columns(len(names), cost=float(aim == "lines"), whole=True)
            drawn.append(u)
            pairs = np.column_stack([x, u[line]]).ravel()
            program.rows(np.full(len(x), 2), pairs, np.tile([1.0, -1.0], len(x)), upper=0.0)
        if limits.lines is not None:
            program.row(np.concatenate(drawn), 1.0, upper=float(limits.lines))

    # Asking.

    def ask(self, aim: Aim, limits: Limits, barred: Mask | None = None) -> Answered:
        """Solve for one aim, laying in levels until none is broken."""
        wanted = limits.wanted or self.wanted
        if any((one.lowest_dba or 0.0) > (one.highest_dba or math.inf) for one in wanted):
            return Answered(None, True, math.inf)
        while True:
            if any(not mask.any() for mask in self.needed):
                return Answered(None, True, math.inf)
            program = Program()
            laid = self.lay(program, aim, limits, barred)
            outcome = program.solve(time_limit=self.clock.left())
            self.clock.nodes += outcome.nodes
            proven = outcome.status != "limit"
            if outcome.values is None:
                return Answered(None, proven, outcome.bound)
            choice = self.read(outcome, laid)
            if self.within(choice.chosen, wanted):
                return Answered(choice, proven, outcome.bound)
            if not self.learn(choice.chosen, wanted):
                raise ArithmeticError("the solver returned loudspeakers that break a row of theirs")
            if not proven:
                return Answered(None, False, outcome.bound)

    def read(self, outcome: Outcome, laid: Laid) -> Choice:
        """The choice that a solved program stands for."""
        assert outcome.values is not None
        taken = np.round(outcome.values).astype(np.int64)
        counts, channels = taken[laid.counts], taken[laid.channels]
        return Choice(
            chosen=tuple(np.flatnonzero(taken[laid.places]).tolist()),
            amplifiers=tuple(taken[laid.amplifiers].tolist()),
            channels=tuple(
                Channels(feed, int(n), math.ceil(n * feed.loudspeaker.units / feed.per_channel))
                for feed, n, c in zip(self.feeds, counts, channels, strict=True)
                if n and c
            ),
        )

    def cents(self, choice: Choice) -> int:
        """What a choice costs; amplifiers that are there cost nothing more. [cents]"""
        bought = np.array(choice.amplifiers) - self._there
        return round(float(self.prices[list(choice.chosen)].sum() + bought @ self._amplifier_cents))

    def number(self, choice: Choice) -> int:
        """Loudspeakers, and the amplifiers that are bought for them."""
        return len(choice.chosen) + round(float(sum(choice.amplifiers) - self._there.sum()))
