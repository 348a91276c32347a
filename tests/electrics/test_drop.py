"""Voltage along wires against copper tables and roots worked by hand."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from wellheard.acoustics import line
from wellheard.electrics import drop
from wellheard.errors import InputError

REFERENCE = json.loads(
    (Path(__file__).parents[1] / "reference" / "reference_values.json").read_text("utf-8")
)
WIRES = REFERENCE["awg"]["rows"]
LINES = REFERENCE["check_cases"]["line_loss"]


@pytest.mark.parametrize("row", WIRES, ids=[str(row["awg"]) for row in WIRES])
def test_a_loop_is_twice_the_printed_wire(row: dict[str, float]) -> None:
    copper = line.wire_resistance(int(row["awg"]))
    loop = drop.powered_loop(1000, per_metre=copper, conductor="copper")
    assert loop == pytest.approx(2 * row["ohm_per_km_20C"], abs=0.002)
    assert loop * 0.3048 == pytest.approx(2 * row["ohm_per_1000ft_20C"], abs=0.002)
    assert 1000 * line.wire_diameter(int(row["awg"])) == pytest.approx(row["diameter_mm"], abs=6e-5)


@pytest.mark.parametrize("row", LINES, ids=[f"{r['awg']} to {r['load_ohm']}" for r in LINES])
def test_loops_and_losses_are_those_of_the_reference(row: dict[str, float]) -> None:
    copper = line.wire_resistance(int(row["awg"]))
    loop = drop.powered_loop(row["length_m"], per_metre=copper, conductor="copper")
    assert loop == pytest.approx(row["loop_ohm"], abs=0.0006)
    found = line.line_loss_db(row["length_m"], awg=int(row["awg"]), load=row["load_ohm"])
    assert found == pytest.approx(row["loss_db"], abs=0.001)


def test_clad_aluminium_carries_no_power() -> None:
    with pytest.raises(InputError, match="copper-clad aluminium carries no power"):
        drop.powered_loop(10, per_metre=0.084, conductor="copper-clad aluminium")


@pytest.mark.practice
def test_clad_aluminium_resists_more_than_half_as_much_again() -> None:
    # 1.55 to 1.6 × [C]; from conductivities: aluminium has 61 % of copper's, copper 10 to 15 % of
    # the wire's section: 1/(0.1 + 0.9 × 0.61) = 1.54 to 1/(0.61) = 1.64.
    found = drop.conductor_resistance(1.0, conductor="copper-clad aluminium")
    assert 1.55 <= found <= 1.6
    assert drop.conductor_resistance(1.0, conductor="copper") == 1.0


def test_drop_of_a_run_by_hand() -> None:
    # 24 V, 1 A, 30 m of 18 AWG: loop 1.257 Ω [L], 1.26 V; 60 °C makes it 1.157 as much.
    cold = drop.powered_loop(30, per_metre=line.wire_resistance(18), conductor="copper")
    warm = drop.powered_loop(
        30, per_metre=line.wire_resistance(18, temperature_c=60), conductor="copper"
    )
    assert drop.voltage_drop(1.0, resistance=cold) == pytest.approx(1.257, abs=6e-4)
    assert drop.voltage_drop(1.0, resistance=warm) == pytest.approx(1.257 * 1.1572, abs=7e-4)


def test_a_device_that_takes_its_power_anyway_pulls_the_voltage_down() -> None:
    # By hand: 24 V through 4 Ω, 20 W: U² − 24 U + 80 = 0, U = 20 V. At 36 W, 12 V; more collapses.
    assert drop.end_voltage(24, power=20, resistance=4) == pytest.approx(20)
    assert drop.end_voltage(24, power=36, resistance=4) == pytest.approx(12)
    assert drop.end_voltage(24, power=36.1, resistance=4) is None


@given(
    voltage=st.floats(12, 57),
    share=st.floats(0.55, 0.99),
    power=st.floats(0.5, 90),
    awg=st.sampled_from([18, 20, 22, 24]),
)
def test_the_longest_run_ends_at_the_least_voltage(
    voltage: float, share: float, power: float, awg: int
) -> None:
    per_metre, least = line.wire_resistance(awg), share * voltage
    length = drop.longest_run(voltage, power=power, least_voltage=least, per_metre=per_metre)
    loop = drop.powered_loop(length, per_metre=per_metre, conductor="copper")
    found = drop.end_voltage(voltage, power=power, resistance=loop)
    assert found == pytest.approx(least, rel=1e-6)
    assert drop.longest_run(
        voltage, power=power, least_voltage=least, per_metre=per_metre, wires=2
    ) == pytest.approx(2 * length)


def test_what_needs_more_than_the_supply_has_reaches_nowhere() -> None:
    assert drop.longest_run(12, power=5, least_voltage=15, per_metre=0.02) == 0
