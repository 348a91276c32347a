"""The cheapest modules of whole rooms against ``milp`` of scipy, asked in another way.

Here every number of modules of every option is a choice of its own, yes or no, of which a bay takes
one at most; the program has counts with an upper bound. Both are solved by HiGHS, so it is the
rows that are compared, on rooms with too many answers to count.
"""

from __future__ import annotations

import numpy as np
import pytest
from scipy.optimize import Bounds, LinearConstraint, milp
from scipy.sparse import coo_array

from tests.treatment.rooms import random_room
from wellheard.catalog.catalogue import Catalogue
from wellheard.predict.surfaces import surfaces
from wellheard.treatment.program import added, cheapest, most, price_of
from wellheard.treatment.solve import realised, site
from wellheard.treatment.task import Option

SHIPPED = Catalogue.shipped()


def _least(options: tuple[Option, ...], wanted: np.ndarray) -> int:
    """Price of the cheapest choice, by one yes or no for each count of each option."""
    each = [(i, n) for i, one in enumerate(options) for n in range(1, one.most + 1)]
    products = sorted({one.product.id for one in options})
    width = len(each) + len(products)
    cost = np.zeros(width)
    rows: list[int] = []
    columns: list[int] = []
    factors: list[float] = []
    lower: list[float] = []
    upper: list[float] = []

    def row(terms: list[tuple[int, float]], low: float, high: float) -> None:
        for column, factor in terms:
            rows.append(len(lower))
            columns.append(column)
            factors.append(factor)
        lower.append(low)
        upper.append(high)

    for k, (i, n) in enumerate(each):
        cost[k] = n * options[i].price
        bought = len(each) + products.index(options[i].product.id)
        row([(k, 1.0), (bought, -1.0)], -np.inf, 0.0)
    for j, name in enumerate(products):
        fixed = next(one.product.fixed for one in options if one.product.id == name)
        cost[len(each) + j] = round(fixed)
    for bay in {one.bay for one in options}:
        row([(k, 1.0) for k, (i, _) in enumerate(each) if options[i].bay == bay], -np.inf, 1.0)
    for octave in np.flatnonzero(wanted > 0):
        gains = [(k, n * options[i].gain[octave]) for k, (i, n) in enumerate(each)]
        row(gains, float(wanted[octave]), np.inf)
    matrix = coo_array((factors, (rows, columns)), shape=(len(lower), width))
    found = milp(
        cost,
        constraints=LinearConstraint(matrix, lower, upper),
        integrality=np.ones(width),
        bounds=Bounds(0, 1),
        options={"mip_rel_gap": 0.0},
    )
    assert found.success
    return round(found.fun)


@pytest.mark.parametrize("seed", range(5))
def test_no_other_program_finds_cheaper_modules_for_a_room(seed: int) -> None:
    place = site(random_room(seed), SHIPPED)
    bays = {one.bay for one in place.options if one.most <= 30}
    some = sorted(bays)[:4]
    options = tuple(one for one in place.options if one.bay in some)
    wanted = float(np.random.default_rng(seed).uniform(0.2, 0.7)) * most(options)
    found = cheapest(place.bays, options, wanted)
    assert found.status == "optimal"
    assert np.all(added(options, found.counts) >= wanted - 1e-6)
    assert price_of(options, found.counts) == found.price
    assert found.price == _least(options, wanted)


@pytest.mark.parametrize("seed", range(5))
def test_what_modules_add_is_what_the_surfaces_of_the_laid_room_absorb(seed: int) -> None:
    """Areas times coefficients, summed over the surfaces of the document before and after."""
    place = site(random_room(seed), SHIPPED)
    counts = cheapest(place.bays, place.options, 0.4 * most(place.options)).counts
    _, after, _ = realised(place, counts)
    sums = [
        sum(one.area * np.minimum(one.absorption, 0.99) for one in surfaces(room, SHIPPED))
        for room in (place.room, after)
    ]
    assert np.any(counts)
    # A document rounds lengths to a tenth of a millimetre.
    assert sums[1] - sums[0] == pytest.approx(added(place.options, counts), rel=1e-3, abs=5e-3)
