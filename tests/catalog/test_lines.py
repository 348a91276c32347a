"""How far a copper pair and a link run, against printed wire tables and open limits."""

from __future__ import annotations

import pytest

from wellheard.catalog import lines
from wellheard.catalog.products import PortKind, Signal

# ASTM B258 by open tables of annealed copper at 20 °C: AWG, Ω/km, Ω/1000 ft, both looked up [L].
WIRES = [
    (10, "3.277", "0.999"),
    (12, "5.211", "1.588"),
    (14, "8.285", "2.525"),
    (16, "13.174", "4.015"),
    (18, "20.948", "6.385"),
    (20, "33.308", "10.152"),
    (22, "52.962", "16.143"),
    (23, "66.784", "20.356"),
    (24, "84.213", "25.668"),
    (26, "133.904", "40.814"),
]

# A handbook's worked rows [L]: AWG, length [m], load [Ω], loss [dB].
LOSSES = [
    (18, 30, 8, "1.267"),
    (16, 30, 8, "0.818"),
    (14, 30, 8, "0.524"),
    (18, 50, 125.0, "0.144"),
    (16, 100, 83.3, "0.270"),
]


def half_last_digit(printed: str) -> float:
    return 0.5 * 10.0 ** -len(printed.partition(".")[2])


@pytest.mark.parametrize(("awg", "per_km", "per_1000_ft"), WIRES)
def test_resistance_is_the_printed_one(awg: int, per_km: str, per_1000_ft: str) -> None:
    found = 1000 * lines.wire_resistance(awg)

    assert found == pytest.approx(float(per_km), abs=1.05 * half_last_digit(per_km))
    assert found * 0.3048 == pytest.approx(
        float(per_1000_ft), abs=1.05 * half_last_digit(per_1000_ft)
    )


@pytest.mark.parametrize(("awg", "length", "load", "printed"), LOSSES)
def test_loss_of_a_loudspeaker_line_is_the_printed_one(
    awg: int, length: float, load: float, printed: str
) -> None:
    found = lines.line_loss_db(length, awg=awg, load=load)

    # The book rounds the loop's resistance before it divides.
    assert found == pytest.approx(float(printed), abs=2 * half_last_digit(printed))


# At 0.5 dB, looked up [L]: 18 AWG to 8 Ω 11.3 m; 16 AWG, 60 W on 70.7 V (83.3 Ω) 187 m.
@pytest.mark.parametrize(
    ("awg", "load", "metres", "within"), [(18, 8, 11.3, 0.05), (16, 83.3, 187, 0.5)]
)
def test_longest_line_loses_half_a_decibel(
    awg: int, load: float, metres: float, within: float
) -> None:
    longest = lines.longest_line(awg=awg, load=load)

    assert longest == pytest.approx(metres, abs=within)
    assert lines.line_loss_db(longest, awg=awg, load=load) == pytest.approx(0.5, abs=1e-9)


def test_a_70_volt_tap_takes_the_printed_impedance() -> None:
    """Tap impedance V²/P: 8 W at 70.7 V is 625 Ω, looked up [L]; the loss follows from it."""
    assert lines.line_loss_db(100, awg=18, load=70.7**2 / 8) == pytest.approx(
        lines.line_loss_db(100, awg=18, load=625), rel=1e-3
    )


# USB 2.0 passive 5 m [L]; twisted-pair channel 90 + 10 m, ANSI/TIA-568.2-D [L]; unbalanced 3 m [C].
@pytest.mark.parametrize(
    ("kind", "signal", "metres"),
    [
        ("usb", "audio", 5),
        ("network", "audio", 100),
        ("network", "data", 100),
        ("unbalanced", "line", 3),
    ],
)
def test_usual_limit_of_a_link(kind: PortKind, signal: Signal, metres: float) -> None:
    found = lines.link_limit(kind, signal)

    assert found is not None
    assert found.length == metres
    assert found.source
    assert found.trust in "LMC"


def test_a_loudspeaker_line_has_no_limit_but_its_loss() -> None:
    assert lines.link_limit("low-impedance", "loudspeaker") is None
