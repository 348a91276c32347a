"""Levels, taps and copper against printed wire tables and rows worked by hand."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from wellheard.acoustics import line

# ASTM B258 by open tables of annealed copper at 20 °C [L]: AWG, mm, Ω/km, Ω/1000 ft.
WIRES = [
    (10, "2.588", "3.277", "0.999"),
    (12, "2.053", "5.211", "1.588"),
    (14, "1.628", "8.285", "2.525"),
    (16, "1.291", "13.174", "4.015"),
    (18, "1.024", "20.948", "6.385"),
    (20, "0.812", "33.308", "10.152"),
    (22, "0.644", "52.962", "16.143"),
    (23, "0.573", "66.784", "20.356"),
    (24, "0.511", "84.213", "25.668"),
    (26, "0.405", "133.904", "40.814"),
]

# Worked by hand [L]: AWG, length [m], load [Ω], loop [Ω], loss [dB], share in the wire [%].
LOSSES = [
    (18, 30, 8, "1.257", "1.267", "13.6"),
    (16, 30, 8, "0.790", "0.818", "9.0"),
    (14, 30, 8, "0.497", "0.524", "5.9"),
    (18, 50, 125.0, "2.095", "0.144", "1.6"),
    (16, 100, 83.3, "2.635", "0.270", "3.1"),
]

# V²/P, arithmetic [L].
TAPS = {
    25: {1: "625", 2: "312.5", 4: "156.3", 8: "78.1", 16: "39.1", 32: "19.5", 60: "10.4"},
    70.7: {1: "4998.5", 2: "2499", 4: "1250", 5: "1000", 8: "625", 16: "312", 60: "83.3"},
    100: {1: "10000", 5: "2000", 8: "1250", 16: "625", 32: "312.5", 60: "166.7"},
}


def half_last_digit(printed: str) -> float:
    return 0.5 * 10.0 ** -len(printed.partition(".")[2])


def near(printed: str, *, digits: float = 1.05) -> object:
    return pytest.approx(float(printed), abs=digits * half_last_digit(printed))


@pytest.mark.parametrize(("awg", "diameter", "per_km", "per_1000_ft"), WIRES)
def test_resistance_is_the_printed_one(
    awg: int, diameter: str, per_km: str, per_1000_ft: str
) -> None:
    found = 1000 * line.wire_resistance(awg)
    assert 1000 * line.wire_diameter(awg) == near(diameter)
    assert found == near(per_km)
    assert found * 0.3048 == near(per_1000_ft)


def test_warm_and_stranded_wire_resists_more() -> None:
    # × (1 + 0.00393 (θ − 20)), the temperature coefficient of annealed copper; stranded +2 %.
    cold = line.wire_resistance(18)
    assert line.wire_resistance(18, temperature_c=60.0) / cold == pytest.approx(1.1572)
    assert line.wire_resistance(18, stranded=True) / cold == pytest.approx(1.02)


@pytest.mark.parametrize(("awg", "length", "load", "loop", "loss", "share"), LOSSES)
def test_loss_of_a_loudspeaker_line_is_the_printed_one(
    awg: int, length: float, load: float, loop: str, loss: str, share: str
) -> None:
    assert 2 * length * line.wire_resistance(awg) == near(loop, digits=1.3)
    # The book rounds the loop's resistance before it divides.
    assert line.line_loss_db(length, awg=awg, load=load) == near(loss, digits=2)
    assert 100 * line.wire_share(length, awg=awg, load=load) == near(share)


# At 0.5 dB [L]: 18 AWG to 8 Ω 11.3 m; 16 AWG, 60 W on 70.7 V (83.3 Ω) 187 m.
@pytest.mark.parametrize(
    ("awg", "load", "metres", "within"), [(18, 8, 11.3, 0.05), (16, 70.7**2 / 60, 187, 0.5)]
)
def test_longest_line_loses_half_a_decibel(
    awg: int, load: float, metres: float, within: float
) -> None:
    longest = line.longest_line(awg=awg, load=load)
    assert longest == pytest.approx(metres, abs=within)
    assert line.line_loss_db(longest, awg=awg, load=load) == pytest.approx(0.5, abs=1e-9)


@pytest.mark.parametrize(
    ("voltage", "power", "printed"),
    [(v, p, text) for v, row in TAPS.items() for p, text in row.items()],
)
def test_a_tap_has_the_printed_impedance(voltage: float, power: float, printed: str) -> None:
    found = line.tap_impedance(power, voltage=voltage)
    # Whole ohms of the book are rounded from four digits.
    assert found == pytest.approx(float(printed), rel=2e-3)


def test_a_tap_for_70_volts_takes_twice_its_watts_on_100() -> None:
    # (100/70.7)² = 2.0 [L].
    assert line.tap_power(15, rated=70.7, voltage=100) == pytest.approx(30, rel=1e-3)
    assert line.tap_power(15, rated=100, voltage=70.7) == pytest.approx(7.5, rel=1e-3)


# L = S + 10 lg P − 20 lg r, worked by hand [L]: S [dB], P [W], r [m], L [dB].
@pytest.mark.parametrize(
    ("sensitivity", "power", "distance", "printed"),
    [(87, 1, 1.5, "83.48"), (90, 4, 1.8, "90.92"), (88, 8, 2.0, "91.01")],
)
def test_level_is_that_of_power_and_distance(
    sensitivity: float, power: float, distance: float, printed: str
) -> None:
    assert line.level_at(distance, sensitivity_db=sensitivity, power=power) == near(printed)


# P = 10^((L + c − S + 20 lg r)/10), worked by hand [L]: L, c, S [dB], r [m], P [W].
@pytest.mark.parametrize(
    ("level", "crest", "sensitivity", "distance", "printed"),
    [(70, 12, 88, 1.8, "0.814"), (75, 15, 87, 3.0, "18.0")],
)
def test_power_leaves_room_for_peaks(
    level: float, crest: float, sensitivity: float, distance: float, printed: str
) -> None:
    found = line.power_for(level, crest_db=crest, sensitivity_db=sensitivity, distance=distance)
    assert found == near(printed, digits=2)


@given(
    level=st.floats(40, 110),
    crest=st.floats(0, 20),
    sensitivity=st.floats(75, 110),
    distance=st.floats(0.2, 30),
)
def test_power_for_a_level_gives_that_level(
    level: float, crest: float, sensitivity: float, distance: float
) -> None:
    power = line.power_for(level, crest_db=crest, sensitivity_db=sensitivity, distance=distance)
    found = line.level_at(distance, sensitivity_db=sensitivity, power=power)
    assert found == pytest.approx(level + crest)


# 2.83 V is 1 W only in 8 Ω: 2 W, −3 dB in 4 Ω; −1.25 dB in 6 Ω [L].
@pytest.mark.parametrize(("impedance", "less"), [(8, "0.00"), (4, "3.01"), (6, "1.25")])
def test_sensitivity_at_a_voltage_is_not_that_at_a_watt(impedance: float, less: str) -> None:
    assert 90 - line.sensitivity_per_watt_db(90, impedance=impedance) == near(less)


@pytest.mark.practice
def test_an_amplifier_keeps_a_fifth_in_reserve() -> None:
    # Σ taps / 0.8, common practice, no source [C]: twelve taps of 8 W take 120 W.
    assert line.amplifier_rating([8.0] * 12) == pytest.approx(120.0)


def test_loads_side_by_side_add_their_conductances() -> None:
    # 8 Ω ∥ 8 Ω ∥ 4 Ω is 2 Ω, by hand; taps of 4 and 8 W on 100 V are 12 W together.
    assert line.parallel([8.0, 8.0, 4.0]) == pytest.approx(2.0)
    taps = [line.tap_impedance(p, voltage=100) for p in (4, 8)]
    assert line.parallel(taps) == pytest.approx(line.tap_impedance(12, voltage=100))
