"""Heat, cooling and circuits against unit conversions and rows worked by hand."""

from __future__ import annotations

import pytest

from wellheard.electrics import heat


# 3.412142 BTU/h each watt [L]: as printed.
@pytest.mark.parametrize(
    ("watts", "printed"), [(100, "341.2"), (250, "853.0"), (500, "1706.1"), (1500, "5118")]
)
def test_heat_is_the_printed_one(watts: float, printed: str) -> None:
    half = 0.5 * 10.0 ** -len(printed.partition(".")[2])
    assert heat.btu_per_hour(watts) == pytest.approx(float(printed), abs=1.1 * half)


def test_a_british_thermal_unit_is_1055_joules() -> None:
    # 1055.05585262 J by the international table: 3600 s/h over that.
    assert pytest.approx(3600 / 1055.05585262, rel=1e-6) == heat.BTU_PER_HOUR


def test_a_ton_of_cooling_is_twelve_thousand() -> None:
    # 12 000 BTU/h = 3.517 kW [L].
    assert heat.tons_of_cooling(3517) == pytest.approx(1.0, abs=2e-4)
    assert heat.btu_per_hour(3517) == pytest.approx(12000, abs=2)


# 80 % of the branch circuit, NEC 210.20 [M].
@pytest.mark.parametrize(("amperes", "va"), [(15, 1440), (20, 1920)])
def test_a_circuit_carries_four_fifths_for_hours(amperes: float, va: float) -> None:
    assert heat.circuit_load(120, current=amperes) == pytest.approx(va)


@pytest.mark.practice
def test_an_amplifier_keeps_what_it_does_not_send_out() -> None:
    # Mains − audio at an eighth of its power [C]: 230 − 4·150/8 = 155 W.
    assert heat.amplifier_heat(230, audio=600 * heat.SPEECH_SHARE) == pytest.approx(155)
    assert heat.amplifier_heat(10, audio=15) == 0


@pytest.mark.practice
def test_a_switch_keeps_its_own_and_a_tenth_of_what_it_sends_out() -> None:
    assert heat.powering_heat(9, supplied=50) == pytest.approx(14)


def test_a_rack_unit_is_an_inch_and_three_quarters() -> None:
    # EIA-310 [M]: 44.45 mm; 482.6 mm wide.
    assert pytest.approx(1.75 * 0.0254) == heat.RACK_UNIT
    assert pytest.approx(19 * 0.0254) == heat.RACK_WIDTH


@pytest.mark.practice
def test_inlets_are_cool() -> None:
    # ≤ 27 °C recommended, ≤ 35 °C at the most [C, after ASHRAE TC 9.9].
    assert heat.INLET_C == (27, 35)


def test_air_carries_heat_away() -> None:
    # CFM = 3.16 · W / °F of handbooks: 500 W over 10 K (18 °F) are 87.8 ft³/min, 41.4 l/s [M].
    assert heat.airflow(500, rise=10) / 0.3048**3 * 60 == pytest.approx(3.16 * 500 / 18, rel=0.01)
