"""The cable schedule: lengths, jackets in the region's words, sums to order."""

from __future__ import annotations

import pytest

from tests.schedules.rooms import BASE, LINES, read
from wellheard.catalog.catalogue import Catalogue
from wellheard.schedules.cables import CableRow, CableSchedule, cable_schedule

FOOT = 0.3048


def schedule(text: str = BASE, *changes: tuple[str, str]) -> CableSchedule:
    return cable_schedule(read(text, *changes), Catalogue.shipped())


def row(found: CableSchedule, name: str) -> CableRow:
    return next(one for one in found.rows if one.id == name)


def test_a_run_is_cut_to_the_next_half_metre() -> None:
    # 3.7 m along, 1.6 m across; 0.45 m up from the head and 2.35 m down to the rack, since cable
    # lies 0.15 m above a ceiling of 2.7 m; 3 m spare at the head and 1 m at the rack.
    found = row(schedule(), "c01")
    assert found.length == pytest.approx(3.7 + 1.6 + 0.45 + 2.35 + 4.0)
    assert found.cut_length == 12.5


def test_a_foot_room_cuts_to_whole_feet() -> None:
    # 31.2 ft are cut as 32 ft.
    assert row(schedule(LINES), "c01").cut_length == pytest.approx(32 * FOOT)


def test_a_cord_is_as_long_as_it_is_sold() -> None:
    found = row(schedule(), "to-computer")
    assert (found.is_cord, found.length, found.cut_length) == (True, 2.0, 2.0)


@pytest.mark.parametrize(
    ("region", "air", "jacket", "named", "assumed"),
    [
        # NEC 300.22: return air in the void asks for plenum cable; without it any will do.
        ("us", "true", "plenum", "CMP, CL2P or CL3P", False),
        ("us", "false", "general", "CM, CL2 or CL3", False),
        ("Canada", "true", "plenum", "FT6, or CMP", False),
        # Euroclasses after EN 13501-6; national rules choose, so plenum is an assumption.
        ("eu", "true", "plenum", "B2ca-s1,d1,a1", True),
        # What is not known counts as the strictest.
        ("unknown", "null", "plenum", "plenum", True),
    ],
)
def test_a_jacket_is_named_as_its_region_orders_it(
    region: str, air: str, jacket: str, named: str, assumed: bool
) -> None:
    found = row(
        schedule(
            BASE,
            ("space:", f"site: {{region: {region}}}\nspace:"),
            ("void_depth: 0.5", f"void_depth: 0.5, air_return: {air}"),
        ),
        "c01",
    )
    assert (found.jacket, found.jacket_name, found.jacket_assumed) == (jacket, named, assumed)


def test_a_cable_inside_the_rack_needs_no_better_jacket() -> None:
    assert row(schedule(LINES), "c02").jacket == "general"


def test_a_cord_that_has_no_jacket_for_the_void_says_so() -> None:
    found = row(
        schedule(
            BASE,
            (
                "cable: twisted-pair",
                "cable: network-cord-3, route: "
                "[[2, 2, 2.4], [2, 2, 2.85], [5.7, 0.4, 2.85], [5.7, 0.4, 0.5]]",
            ),
        ),
        "c01",
    )
    assert found.no_jacket


def test_a_line_between_loudspeakers_is_what_it_is_at_its_amplifier() -> None:
    # The amplifier feeds 70.7 and 100 V only; the loudspeakers take either kind.
    daisy = (
        ("from: amp.out, to: n2", "from: n1.in, to: n2"),
        ("from: amp.out, to: n3", "from: n2.in, to: n3"),
    )
    kinds = {one.id: one.kind for one in schedule(LINES, *daisy).rows}
    assert [kinds[name] for name in ("c03", "c04", "c05")] == ["constant-voltage"] * 3
    assert (kinds["c01"], kinds["c02"]) == ("twisted-pair", "balanced")


def test_sums_by_cable_and_jacket_are_those_of_the_cut_lengths() -> None:
    found = schedule(LINES)
    sums = {
        (one.cable.id, one.jacket): (one.runs, round(one.length / FOOT, 6)) for one in found.sums
    }
    assert sums == {
        ("twisted-pair", "plenum"): (1, 32.0),
        ("microphone-pair", "general"): (1, 3.0),
        # 24, 21 and 20 ft.
        ("loudspeaker-pair-16", "plenum"): (3, 65.0),
    }


@pytest.mark.practice
def test_a_tenth_more_is_ordered_for_offcuts_but_not_of_cords() -> None:
    # Common practice, no source [C].
    found = {one.cable.id: one for one in schedule().sums}
    assert found["twisted-pair"].with_reserve == pytest.approx(13.75)
    assert found["usb-cord-2"].with_reserve == 2.0


def test_what_is_not_chosen_or_not_known_is_not_priced() -> None:
    found = schedule(BASE, ("cable: twisted-pair", "locked: false"))
    assert row(found, "c01").unpriced == "no cable is chosen"
    assert not found.complete
    lost = schedule(BASE, ("product: bridge-2, equipment: rack", "product: bridge-2"))
    assert row(lost, "c01").unpriced == "its length is not known: mixer has no place"


def test_a_schedule_is_complete_when_every_device_is_linked() -> None:
    assert schedule().complete
    # Without c04 and c05 two loudspeakers hang on nothing.
    text = LINES[: LINES.index("  c04")]
    assert schedule(text).unlinked == ("n2", "n3")
    assert not schedule(text).complete
