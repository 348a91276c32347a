"""The page that opens the range of the worst place. Rooms are invented; figures are predicted."""

from __future__ import annotations

import copy
import dataclasses
import io
import math
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from pypdf import PdfReader

from wellheard import dossier
from wellheard.dossier import Identity
from wellheard.dossier.model import Beside, Block, Paragraph, RangeBar, Run, Scale, Section, Table
from wellheard.dossier.sections.room import room_section
from wellheard.dossier.sections.sureness import (
    NARROWS,
    ON_SITE,
    TITLE,
    WORDS,
    sureness_section,
)
from wellheard.dossier.words import percent
from wellheard.predict import ledger, outbound, spread, sureness
from wellheard.predict.evidence import SEAT_TARGETS, Evidence
from wellheard.predict.scene import Scene
from wellheard.predict.sureness import Sureness
from wellheard.room.divide import spoken
from wellheard.workflow.design import predict
from wellheard.workflow.edition import Edition
from wellheard.workflow.load import load
from wellheard.workflow.publish import made

pytestmark = pytest.mark.usefixtures("few_rays", "effects_untried")

ROOM: dict[str, Any] = {
    "people": {
        "occupancy": 0.7,
        "seats": {
            "s1": {"at": [2.0, 2.0], "facing": 0},
            "s2": {"at": [4.6, 3.4], "facing": 180},
            "s3": {"at": [5.4, 1.0], "facing": 90},
        },
    },
    "devices": {
        "m1": {"kind": "microphone", "product": "ceiling-head-3", "at": [2.4, 2.25, 2.7]},
        "m2": {"kind": "microphone", "product": "ceiling-head-3", "at": [4.4, 2.25, 2.7]},
    },
}
TIMES = {"125": 0.7, "250": 0.6, "500": 0.5, "1000": 0.5, "2000": 0.5, "4000": 0.45, "8000": 0.4}
LONG = "the-chair-by-the-window-nobody-cares-for"
OPEN = {"space.finishes": "assumed", "people.seats": "assumed", "noise.background": "assumed"}

Opened = tuple[Evidence, Sureness]


@pytest.fixture(scope="module")
def opened(scene_of: Callable[..., Scene]) -> Callable[..., Opened]:
    """Give the function that predicts a room with changes and opens its range."""

    known: dict[str, Opened] = {}

    def made(part: str = "", **changes: Any) -> Opened:
        key = f"{part} {changes}"
        if key not in known:
            known[key] = predicted(part, changes)
        return known[key]

    def predicted(part: str, changes: dict[str, Any]) -> Opened:
        scene = scene_of({**copy.deepcopy(ROOM), **changes})
        evidence = ledger.evidence(scene)
        found = sureness.sureness(scene, evidence, part=part)
        assert found is not None
        return evidence, found

    return made


def blocks(section: Section) -> list[Block]:
    found: list[Block] = []
    for block in section.blocks:
        found += [*block.left, *block.right] if isinstance(block, Beside) else [block]
    return found


def words(section: Section) -> str:
    paragraphs = [b for b in blocks(section) if isinstance(b, Paragraph)]
    return " ".join(run.text for p in paragraphs for run in p.line).replace("\u00a0", " ")


def tables(section: Section) -> tuple[Table, Table]:
    first, second = (b for b in section.blocks if isinstance(b, Table))
    return first, second


def texts(row: tuple[Any, ...]) -> list[str]:
    return [c.text.replace("\u00a0", " ") if isinstance(c, Run) else "" for c in row]


@pytest.mark.parametrize(
    "changes", [{}, {"space": {"measured_reverberation": TIMES}}, {"basis": OPEN}]
)
def test_printed_parts_combine_to_the_printed_whole(
    opened: Callable[..., Opened], changes: dict[str, Any]
) -> None:
    """Root of the sum of squares, within what rounding each figure may add."""
    _, table = tables(sureness_section(*opened(**changes)))
    rows = [texts(row) for row in table.rows]
    whole = next(row for row in rows if row[0] == "All together")
    parts = rows[: rows.index(whole)]
    assert len(parts) >= 5
    for column, step in ((2, 0.001), (3, 0.1), (4, 0.1)):
        squares = sum(float(row[column]) ** 2 for row in parts)
        allowed = step / 2 * (1 + math.sqrt(len(parts)))
        assert math.sqrt(squares) == pytest.approx(float(whole[column]), abs=allowed)
    shares = [int(row[1].removesuffix(" %")) for row in parts]
    assert sum(shares) == pytest.approx(100, abs=len(parts) / 2)
    assert shares == sorted(shares, reverse=True)


def test_every_cause_that_can_be_has_words_and_a_way_out(
    scene_of: Callable[..., Scene], opened: Callable[..., Opened]
) -> None:
    names: set[str] = set()
    for space in ({}, {"measured_reverberation": TIMES}):
        scene = scene_of({**ROOM, "space": space})
        evidence = ledger.evidence(scene, assumptions=False)
        placed = evidence.microphones[0]
        at, aim = np.asarray([placed.at]), np.asarray([placed.aim_deg])
        paths = outbound.transfer(scene, placed.product, at, aim)
        names |= set(spread.budget(scene, paths, microphones=2))
    assert names == set(WORDS) == set(NARROWS)
    assert all(all(text for text in (*WORDS[n], *NARROWS[n])) for n in names)
    _, table = tables(sureness_section(*opened(basis=OPEN)))
    for row in [texts(row) for row in table.rows][:6]:
        assert row[5], row
        assert row[6].endswith("."), row


def test_an_input_stands_with_its_basis_and_told_ones_in_italics(
    opened: Callable[..., Opened],
) -> None:
    _, table = tables(sureness_section(*opened(basis={"noise.background": "measured"})))
    known = {texts(row)[0]: row[5] for row in table.rows}
    assert known["Background noise"] == Run("measured: noise.background", "plain")
    assert known["Absorption of finishes"] == Run("told: space.finishes", "told")
    assert known["Talker’s turn and place"] == Run("told: people.seats.*.at", "told")
    assert known["The model itself"] == Run("two measured rooms", "plain")


def test_a_remedy_is_opened_once_with_what_it_leaves(opened: Callable[..., Opened]) -> None:
    evidence, found = opened(basis=OPEN)
    section = sureness_section(evidence, found)
    _, table = tables(section)
    said = [texts(row)[6] for row in table.rows]
    decay = [text for text in said if "reverberation" in text]
    assert len(decay) == 2
    assert sum("leaves" in text for text in decay) == 1
    noise = next(text for text in said if text.startswith("Measure the noise"))
    assert noise.endswith("1.0.")  # a measured background is known to 1 dB [C]
    assert texts(table.rows[-1])[0] == "Once that is known"
    for effort in {c.remedy.effort for c in found.causes if c.remedy is not None}:
        assert ON_SITE[effort][1] in words(section)


def test_each_promise_has_one_scale_with_its_bars_under_it(
    opened: Callable[..., Opened],
) -> None:
    evidence, found = opened(targets={"sti_outbound": 0.62, "speech_to_noise_db": 15})
    first, _ = tables(sureness_section(evidence, found))
    scales = [c for row in first.rows for c in row if isinstance(c, Scale)]
    bars = [c for row in first.rows for c in row if isinstance(c, RangeBar)]
    assert len(scales) == len(found.everywhere)
    assert len(bars) == 3 * len(scales)
    for bar in bars:
        assert 0 <= bar.low <= bar.value <= bar.high <= 1
    assert {bar.target for bar in bars} == {scale.target for scale in scales}
    assert any(texts(row)[0] == "all three places" for row in first.rows)


def test_where_the_middle_misses_a_survey_promises_nothing(
    opened: Callable[..., Opened],
) -> None:
    section = sureness_section(*opened(targets={"direct_to_reverberant_db": 12}))
    assert "surer, not better" in words(section)
    assert "in place of" not in words(section)


def test_where_all_is_measured_nothing_is_asked(opened: Callable[..., Opened]) -> None:
    section = sureness_section(
        *opened(
            space={"measured_reverberation": TIMES},
            basis={"people.seats": "measured", "noise.background": "measured"},
        )
    )
    assert "Nothing that is left to measure would narrow it much" in words(section)
    first, second = tables(section)
    assert not any("surveyed" in texts(row)[0] for row in first.rows)
    assert texts(second.rows[-1])[0] == "All together"


def test_the_interval_of_scattering_stands_with_the_decay_at_both_ends(
    opened: Callable[..., Opened],
) -> None:
    evidence, found = opened()
    said = words(sureness_section(evidence, found))
    decay = evidence.reverberation
    for times in (decay.smooth, decay.time, decay.rough):
        assert f"{(times[2] + times[3]) / 2:.2f} s" in said
    assert "likely is 0.1 to 0.5" in said


def test_a_room_calibrated_to_a_decay_is_said_to_be_and_asks_for_no_other(
    opened: Callable[..., Opened],
) -> None:
    evidence, found = opened(
        basis={"space.finishes": "measured", "space.scattering": "measured"},
        space={"scattering": 0.3},
    )
    section = sureness_section(evidence, found)
    said = words(section)
    assert "were calibrated to a decay that was measured in this room" in said
    assert "Nobody knows how much surfaces scatter" not in said
    for table in tables(section):
        for row in table.rows:
            assert not any("Measure the reverberation" in text for text in texts(row))
    room = " ".join(
        run.text
        for block in room_section(evidence).blocks
        if isinstance(block, Paragraph)
        for run in block.line
    )
    assert "calibrated to a decay" in room
    assert "would replace the decay" not in room


def test_what_it_rests_on_is_named_and_what_it_leaves_out(opened: Callable[..., Opened]) -> None:
    said = words(sureness_section(*opened()))
    for claim in ("Two measured rooms", "146.0 m³", "78 to 80 %", "common practice, no source"):
        assert claim.lower() in said.lower()
    for limit in ("Schroeder frequency", "flat ceiling", "diffraction", "upright blocks"):
        assert limit in said


def test_a_part_of_a_room_that_divides_says_which(opened: Callable[..., Opened]) -> None:
    section = sureness_section(*opened("split.a", basis=OPEN))
    assert f"with the room {spoken('split.a')}, heard by" in words(section)
    _, table = tables(section)
    said = " ".join(texts(row)[6] for row in table.rows)
    assert "See the finishes on site: leaves" in said
    assert "Measure the reverberation" not in said


def test_without_a_microphone_it_is_not_assessed(
    scene_of: Callable[..., Scene], identity: Identity
) -> None:
    scene = scene_of({"people": ROOM["people"]})
    evidence = ledger.evidence(scene)
    found = dossier.outline(evidence, (), None, identity=identity)
    (section,) = (s for s in found.sections if s.title == TITLE)
    assert "Not assessed: no microphone is placed" in words(section)
    assert not [b for b in section.blocks if isinstance(b, Table)]


@pytest.mark.parametrize(
    ("part", "changes"),
    [
        ("", {}),
        ("", {"units": "ft"}),
        ("", {"basis": OPEN, "units": "ft"}),
        ("split.a", {"basis": OPEN}),
        ("", {"space": {"measured_reverberation": TIMES}, "basis": {"space": "told"}}),
        ("", {"targets": dict.fromkeys(SEAT_TARGETS)}),
        (
            "",
            {
                "units": "ft",
                "people": {"seats": {"s1": "absent", LONG: {"at": [5.4, 1.0], "facing": 90}}},
                "basis": OPEN,
            },
        ),
    ],
    ids=["metres", "feet", "assumed", "part", "told decay", "nothing promised", "long name"],
)
def test_it_is_one_page(
    opened: Callable[..., Opened], identity: Identity, part: str, changes: dict[str, Any]
) -> None:
    metres = {k: v for k, v in changes.items() if k != "units"}
    evidence, found = opened(part, **metres)
    if "units" in changes:
        room = evidence.room.model_copy(update={"units": changes["units"]})
        evidence = dataclasses.replace(evidence, room=room)
    pdf = dossier.pdf(evidence, (), None, identity=identity, sureness=found)
    pages = [page.extract_text() for page in PdfReader(io.BytesIO(pdf)).pages]
    (page,) = (text for text in pages if "What this rests on" in text)
    for part_of_it in (TITLE, "The least certain place", "All together", "told as plasterboard"):
        assert " ".join(part_of_it.split()) in " ".join(page.split())
    assert sum("The least certain place" in text for text in pages) == 1


DIVIDED = """\
wellheard: 1
space: {outline: [[0, 0], [7.2, 0], [7.2, 4.8], [0, 4.8]], height: 2.7}
partitions: {middle: {from: [3.6, 0], to: [3.6, 4.8], finish: wood-panel}}
arrangements: {together: {open: [middle]}, apart: {closed: [middle]}}
people: {seats: {a: {at: [1.5, 1.6], facing: 90}, b: {at: [5.1, 1.6], facing: 90}}}
noise: {background: {nc: 25}}
devices:
  m1: {kind: microphone, product: ceiling-head-3, at: [1.5, 2.7, 2.7]}
  m2: {kind: microphone, product: ceiling-head-3, at: [5.1, 2.7, 2.7]}
"""


def test_a_published_room_that_divides_opens_the_part_that_leads(tmp_path: Path) -> None:
    file = tmp_path / "pair.room.yaml"
    file.write_text(DIVIDED, "utf-8")
    loaded = load(file)
    judged = predict(loaded)
    pdf = made(loaded, judged, edition=Edition(("engineer",))).files["dossier.pdf"]
    pages = [" ".join(p.extract_text().split()) for p in PdfReader(io.BytesIO(pdf)).pages]
    (page,) = (text for text in pages if "What this rests on" in text)
    leads = next(part for part in judged.parts if part.name == judged.leads)
    worst = leads.evidence.worst()
    assert worst is not None
    claim = f"seat {worst.talker.id} with the room {spoken(judged.leads)}"
    assert claim in page
    assert percent(worst.chance).replace("\u00a0", " ") in page
