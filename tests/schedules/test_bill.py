"""The bill, summed by hand to the cent from the shipped prices; and equal to placement's."""

from __future__ import annotations

import pytest

from tests.schedules.rooms import BASE, LINES, read
from wellheard.catalog.catalogue import Catalogue
from wellheard.room.document import Room
from wellheard.schedules.bill import LINE_KINDS, Bill, BillLine, bill, cents
from wellheard.schedules.cables import cable_schedule
from wellheard.workflow.prices import total

SHIPPED = Catalogue.shipped()


def billed(text: str = BASE, *changes: tuple[str, str]) -> Bill:
    return of(read(text, *changes))


def of(room: Room) -> Bill:
    return bill(room, SHIPPED, cable_schedule(room, SHIPPED))


def line(found: Bill, kind: str, name: str, colour: str = "") -> BillLine:
    (one,) = (
        each
        for each in found.lines
        if (each.kind, each.id) == (kind, name) and colour in ("", each.colour)
    )
    return one


def test_a_head_on_a_drop_and_a_bridge_sum_to_the_cent() -> None:
    found = billed()
    # Head 680, bridge 640.
    assert found.sum_of("device") == 680.00 + 640.00
    # Bridge over the tile 38; 0.3 m of hanging cable 8 + 9 × 0.3; strain relief 6; bond 12;
    # the rack's shelf 29. Nothing flush, nothing for a hole.
    assert found.sum_of("accessory") == pytest.approx(38 + 10.70 + 6 + 12 + 29)
    # 12.5 m at 0.80 + 0.90 for the plenum jacket; both ends 10; a cord 9.
    assert found.sum_of("cable") == pytest.approx(21.25 + 10 + 9)
    # Mounting 95 and 50. Of the cable, at 58 an hour: prepared 8 min (7.733 → 7.73), two ends of
    # 9 min (17.40), 5.3 + 0.45 m in the void at 1.5 min (8.3375 → 8.34), 2.35 m on the wall at
    # 4 min (9.087 → 9.09); the cord's two plugs at 2 min (3.867 → 3.87).
    assert found.sum_of("labour") == pytest.approx(95 + 50 + 7.73 + 17.40 + 8.34 + 9.09 + 3.87)
    # 1320 + 95.70 + 40.25 + 191.43
    assert found.total == 1647.38


def test_a_line_of_loudspeakers_sums_to_the_cent() -> None:
    found = billed(LINES)
    # Three loudspeakers at 110, the line amplifier 480, the processor 1350; the head is there.
    assert found.sum_of("device") == 3 * 110 + 480 + 1350 + 0
    # Three sets of rails 16 and of bonds 12; two of rack screws 4.
    assert found.sum_of("accessory") == 3 * 16 + 3 * 12 + 2 * 4
    # Twisted pair 32 ft = 9.7536 m at 1.70 = 16.581; ends 10. Microphone pair 3 ft = 0.9144 m at
    # 0.90 = 0.823; ends 16. Loudspeaker pair 24 + 21 + 20 = 65 ft = 19.812 m at 1.10 + 1.00 =
    # 41.605; three pairs of ends at 6.
    assert found.sum_of("cable") == pytest.approx(16.58 + 10 + 0.82 + 16 + 41.61 + 18)
    # One spare in ten of three loudspeakers, rounded up.
    assert found.sum_of("spare") == 110.00
    assert line(found, "labour", "mount-ceiling-4").amount == 3 * 70
    assert line(found, "labour", "terminate").amount == 87.00  # ten ends at 8.70
    assert line(found, "labour", "prepare").amount == 38.67  # five runs at 7.7333
    # Cable lies 0.15 m above the ceiling of 9 ft. In the void 15, 20, 10 and 11 ft along, and four
    # times 0.15 m up: 17.6688 m at 1.45 is 25.620; down the wall at the rack four times 7 ft and
    # 0.15 m: 9.1344 m at 3.8667 is 35.320.
    assert line(found, "labour", "pull-void").amount == 25.62
    assert line(found, "labour", "pull-wall").amount == 35.32
    # Mounting 210 + 60 + 150. 2160 + 92 + 103.01 + 606.61 + 110
    assert found.sum_of("labour") == pytest.approx(420 + 38.67 + 87 + 25.62 + 35.32)
    assert found.total == 3071.62
    assert found.total == pytest.approx(sum(found.sum_of(kind) for kind in LINE_KINDS))


@pytest.mark.parametrize("text", [BASE, LINES])
def test_devices_cost_what_placement_counts_for_them(text: str) -> None:
    room = read(text)
    found = of(room)
    mounting = sum(one.amount for one in found.lines if one.id.startswith("mount-"))
    counted = total(room, SHIPPED).amount
    assert counted is not None
    assert found.sum_of("device") + found.sum_of("accessory") + mounting == pytest.approx(counted)


@pytest.mark.parametrize("text", [BASE, LINES])
def test_every_amount_is_its_count_times_its_price(text: str) -> None:
    for one in billed(text).lines:
        assert abs(one.amount - one.count * one.unit_price) <= 0.005 + 1e-9


def test_a_half_cent_goes_up() -> None:
    # 5.3 × 1.45 is 7.685, though as floats a little less.
    assert cents(5.3 * 1.45) == 7.69


def test_what_is_owned_costs_nothing_and_needs_nothing() -> None:
    found = billed(LINES)
    head = line(found, "device", "ceiling-head-2")
    assert (head.amount, head.owned, head.where) == (0.0, True, ("m1",))
    assert "tile-bridge" not in {one.id for one in found.lines}
    assert not any(one.id == "mount-ceiling-head-2" for one in found.lines)


def test_colours_part_lines_and_the_wish_holds_where_a_product_comes_in_it() -> None:
    found = billed(LINES)
    assert line(found, "device", "ceiling-4", "black").count == 2
    assert line(found, "device", "ceiling-4", "white").where == ("n3",)
    assert line(found, "spare", "ceiling-4").colour == "black"
    array = (
        "product: ceiling-head-3, at: [2, 2, 2.4]",
        "product: ceiling-array-16, at: [2, 2, 2.7]",
    )
    other = billed(BASE, array, ("people:", "choices: {colour: black}\npeople:"))
    panel = line(other, "device", "ceiling-array-16")
    assert (panel.colour, panel.note) == ("white", "does not come in black")


@pytest.mark.parametrize(("share", "spares"), [("0", 0), ("0.1", 1), ("0.34", 2), ("1", 3)])
def test_spares_are_rounded_up(share: str, spares: int) -> None:
    # Of three: 0.3, 1.02 and 3.
    found = billed(LINES, ("loudspeaker: 0.1", f"loudspeaker: {share}"))
    assert sum(one.count for one in found.lines if one.kind == "spare") == spares


def test_the_longest_lead_time_counts_and_says_whose_it_is() -> None:
    # Loudspeakers one week, amplifier two, processor three; what is owned waits for nobody.
    found = billed(LINES)
    assert (found.lead_time_weeks, found.lead_time_of) == (3.0, ("processor-4",))


def test_another_currency_is_listed_and_not_summed() -> None:
    found = billed(BASE, ("space:", "project: {currency: USD}\nspace:"))
    assert (found.total, found.lines) == (None, ())
    assert {one.currency for one in found.others} == {"EUR"}
    assert len(found.others) == len(billed().lines)


def test_what_has_no_price_is_listed_with_its_reason() -> None:
    text = LINES[: LINES.index("  c04")]
    said = {one.what: one.why for one in billed(text).not_priced}
    assert said["cables of n2, n3"] == "no link of the document leads to them"
    assert "rack" in said
    assert billed(text).cables_known is False
    assert billed(LINES).cables_known
