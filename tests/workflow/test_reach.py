"""Can this run be that long. Products are invented; limits of kinds of link are published."""

from __future__ import annotations

import pytest

from wellheard.catalog.catalogue import Catalogue
from wellheard.errors import CatalogError
from wellheard.workflow.reach import reach

SHIPPED = Catalogue.shipped()


# The (invented) head states 30 m, the common figure of such links [C]; the bar's USB 5 m [L].
@pytest.mark.parametrize(
    ("product", "length", "answer"),
    [
        ("ceiling-head-3", 30.0, "yes"),
        ("ceiling-head-3", 30.1, "with changes"),
        ("ceiling-head-3", 500.0, "no"),
        ("front-bar", 5.0, "yes"),
        ("front-bar", 5.1, "with changes"),
        ("ceiling-array-16", 100.0, "yes"),
        ("ceiling-array-16", 100.5, "no"),
    ],
)
def test_the_limit_itself_is_within_reach(product: str, length: float, answer: str) -> None:
    assert reach(product, length, SHIPPED).answer == answer


def test_an_extender_is_offered_with_what_it_reaches_and_costs() -> None:
    found = reach("ceiling-head-3", 40.0, SHIPPED)

    (repeater,) = [way for way in found.ways if "link-repeater-30" in way.text]
    extender = SHIPPED.product("link-repeater-30")
    # A repeater in the middle has a run of the link on either side.
    assert repeater.limit == 30.0 + 30.0
    assert repeater.price == extender.price


# 18 AWG loses 0.5 dB to 8 Ω at 11.3 m, looked up [L].
@pytest.mark.parametrize(("length", "gauge"), [(11.2, "18 AWG"), (11.4, "16 AWG"), (40, "12 AWG")])
def test_a_loudspeaker_line_names_the_thinnest_wire_that_will_do(length: float, gauge: str) -> None:
    found = reach("ceiling-6", length, SHIPPED)

    (low,) = [run for run in found.runs if run.kind == "low-impedance"]
    assert low.fits
    assert low.says.startswith(gauge)


def test_a_constant_voltage_line_reaches_farther_than_a_low_impedance_one() -> None:
    """Common practice, no source [C]; by Ohm's law V²/P is far above 8 Ω."""
    runs = {run.kind: run.limit for run in reach("ceiling-6", 10.0, SHIPPED).runs}

    assert runs["constant-voltage"] > 5 * runs["low-impedance"]


def test_a_cable_answers_for_itself() -> None:
    cord = next(c for c in SHIPPED.cables if c.length is not None)

    assert cord.length is not None
    assert reach(cord.id, cord.length, SHIPPED).answer == "yes"
    assert reach(cord.id, cord.length + 0.1, SHIPPED).answer != "yes"


def test_what_has_no_run_of_its_own_is_refused_with_what_to_ask_for() -> None:
    with pytest.raises(CatalogError, match=r"no product 'ceiling-hed-3'.*did you mean"):
        reach("ceiling-hed-3", 3.0, SHIPPED)
