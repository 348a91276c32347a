"""Choices of one or two new loudspeakers: all of them, the best first.

Most rooms need no more. All pairs are worked out at once, so that of these nothing is left to a
relaxation, whose rows of levels say little of one or two.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from wellheard.arrays import Array, Mask
from wellheard.catalog.products import Loudspeaker
from wellheard.place.amplifying import Amplified, amplified, least_cents
from wellheard.place.feeding import least_mean
from wellheard.place.objective import Index
from wellheard.place.playing import ROW_SLACK_DB, Choice, Question
from wellheard.place.voices import Voices

EVEN_STEP_DB = 0.05
"""Loudest minus quietest ear is compared in steps of this [dB]."""

NEW_AT_MOST = 2

NONE = -1

AT_ONCE = 4096
"""Pairs that are worked out side by side."""


@dataclass(frozen=True)
class Ranked:
    """A choice, and what it is ranked by."""

    choice: Choice
    cents: int
    number: int


class Few:
    """All choices of at most two new loudspeakers that keep the rows, by price and number."""

    def __init__(self, asked: Question) -> None:
        self.asked = asked
        options = asked.options
        self.locked = list(options.locked)
        self.products: dict[str, Loudspeaker] = {c.product.id: c.product for c in options.allowed}
        self.product = np.array([c.product.id for c in options.allowed])
        self._known: dict[tuple[tuple[tuple[str, int], ...], bytes], Amplified | None] = {}

    @cached_property
    def _voices(self) -> list[Voices]:
        return [Voices(one) for one in self.asked.audiences]

    @cached_property
    def pairs(self) -> tuple[Index, Array, Array]:
        """Choices that keep all levels: members, means by space, loudest minus quietest ear."""
        asked = self.asked
        free = np.setdiff1d(np.arange(asked.count), self.locked)
        none = np.full(len(free), NONE)
        found = [self._kept(np.column_stack([free, none]))]
        heard = any(one.always.any() for one in asked.audiences)
        if self.locked or heard:
            found.append(self._kept(np.array([[NONE, NONE]])))
        first, second = np.triu_indices(len(free), k=1)
        apart_enough = ~asked.conflicts[free[first], free[second]]
        both = np.column_stack([free[first], free[second]])[apart_enough]
        found += [self._kept(part) for part in np.split(both, range(AT_ONCE, len(both), AT_ONCE))]
        members, means, apart = zip(*found, strict=True)
        return np.concatenate(members), np.concatenate(means), np.concatenate(apart)

    def _kept(self, members: Index) -> tuple[Index, Array, Array]:
        asked = self.asked
        keep = np.ones(len(members), dtype=np.bool_)
        for mask in asked.needed:
            base = bool(mask[self.locked].any())
            keep &= base | np.any(mask[members] & (members != NONE), axis=1)
        members = members[keep]
        means = np.zeros((len(members), len(asked.audiences)))
        apart = np.zeros(len(members))
        keep = np.ones(len(members), dtype=np.bool_)
        for space, (audience, wanted) in enumerate(zip(asked.audiences, asked.wanted, strict=True)):
            base = audience.always + audience.energy[:, self.locked].sum(axis=1)
            energy = np.broadcast_to(base[:, None], (len(base), len(members))).copy()
            for column in members.T:
                energy += np.where(column == NONE, 0.0, audience.energy[:, column])
            mean = energy.mean(axis=0)
            with np.errstate(divide="ignore", invalid="ignore"):
                low = 10 * np.log10(energy.min(axis=0) / mean)
                high = 10 * np.log10(energy.max(axis=0) / mean)
            keep &= mean > 0.0
            if wanted.lowest_dba is not None:
                keep &= low >= wanted.lowest_dba - wanted.mean_dba - ROW_SLACK_DB
            if wanted.highest_dba is not None:
                keep &= high <= wanted.highest_dba - wanted.mean_dba + ROW_SLACK_DB
            if wanted.apart_db is not None:
                keep &= high - low <= wanted.apart_db + ROW_SLACK_DB
            for column in members.T:
                keep &= (column == NONE) | (mean >= self._least[space][column])
            means[:, space] = mean
            apart = np.maximum(apart, high - low)
        return members[keep], means[keep], apart[keep]

    @cached_property
    def _least(self) -> list[Array]:
        """Least mean energy of every candidate in every space; 0 where it does not stand."""
        found = []
        for audience, wanted, held in zip(
            self.asked.audiences, self.asked.wanted, self.asked.options.holding, strict=True
        ):
            room = audience.scene.room
            by_product = {
                name: least_mean(room, product, wanted.mean_dba, None)
                for name, product in self.products.items()
            }
            each = np.array([by_product[name] for name in self.product])
            found.append(np.where(held, each, 0.0))
        return found

    def ranked(self, barred: Mask | None = None) -> Iterator[Ranked]:
        """Choices by price, number, ears that hear the voice beside the picture, evenness, lines.

        Parameters
        ----------
        barred : ndarray of bool, shape (candidates,), optional
            Places that are not to be taken.
        """
        members, means, apart = self.pairs
        if barred is not None:
            free = ~np.any(barred[members] & (members != NONE), axis=1)
            members, means, apart = members[free], means[free], apart[free]
        excluded = set(self.asked.excluded)
        for cents, number, parts in self._by_price(members, means):
            order = []
            for part, (rows, _) in enumerate(parts):
                stay = np.tile(np.array(self.locked, dtype=np.intp), (len(rows), 1))
                playing = np.concatenate([members[rows], stay], axis=1)
                away = sum((one.away(playing) for one in self._voices), np.zeros(len(rows)))
                for row, beside in zip(rows.tolist(), away.tolist(), strict=True):
                    step = round(float(apart[row]) / EVEN_STEP_DB)
                    order.append((beside, step, self._lines(members[row]), row, part))
            for *_, row, part in sorted(order):
                new = members[row][members[row] != NONE].tolist()
                chosen = tuple(sorted([*self.locked, *new]))
                if chosen not in excluded:
                    fed = parts[part][1]
                    choice = Choice(chosen, fed.amplifiers, fed.channels)
                    yield Ranked(choice, cents, number)

    def _by_price(
        self, members: Index, means: Array
    ) -> Iterator[tuple[int, int, list[tuple[Index, Amplified]]]]:
        """Choices of one price and number at a time, the least first.

        Amplifiers are looked for only once the loudspeakers without them cost no more than what
        is known with them.
        """
        kept = round(float(self.asked.prices[self.locked].sum()))
        waiting: list[tuple[int, int, Index, Counter[str], Mask]] = []
        for rows, loads, usable in self._grouped(members, means):
            own = self.asked.prices[members[rows]] * (members[rows] != NONE)
            each = np.round(own.sum(axis=1)).astype(np.int64)
            for price in np.unique(each).tolist():
                waiting.append((kept + price, len(waiting), rows[each == price], loads, usable))
        waiting.sort(key=lambda one: one[:2], reverse=True)
        ready: dict[tuple[int, int], list[tuple[int, Index, Amplified]]] = {}
        while waiting or ready:
            least = min(ready, default=None)
            if waiting and (least is None or waiting[-1][0] <= least[0]):
                cents, turn, rows, loads, usable = waiting.pop()
                fed = self._amplified(loads, usable)
                if fed is not None:
                    number = sum(loads.values()) + fed.bought
                    ready.setdefault((cents + fed.cents, number), []).append((turn, rows, fed))
            elif least is not None:
                parts = sorted(ready.pop(least), key=lambda one: one[0])
                yield *least, [(rows, fed) for _, rows, fed in parts]

    def _lines(self, members: Index) -> tuple[int, tuple[tuple[float, ...], ...]]:
        at = sorted(
            tuple(round(v, 3) for v in self.asked.options.allowed[i].at)
            for i in members.tolist()
            if i != NONE
        )
        return len({p[0] for p in at}) + len({p[1] for p in at}), tuple(at)

    def _grouped(self, members: Index, means: Array) -> Iterator[tuple[Index, Counter[str], Mask]]:
        """Choices of the same products whose loudspeakers can be fed in the same ways."""
        if not len(members):
            return
        usable = self._usable(members, means)
        known = {name: i for i, name in enumerate(self.products)}
        kind = np.array([*(known[name] for name in self.product), len(known)], dtype=np.uint8)
        key = np.column_stack([np.sort(kind[members], axis=1), np.packbits(usable, axis=1)])
        flat = np.ascontiguousarray(key).view(np.dtype((np.void, key.shape[1]))).ravel()
        _, first, inverse = np.unique(flat, return_index=True, return_inverse=True)
        order = np.argsort(inverse, kind="stable")
        parts = np.split(order, np.cumsum(np.bincount(inverse))[:-1])
        for row, rows in zip(first.tolist(), parts, strict=True):
            loads = Counter(self.product[self.locked].tolist())
            loads.update(self.product[i] for i in members[row].tolist() if i != NONE)
            yield rows, loads, usable[row]

    def _amplified(self, loads: Counter[str], usable: Mask) -> Amplified | None:
        key = (tuple(sorted(loads.items())), usable.tobytes())
        if key not in self._known:
            self._known[key] = amplified(
                loads, self.products, self.asked.feeds, usable, self.asked.supplies
            )
        return self._known[key]

    def _usable(self, members: Index, means: Array) -> Mask:
        """Which ways of feeding give enough power, shape (choices, feeds).

        Ways of feeding what is not chosen anew count as enough.
        """
        found = np.ones((len(members), len(self.asked.feeds)), dtype=np.bool_)
        held = self.asked.options.holding
        for f, feed in enumerate(self.asked.feeds):
            mine = (self.product == feed.loudspeaker.id)[members] & (members != NONE)
            if not mine.any():
                continue
            for space, (audience, wanted) in enumerate(
                zip(self.asked.audiences, self.asked.wanted, strict=True)
            ):
                least = least_mean(audience.scene.room, feed.loudspeaker, wanted.mean_dba, feed)
                here = np.any(mine & held[space][members], axis=1)
                found[:, f] &= ~here | (means[:, space] >= least)
        return found

    def least_of_more(self, barred: Mask | None = None) -> float:
        """No choice of more than two new loudspeakers costs less than this. [cents]"""
        free = np.ones(self.asked.count, dtype=np.bool_)
        free[self.locked] = False
        if barred is not None:
            free &= ~barred
        offered = {}
        for name in self.products:
            mine = free & (self.product == name)
            if mine.any():
                offered[name] = (int(mine.sum()), round(float(self.asked.prices[mine].min())))
        if sum(places for places, _ in offered.values()) <= NEW_AT_MOST:
            return float("inf")
        stays = Counter(self.product[self.locked].tolist())
        kept = float(self.asked.prices[self.locked].sum())
        return kept + least_cents(
            NEW_AT_MOST + 1, stays, offered, self.products, self.asked.feeds, self.asked.supplies
        )
