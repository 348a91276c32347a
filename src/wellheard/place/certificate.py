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

NODE_LIMIT = 20_000
"""States that the exact search looks at before it gives up: about a second of pure Python."""


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
        Seats that carry weight. A search uses weights too: what is still open costs at least
        the weights of its seats.
    weights : tuple of str
        Their weights, as fractions.
    total : str
        Sum of the weights.
    nodes : int
        States that the exact search looked at.
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
    max_devices: int | None = None,
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
    max_devices : int, optional
        Where it is about price: more are not allowed. Default one per seat beside the forced.
    node_limit : int
        States after which a search counts as not verified.

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
    if certificate.kind != "trivial":
        last = math.floor(claim)
        if certificate.measure == "price":
            first = next(tables(served, max(1, len(must)), max(1, len(must))))
            cost = exact_costs(prices, len(first[0]))
            last = affordable(cost, must, claim)
            last = min(last, len(first) + len(must) if max_devices is None else max_devices)
        spoken = {n for part in parts for n in range(part.counts[0], part.counts[1] + 1)}
        if not set(range(max(1, len(must)), last + 1)) <= spoken:
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
            given = dict(zip(part.seats, map(Fraction, part.weights), strict=False))
            weights = [given.get(seat, Fraction(0)) for seat in range(len(table))]
            nodes = exhausted(
                table, cost, claim, forced, conflicts, node_limit, most=last, weights=weights
            )
            if nodes is None:
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


def affordable(cost: Sequence[Fraction], forced: Sequence[int], claim: Fraction) -> int:
    """Most devices that can be had for ``claim``; 0 where the forced ones cost more."""
    spent = sum((cost[c] for c in forced), Fraction(0))
    number = len(forced) if spent <= claim else 0
    for price in sorted(p for c, p in enumerate(cost) if c not in set(forced)):
        spent += price
        number += spent <= claim
    return number


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
    *,
    most: int | None = None,
    weights: Sequence[Fraction] | None = None,
) -> int | None:
    """States looked at to find that no choice within ``claim`` serves all; None where one does.

    None as well when the limit of states is passed, or when a candidate collects more than it
    costs of the weights. Conflicts are left aside first: what is impossible without them is
    impossible.

    Parameters
    ----------
    table : sequence of sequence of bool
        Who serves whom: rows are seats.
    cost, claim
        What every candidate costs, and what may be spent.
    forced : sequence of int
        Candidates that are chosen anyway.
    conflicts : iterable of (int, int)
        Candidates that may not both be chosen.
    node_limit : int
        States after which it gives up.
    most : int, optional
        Largest number of devices.
    weights : sequence of Fraction, optional
        One per seat, none of which makes a candidate collect more than it costs.

    Examples
    --------
    Three places in a ring serve two of three seats each: one is not enough.

    >>> ring = [[True, True, False], [False, True, True], [True, False, True]]
    >>> exhausted(ring, [1, 1, 1], 1, [], [], 100), exhausted(ring, [1, 1, 1], 2, [], [], 100)
    (3, None)
    """
    weights = [Fraction(0)] * len(table) if weights is None else weights
    if any(w < 0 for w in weights):
        return None
    scale = math.lcm(*(Fraction(x).denominator for x in (*cost, *weights)))
    price = [int(c * scale) for c in cost]
    weight = [int(w * scale) for w in weights]
    serves = [sum(1 << s for s, row in enumerate(table) if row[c]) for c in range(len(price))]
    bearing = _Sum(weight)
    if any(bearing.of(mask) > p for mask, p in zip(serves, price, strict=True)):
        return None
    pairs = list(conflicts)
    excludes = [0] * len(price)
    for a, b in pairs:
        excludes[a] |= 1 << b
        excludes[b] |= 1 << a
    budget = math.floor(claim * scale) - sum(price[c] for c in forced)
    left = len(price) if most is None else most - len(forced)
    if budget < 0 or left < 0:
        return 1  # the forced ones alone are more than is claimed
    open_seats, barred = (1 << len(table)) - 1, 0
    for c in forced:
        open_seats &= ~serves[c]
        barred |= excludes[c] | 1 << c
    nodes = _failed(
        serves, price, [0] * len(price), open_seats, barred, budget, left, bearing, node_limit
    )
    if nodes is None and pairs:
        nodes = _failed(
            serves, price, excludes, open_seats, barred, budget, left, bearing, node_limit
        )
    return nodes


def _failed(
    serves: list[int],
    price: list[int],
    excludes: list[int],
    open_seats: int,
    barred: int,
    budget: int,
    most: int,
    bearing: _Sum,
    node_limit: int,
) -> int | None:
    """Look at every choice, the seat with fewest candidates leading; seats are bits."""
    conflicts = any(excludes)
    pool = sorted(
        (c for c in range(len(price)) if not barred >> c & 1 and serves[c] & open_seats),
        key=lambda c: (price[c], -(serves[c] & open_seats).bit_count()),
    )
    if not conflicts:
        pool = _undominated(pool, serves, open_seats)
    askers: dict[int, list[int]] = {}
    rest = open_seats
    while rest:
        seat = rest & -rest
        rest ^= seat
        askers[seat] = [c for c in pool if serves[c] & seat]
    nodes = 0
    known: dict[tuple[int, int], int] = {}
    stack = [(open_seats, 0, budget, most)]
    while stack:
        open_seats, out, budget, most = stack.pop()
        nodes += 1
        if nodes > node_limit or not open_seats:
            return None
        # Whatever remains must be served by some candidate for the seat with fewest.
        able: list[int] | None = None
        rest = open_seats
        while rest and most:
            seat = rest & -rest
            rest ^= seat
            mine = askers[seat]
            if able is None or len(mine) < len(able):
                if out:
                    mine = [c for c in mine if not out >> c & 1]
                if able is None or len(mine) < len(able):
                    able = mine
        tried: list[int] = []
        for c in able or ():
            if price[c] > budget:
                break  # candidates come cheapest first
            gain = serves[c] & open_seats
            if not conflicts:
                # A cheaper sibling that serves as much takes its part.
                if any(gain & ~other == 0 for other in tried):
                    continue
                tried.append(gain)
            after, money, number = open_seats & ~gain, budget - price[c], most - 1
            if bearing.of(after) > money or (after and not number):
                continue
            if conflicts:
                out |= 1 << c  # choices with an earlier sibling are that sibling's business
                stack.append((after, out | excludes[c], money, number))
            elif known.get((after, number), -1) < money:
                known[after, number] = money
                stack.append((after, 0, money, number))
    return nodes


def _undominated(pool: list[int], serves: list[int], open_seats: int) -> list[int]:
    """Drop what serves no more than something that comes before it and is no dearer."""
    kept: list[int] = []
    for c in pool:
        gain = serves[c] & open_seats
        if not any(gain & ~serves[other] == 0 for other in kept):
            kept.append(c)
    return kept


class _Sum:
    """Sums of weights over the bits of a number, a byte at a time."""

    def __init__(self, weights: Sequence[int]) -> None:
        self.size = -(-len(weights) // 8)
        self.parts = []
        for start in range(0, 8 * self.size, 8):
            eight = weights[start : start + 8]
            self.parts.append(
                [sum(w for i, w in enumerate(eight) if byte >> i & 1) for byte in range(256)]
            )

    def of(self, mask: int) -> int:
        """Sum of the weights whose bits are set."""
        return sum(
            part[byte]
            for part, byte in zip(self.parts, mask.to_bytes(self.size, "little"), strict=True)
        )
