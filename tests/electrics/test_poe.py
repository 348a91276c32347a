"""Power over twisted pair against the figures of the standard as open tables print them."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from wellheard.acoustics.line import wire_resistance
from wellheard.catalog.power import power_classes
from wellheard.electrics import poe

REFERENCE = json.loads(
    (Path(__file__).parents[1] / "reference" / "reference_values.json").read_text("utf-8")
)
ROWS = REFERENCE["poe"]["rows"]

# IEEE 802.3af, at and bt by open tables [L], arithmetic of 100 m: W at the port, least V, Ω of the
# loop, A, W lost in the cable, W at the device.
PRINTED = [
    (15.4, 44, 20.0, "0.350", "2.45", "12.95"),
    (30, 50, 12.5, "0.600", "4.50", "25.5"),
    (60, 50, 6.25, "1.200", "9.00", "51.0"),
    (90, 52, 6.25, "1.731", "18.72", "71.3"),
]


def near(printed: str) -> object:
    return pytest.approx(float(printed), abs=0.55 * 10.0 ** -len(printed.partition(".")[2]))


@pytest.mark.parametrize(("port", "volts", "ohms", "amperes", "lost", "left"), PRINTED)
def test_every_type_leaves_what_is_printed(
    port: float, volts: float, ohms: float, amperes: str, lost: str, left: str
) -> None:
    assert poe.current(port, voltage=volts) == near(amperes)
    assert poe.cable_loss(port, voltage=volts, resistance=ohms) == near(lost)
    assert poe.device_power(port, voltage=volts, resistance=ohms) == near(left)


@pytest.mark.parametrize("row", ROWS, ids=[row["name"] for row in ROWS])
def test_types_are_those_of_the_reference(row: dict[str, float]) -> None:
    left = poe.device_power(row["pse_w"], voltage=row["v_min"], resistance=row["r_ohm"])
    assert left == pytest.approx(row["pd_w"], abs=0.05)
    back = poe.port_power(left, voltage=row["v_min"], resistance=row["r_ohm"])
    assert back == pytest.approx(row["pse_w"])


# 802.3bt: class 5 and 7 at 50 and 52 V through 6.25 Ω, by hand: 45 − 0.81·6.25 = 39.94,
# 75 − 2.0802·6.25 = 62.0.
@pytest.mark.parametrize(("number", "volts"), [(5, 50), (6, 50), (7, 52), (8, 52)])
def test_classes_over_four_pairs_follow_from_the_loop(number: int, volts: float) -> None:
    one = power_classes()[number]
    left = poe.device_power(one.supplied_w, voltage=volts, resistance=6.25)
    assert left == pytest.approx(one.device_w, abs=0.07)


def test_loss_grows_with_length() -> None:
    # Linear in the loop: half of 100 m loses half.
    whole = poe.cable_loss(30, voltage=50, resistance=12.5)
    assert poe.cable_loss(30, voltage=50, resistance=12.5 / 2) == pytest.approx(whole / 2)


def test_loop_of_a_pair_is_that_of_one_wire_and_four_pairs_halve_it() -> None:
    # By hand: two wires side by side there, two back: R/2 + R/2 = R; with twice as many R/2.
    assert poe.loop_resistance(100, per_metre=0.1, pairs=2) == pytest.approx(10.0)
    assert poe.loop_resistance(100, per_metre=0.1, pairs=4) == pytest.approx(5.0)


@pytest.mark.parametrize(("awg", "temperature_c"), [(24, 60), (23, 60), (22, 60), (24, 20)])
def test_copper_of_a_hundred_metres_keeps_the_loop_of_the_standard(
    awg: int, temperature_c: float
) -> None:
    # The standard's channel of 12.5 Ω: real cable of 24 AWG and thicker lies below it even warm
    # [L arithmetic: 84.2 Ω/km × 1.157 = 97.4 Ω/km].
    copper = wire_resistance(awg, temperature_c=temperature_c)
    assert poe.loop_resistance(100, per_metre=copper, pairs=2) < 12.5


def test_clad_wire_of_24_gauge_exceeds_it() -> None:
    # × 1.55 and more, common practice [C]: 84.2 × 1.55 = 130.5 Ω/km.
    assert poe.loop_resistance(100, per_metre=1.55 * wire_resistance(24), pairs=2) > 12.5


def test_more_than_the_line_can_bring_is_refused() -> None:
    # V²/4R of 50 V and 12.5 Ω is 50 W, by hand.
    with pytest.raises(ValueError, match=r"at most 50\.0 W arrive"):
        poe.port_power(50.1, voltage=50, resistance=12.5)
    assert poe.port_power(50, voltage=50, resistance=12.5) == pytest.approx(100)


@given(power=st.floats(1, 90), voltage=st.floats(44, 57), resistance=st.floats(0.01, 6.0))
def test_what_a_port_gives_leaves_what_the_device_takes(
    power: float, voltage: float, resistance: float
) -> None:
    left = poe.device_power(power, voltage=voltage, resistance=resistance)
    found = poe.port_power(left, voltage=voltage, resistance=resistance)
    assert found == pytest.approx(power, rel=1e-6)


@pytest.mark.practice
def test_a_budget_keeps_a_fifth_over_the_sum() -> None:
    # Σ PD × 1.2 within the budget of the switch [C]: by hand 4 × 12.95 = 51.8, × 1.2 = 62.16 W.
    four = poe.budget([12.95] * 4, has=65)
    assert four.drawn == pytest.approx(51.8)
    assert four.wanted == pytest.approx(62.16)
    assert four.enough
    assert four.spare == pytest.approx(2.84)
    five = poe.budget([12.95] * 5, has=65)
    assert not five.enough
    assert five.spare == pytest.approx(65 - 77.7)


def test_a_budget_that_is_just_met_is_enough() -> None:
    assert poe.budget([10.0, 10.0, 10.0], has=36.0).enough
    assert not poe.budget([10.0, 10.0, 10.1], has=36.0).enough
