"""Cables cost what their table says, jacket and all, and no lower jacket stands in for a higher."""

from __future__ import annotations

import pytest

from wellheard.catalog.catalogue import Catalogue
from wellheard.catalog.parts import Jacket
from wellheard.errors import CatalogError

SHIPPED = Catalogue.shipped()


@pytest.mark.parametrize(
    ("cable", "length", "jacket", "cost"),
    [
        # Added by hand from cables.csv: ends + (metre + surcharge) · length.
        ("twisted-pair", 12.5, None, 10 + 0.8 * 12.5),
        ("twisted-pair", 12.5, "general", 10 + 0.8 * 12.5),
        ("twisted-pair", 12.5, "riser", 10 + 1.1 * 12.5),
        ("twisted-pair", 12.5, "plenum", 10 + 1.7 * 12.5),
        ("loudspeaker-pair-14", 20.0, "plenum", 6 + 3.1 * 20),
        ("usb-cord-5", 3.0, None, 16),
        ("usb-cord-5", 3.0, "general", 16),
    ],
)
def test_a_run_costs_its_ends_its_metres_and_its_jacket(
    cable: str, length: float, jacket: Jacket | None, cost: float
) -> None:
    assert SHIPPED.cable(cable).cost(length, jacket) == pytest.approx(cost, abs=0.005)


def test_a_jacket_that_is_not_sold_has_no_price() -> None:
    with pytest.raises(CatalogError, match="usb-cord-2: no plenum jacket; it has: general"):
        SHIPPED.cable("usb-cord-2").cost(2.0, "plenum")


@pytest.mark.practice
@pytest.mark.parametrize(
    ("cable", "wanted", "found"),
    [
        # A higher rating may take the place of a lower, never the reverse (NEC articles on
        # communication cables, from memory; common practice).
        ("twisted-pair", "plenum", "plenum"),
        ("twisted-pair", "riser", "riser"),
        ("twisted-pair", "general", "general"),
        ("usb-cord-2", "general", "general"),
        ("usb-cord-2", "riser", None),
        ("usb-cord-2", "plenum", None),
    ],
)
def test_a_higher_jacket_stands_in_for_a_lower_never_the_reverse(
    cable: str, wanted: Jacket, found: Jacket | None
) -> None:
    assert SHIPPED.cable(cable).jacket_for(wanted) == found


def test_every_kind_of_port_has_a_cable() -> None:
    carried = {kind for cable in SHIPPED.cables for kind in cable.carries}
    ports = {kind for one in SHIPPED.products for port in one.ports for kind in port.kinds}
    assert ports <= carried


@pytest.mark.practice
def test_passive_usb_ends_at_five_metres_and_a_channel_at_a_hundred() -> None:
    # USB 2.0, high speed; ANSI/TIA-568.2-D: 90 m and 10 m of cords, both via open texts [L].
    assert SHIPPED.cable("usb-cord-5").max_length == 5
    assert SHIPPED.cable("twisted-pair").max_length == 100
