"""Finding the proofs: weights from a linear program, made exact; else an exact search.

The solver only suggests weights. They are rounded to simple fractions, scaled until no
candidate collects too much, and checked by `wellheard.place.certificate` before they count.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import replace
from fractions import Fraction

import numpy as np

from wellheard.arrays import Array, Mask
from wellheard.place.certificate import (
    NODE_LIMIT,
    Certificate,
    Kind,
    affordable,
    exhausted,
    weights_hold,
)
from wellheard.place.cover import Candidates, candidates_from, undominated
from wellheard.place.milp import Program
from wellheard.place.programs import Clock, Duty, least

DENOMINATORS = (1, 2, 3, 4, 5, 6, 8, 10, 12, 15, 20, 24, 30, 42, 60, 120, 420, 2520, 10**4, 10**6)
"""Weights are rounded to the first of these that still proves the claim: simple ones first."""


def fewer_is_impossible(
    margins: Callable[[int], Array],
    count: int,
    *,
    forced: Iterable[int] = (),
    conflicts: Iterable[tuple[int, int]] = (),
    falling: bool = False,
    names: Sequence[str] | None = None,
    device: str = "microphone",
    node_limit: int = NODE_LIMIT,
    time_limit: float = 10.0,
) -> Certificate:
    """Prove that fewer than ``count`` devices cannot serve every seat.

    Parameters
    ----------
    margins : callable
        As for `wellheard.place.solve.fewest_then_best`.
    count : int
        The number that was found to be the fewest.
    forced, conflicts
        As there. They are used only where weights alone do not suffice.
    falling : bool
        The caller vouches that margins never grow with the number of devices: what one device
        cannot do is then not evaluated again for two, three, …
    names : sequence of str, optional
        Names of the seats for the statement.
    device : str
        What a device is called in the statement.
    node_limit : int
        Choices after which the exact search gives up.
    time_limit : float
        For the programs behind it. [s]

    Returns
    -------
    Certificate
        Not verified where the exact search gave up: the statement says so.

    Notes
    -----
    Every number k < count is ruled out with the margins of k. One proof is tried for all of
    them together, on the union of who serves whom; only where that fails are they split.

    Examples
    --------
    >>> table = np.array([[1.0, -1.0, -1.0], [-1.0, 1.0, -1.0], [-1.0, -1.0, 1.0]])
    >>> certificate = fewer_is_impossible(lambda n: table, 3)
    >>> print(certificate.statement)
    Seats 0, 1 and 2 need 3 different microphones: no allowed place serves two of them.
    """
    writer = _Writer(names, device, time_limit, node_limit)
    must = sorted({int(c) for c in forced})
    known: dict[int, Mask] = {}

    def serves(n: int) -> Mask:
        if n not in known:
            known[n] = np.asarray(margins(n)) >= 0
        return known[n]

    first = max(1, len(must))
    if count <= first:
        return writer.trivial(count, len(must))
    candidates = candidates_from(
        serves(first).shape[1], prices=None, forced=must, conflicts=conflicts, lines=None
    )
    falls: bool | None = None
    if not falling:
        falls = all(
            not (serves(n + 1) & ~serves(n)).any() for n in range(first, max(first, count - 1))
        )

    def union(low: int, high: int) -> Mask:
        if falls is not False:
            return serves(low)
        return np.asarray(np.stack([serves(n) for n in range(low, high + 1)]).any(axis=0))

    proofs: list[Certificate] = []
    high = count - 1
    while high >= first:
        proof = writer.by_weights(union(first, high), high, (first, high))
        if proof is None:
            low = high
            while low >= first:
                more = writer.by_weights(union(low, high), high, (low, high))
                if more is None:
                    break
                proof = more
                low -= 1
        if proof is None:
            proof = writer.by_search(candidates, union(first, high), high, (first, high))
        if proof is None or (not proof.verified and high > first):
            alone = writer.by_search(candidates, union(high, high), high, (high, high))
            if alone is None:
                raise ValueError(f"{high} devices serve every seat: {count} is not the fewest")
            if proof is None or alone.verified:
                proof = alone
        proofs.append(replace(proof, falling=falls))
        high = proof.counts[0] - 1
    leading = proofs[0]
    if falls is False:
        leading = replace(
            leading,
            statement=leading.statement
            + " Margins grow with the number of devices somewhere, so each number counts with "
            "every pair that serves at any number concerned.",
        )
    return replace(leading, also=tuple(proofs[1:]))


def cheaper_is_impossible(
    margins: Callable[[int], Array],
    prices: Sequence[float] | Array,
    price: float,
    *,
    forced: Iterable[int] = (),
    conflicts: Iterable[tuple[int, int]] = (),
    max_devices: int | None = None,
    falling: bool = False,
    names: Sequence[str] | None = None,
    device: str = "microphone",
    node_limit: int = NODE_LIMIT,
    time_limit: float = 10.0,
) -> Certificate:
    """Prove that nothing below ``price`` serves every seat, whatever the number of devices.

    Parameters and result as for `fewer_is_impossible`; ``price`` and ``prices`` as given to
    and returned by `wellheard.place.solve.fewest_then_best`. The claim is the next lower sum
    that these prices can make.

    Examples
    --------
    >>> table = np.array([[1.0, -1.0, 1.0], [-1.0, 1.0, 1.0]])
    >>> certificate = cheaper_is_impossible(lambda n: table, [300, 300, 500], 500)
    >>> certificate.kind, certificate.claim, certificate.total, certificate.verified
    ('weights', '400', '500', True)
    """
    writer = _Writer(names, device, time_limit, node_limit)
    must = sorted({int(c) for c in forced})
    first = max(1, len(must))
    serves = np.asarray(margins(first)) >= 0
    candidates = candidates_from(
        serves.shape[1], prices=prices, forced=must, conflicts=conflicts, lines=None
    )
    assert candidates.price is not None
    unit = Fraction(candidates.price_unit, candidates.price_divisor)
    units = round(Fraction(price) / unit) - 1
    if units < 0:
        return writer.stated(
            "trivial",
            (first, first),
            -unit,
            price=True,
            statement="Nothing costs less than nothing.",
            verified=True,
        )
    cost = candidates.price.tolist()
    most = len(serves) + len(must) if max_devices is None else max_devices
    payable = affordable([Fraction(c) for c in cost], must, Fraction(units))
    last = max(first, min(most, payable))
    known = {first: serves}
    falls: bool | None = None
    if not falling:
        falls = True
        for n in range(first + 1, last + 1):
            known[n] = np.asarray(margins(n)) >= 0
            falls = falls and not bool((known[n] & ~known[n - 1]).any())

    def union(low: int, high: int) -> Mask:
        if falls is not False:
            if low not in known:
                known[low] = np.asarray(margins(low)) >= 0
            return known[low]
        return np.asarray(np.stack([known[n] for n in range(low, high + 1)]).any(axis=0))

    def possible(low: int, high: int) -> bool:
        """Whether those who serve at any of these numbers could do it within the price."""
        duty = Duty(union(low, high))
        found = least(candidates, duty, writer.clock, by="price", at_most=high)
        return found.chosen is not None and candidates.total(found.chosen) <= units

    proofs: list[Certificate] = []
    high = last
    while high >= first:
        # The lowest number from which on one proof holds for all up to ``high``.
        low, end = first, high
        while low < end:
            middle = (low + end) // 2
            low, end = (middle + 1, end) if possible(middle, high) else (low, middle)
        proof = writer.by_weights(union(low, high), units, (low, high), cost=cost, unit=unit)
        if proof is None:
            proof = writer.by_search(candidates, union(low, high), units, (low, high), unit=unit)
        if proof is None:
            # What one number of devices can serve and another can pay.
            proof = writer.stated(
                "search",
                (low, high),
                Fraction(units) * unit,
                price=True,
                statement="The solver tried each number of devices with its own margins; "
                "nothing was checked in exact arithmetic.",
            )
        proofs.append(replace(proof, falling=falls))
        high = low - 1
    leading = proofs[0]
    if len(proofs) > 1:
        words = f" This holds from {leading.counts[0]} {writer.device}s on; for fewer, whose "
        words += "margins are larger, "
        proven = all(proof.verified for proof in proofs)
        words += "it is proven likewise." if proven else "the solver alone proves it."
        leading = replace(leading, statement=leading.statement + words)
    return replace(leading, also=tuple(proofs[1:]))


class _Writer:
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
            pairs = [(int(a), int(b)) for a, b in np.argwhere(np.triu(candidates.conflicts, 1))]
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
        limit = f"for {money(claim * unit)} or less"
        if not priced:
            limit = f"of {claim} {self.devices(claim)} or fewer"
        steps = "step" if nodes == 1 else "steps"
        words = f"No choice {limit} serves every seat: "
        if nodes is not None:
            words += f"an exact search of {nodes} {steps} left none open"
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
            return money(Fraction(text)) if price else text

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


def money(amount: Fraction) -> str:
    """Print an amount without a needless fraction.

    Examples
    --------
    >>> money(Fraction(450)), money(Fraction(901, 2))
    ('450', '450.50')
    """
    return str(amount.numerator) if amount.denominator == 1 else f"{float(amount):.2f}"
