"""An installed price is the sum of lines that can be read off the tables."""

from __future__ import annotations

import pytest

from wellheard.catalog.catalogue import Catalogue
from wellheard.catalog.prices import installed_price
from wellheard.errors import CatalogError

SHIPPED = Catalogue.shipped()


@pytest.mark.parametrize(
    ("product", "mounting", "drop", "fit", "lines"),
    [
        # Added by hand from accessories.csv and fittings.csv.
        (
            "ceiling-head-3",
            "ceiling",
            0.35,
            None,
            {
                "ceiling-head-3": 680,
                "tile-bridge": 38,
                "drop-cable": 8 + 9 * 0.35,
                "strain-relief": 6,
                "safety-bond": 12,
                "": 95,
            },
        ),
        (
            "ceiling-head-3",
            "ceiling",
            0.0,
            "hole",
            {
                "ceiling-head-3": 680,
                "trim-plate": 14,
                "flush-collar": 15,
                "safety-bond": 12,
                "": 95,
            },
        ),
        (
            "ceiling-array-16",
            "ceiling",
            0.0,
            "hard",
            {"ceiling-array-16": 2350, "surface-frame": 140, "safety-bond": 12, "": 180},
        ),
        (
            "table-boundary",
            "table",
            None,
            None,
            {"table-boundary": 310, "table-grommet": 12, "": 70},
        ),
        ("gooseneck", "lectern", None, None, {"gooseneck": 260, "damped-flange": 35, "": 50}),
        ("bridge-2", "rack", None, None, {"bridge-2": 640, "rack-shelf": 29, "": 50}),
        (
            "ceiling-6",
            "ceiling",
            None,
            None,
            {"ceiling-6": 145, "tile-rails": 16, "safety-bond": 12, "": 75},
        ),
    ],
)
def test_the_lines_are_those_of_the_mounting_and_add_up(
    product: str, mounting: str, drop: float | None, fit: str | None, lines: dict[str, float]
) -> None:
    price = SHIPPED.installed_price(product, mounting, drop, fit=fit)  # type: ignore[arg-type]
    assert {part.id: part.amount for part in price.parts} == pytest.approx(lines)
    assert price.amount == pytest.approx(sum(lines.values()), abs=0.005)
    assert price.currency == "EUR"


def test_a_longer_drop_costs_its_metres_and_nothing_else() -> None:
    short = SHIPPED.installed_price("ceiling-head-6", "ceiling", 0.3).amount
    long = SHIPPED.installed_price("ceiling-head-6", "ceiling", 1.3).amount
    assert long - short == pytest.approx(9.0)


def test_every_mounting_of_every_product_has_a_price() -> None:
    for product in SHIPPED.products:
        for mounting in product.mountings:
            price = SHIPPED.installed_price(product, mounting)
            assert price.amount >= product.price


@pytest.mark.parametrize(
    ("product", "mounting", "drop", "fit", "message"),
    [
        ("gooseneck", "ceiling", None, None, "no mounting 'ceiling'; it has: lectern, table"),
        ("gooseneck", "table", 0.3, None, r"a drop of 0\.3 m on 'table'"),
        ("ceiling-head-3", "ceiling", -0.1, None, "a drop is 0 or more"),
        ("ceiling-array-16", "ceiling", 0.0, "open", "no fit 'open'; it has: tile, hard"),
        ("front-bar", "front", None, "tile", "no fit 'tile'; it has: none"),
    ],
)
def test_what_cannot_be_mounted_has_no_price(
    product: str, mounting: str, drop: float | None, fit: str | None, message: str
) -> None:
    with pytest.raises(CatalogError, match=message):
        SHIPPED.installed_price(product, mounting, drop, fit=fit)  # type: ignore[arg-type]


def test_an_accessory_that_is_not_there_is_not_left_out_of_the_sum() -> None:
    with pytest.raises(CatalogError, match="accessory 'table-grommet' is not in the catalogue"):
        installed_price(SHIPPED.product("table-boundary"), "table", accessories={})
