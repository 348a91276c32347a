"""The page on a treatment, against predictions of both rooms and prices added by hand."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import pytest

from wellheard.dossier.model import Heading, Mark, Paragraph, Run, Section, Table
from wellheard.dossier.sections.treatment import treatment_section
from wellheard.predict.parts import PartEvidence
from wellheard.treatment.solve import untreated
from wellheard.workflow.judging import Judged, judge
from wellheard.workflow.load import Loaded, load_text
from wellheard.workflow.treating import before_treatment

PATCHES = """\
      panels: {wall: south, from: 1.2, to: 4.8, bottom: 0.6, top: 1.8, finish: wall-panel-100}
      more: {wall: west, from: 1.2, to: 2.4, bottom: 1.2, top: 1.8, finish: wall-panel-100}
      raft:
        surface: ceiling
        outline: [[1, 1], [3.4, 1], [3.4, 2.2], [1, 2.2]]
        finish: ceiling-raft-40
"""
ROOM = f"""\
wellheard: 1
title: Plain Room  # invented
space:
  outline: [[0, 0], [6.4, 0], [6.4, 4.6], [0, 4.6]]
  walls: [south, east, north, west]
  height: 2.9
  ceiling: {{kind: hard}}
  finishes:
    floor: carpet-tile
    ceiling: plasterboard
    walls: plasterboard
    patches:
      door: {{wall: east, from: 0.5, to: 1.4, top: 2.1, finish: wood-door}}
{PATCHES}people: {{seats: {{a: {{at: [2, 2], facing: 0}}, b: {{at: [4, 2.6], facing: 180}}}}}}
noise: {{background: {{nc: 25}}}}
devices:
  m1: {{kind: microphone, product: ceiling-head-3, at: [3, 2.3, 2.8]}}
  l1: {{kind: loudspeaker, product: wall-5-active, at: [0.1, 2.3, 2.1]}}
"""
BARE = ROOM.replace(PATCHES, "")
NBSP = "\u00a0"


@cache
def loaded(text: str) -> Loaded:
    return load_text(text, "plain.room.yaml")


@cache
def judged(text: str) -> Judged:
    return judge(loaded(text).room, loaded(text).catalogue, assumptions=False)


def section(text: str) -> Section:
    found = judged(text)
    before = before_treatment(found)
    assert before is not None
    parts = tuple(PartEvidence(one.part, one.evidence) for one in found.parts)
    return treatment_section(found.evidence, before, parts)


def table(made: Section, heading: str) -> list[list[str]]:
    """The table under a heading, as text."""
    at = next(i for i, b in enumerate(made.blocks) if isinstance(b, Heading) and b.text == heading)
    block = made.blocks[at + 1]
    assert isinstance(block, Table)
    return [
        [c.text if isinstance(c, Run) else c.state if isinstance(c, Mark) else "" for c in row]
        for row in block.rows
    ]


def test_before_is_the_document_without_what_was_bought() -> None:
    was, now = judged(BARE).evidence, judged(ROOM).evidence
    made = section(ROOM)
    for row, one in zip(table(made, "Reverberation time"), (was, now), strict=True):
        assert row[1:] == [f"{t:.2f}" for t in one.reverberation.time]
    before = {row.talker.id: row for row in was.outbound}
    after = {row.talker.id: row for row in now.outbound}
    for cells in table(made, "Seat ledger"):
        pair = before[cells[0]], after[cells[0]]
        assert cells[1:3] == [row.state for row in pair]
        assert cells[3:5] == [f"{row.sti.value:.2f}" for row in pair]
        ratios = [f"{row.direct_to_reverberant.value:.1f}".replace("-", "−") for row in pair]
        assert cells[7:9] == ratios
    assert was.playback is not None
    assert now.playback is not None
    heard = table(made, "Heard in the room")
    ears = {
        row.talker.id: (a.sti.value, row.sti.value)
        for a, row in zip(was.playback.rows, now.playback.rows, strict=True)
    }
    assert {cells[0]: cells[3:5] for cells in heard} == {
        name: [f"{value:.2f}" for value in pair] for name, pair in ears.items()
    }


def test_places_areas_and_prices_are_those_of_the_list() -> None:
    made = section(ROOM)
    # 3.6 m × 1.2 m and 1.2 m × 0.6 m are seven panels of 1.2 m × 0.6 m: 7 × (142 + 38) + 180.
    # The raft is one of 2.4 m × 1.2 m: 310 + 140 + 420 and 10.5 kg. By hand from the table of
    # treatments.
    (panels, raft) = table(made, "What it is")
    assert panels[1:] == ["7", f"5.0{NBSP}m²", f"51.8{NBSP}kg", f"EUR{NBSP}1{NBSP}440.00"]
    assert raft[1:] == ["1", f"2.9{NBSP}m²", f"10.5{NBSP}kg", f"EUR{NBSP}870.00"]
    lead = made.blocks[0]
    assert isinstance(lead, Paragraph)
    assert f"EUR{NBSP}2{NBSP}310.00" in lead.line[0].text
    where = {name: words for name, words, _ in table(made, "Where it is")}
    assert list(where) == ["panels", "more", "raft"]
    assert where["more"].replace(NBSP, " ") == (
        "wall west, 1.20 m to 2.40 m along it, 1.20 m to 1.80 m above the floor"
    )
    assert where["raft"].replace(NBSP, " ") == (
        "ceiling, 1.00 m to 3.40 m east, 1.00 m to 2.20 m north"
    )


def test_lengths_and_areas_are_in_the_units_of_the_document() -> None:
    found = judged(ROOM)
    before = before_treatment(found)
    assert before is not None
    feet = found.evidence.room.model_copy(update={"units": "ft"})
    evidence = replace(found.evidence, room=feet)
    made = treatment_section(evidence, before)
    assert f"54{NBSP}ft²" in table(made, "What it is")[0]
    assert f"10.5{NBSP}kg (23.1{NBSP}lb)" in table(made, "What it is")[1]
    assert "3'-11¼\" to 7'-10½\"" in table(made, "Where it is")[1][1].replace(NBSP, " ")


def test_a_room_for_which_nothing_was_bought_has_no_such_page() -> None:
    assert before_treatment(judged(BARE)) is None


def test_of_a_room_that_divides_every_space_has_its_decay() -> None:
    divided = ROOM.replace(
        "people:",
        "partitions: {fold: {from: [3.2, 0], to: [3.2, 4.6], finish: wood-panel}}\n"
        "arrangements: {whole: {open: [fold]}, split: {closed: [fold]}}\npeople:",
    )
    found = judged(divided)
    rows = table(section(divided), "Reverberation time")
    assert len(rows) == 2 * len(found.parts) == 6
    for number, part in enumerate(found.parts):
        assert rows[2 * number][0] == f"Before, {part.part.title}"
        after = [f"{t:.2f}" for t in part.evidence.reverberation.time]
        assert rows[2 * number + 1] == [f"After, {part.part.title}", *after]


@pytest.mark.parametrize("longer", [1.0, 1.3])
def test_without_the_finishes_a_measured_room_rings_longer(longer: float) -> None:
    """A decay measured with them is what rays start from."""
    time = [longer * t for t in judged(ROOM).evidence.reverberation.time]
    stated = ", ".join(
        f"{band}: {t:.4f}"
        for band, t in zip((125, 250, 500, 1000, 2000, 4000, 8000), time, strict=True)
    )
    measured = loaded(
        ROOM.replace(
            "  ceiling: {kind", f"  measured_reverberation: {{{stated}}}\n  ceiling: {{kind"
        )
    )
    bare = untreated(measured.room, measured.catalogue)
    assert bare is not None
    without = bare.space.measured_reverberation
    assert without is not None
    assert all(b > t for b, t in zip(without, time, strict=True))
    if longer == 1.0:
        # What was measured is what is predicted: so it is without them.
        predicted = judged(BARE).evidence.reverberation.time
        assert without == pytest.approx(predicted, rel=0.02)
