"""The way back in the dossier: what is said of loudspeakers, echo, levels, delay and lift."""

from __future__ import annotations

import csv
import dataclasses
import io
from collections.abc import Iterable
from typing import Any

import pytest
from pypdf import PdfReader

from wellheard import dossier
from wellheard.catalog.catalogue import Catalogue
from wellheard.checks.model import Finding
from wellheard.dossier import Identity, Outline
from wellheard.dossier.model import Block, Facts, Heading, Paragraph, Picture, Run, Table
from wellheard.dossier.sections.delays import lip_sync_words
from wellheard.dossier.sections.echo import echo_answer, least_bound
from wellheard.dossier.sections.promise import promises
from wellheard.dossier.sections.sound_cautions import time_words
from wellheard.place.proposal import Proposal
from wellheard.predict import ledger
from wellheard.predict.evidence import Evidence
from wellheard.predict.lift import HOST_NOT_INCLUDED
from wellheard.predict.wayback import Echo
from wellheard.room.document import Room
from wellheard.workflow.ledger_table import ledger_csv

NBSP = "\u00a0"
DOCUMENT: dict[str, Any] = {
    "wellheard": 1,
    "title": "Kiln Room",
    "project": {"client": "Brickworks Trust", "site": "Kiln Lane", "revision": "A"},
    "units": "m",
    "space": {
        "outline": [[0, 0], [6.4, 0], [6.4, 4.6], [0, 4.6]],
        "walls": ["south", "east", "north", "west"],
        "height": 2.75,
        "finishes": {
            "floor": "carpet-tile",
            "ceiling": "ceiling-mineral-tile",
            "walls": "plasterboard",
        },
    },
    "furniture": {
        "picture": {"kind": "display", "wall": "west", "centre": [2.3, 1.5], "size": [1.4, 0.8]}
    },
    "people": {
        "seats": {
            f"s{i + 1}": {"at": [2.2 + 1.1 * (i % 3), 1.5 if i < 3 else 3.1], "facing": "across"}
            for i in range(6)
        }
    },
    "equipment": {"rack": {"kind": "rack", "at": [0.4, 4.2, 0.8]}},
    "devices": {
        "m1": {"kind": "microphone", "product": "ceiling-head-3", "at": [3.3, 2.3, 2.75]},
        "l1": {"kind": "loudspeaker", "product": "display-pair", "at": [0.1, 2.3, 1.5]},
        "l2": {"kind": "loudspeaker", "product": "ceiling-6", "at": [5.4, 2.3, 2.75]},
        "amp": {"kind": "amplifier", "product": "amplifier-4x150", "equipment": "rack"},
        "mixer": {"kind": "processor", "product": "processor-4", "equipment": "rack"},
    },
}
SILENT = {k: v for k, v in DOCUMENT["devices"].items() if k in ("m1", "mixer")}


@pytest.fixture(scope="module")
def sounding() -> Evidence:
    return ledger.predict(Room.model_validate(DOCUMENT), Catalogue.shipped(), assumptions=False)


@pytest.fixture(scope="module")
def silent() -> Evidence:
    where = Room.model_validate(DOCUMENT | {"devices": SILENT})
    return ledger.predict(where, Catalogue.shipped(), assumptions=False)


@pytest.fixture(scope="module")
def whose() -> Identity:
    return Identity(document_hash="7f3a91c2", tool_version="0", date="2026-02-11")


@pytest.fixture(scope="module")
def told(sounding: Evidence, whose: Identity) -> Outline:
    return dossier.outline(sounding, (), None, identity=whose)


def words(blocks: Iterable[Block]) -> str:
    """Everything that stands in some blocks."""
    found: list[str] = []
    for block in blocks:
        if isinstance(block, Heading):
            found.append(block.text)
        elif isinstance(block, Paragraph):
            found += [run.text for run in block.line]
        elif isinstance(block, Facts):
            for label, line in block.rows:
                found += [label, *(run.text for run in line)]
        elif isinstance(block, Table):
            for row in block.rows:
                found += [cell.text for cell in row if isinstance(cell, Run)]
    return "\n".join(found)


def section(outline: Outline, title: str) -> str:
    (found,) = (one for one in outline.sections if one.title == title)
    return words(found.blocks)


def test_without_loudspeakers_nothing_is_said_but_that_it_is_not_assessed(
    silent: Evidence, whose: Identity
) -> None:
    outline = dossier.outline(silent, (), None, identity=whose)
    titles = {one.title for one in outline.sections}
    assert not titles & {"Heard in the room", "The way back"}
    states = {row.target: row.state for row in outline.customer.promises}
    for target in ("sti_inbound", "listening_level_dba", "uniformity_db", "echo_loss_db"):
        assert states[target] == "not assessed"
    assert "in-room-delay" not in states
    (why,) = (line for label, line in outline.customer.remarks if label == "Not assessed")
    assert "no loudspeaker is predicted" in why[0].text


def test_every_ear_has_a_row_the_worst_first(told: Outline, sounding: Evidence) -> None:
    assert sounding.playback is not None
    (heard,) = (one for one in told.sections if one.title == "Heard in the room")
    tables = [block for block in heard.blocks if isinstance(block, Table)]
    for table in tables:
        names = [row[1 if table is tables[0] else 0] for row in table.rows]
        assert sorted(cell.text for cell in names if isinstance(cell, Run)) == [
            f"s{i}" for i in range(1, 7)
        ]
    least = min(sounding.playback.rows, key=lambda row: (row.chance, row.sti.value))
    first = tables[0].rows[0][1]
    assert isinstance(first, Run)
    assert first.text == least.talker.id


def test_each_loudspeaker_of_a_pair_is_told_where_it_stands(told: Outline) -> None:
    # By hand: the picture is 1.4 m wide about y = 2.3 m, and each stands 0.15 m beside its edge.
    proof = section(told, "How many, and why not fewer")
    left, right = f"1.45{NBSP}m", f"3.15{NBSP}m"
    assert proof.index("l1.left") < proof.index("l1.right") < proof.index("l2")
    assert left in proof
    assert right in proof


def test_the_way_back_names_what_decides(told: Outline, sounding: Evidence) -> None:
    said = section(told, "The way back")
    for heading in ("Loudspeakers as set", "Amplifiers", "Echo to the far end", "Delay"):
        assert heading in said
    assert echo_answer(sounding).replace(" dB", f"{NBSP}dB") in said
    assert "150\u00a0ms from mouth to ear" in said


def test_each_half_of_a_pair_hangs_on_the_output_that_its_cable_comes_from(whose: Identity) -> None:
    links = {
        "c1": {"from": "mixer.line-out-1", "to": "amp.in-1"},
        "c2": {"from": "amp.out-1", "to": "l1.in"},
        "c3": {"from": "l1.in", "to": "amp.out-2"},
    }
    room = Room.model_validate(DOCUMENT | {"links": links})
    evidence = ledger.predict(room, Catalogue.shipped(), assumptions=False)
    said = section(dossier.outline(evidence, (), None, identity=whose), "The way back").splitlines()
    for port in ("amp.out-1", "amp.out-2"):
        product, feeds, load = said[said.index(port) + 1 : said.index(port) + 4]
        assert (product, feeds) == ("amplifier-4x150", "l1, one of its two")
        assert load == "peaks of one loudspeaker"


def test_no_figure_of_a_lift_without_what_it_leaves_out(told: Outline) -> None:
    said = section(told, "The way back")
    assert "Voice lift" in said
    assert HOST_NOT_INCLUDED in said


def test_levels_are_drawn_and_tabled_for_every_way(told: Outline) -> None:
    (settings,) = (one for one in told.sections if one.title == "Levels and settings")
    drawn = [block.alt for block in settings.blocks if isinstance(block, Picture)]
    assert drawn == [
        "Levels from m1 to the far end",
        "Levels from the far end to l1",
        "Levels from the far end to l2",
    ]
    assert "the far end" in words(settings.blocks)
    assert settings.reader == "installer"


def test_cautions_name_what_can_hurt(told: Outline) -> None:
    said = section(told, "Levels and settings")
    for word in ("Mains", "class 2", "howl", "NIOSH"):
        assert word in said
    said = section(told, "Setting out")
    for word in ("safety bond", "structure", "Local code", "asbestos"):
        assert word in said


# NIOSH 98-126 [L]: 85 dBA for eight hours, half the time for every 3 dB.
@pytest.mark.parametrize(
    ("hours", "said"),
    [(8.0, "8 hours a day"), (4.0, "4 hours a day"), (0.25, "15 minutes a day")],
)
def test_times_are_said_as_people_say_them(hours: float, said: str) -> None:
    assert time_words(hours) == said


# ITU-R BT.1359, via open texts [L]: 45 ms early and 125 ms late is detected.
@pytest.mark.parametrize(
    ("late_ms", "noticed"), [(-60.0, True), (-40.0, False), (120.0, False), (130.0, True)]
)
def test_sound_beside_the_picture_is_noticed_where_the_standard_says(
    late_ms: float, noticed: bool
) -> None:
    assert ("is noticed" in lip_sync_words(late_ms)) is noticed


def echo_of(sounding: Evidence, **changes: Any) -> Evidence:
    one: Echo = dataclasses.replace(sounding.echo[0], **changes)
    return dataclasses.replace(sounding, echo=(one,))


def test_an_echo_that_is_left_is_missing_in_the_answer(sounding: Evidence, whose: Identity) -> None:
    # By hand: −9 dB of the room and 45 dB of the canceller are 36 dB, 5 dB less than 41 dB.
    short = echo_of(
        sounding,
        return_loss_db=-9.0,
        needed_db=41.0,
        must_add_db=50.0,
        can_add_db=45.0,
        state="broken",
    )
    (row,) = (row for row in promises(short, None) if row.target == "echo_loss_db")
    assert row.predicted.text == f"36{NBSP}dB"
    assert row.promised == f"41{NBSP}dB"
    assert row.state == "broken"
    assert "5 dB are missing" in echo_answer(short)
    customer = dossier.outline(short, (), None, identity=whose).customer
    assert "the far end would hear its own echo: 36" in customer.answer


def test_nothing_is_cancelled_where_no_canceller_is(sounding: Evidence) -> None:
    bare = echo_of(
        sounding, canceller=None, can_add_db=None, must_add_db=50.0, tail=None, state="broken"
    )
    assert "nothing cancels there" in echo_answer(bare)


def test_the_bound_that_is_least_is_named(sounding: Evidence) -> None:
    bounds: dict[str, Any] = {
        "bound_tail_db": 31.0,
        "bound_distortion_db": 40.0,
        "bound_noise_db": 30.0,
        "bound_practice_db": 38.0,
    }
    assert least_bound(dataclasses.replace(sounding.echo[0], **bounds)) == "noise"
    unknown = bounds | {"bound_tail_db": None, "bound_noise_db": 45.0}
    for origin, name in (("rated", "data sheet"), ("practice", "practice")):
        one = dataclasses.replace(sounding.echo[0], **unknown, bound_practice_from=origin)
        assert least_bound(one) == name


def table_of(evidence: Evidence) -> list[dict[str, str]]:
    return list(csv.DictReader(io.StringIO(ledger_csv(evidence))))


def test_the_table_gains_the_way_in_behind_what_it_had(
    sounding: Evidence, silent: Evidence
) -> None:
    before = list(table_of(silent)[0])
    rows = table_of(sounding)
    assert list(rows[0])[: len(before)] == before
    assert "sti_inbound" not in before
    assert sounding.playback is not None
    for row in rows:
        heard = sounding.playback.row(row["seat"])
        assert float(row["listening_level_dba"]) == pytest.approx(heard.level.value, abs=0.05)
        assert float(row["sti_inbound"]) == pytest.approx(heard.sti.value, abs=0.0005)
        assert row["inbound_loudspeaker"] == heard.heard_from


def test_who_is_played_to_and_not_heard_keeps_a_row(sounding: Evidence) -> None:
    deaf = dataclasses.replace(sounding, outbound=(), paths=(), microphones=())
    rows = table_of(deaf)
    assert sorted(row["seat"] for row in rows) == [f"s{i}" for i in range(1, 7)]
    assert {row["state"] for row in rows} == {"not assessed"}
    assert all(row["sti"] == "" and row["sti_inbound"] for row in rows)


def test_the_customer_keeps_one_page_with_all_promises(
    sounding: Evidence,
    proposal: Proposal,
    findings: tuple[Finding, ...],
    plan_sheets: tuple[str, ...],
    small_plan: str,
    whose: Identity,
) -> None:
    pdf = dossier.pdf(sounding, findings, proposal, plan_sheets, small_plan, identity=whose)
    pages = [page.extract_text() for page in PdfReader(io.BytesIO(pdf)).pages]
    assert "No disturbing delay" in pages[0]
    assert "Price" in pages[0]
    assert "Kiln Room" in pages[0]
    assert "For the installer" not in pages[0]
