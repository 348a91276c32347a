"""Lengths of signal runs against formula and trade figures."""

from __future__ import annotations

import pytest

from wellheard.catalog.catalogue import Catalogue
from wellheard.electrics import reach


def test_a_balanced_line_of_300_metres_is_flat_to_26_kilohertz() -> None:
    # 1/(2π R C′ ℓ) with 200 Ω and 100 pF/m [L formula].
    assert reach.corner_frequency(300, source_resistance=200) == pytest.approx(26.5e3, abs=50)
    assert reach.longest_line(26526, source_resistance=200) == pytest.approx(300, abs=0.1)


def test_capacitance_and_source_shorten_it_alike() -> None:
    usual = reach.longest_line(20e3, source_resistance=200)
    assert reach.longest_line(20e3, source_resistance=400) == pytest.approx(usual / 2)
    assert reach.longest_line(20e3, source_resistance=200, capacitance=200e-12) == pytest.approx(
        usual / 2
    )


# RS-232 15 m at 19.2 kb/s, RS-485 1200 m at 100 kb/s [M/C]; 12 m at 10 Mb/s is the standard's other
# corner [M].
def test_serial_control_reaches_as_far_as_the_trade_says() -> None:
    assert reach.rs232_reach() == pytest.approx(15, abs=1)
    assert reach.rs485_reach(100e3) == pytest.approx(1200)
    assert reach.rs485_reach(9600) == pytest.approx(1200)
    assert reach.rs485_reach(10e6) == pytest.approx(12)


def test_channels_of_the_shipped_cables_are_no_longer_than_their_standards() -> None:
    # ANSI/TIA-568.2-D [L]: 90 m fixed and 10 m of cords; USB 2.0 [L]: 5 m; unbalanced 3 m, and
    # balanced microphone level 50 to 100 m [C].
    most = {"network": 100, "twisted-pair": 100, "usb": 5, "unbalanced": 3, "balanced": 100}
    for cable in Catalogue.shipped().cables:
        for kind in cable.carries:
            if kind in most:
                assert cable.max_length <= most[kind], cable.id
