"""Proof, checkable by hand, that fewer (or cheaper) devices cannot serve every seat.

Give each seat a weight so that no candidate collects more than 1 (or than its price) from the
seats it serves. Whatever serves every seat then numbers (or costs) at least the sum of the
weights. Where no weights suffice, an exact search through all choices stands in.

This module states and checks proofs in whole numbers and fractions, without any solver; they
are found in `wellheard.place.certify`.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction
from typing import Literal, TypeAlias

from wellheard.arrays import Array, Mask

Kind: TypeAlias = Literal["seats", "weights", "search", "trivial"]
Measure: TypeAlias = Literal["number", "price"]
Serves: TypeAlias = Mask | Callable[[int], Mask] | Sequence[Sequence[bool]]

NODE_LIMIT = 200_000
"""Choices that the exact search looks at before it gives up: some seconds of pure Python."""


@dataclass(frozen=True)
class Certificate:
    """Why no choice of ``counts`` devices within ``claim`` serves every seat.

    Attributes
    ----------
    kind
        ``seats``: no candidate serves two of ``seats``, and there are more of them than
        ``claim``. ``weights``: no candidate collects more than 1 (or its price) of the weights,
        which sum to more. ``search``: no weights suffice; every choice was looked at, or the
        solver's bound is quoted. ``trivial``: one device, or the locked ones, are the least.
    measure
        What ``claim`` limits: the number of devices or their price.
    claim : str
        Fraction: nothing of this number or price, or less, serves every seat.
    counts : tuple of int
        First and last number of devices that it speaks of; margins depend on the number.
    seats : tuple of int
        Seats that carry weight.
    weights : tuple of str
        Their weights, as fractions.
    total : str
        Sum of the weights; for the other kinds the least that is left possible.
    nodes : int
        Choices that the exact search looked at.
    statement : str
        The proof in words.
    verified : bool
        Checked in exact arithmetic without the solver.
    falling : bool or None
        Whether margins never grow over the numbers concerned; None where the caller vouched
        for it and it was not evaluated.
    also : tuple of Certificate
        Proofs for the smaller numbers that this one does not cover.
    """

    kind: Kind
    measure: Measure
    claim: str
    counts: tuple[int, int]
    seats: tuple[int, ...]
    weights: tuple[str, ...]
    total: str
    nodes: int
    statement: str
    verified: bool
    falling: bool | None = True
    also: tuple[Certificate, ...] = ()

    def to_json(self) -> dict[str, object]:
        """Plain values for the ``certificate`` of the ``place`` command."""
        return {
            "kind": self.kind,
            "measure": self.measure,
            "claim": self.claim,
            "counts": list(self.counts),
            "seats": list(self.seats),
            "weights": list(self.weights),
            "total": self.total,
            "nodes": self.nodes,
            "statement": self.statement,
            "verified": self.verified,
            "falling": self.falling,
            "also": [other.to_json() for other in self.also],
        }


def verify(
    served: Serves,
    certificate: Certificate,
    *,
    prices: Sequence[float] | Array | None = None,
    forced: Iterable[int] = (),
    conflicts: Iterable[tuple[int, int]] = (),
    node_limit: int = NODE_LIMIT,
) -> bool:
    """Check a certificate in whole numbers and fractions, without any solver.

    Parameters
    ----------
    served : ndarray of bool, shape (seats, candidates), or callable
        Who serves whom: for every number of devices alike, or as a function of it.
    certificate : Certificate
        What is to be checked; its own ``verified`` is not believed.
    prices : sequence, optional
        Needed where the certificate is about price.
    forced, conflicts
        Used by searches and trivial certificates only.
    node_limit : int
        Choices after which a search counts as not verified.

    Returns
    -------
    bool
        Whether it rules out every number of devices up to its claim, or every price.

    Examples
    --------
    Three seats, each with a place of its own, need three devices; once the first place serves
    the last seat too, two will do and the proof falls.

    >>> certificate = Certificate(
    ...     "seats", "number", "2", (1, 2), (0, 1, 2), ("1", "1", "1"), "3", 0, "", True
    ... )
    >>> verify([[True, False, False], [False, True, False], [False, False, True]], certificate)
    True
    >>> verify([[True, False, False], [False, True, False], [True, False, True]], certificate)
    False
    """
    must, pairs = sorted({int(c) for c in forced}), [(int(a), int(b)) for a, b in conflicts]
    if certificate.measure == "price" and prices is None:
        raise ValueError("a certificate about price needs the prices")
    claim = Fraction(certificate.claim)
    parts = (certificate, *certificate.also)
    if certificate.measure == "number":
        spoken = {n for part in parts for n in range(part.counts[0], part.counts[1] + 1)}
        if not set(range(max(1, len(must)), math.floor(claim) + 1)) <= spoken:
            return False
    return all(
        part.measure == certificate.measure
        and _part_holds(served, part, prices, must, pairs, node_limit)
        for part in parts
    )


def _part_holds(
    served: Serves,
    part: Certificate,
    prices: Sequence[float] | Array | None,
    forced: Sequence[int],
    conflicts: Sequence[tuple[int, int]],
    node_limit: int,
) -> bool:
    first, last = part.counts
    claim = Fraction(part.claim)
    numbers = part.measure == "number"
    if part.kind == "trivial":
        return claim < max(1, len(forced)) if numbers else claim < 0
    if numbers and claim < last:
        return False
    for table in tables(served, first, last):
        cost = exact_costs(None if numbers else prices, len(table[0]))
        if part.kind == "search":
            if exhausted(table, cost, claim, forced, conflicts, node_limit) is None:
                return False
        elif not weights_hold(table, part, cost):
            return False
    return True


def tables(served: Serves, first: int, last: int) -> Iterator[list[list[bool]]]:
    """Who serves whom, as plain lists, for each number of devices that matters."""
    for n in range(first, last + 1) if callable(served) else (first,):
        rows = served(n) if callable(served) else served
        yield [[bool(one) for one in row] for row in rows]


def exact_costs(prices: Sequence[float] | Array | None, count: int) -> list[Fraction]:
    """Prices as fractions: floats to the hundredth, 1 each where there are none."""
    if prices is None:
        return [Fraction(1)] * count
    given = [p.item() if hasattr(p, "item") else p for p in prices]
    if any(isinstance(p, float) for p in given):
        return [Fraction(round(100 * p), 100) for p in given]
    return [Fraction(p) for p in given]


def weights_hold(
    table: Sequence[Sequence[bool]], certificate: Certificate, cost: Sequence[Fraction]
) -> bool:
    """Whether no candidate collects more than it costs and the sum exceeds the claim."""
    claim = Fraction(certificate.claim)
    weights = [Fraction(text) for text in certificate.weights]
    seats = certificate.seats
    if len(weights) != len(seats) or len(set(seats)) != len(seats):
        return False
    if any(w < 0 for w in weights) or any(not 0 <= s < len(table) for s in seats):
        return False
    if certificate.kind == "seats" and any(w != 1 for w in weights):
        return False
    # Over one denominator the sums are whole numbers.
    scale = math.lcm(*(w.denominator for w in weights), *(c.denominator for c in cost))
    whole = [int(w * scale) for w in weights]
    loads = [0] * len(cost)
    for weight, seat in zip(whole, seats, strict=True):
        for candidate, serves in enumerate(table[seat]):
            if serves:
                loads[candidate] += weight
    if any(load > c * scale for load, c in zip(loads, cost, strict=True)):
        return False
    total = Fraction(sum(whole), scale)
    return total == Fraction(certificate.total) and total > claim


def exhausted(
    table: Sequence[Sequence[bool]],
    cost: Sequence[Fraction | int],
    claim: Fraction | int,
    forced: Sequence[int],
    conflicts: Iterable[tuple[int, int]],
    node_limit: int,
) -> int | None:
    """Choices looked at to find that none within ``claim`` serves all; None where one does.

    None as well when the limit of nodes is passed. Seats and candidates are bits of integers.
    """
    count = len(cost)
    serves = [sum(1 << s for s, row in enumerate(table) if row[c]) for c in range(count)]
    excludes = [0] * count
    for a, b in conflicts:
        excludes[a] |= 1 << b
        excludes[b] |= 1 << a
    every = (1 << len(table)) - 1
    barred = 0
    for c in forced:
        every &= ~serves[c]
        barred |= excludes[c] | 1 << c
    left = claim - sum(cost[c] for c in forced)
    if left < 0:
        return 1  # the forced ones alone are more than is claimed
    askers = [[c for c in range(count) if row[c]] for row in table]
    cheapest = min(cost, default=0)
    nodes = 0
    stack: list[tuple[int, int, Fraction | int]] = [(every, barred, left)]
    while stack:
        open_seats, out, budget = stack.pop()
        nodes += 1
        if nodes > node_limit or not open_seats:
            return None
        # Whatever remains must be served by some candidate for the seat with fewest.
        best: list[int] | None = None
        widest = 0
        rest = open_seats
        while rest:
            low = rest & -rest
            rest ^= low
            able = [
                c for c in askers[low.bit_length() - 1] if not out >> c & 1 and cost[c] <= budget
            ]
            if best is None or len(able) < len(best):
                best = able
            if not able:
                break
            widest = max(widest, *((serves[c] & open_seats).bit_count() for c in able))
        assert best is not None
        if not best or -(-open_seats.bit_count() // widest) * cheapest > budget:
            continue
        tried = 0
        for c in sorted(best, key=lambda c: (serves[c] & open_seats).bit_count()):
            # Choices with an earlier sibling are that sibling's business.
            stack.append((open_seats & ~serves[c], out | excludes[c] | tried, budget - cost[c]))
            tried |= 1 << c
    return nodes
