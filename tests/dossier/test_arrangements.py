"""What the dossier says of a room that divides. The room is invented; the figures are predicted."""

from __future__ import annotations

import copy
from typing import Any

import pytest

from wellheard.catalog.catalogue import Catalogue
from wellheard.dossier import Identity, outline
from wellheard.dossier.model import Entries, Outline, Paragraph, Run, Table
from wellheard.predict.parts import PartEvidence
from wellheard.room import codec
from wellheard.workflow.design import Judged, judge

ROOM: dict[str, Any] = {
    "wellheard": 1,
    "title": "Two Halves",
    "space": {
        "outline": [[0, 0], [9.6, 0], [9.6, 4.8], [0, 4.8]],
        "walls": ["south", "east", "north", "west"],
        "height": 2.7,
    },
    "people": {
        "seats": {
            "w1": {"at": [1.6, 1.6], "facing": 90},
            "w2": {"at": [3.0, 1.6], "facing": 90},
            "e1": {"at": [6.6, 1.6], "facing": 90},
        }
    },
    "noise": {"background": {"nc": 25}},
    "devices": {
        "m1": {"kind": "microphone", "product": "ceiling-head-3", "at": [2.1, 2.1, 2.7]},
        "m2": {"kind": "microphone", "product": "ceiling-head-3", "at": [6.9, 2.1, 2.7]},
    },
    "partitions": {"fold": {"from": [4.8, 0], "to": [4.8, 4.8]}},
    "arrangements": {"joined": {"open": ["fold"]}, "split": {"closed": ["fold"]}},
}


def written(judged: Judged) -> Outline:
    return outline(
        judged.evidence,
        judged.findings,
        None,
        identity=Identity("0000-0000", "0", "2026-01-01"),
        parts=tuple(PartEvidence(p.part, p.evidence) for p in judged.parts),
    )


def judged(catalogue: Catalogue, *, without: str = "", **targets: Any) -> Judged:
    document = copy.deepcopy(ROOM)
    document["devices"].pop(without, None)
    document["targets"] = targets
    return judge(codec.from_data(document), catalogue)


@pytest.fixture(scope="module")
def good(catalogue: Catalogue) -> Judged:
    return judged(catalogue)


def remark(page: Outline) -> str:
    return "".join(run.text for run in dict(page.customer.remarks)["Arrangements"])


def words(page: Outline) -> str:
    return "\n".join(
        run.text
        for section in page.sections
        for block in section.blocks
        if isinstance(block, Paragraph)
        for run in block.line
    )


def test_the_customer_reads_in_which_arrangements_the_promise_holds(good: Judged) -> None:
    page = written(good)
    assert page.customer.answer.startswith("Yes, at all three places in every arrangement.")
    assert remark(page) == "The promise holds in every arrangement: joined and split."
    worst = good.evidence.worst()
    assert worst is not None
    assert f"The room as it is worst, {good.leads.partition('.')[0]}." in page.customer.map_note


def test_where_it_does_not_hold_is_named_with_the_places(catalogue: Catalogue) -> None:
    """A ratio between that of the seat in the small space and that in the large one."""
    parts = {p.name: p.evidence for p in judged(catalogue).parts}
    closed = [o.direct_to_reverberant.value for o in parts["split.b"].outbound]
    opened = [o.direct_to_reverberant.value for o in parts["joined"].outbound]
    assert max(closed) < min(opened)
    between = (max(closed) + min(opened)) / 2
    page = written(judged(catalogue, direct_to_reverberant_db=between, chance=0.5))
    said = remark(page)
    assert said.startswith("The promise holds in joined. In split, space ")
    assert "seat e1 is broken" in said
    assert "(split, space" in page.customer.answer


def test_a_space_without_a_microphone_is_a_no(catalogue: Catalogue) -> None:
    page = written(judged(catalogue, without="m2"))
    assert page.customer.answer.startswith("No: not in every arrangement. Seat e1 is without a")
    assert "In split, space b, no microphone hears one place" in remark(page)
    promised = {row.target: row.state for row in page.customer.promises}
    assert promised["sti_outbound"] not in ("kept", "at risk")
    assert "leaves them without a microphone: e1" in words(page)


def test_the_promise_table_has_the_worst_of_each_quantity_in_any_space(good: Judged) -> None:
    """The reverberant ratio is least where the room is smallest, whatever binds there."""
    rows = {row.target: row.predicted.text for row in written(good).customer.promises}
    least = min(
        o.direct_to_reverberant.value for part in good.parts for o in part.evidence.outbound
    )
    assert rows["direct_to_reverberant_db"].startswith(f"{least:.1f}".replace("-", "−"))


def test_every_space_has_its_ledger_and_its_room(good: Judged) -> None:
    titles = [section.title for section in written(good).sections]
    for title in ("Seat ledger", "The room"):
        for part in ("joined", "split, space a", "split, space b"):
            assert f"{title}: {part}" in titles
    assert titles.index("Seat ledger") < titles.index("Seat ledger: joined")
    assert "The room" not in titles
    assert "With fold closed: the space between south, east, north and fold." in words(
        written(good)
    )


def test_the_ledger_of_the_whole_says_where_each_place_is_worst(good: Judged) -> None:
    (ledger,) = [s for s in written(good).sections if s.title == "Seat ledger"]
    (table,) = [b for b in ledger.blocks if isinstance(b, Table)]
    heads = [column.head for column in table.columns]
    place, where = heads.index("Place"), heads.index("Worst in")
    found = {}
    for row in table.rows:
        name, part = row[place], row[where]
        assert isinstance(name, Run)
        assert isinstance(part, Run)
        found[name.text] = part.text
    assert found == {name: good.worst_in(name) for name in ("w1", "w2", "e1")}


def test_a_finding_says_in_which_arrangement_it_holds(good: Judged) -> None:
    section = next(s for s in written(good).sections if s.title == "Findings")
    (entries,) = [b for b in section.blocks if isinstance(b, Entries)]
    leads = [entry.lead for entry in entries.rows]
    assert any(lead.endswith(", in split, space b") for lead in leads)
    assert any(", in " not in lead for lead in leads)


def test_an_ordinary_room_has_no_word_of_arrangements(catalogue: Catalogue) -> None:
    plain = {k: v for k, v in ROOM.items() if k not in ("partitions", "arrangements")}
    page = written(judge(codec.from_data(plain), catalogue))
    assert "Arrangements" not in dict(page.customer.remarks)
    (worked,) = [chapter for chapter in page.chapters if chapter.reader == "engineer"]
    assert [s.title for s in worked.sections][:3] == [
        "Seat ledger",
        "How many, and why not fewer",
        "The room",
    ]
    assert "arrangement" not in page.customer.answer + words(page)
