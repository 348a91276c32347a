"""Finding the proofs: weights from a linear program, made exact; else an exact search.

Every number of devices, or every price, that is claimed to be impossible is ruled out, with as
few proofs as will do.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import replace
from fractions import Fraction

import numpy as np

from wellheard.arrays import Array, Mask
from wellheard.place.certificate import NODE_LIMIT, Certificate, affordable
from wellheard.place.cover import candidates_from
from wellheard.place.programs import Duty, least
from wellheard.place.weighing import Writer


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
    writer = Writer(names, device, time_limit, node_limit)
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
    writer = Writer(names, device, time_limit, node_limit)
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
