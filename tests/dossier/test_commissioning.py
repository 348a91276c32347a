"""Test plan and acceptance sheet: order, cautions, what was predicted, what is left to fill in."""

from __future__ import annotations

from collections.abc import Iterable

import pytest

from tests.dossier.test_way_back import DOCUMENT
from wellheard.catalog.catalogue import Catalogue
from wellheard.dossier import Identity
from wellheard.dossier.model import (
    Blank,
    Block,
    Entries,
    Facts,
    Heading,
    Paragraph,
    Run,
    Table,
    Tick,
)
from wellheard.dossier.planned import Result, keys
from wellheard.dossier.sections.acceptance import (
    Acceptance,
    Instrument,
    Signature,
    Snag,
    acceptance_section,
)
from wellheard.dossier.sections.testplan import CAUTIONS, plan_section, steps
from wellheard.predict import ledger
from wellheard.predict.evidence import Evidence
from wellheard.room.document import Room
from wellheard.schedules.settings import settings_of

ORDER = (
    "Power and polarity",
    "Noise floor",
    "Level per microphone",
    "Loudspeaker coverage",
    "Reference routing",
    "Echo canceller",
    "Automatic mixer",
    "Automatic gain",
    "Noise reduction",
    "Far-end call with a person who judges",
    "Double talk",
    "Record everything",
)
"""Common practice of the trade, no source [C]."""


@pytest.fixture(scope="module")
def sounding() -> Evidence:
    return ledger.predict(Room.model_validate(DOCUMENT), Catalogue.shipped())


def texts(blocks: Iterable[Block]) -> str:
    said: list[str] = []
    for block in blocks:
        if isinstance(block, Heading):
            said += [block.text, block.aside]
        elif isinstance(block, Paragraph):
            said += [run.text for run in block.line]
        elif isinstance(block, Facts):
            said += [p for label, line in block.rows for p in (label, *(r.text for r in line))]
        elif isinstance(block, Table):
            said += [block.title, *(column.head for column in block.columns)]
            said += [cell.text for row in block.rows for cell in row if isinstance(cell, Run)]
        elif isinstance(block, Entries):
            said += [text for row in block.rows for text in (row.lead, *(r.text for r in row.body))]
    return "\n".join(said).replace("\u00a0", " ")


def tables(blocks: Iterable[Block]) -> list[Table]:
    return [block for block in blocks if isinstance(block, Table)]


def test_the_steps_come_in_the_order_of_practice(sounding: Evidence) -> None:
    found = [step.title for step in steps(sounding)]
    assert len(found) == len(ORDER)
    assert all(title.startswith(word) for title, word in zip(found, ORDER, strict=True)), found


def test_loud_signals_hearing_people_and_heights_are_cautioned_before_the_first_step(
    sounding: Evidence,
) -> None:
    said = texts(plan_section(sounding).blocks)
    assert {"Loud signals", "Hearing", "People in the room", "Work at height"} <= {
        label for label, _ in CAUTIONS
    }
    for label, text in CAUTIONS:
        assert said.index(label) < said.index("1 Power and polarity")
        assert text.replace("\u00a0", " ") in said


def test_what_has_to_be_alike_is_stated_from_the_document(sounding: Evidence) -> None:
    """Normal effort is 59.5 dBA at 1 m: ANSI S3.5-1997, table 1, summed by hand with A weights."""
    said = texts(plan_section(sounding).blocks)
    for wanted in ("Test source", "Occupancy", "Climate", "Processing", "59.5 dBA", "70 % of the"):
        assert wanted in said


def test_every_place_and_every_microphone_has_what_was_predicted_of_it(sounding: Evidence) -> None:
    found = set(keys(steps(sounding)))
    for row in sounding.outbound:
        assert ("level", "sti", row.talker.id) in found
    assert sounding.playback is not None
    for heard in sounding.playback.rows:
        assert {
            ("coverage", "sti", heard.talker.id),
            ("coverage", "level", heard.talker.id),
        } <= found
    for one in sounding.microphones:
        for step, quantity in (
            ("noise", "dba"),
            ("level", "capsule"),
            ("level", "capsule-s-n"),
            ("canceller", "erl"),
            ("canceller", "erle"),
        ):
            assert (step, quantity, one.id) in found
    octaves = ("125", "250", "500", "1k", "2k", "4k", "8k")
    assert [place for step, quantity, place in keys(steps(sounding)) if quantity == "t20"] == list(
        octaves
    )
    assert {place for step, _, place in found if step == "call"} == {
        "out",
        "in",
        "lift",
        "call",
        "lips",
    }


def test_every_table_is_as_wide_as_its_page(sounding: Evidence) -> None:
    """Letter paper is 5.9 mm wider than A4: one column takes what the others leave."""
    found = tables(plan_section(sounding).blocks)
    assert found
    for table in found:
        assert [column.width for column in table.columns].count(0) >= 1, table.title


def test_no_cell_has_a_key_twice(sounding: Evidence) -> None:
    found = keys(steps(sounding))
    assert len(set(found)) == len(found)


def test_a_predicted_value_has_its_range_and_its_promise(sounding: Evidence) -> None:
    said = texts(plan_section(sounding).blocks)
    row = sounding.outbound[0]
    assert f"{row.sti.value:.2f} ({row.sti.low:.2f}–{row.sti.high:.2f})" in said
    assert "≥ 0.62 promised" in said
    assert "65–75 dBA promised" in said


def test_what_is_not_predicted_is_a_dash_with_its_reason(evidence: Evidence) -> None:
    said = texts(plan_section(evidence).blocks)
    assert "– No loudspeaker is placed, so that nothing returns as echo." in said
    assert "– The document has no leveller." in said


def test_every_cell_is_empty_until_something_was_measured(sounding: Evidence) -> None:
    cells = [
        cell
        for table in tables(plan_section(sounding).blocks)
        for row in table.rows
        for cell in row
    ]
    blanks = sum(isinstance(cell, Blank) for cell in cells)
    assert blanks >= len(keys(steps(sounding)))
    assert all(cell.passed is None for cell in cells if isinstance(cell, Tick))


def test_what_was_measured_stands_in_its_cell_with_a_tick_or_a_cross(sounding: Evidence) -> None:
    first, second = (row.talker.id for row in sounding.outbound[:2])
    results = {
        ("coverage", "level", first): Result("69.1", passed=True),
        ("coverage", "sti", first): Result("0.71", passed=True),
        ("coverage", "level", second): Result("63.0", passed=False),
    }
    rows = [
        row
        for table in tables(plan_section(sounding, results=results).blocks)
        if table.title == "At each place"
        for row in table.rows
    ]
    assert Run("69.1", "strong") in rows[0]
    assert rows[0][-1] == Tick(True)
    assert rows[1][-1] == Tick(False)
    assert rows[2][-1] == Tick(None)


def test_a_row_half_measured_is_not_passed(sounding: Evidence) -> None:
    first = sounding.outbound[0].talker.id
    results = {("coverage", "level", first): Result("69.1", passed=True)}
    (table,) = [
        table
        for table in tables(plan_section(sounding, results=results).blocks)
        if table.title == "At each place"
    ]
    assert table.rows[0][-1] == Tick(None)


def test_the_acceptance_sheet_asks_for_what_was_measured_with_and_loaded(
    sounding: Evidence, identity: Identity
) -> None:
    """What an acceptance record holds: common practice of the trade, no source [C]."""
    section = acceptance_section(sounding, identity)
    said = texts(section.blocks)
    for wanted in (
        "Sound level meter",
        "Calibrator",
        "Serial number",
        "Calibrated on",
        "Found",
        settings_of(sounding.room).short,
        identity.document_hash,
        f"Wellheard {identity.tool_version}",
        "Left to do",
        "Not measured, and not assessed",
        "Signature",
        "Name",
        "Date",
        "Privacy",
    ):
        assert wanted in said, wanted
    devices = next(t for t in tables(section.blocks) if t.columns[0].head == "Device")
    assert [row[0] for row in devices.rows] == [Run(n, "strong") for n in sounding.room.devices]


def test_what_was_filled_in_is_printed_and_the_rest_stays_empty(
    sounding: Evidence, identity: Identity
) -> None:
    filled = Acceptance(
        instruments=(Instrument("Sound level meter", "1234", "2026-01-07"),),
        firmware=(("m1", "2.4"),),
        snags=(Snag("Tile over m1 is cracked", "ceiling"),),
        signatures=(Signature("Measured by", "A. Tern", "2026-02-12"),),
        measured_on="2026-02-12",
        not_measured=("Noise at night.",),
    )
    section = acceptance_section(sounding, identity, filled)
    said = texts(section.blocks)
    for wanted in ("1234", "2.4", "Tile over m1 is cracked", "A. Tern", "Noise at night."):
        assert wanted in said
    snags = next(t for t in tables(section.blocks) if t.columns[0].head == "No.")
    assert len(snags.rows) > 1
    assert isinstance(snags.rows[1][1], Blank)
