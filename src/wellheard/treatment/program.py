"""The cheapest modules for an absorption area by octave, as a program in whole numbers."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np

from wellheard.arrays import Array
from wellheard.milp import SLACK, Outcome, Program
from wellheard.treatment.task import Bay, Option

TIME_LIMIT = 10.0
"""For one program [s]."""


@dataclass(frozen=True)
class Choice:
    """How many modules of each option.

    Parameters
    ----------
    counts : tuple of int
        As many as there are options.
    price : int
        Modules and fixed costs. [currency]
    status : {"optimal", "gap", "infeasible"}
        Of the linear model.
    bound : float
        No choice is cheaper. [currency]
    """

    counts: tuple[int, ...]
    price: int
    status: Literal["optimal", "gap", "infeasible"]
    bound: float


def price_of(options: Sequence[Option], counts: Sequence[int]) -> int:
    """Price of modules, and once for every product that is used. [currency]"""
    used = {o.product.id: o.product for o, n in zip(options, counts, strict=True) if n}
    modules = sum(o.price * n for o, n in zip(options, counts, strict=True))
    return modules + sum(round(one.fixed) for one in used.values())


def added(options: Sequence[Option], counts: Sequence[int]) -> Array:
    """Absorption area that modules add, shape (7,) [m²]."""
    total = np.zeros(7)
    for one, count in zip(options, counts, strict=True):
        total += count * np.asarray(one.gain)
    return total


def cheapest(
    bays: Sequence[Bay],
    options: Sequence[Option],
    lacking: Array,
    *,
    time_limit: float = TIME_LIMIT,
) -> Choice:
    """Least cost that adds at least what is lacking in every octave.

    Parameters
    ----------
    bays, options : sequences
        In each bay lie modules of one product, no more than fit.
    lacking : ndarray, shape (7,)
        [m²]
    time_limit : float
        [s]

    Returns
    -------
    Choice
        Of equally cheap ones that with least burden: panels at head height, on one wall of each
        pair that faces.
    """
    wanted = np.asarray(lacking, dtype=float)
    if np.all(wanted <= 0):
        return Choice((0,) * len(options), 0, "optimal", 0.0)
    if np.any(most(options) < wanted - 1e-9):
        return Choice((0,) * len(options), 0, "infeasible", np.inf)
    prices = np.array([float(o.price) for o in options])
    model = _Model(options, prices)
    model.demand(wanted)
    found = model.program.solve(time_limit=time_limit)
    if found.values is None:
        return Choice((0,) * len(options), 0, "infeasible", np.inf)
    chosen = model.counts_of(found)
    price = price_of(options, chosen)
    if found.status != "optimal":
        return Choice(chosen, price, "gap", found.bound)
    burden = np.array([float(bays[o.bay].burden) for o in options])
    if np.any(burden * np.array(chosen)):
        tidy = _Model(options, burden, fixed=False)
        tidy.demand(wanted)
        tidy.afford(prices, price)
        again = tidy.program.solve(time_limit=time_limit)
        if again.values is not None and price_of(options, tidy.counts_of(again)) == price:
            chosen = tidy.counts_of(again)
    return Choice(chosen, price, "optimal", float(price))


def farthest(
    options: Sequence[Option], lacking: Array, *, time_limit: float = TIME_LIMIT
) -> tuple[int, ...]:
    """Counts that bring all octaves together as near as can be: the worst share is greatest."""
    wanted = np.asarray(lacking, dtype=float)
    if not options:
        return ()
    model = _Model(options, np.zeros(len(options)), fixed=False, maximise=True)
    share = model.program.columns(1, cost=1.0)
    for octave in np.flatnonzero(wanted > 0):
        gain = np.array([o.gain[octave] for o in options])
        columns = np.concatenate([model.counts, share])
        model.program.row(columns, np.append(gain, -wanted[octave]), lower=0.0)
    found = model.program.solve(time_limit=time_limit, gap=1e-3)
    return (0,) * len(options) if found.values is None else model.counts_of(found)


def most(options: Sequence[Option]) -> Array:
    """Absorption area that can be added at most, each octave by itself, shape (7,) [m²]."""
    best: dict[int, Array] = {}
    for one in options:
        gain = one.most * np.maximum(np.asarray(one.gain), 0.0)
        best[one.bay] = np.maximum(best.get(one.bay, np.zeros(7)), gain)
    return np.sum(list(best.values()), axis=0) if best else np.zeros(7)


class _Model:
    """Counts by option, and which product is bought and lies where; nothing is asked for yet."""

    def __init__(
        self,
        options: Sequence[Option],
        cost: Array,
        *,
        fixed: bool = True,
        maximise: bool = False,
    ) -> None:
        self.options = options
        self.program = Program(maximise=maximise)
        upper = np.array([float(o.most) for o in options])
        self.counts = self.program.columns(len(options), cost=cost, upper=upper, whole=True)
        products = {o.product.id: o.product for o in options}
        self.fixed = np.array([float(round(one.fixed)) for one in products.values()])
        self.bought = self.program.columns(
            len(products), cost=self.fixed if fixed else 0.0, whole=True
        )
        column = dict(zip(products, self.bought.tolist(), strict=True))
        in_bay: dict[int, list[int]] = {}
        for index, one in enumerate(options):
            in_bay.setdefault(one.bay, []).append(index)
        for indices in in_bay.values():
            lies = [column[options[i].product.id] for i in indices]
            if len(indices) > 1:
                here = self.program.columns(len(indices), whole=True)
                self.program.row(here, 1.0, upper=1.0 + SLACK)
                for mine, product in zip(here.tolist(), lies, strict=True):
                    self._at_most(mine, product, 1.0)
                lies = here.tolist()
            for index, mine in zip(indices, lies, strict=True):
                self._at_most(int(self.counts[index]), mine, float(upper[index]))

    def _at_most(self, less: int, more: int, times: float) -> None:
        columns, factors = np.array([less, more]), np.array([1.0, -times])
        self.program.row(columns, factors, upper=SLACK)

    def demand(self, wanted: Array) -> None:
        """Ask for absorption area in every octave that lacks some. [m²]"""
        for octave in np.flatnonzero(wanted > 0):
            gain = np.array([o.gain[octave] for o in self.options])
            self.program.row(self.counts, gain, lower=float(wanted[octave]))

    def afford(self, prices: Array, price: float) -> None:
        """Allow no more than a price."""
        columns = np.concatenate([self.counts, self.bought])
        self.program.row(columns, np.concatenate([prices, self.fixed]), upper=price + SLACK)

    def counts_of(self, found: Outcome) -> tuple[int, ...]:
        """Whole numbers of modules of an outcome."""
        assert found.values is not None
        return tuple(round(v) for v in found.values[self.counts].tolist())
