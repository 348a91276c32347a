"""The installer's pages: where everything goes, what holds it, what to bring, what is set.

Trade facts: an overhead device has a safety bond of its own, nothing is drilled before asbestos is
ruled out, both ends of a cable are labelled (common practice, no source [C]).
"""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from wellheard.catalog.catalogue import Catalogue
from wellheard.catalog.tools import shipped
from wellheard.dossier.model import Entries, Facts, Heading, Paragraph, Picture, Run, Section, Table
from wellheard.dossier.positions import Position, by_fixing, positions
from wellheard.dossier.sections.labels import labels_sections
from wellheard.dossier.sections.setting_out import setting_out_section
from wellheard.dossier.sections.settings import settings_blocks
from wellheard.dossier.sections.tools import tools_section
from wellheard.schedules.whole import schedules
from wellheard.signal.graph import graph
from wellheard.workflow.design import Designed, judge
from wellheard.workflow.load import load_text

pytestmark = pytest.mark.usefixtures("few_rays")

FAN = """
wellheard: 1
units: ft
space:
  outline: [[0, 0], [20 ft, 0], [24 ft, 15 ft], [-4 ft, 15 ft]]
  walls: [stage, right-hand-side-wall, back, left]
  height: 10 ft
  ceiling: {kind: hard}
people: {seats: {s1: {at: [8 ft, 8 ft], facing: 0}}}
equipment: {rack: {kind: rack, at: [18 ft, 1 ft, 2 ft]}}
devices:
  m1: {kind: microphone, product: ceiling-head-3, at: [8 ft, 8 ft, 9 ft], locked: true}
  m2: {kind: microphone, product: pendant-cardioid, at: [12 ft, 8 ft, 8 ft]}
  mixer: {kind: processor, product: processor-4, equipment: rack}
links:
  c01: {from: m1.link, to: mixer.mic-1, cable: twisted-pair}
"""


def words(section: Section) -> str:
    found: list[str] = []
    for block in section.blocks:
        if isinstance(block, Paragraph):
            found += [run.text for run in block.line]
        elif isinstance(block, Table):
            found += [column.head for column in block.columns]
            found += [cell.text for row in block.rows for cell in row if isinstance(cell, Run)]
        elif isinstance(block, Facts):
            found += [label for label, _ in block.rows]
            found += [run.text for _, line in block.rows for run in line]
        elif isinstance(block, Entries):
            found += [run.text for entry in block.rows for run in entry.body]
        elif isinstance(block, Heading):
            found.append(block.text)
    return " ".join(found).replace("\u00a0", " ")


@pytest.fixture(scope="module")
def fan() -> tuple[tuple[Position, ...], Section, Section]:
    loaded = load_text(FAN, Path("fan.room.yaml"))
    judged = judge(loaded.room, loaded.catalogue, assumptions=False)
    rows = positions(judged.evidence)
    found = schedules(loaded.room, loaded.catalogue)
    return (
        rows,
        setting_out_section(loaded.room, rows, ["At the figures as printed this would not hold."]),
        tools_section(found, loaded.catalogue, rows, sound=False),
    )


def test_an_oblique_room_names_the_walls_that_each_device_is_set_out_from(
    fan: tuple[tuple[Position, ...], Section, Section],
) -> None:
    """From the stage straight up; from the left wall by hand.

    The left wall runs from (−4, 15) to (0, 0) ft: 15·(x) + 4·y = 0 over √241. At (8, 8) that is
    (120 + 32)/15.524 = 9.791 ft, 9'-9½"; from the back 15 − 8 = 7 ft.
    """
    rows, section, _ = fan
    first = rows[0]
    assert set(first.walls) == {"left", "back"}
    by_wall = dict(zip(first.walls, first.distances, strict=True))
    assert by_wall["left"] == pytest.approx(152 / 241**0.5 * 0.3048)
    assert by_wall["back"] == pytest.approx(7 * 0.3048)
    said = words(section)
    assert "left 9'-9½\"" in said
    assert "back 7'-0\"" in said


def test_what_hangs_has_its_drop_bond_weight_and_hole(
    fan: tuple[tuple[Position, ...], Section, Section],
) -> None:
    rows, section, _ = fan
    said = words(section)
    for wanted in (
        "1'-0\"",  # m1 hangs a foot below ten feet
        "2'-0\"",
        "cut for a drop of 2'-0\"",
        "safety bond to the structure",
        "0.5 kg",
        "1.1 lb",  # 0.5 kg over 0.45359237 kg
        "Overhead",
        "asbestos",
        "m1 stays where it is",
        "would not hold",
    ):
        assert wanted in said, wanted
    assert all(row.bond for row in rows)
    assert len(by_fixing(rows)) == 2


def test_a_hand_placed_device_between_the_steps_is_said_to_be(
    fan: tuple[tuple[Position, ...], Section, Section],
) -> None:
    rows, section, _ = fan
    assert all(row.off > 0 for row in rows)
    assert "not moved" in words(section)


def test_tools_follow_what_there_is_to_do(
    fan: tuple[tuple[Position, ...], Section, Section],
) -> None:
    _, _, tools = fan
    said = words(tools)
    assert "Platform or ladder made for a ceiling 10'-0\" high" in said
    assert "twisted pair" in said
    assert "Hammer drill" in said
    assert "Sound level meter" not in said  # nothing plays
    assert "tile hooks" not in said  # a hard ceiling
    assert "{" not in said


def test_a_hole_saw_has_the_size_of_the_products_cut_out(
    designed: Callable[[str], Designed], catalogue: Catalogue
) -> None:
    """The catalogue's ceiling-head-3 takes a hole of 89 mm, which is 3½ in."""
    for name, size in (("both-ways", "89 mm"), ("ten-seats", '3½"')):
        evidence = designed(name).judged.evidence
        found = schedules(evidence.room, catalogue)
        said = words(tools_section(found, catalogue, positions(evidence), sound=True))
        assert f"Hole saw of {size}" in said


def test_every_tool_has_an_occasion_that_can_occur() -> None:
    assert len({tool.id for tool in shipped()}) == len(shipped())
    assert {tool.kind for tool in shipped()} == {"tool", "material"}


def test_a_pair_is_set_out_from_its_picture(designed: Callable[[str], Designed]) -> None:
    evidence = designed("both-ways").judged.evidence
    rows = positions(evidence)
    assert [row.label for row in rows] == ["m1", "l1.left", "l1.right"]
    assert {row.set_out_by for row in rows[1:]} == {"pair"}
    said = words(setting_out_section(evidence.room, rows))
    assert "0.15 m from its edge" in said
    assert "5, 4" in said  # 2700 and 2100 over 600: the fifth and the fourth tile


def test_settings_come_in_an_order_that_can_be_followed(
    designed: Callable[[str], Designed], catalogue: Catalogue
) -> None:
    evidence = designed("both-ways").judged.evidence
    blocks = settings_blocks(evidence, graph(evidence.room, catalogue))
    (table,) = (block for block in blocks if isinstance(block, Table))
    steps = [row[1].text for row in table.rows if isinstance(row[1], Run)]
    assert steps == [
        "Input of the amplifier",
        "Microphone input",
        "High-pass of microphones",
        "Echo canceller: reference",
        "Volume",
    ]
    assert [row[0].text for row in table.rows if isinstance(row[0], Run)] == list("12345")


def test_both_ends_of_every_cable_have_a_label(
    designed: Callable[[str], Designed], catalogue: Catalogue
) -> None:
    evidence = designed("both-ways").judged.evidence
    found = schedules(evidence.room, catalogue)
    (section,) = labels_sections(evidence.room, found.cables)
    (sheet,) = (block for block in section.blocks if isinstance(block, Picture))
    for row in found.cables.rows:
        assert sheet.svg.count(f">{row.number}<") == 2
        for end in (row.from_, row.to):
            assert sheet.svg.count(f">{end}<") >= 2
