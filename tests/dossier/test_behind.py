"""The second page of the customer: what was known, what was assumed, what is not assessed."""

from __future__ import annotations

import dataclasses
import re

import pytest

from tests.dossier.conftest import BuildEvidence
from tests.dossier.test_commissioning import texts
from wellheard.dossier.model import Contents, Entries
from wellheard.dossier.sections.behind import MOST_ASSUMED, OPEN, behind_section
from wellheard.dossier.sections.grounds import NOT_ASSESSED_HERE, ONLY_AS_SET, open_questions
from wellheard.predict.evidence import Assumed, Evidence

FIELD = re.compile(r"\b(?:space|people|noise|targets|equipment|furniture|far_end)\.[a-z_]+")


def said(evidence: Evidence) -> str:
    return texts(behind_section(evidence).blocks)


def test_whatever_is_left_open_has_a_sentence_for_the_customer() -> None:
    labels = {label for label, _ in (*NOT_ASSESSED_HERE, ONLY_AS_SET)} | {"The site", "Every place"}
    assert labels <= set(OPEN)
    for text in OPEN.values():
        assert text.endswith(".")
        assert len(text.split()) > 5


@pytest.mark.parametrize("microphones", [0, 2])
def test_all_of_it_is_told(build: BuildEvidence, microphones: int) -> None:
    evidence = build(microphones=microphones)
    for label, _ in open_questions(evidence):
        assert OPEN[label] in said(evidence)


def test_where_the_inputs_come_from_is_one_sentence(evidence: Evidence) -> None:
    found = said(evidence)
    assert "We measured the plan of the room; you told us" in found
    assert "the finishes" not in found[: found.index("What we assumed")]


def test_assumptions_come_by_weight_and_the_rest_is_counted(evidence: Evidence) -> None:
    many = tuple(
        Assumed(f"people.seats.s{i}", f"Sentence {i}.", 0.1 * i, 0.01) for i in range(1, 13)
    )
    section = behind_section(dataclasses.replace(evidence, assumptions=many))
    first = next(block for block in section.blocks if isinstance(block, Entries))
    assert [row.body[0].text for row in first.rows] == [
        f"Sentence {i}." for i in range(12, 12 - MOST_ASSUMED, -1)
    ]
    assert "Five more, of less weight, are listed in" in texts(section.blocks)


def test_no_path_of_the_document_is_shown_to_a_customer(evidence: Evidence) -> None:
    told = (*evidence.assumptions, Assumed("space.height", "space.height is assumed.", None, None))
    assert not FIELD.search(said(dataclasses.replace(evidence, assumptions=told)))


def test_cables_are_not_left_open_where_the_document_has_them(build: BuildEvidence) -> None:
    assert "Cables" in dict(open_questions(build()))
    wired = build(
        room_changes={
            "equipment": {"computer": {"kind": "computer", "at": [5, 1, 0.7]}},
            "devices": {"m9": {"kind": "microphone", "product": "ceiling-head-3", "at": [2, 2, 2]}},
            "links": {"c1": {"from": "m9.link", "to": "computer.usb"}},
        }
    )
    assert "Cables" not in dict(open_questions(wired))


def test_the_contents_end_the_part(evidence: Evidence) -> None:
    assert isinstance(behind_section(evidence).blocks[-1], Contents)
