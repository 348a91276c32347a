"""What installer, buyer and IT department read, against the schedules summed by hand."""

from __future__ import annotations

import pytest

from tests.schedules.rooms import BASE, LINES, NETWORK, read
from wellheard.catalog.catalogue import Catalogue
from wellheard.dossier.model import Entries, Facts, Heading, Paragraph, Picture, Run, Section, Table
from wellheard.dossier.sections.bill import bill_section, contents, price_line
from wellheard.dossier.sections.cables import cables_section
from wellheard.dossier.sections.network import network_sections
from wellheard.dossier.sections.racks import rack_sections
from wellheard.schedules.network import CAUTIONS, DECISIONS
from wellheard.schedules.whole import Schedules, schedules

SHIPPED = Catalogue.shipped()
NBSP = "\u00a0"


def found(text: str = BASE, *changes: tuple[str, str]) -> Schedules:
    return schedules(read(text, *changes), SHIPPED)


def sections(text: str = BASE, *changes: tuple[str, str]) -> dict[str, Section]:
    whole = found(text, *changes)
    made = (
        cables_section(whole, SHIPPED),
        *rack_sections(whole),
        bill_section(whole),
        *network_sections(whole),
    )
    return {one.title: one for one in made}


def words(section: Section) -> str:
    said: list[str] = []
    for block in section.blocks:
        if isinstance(block, Heading):
            said += [block.text, block.aside]
        elif isinstance(block, Paragraph):
            said += [run.text for run in block.line]
        elif isinstance(block, Facts):
            said += [
                part for label, line in block.rows for part in (label, *(r.text for r in line))
            ]
        elif isinstance(block, Table):
            said += [cell.text for row in block.rows for cell in row if isinstance(cell, Run)]
        elif isinstance(block, Entries):
            said += [run.text for row in block.rows for run in (Run(row.lead), *row.body)]
        elif isinstance(block, Picture):
            said.append(block.alt)
    return "\n".join(said).replace(NBSP, " ")


def test_each_reader_has_a_section() -> None:
    assert {title: one.reader for title, one in sections(NETWORK).items()} == {
        "Cables": "installer",
        "Racks": "installer",
        "Bill": "installer",
        "Network": "it",
    }
    assert "Network" not in sections(BASE)


def test_the_installer_finds_every_cable_and_its_way() -> None:
    said = words(sections()["Cables"])
    for wanted in (
        "m1.link",
        "12.50",
        "Through the ceiling void, down the wall at mixer; 4.00 m of service loop.",
        "13.75",
        "Work at height",
    ):
        assert wanted in said


def test_lengths_are_in_the_units_of_the_document() -> None:
    said = words(sections(LINES)["Cables"])
    assert "32'-0\"" in said
    assert "65'-0\"" in said
    assert "9.75" not in said


def test_jackets_have_the_names_of_the_region() -> None:
    assert "CMP, CL2P or CL3P" in words(sections(LINES)["Cables"])
    assert "Dca-s2,d2,a2" in words(sections(NETWORK)["Cables"])


def test_a_cable_without_a_jacket_for_its_way_is_a_broken_entry() -> None:
    change = (
        "cable: twisted-pair",
        "cable: line-cord-3, route: [[2, 2, 2.4], [2, 2, 2.85], [5.7, 0.4, 2.85], [5.7, 0.4, 0.5]]",
    )
    section = sections(BASE, change)["Cables"]
    (entries,) = (block for block in section.blocks if isinstance(block, Entries))
    assert [row.state for row in entries.rows] == ["broken"]
    assert "metal conduit" in entries.rows[0].remedy[0].text


def test_without_links_the_installer_is_told_how_to_get_them_and_warned_all_the_same() -> None:
    text = BASE[: BASE.index("links:")]
    said = words(sections(text)["Cables"])
    assert "wellheard design" in said
    assert "wellheard wire" in said
    assert "Cautions" in said
    assert "Not priced" in words(sections(text)["Bill"])


def test_the_bill_is_printed_to_the_cent() -> None:
    said = words(sections()["Bill"])
    for amount in ("1 647.38", "1 320.00", "95.70", "40.25", "191.43", "10.70"):
        assert amount in said
    assert "not a quotation" in said
    assert "2 weeks, for “ceiling head, three capsules” and “bridge, two microphones" in said


def test_a_foot_room_is_billed_by_the_foot() -> None:
    bill = words(sections(LINES)["Bill"]).splitlines()
    at = next(i for i, one in enumerate(bill) if one.startswith("Loudspeaker pair, 16 gauge, CMP"))
    assert bill[at + 2 : at + 6] == ["65", "ft", "0.64", "41.61"]


def test_what_is_in_other_currencies_is_listed_with_them() -> None:
    said = words(sections(BASE, ("space:", "project: {currency: USD}\nspace:"))["Bill"])
    assert "In other currencies" in said
    assert "EUR 680.00" in said
    assert "Nothing here has a price in USD." in said


def test_the_customer_reads_the_total_where_every_cable_is_known() -> None:
    line = price_line(found(), SHIPPED)
    assert line[0].text.replace(NBSP, " ") == "EUR 1 647"
    assert (
        contents(found(), SHIPPED)
        == "one microphone, one processor, two cables, accessories and the work"
    )
    assert price_line(found(BASE[: BASE.index("links:")]), SHIPPED) == ()
    assert price_line(found(BASE, ("cable: twisted-pair", "locked: false")), SHIPPED) == ()


def test_the_rack_is_drawn_and_summed() -> None:
    said = words(sections(NETWORK)["Racks"])
    assert "Rack rack, seen from the front" in said
    assert "315 W, 1075 BTU/h stay in the rack." in said
    assert "6 up to the highest that is taken; 6 left over of 12 free ones." in said
    assert "ask, and enter rack_units" in words(sections(BASE)["Racks"])


def test_sockets_that_several_cables_share_are_named() -> None:
    said = words(sections(LINES)["Cables"])
    assert "Sockets that several cables share: c03, c04 and c05 at amp.out." in said
    assert "Sockets that" not in words(sections()["Cables"])


def test_a_pair_of_loudspeakers_takes_one_cable_each() -> None:
    pair = "amp: {kind: amplifier, product: amplifier-2x40, equipment: rack}\n"
    pair += "  n1: {kind: loudspeaker, product: display-pair, at: [0.1, 2, 1.4]}\nlinks:\n"
    pair += "  c05: {from: amp.out-1, to: n1.in, cable: loudspeaker-pair-16}\n"
    pair += "  c06: {from: amp.out-2, to: n1.in, cable: loudspeaker-pair-16}"
    bought = contents(found(BASE, ("links:", f"  {pair}")), SHIPPED)
    assert "one pair of loudspeakers" in bought
    said = words(sections(BASE, ("links:", f"  {pair}"))["Cables"])
    assert "c05 and c06 at n1.in, one to each of its two loudspeakers." in said


def test_a_foot_document_has_feet_pounds_and_fahrenheit_beside_what_is_metric() -> None:
    """By hand: 1.8 · 27 + 32 = 80.6, 1.8 · 35 + 32 = 95; 30 / 0.3048 = 98.4."""
    feet, metres = sections(LINES), sections(NETWORK)
    said = words(feet["Racks"])
    assert "stays under 27 °C (81 °F), and never comes over 35 °C (95 °F)" in said
    assert " lb), without rack" in said
    assert "a pull is 98 ft and two bends at most" in words(feet["Cables"])
    assert "a pull is 30 m and two bends at most" in words(metres["Cables"])
    assert "°F" not in words(metres["Racks"])


def test_the_it_department_reads_what_it_has_to_decide() -> None:
    said = words(sections(NETWORK)["Network"])
    for sentence in (*DECISIONS, *CAUTIONS):
        assert sentence in said
    assert "192.0.2.11" in said
    assert "none may be configured" in said
    assert "mixer leads the clock" in said
    assert "46.5 W over the network" in said


@pytest.mark.parametrize("text", [BASE, LINES, NETWORK])
def test_every_table_has_a_cell_for_each_column(text: str) -> None:
    for section in sections(text).values():
        for block in section.blocks:
            if isinstance(block, Table):
                assert {len(row) for row in block.rows} <= {len(block.columns)}
