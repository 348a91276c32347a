"""The weights and the words of one certificate.

The solver only suggests weights. They are rounded to simple fractions, scaled until no
candidate collects too much, and checked by `wellheard.place.certificate` before they count.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from fractions import Fraction

import numpy as np

from wellheard.arrays import Array, Mask
from wellheard.milp import Program
from wellheard.place.certificate import (
    Certificate,
    Kind,
    exhausted,
    weights_hold,
)
from wellheard.place.cover import Candidates, candidates_from, undominated
from wellheard.place.programs import Clock, Duty, least
from wellheard.units import plain_money

DENOMINATORS = (1, 2, 3, 4, 5, 6, 8, 10, 12, 15, 20, 24, 30, 42, 60, 120, 420, 2520, 10**4, 10**6)
"""Weights are rounded to the first of these that still proves the claim: simple ones first."""


class Writer:
    """Finds the weights and words of one certificate."""

    def __init__(
        self, names: Sequence[str] | None, device: str, time_limit: float, node_limit: int
    ) -> None:
        self.names, self.device = names, device
        self.clock = Clock(time_limit)
        self.node_limit = node_limit

    def stated(
        self,
        kind: Kind,
        counts: tuple[int, int],
        claim: Fraction,
        *,
        price: bool,
        weights: Sequence[tuple[int, Fraction]] = (),
        nodes: int = 0,
        statement: str = "",
        verified: bool = False,
    ) -> Certificate:
        return Certificate(
            kind=kind,
            measure="price" if price else "number",
            claim=str(claim),
            counts=counts,
            seats=tuple(seat for seat, _ in weights),
            weights=tuple(str(weight) for _, weight in weights),
            total=str(sum((weight for _, weight in weights), Fraction(0))),
            nodes=nodes,
            statement=statement,
            verified=verified,
        )

    def trivial(self, count: int, forced: int) -> Certificate:
        words = f"At least one {self.device} is needed."
        if forced:
            words = f"The {forced} locked {self.devices(forced)} have to stay."
        fewer = max(0, count - 1)
        return self.stated(
            "trivial", (0, fewer), Fraction(fewer), price=False, statement=words, verified=True
        )

    def by_weights(
        self,
        serves: Mask,
        claim: int,
        counts: tuple[int, int],
        *,
        cost: list[int] | None = None,
        unit: Fraction = Fraction(1),
    ) -> Certificate | None:
        """Exact weights that sum to more than ``claim``, if there are any."""
        price = [1] * serves.shape[1] if cost is None else cost
        weights = self.packed(serves, claim) if cost is None else None
        if weights is None:
            found = self.relaxed(serves, price, claim)
            if found is None or found[1] <= claim + 1e-7:
                return None
            weights = rational_weights(found[0], serves, price, claim)
        if weights is None:
            return None
        carrying = [(s, weight * unit) for s, weight in enumerate(weights) if weight]
        simple = cost is None and all(weight == 1 for _, weight in carrying)
        proof = self.stated(
            "seats" if simple else "weights",
            counts,
            claim * unit,
            price=cost is not None,
            weights=carrying,
        )
        if not weights_hold(serves.tolist(), proof, [p * unit for p in price]):
            return None
        words = self.seats_in_words(proof) if simple else self.weights_in_words(proof)
        return replace(proof, statement=words, verified=True)

    def relaxed(self, serves: Mask, price: list[int], claim: int) -> tuple[Array, float] | None:
        """Weights with the largest sum of which no candidate collects more than its price."""
        bearing = candidates_from(len(price), prices=price, forced=(), conflicts=(), lines=None)
        columns = undominated(serves, bearing)
        program = Program(maximise=True)
        w = program.columns(len(serves), cost=1.0, upper=float(claim + 1))
        row, column = np.nonzero(serves[:, columns].T)
        capacity = np.array([price[c] for c in columns], dtype=float)
        program.rows(np.bincount(row, minlength=len(columns)), w[column], 1.0, upper=capacity)
        outcome = program.solve(time_limit=self.clock.left(), relaxed=True)
        return None if outcome.values is None else (outcome.values, outcome.objective)

    def weights_near(self, serves: Mask, price: list[int], claim: int) -> list[Fraction]:
        """Exact weights, no candidate collecting too much, whose sum is about the largest."""
        found = self.relaxed(serves, price, claim)
        near = None
        if found is not None:
            near = rational_weights(found[0], serves, price, found[1] * (1 - 1e-4))
        return near or [Fraction(0)] * len(serves)

    def packed(self, serves: Mask, claim: int) -> list[Fraction] | None:
        """Weight 1 on ``claim`` + 1 seats of which no candidate serves two."""
        program = Program(maximise=True)
        w = program.columns(len(serves), cost=1.0, whole=True)
        row, column = np.nonzero(serves.T)
        program.rows(np.bincount(row, minlength=serves.shape[1]), w[column], 1.0, upper=1.0)
        program.row(w, 1.0, upper=claim + 1.0)
        outcome = program.solve(time_limit=self.clock.left())
        if outcome.values is None or outcome.objective < claim + 0.5:
            return None
        return [Fraction(int(value > 0.5)) for value in outcome.values]

    def by_search(
        self,
        candidates: Candidates,
        serves: Mask,
        claim: int,
        counts: tuple[int, int],
        *,
        unit: Fraction = Fraction(1),
    ) -> Certificate | None:
        """Look at every choice; None where one within ``claim`` serves every seat."""
        priced = candidates.price is not None
        most = counts[1] if priced else None
        found = least(
            candidates,
            Duty(serves),
            self.clock,
            by="price" if priced else "number",
            at_most=most,
        )
        if found.chosen is not None and candidates.total(found.chosen) <= claim:
            return None
        cost = [1] * candidates.count if candidates.price is None else candidates.price.tolist()
        pairs: list[tuple[int, int]] = []
        if candidates.conflicts is not None:
            near = np.argwhere(np.triu(candidates.conflicts, 1))
            pairs = [(a, b) for a, b in near.tolist()]
        forced = candidates.forced.tolist()
        weights = self.weights_near(serves, cost, claim)
        nodes = exhausted(
            serves.tolist(),
            cost,
            claim,
            forced,
            pairs,
            self.node_limit,
            most=most,
            weights=weights,
        )
        limit = f"for {_money(claim * unit)} or less"
        if not priced:
            limit = f"of {claim} {self.devices(claim)} or fewer"
        steps = "step" if nodes == 1 else "steps"
        words = f"No choice {limit} serves every seat: "
        if nodes is not None:
            words += f"an exact search of {nodes:,} {steps} left none open"
        elif found.bound > claim:
            words += (
                "the solver's search proves it; that was too long to repeat in exact arithmetic"
            )
        else:
            words = f"Whether any choice {limit} serves every seat was not settled in the time"
        if forced or pairs:
            words += ", locked devices and the distances between devices being kept"
        return self.stated(
            "search",
            counts,
            claim * unit,
            price=priced,
            weights=[(seat, weight * unit) for seat, weight in enumerate(weights) if weight],
            nodes=nodes or 0,
            statement=f"{words}. Weights on the seats alone do not prove it.",
            verified=nodes is not None,
        )

    # Words.

    def devices(self, count: int) -> str:
        return self.device if count == 1 else f"{self.device}s"

    def listed(self, seats: Sequence[int]) -> str:
        words = [self.names[s] if self.names else str(s) for s in seats]
        if len(words) == 1:
            return f"seat {words[0]}"
        return f"seats {', '.join(words[:-1])} and {words[-1]}"

    def seats_in_words(self, proof: Certificate) -> str:
        seats = self.listed(proof.seats)
        count = len(proof.seats)
        if count == 1:
            return f"{seats.capitalize()} needs a {self.device}."
        which = "both" if count == 2 else "two"
        return (
            f"S{seats[1:]} need {count} different {self.devices(count)}: no allowed place "
            f"serves {which} of them."
        )

    def weights_in_words(self, proof: Certificate) -> str:
        groups: dict[str, list[int]] = {}
        for seat, weight in zip(proof.seats, proof.weights, strict=True):
            groups.setdefault(weight, []).append(seat)
        price = proof.measure == "price"

        def figure(text: str) -> str:
            return _money(Fraction(text)) if price else text

        given = "; ".join(
            f"{figure(weight)} to {self.listed(seats)}" for weight, seats in groups.items()
        )
        total = figure(proof.total)
        if price:
            return (
                f"Give {given}: no allowed {self.device} collects more than its price from the "
                f"seats it serves, and the sum is {total}, more than {figure(proof.claim)}."
            )
        return (
            f"Give {given}: no allowed place collects more than 1 from the seats it serves, and "
            f"the sum is {total}, more than {proof.claim}."
        )


def rational_weights(
    values: Array, serves: Mask, price: Sequence[int], claim: float
) -> list[Fraction] | None:
    """Simple fractions near ``values`` that no candidate overruns and that exceed ``claim``.

    Examples
    --------
    >>> ring = np.array([[1, 1, 0], [0, 1, 1], [1, 0, 1]], dtype=bool)
    >>> rational_weights(np.array([0.4999999, 0.5, 0.5]), ring, [1, 1, 1], 1)
    [Fraction(1, 2), Fraction(1, 2), Fraction(1, 2)]
    """
    table = serves.astype(np.int64)
    for denominator in DENOMINATORS:
        whole = np.rint(np.maximum(values, 0.0) * denominator).astype(np.int64)
        free = table[:, [c for c, p in enumerate(price) if p == 0]].any(axis=1)
        whole[free] = 0
        loads = (whole @ table).tolist()
        # The worst overrun, as a fraction, scales all weights down.
        worst = max(
            (Fraction(load, p * denominator) for load, p in zip(loads, price, strict=True) if p),
            default=Fraction(0),
        )
        shrink = max(Fraction(1), worst) * denominator
        if Fraction(int(whole.sum())) / shrink > claim:
            return [Fraction(w) / shrink for w in whole.tolist()]
    return None


def _money(amount: Fraction) -> str:
    """An amount without a needless fraction."""
    return plain_money(float(amount), cents=amount.denominator != 1)
