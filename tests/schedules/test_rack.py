"""Racks by the customs of the trade, their heat by hand."""

from __future__ import annotations

import pytest

from tests.schedules.rooms import BASE, NETWORK, read
from wellheard.catalog.catalogue import Catalogue
from wellheard.schedules.rack import Rack, racks, slot_height

SHIPPED = Catalogue.shipped()


def rack(text: str = NETWORK, *changes: tuple[str, str]) -> Rack:
    (found,) = racks(read(text, *changes), SHIPPED)
    return found


@pytest.mark.practice
def test_heavy_devices_are_below_and_a_unit_is_free_above_what_is_hot() -> None:
    # Common practice, no source [C]. Amplifier 6.2 kg and 230 W; switch 4.1 kg with a fan;
    # processor 3.9 kg and 45 W; a USB bridge without a rack front, on a shelf.
    found = [(slot.from_u, slot.kind, slot.device) for slot in rack().slots]
    assert found == [
        (1, "device", "amp"),
        (2, "air", ""),
        (3, "device", "net"),
        (4, "air", ""),
        (5, "device", "mixer"),
        (6, "shelf", "bridge"),
    ]
    assert (rack().used_u, rack().free_u) == (6, 6)


def test_slots_do_not_overlap_and_leave_no_hole() -> None:
    for text in (BASE, NETWORK):
        at = 1
        for slot in rack(text).slots:
            assert slot.from_u == at
            at = slot.to_u + 1


def test_heat_is_what_stays_in_the_rack() -> None:
    # The switch sends 9.5 + 9.5 + 24 + 3.5 = 46.5 W out and loses a tenth of it besides its own
    # 32 W: 36.65. With amplifier 230, processor 45 and bridge 3.5: 315.15 W, times 3.412142.
    found = rack()
    assert found.heat_w == pytest.approx(315.15)
    assert found.heat_btu_h == pytest.approx(315.15 * 3.412142)
    # From the mains 230 + 45 + 32 + 1.1 × 46.5; the bridge takes its power from the switch.
    assert found.power_w == pytest.approx(230 + 45 + 32 + 51.15)
    assert found.weight_kg == pytest.approx(6.2 + 4.1 + 3.9 + 0.4)


def test_air_gives_way_before_devices_do() -> None:
    tight = rack(NETWORK, ("rack_units: 12", "rack_units: 4"))
    assert (tight.used_u, tight.free_u) == (4, 0)
    assert "ventilate" in tight.notes[0]
    full = rack(NETWORK, ("rack_units: 12", "rack_units: 3"))
    assert full.notes == ("4 U are needed, 3 U are free",)
    assert full.free_u == -1


def test_a_height_that_nobody_told_is_not_assessed() -> None:
    assert rack(BASE).free_u is None


@pytest.mark.parametrize(
    ("product", "kind", "units"),
    [
        ("processor-12", "device", 1),
        # 44 mm and the shelf's sheet are more than one unit of 44.45 mm (EIA-310).
        ("switch-8", "shelf", 2),
        ("bridge-2", "shelf", 1),
    ],
)
def test_what_has_no_rack_front_stands_on_a_shelf(product: str, kind: str, units: int) -> None:
    assert slot_height(SHIPPED.product(product)) == (kind, units)
