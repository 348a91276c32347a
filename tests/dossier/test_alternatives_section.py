"""The page of designs side by side: what a customer reads of each, and how few words claim."""

from __future__ import annotations

import pytest

from wellheard.dossier.model import Facts, Paragraph, Picture, Run, Section, Table
from wellheard.dossier.sections.alternatives import Offered, alternatives_section

OFFERED = [
    Offered("Cheapest", "1 × head", 2113.4, 0.904, "one opening", "one opening", "Least.", "much"),
    Offered(
        "Without openings",
        "4 × boundary",
        3821.0,
        0.997,
        "nothing",
        "without openings",
        "None cut.",
        leading=True,
    ),
]


def made(*, kept: bool = True, few: bool = False) -> Section:
    return alternatives_section(
        OFFERED[:1] if few else OFFERED,
        [(2900.0, 0.92)],
        wanted=0.8,
        currency="EUR",
        kept=kept,
    )


def test_each_design_has_its_row_its_reason_and_its_mark() -> None:
    blocks = made().blocks
    (table,) = (b for b in blocks if isinstance(b, Table))
    (facts,) = (b for b in blocks if isinstance(b, Facts))
    (chart,) = (b for b in blocks if isinstance(b, Picture))
    said = [[cell.text for cell in row if isinstance(cell, Run)] for row in table.rows]
    assert said[0] == ["Cheapest", "1 × head", "EUR\u00a02\u00a0113", "90\u00a0%", "one opening"]
    assert said[1][3] == ">\u00a099\u00a0%"
    assert [name for name, _ in facts.rows] == ["Cheapest", "Without openings"]
    # A word that its name says already is not drawn twice.
    assert chart.svg.lower().count("without openings") == 1


@pytest.mark.parametrize(
    ("kept", "few", "words"),
    [
        (True, False, "Of three whole designs that keep the promise, these two"),
        (True, False, "The other pages are of “Without openings”."),
        (True, True, "none is better in anything than the one below"),
        (False, False, "none keeps the promise"),
    ],
)
def test_the_lead_says_how_many_were_tried_and_whether_they_keep_it(
    kept: bool, few: bool, words: str
) -> None:
    lead = made(kept=kept, few=few).blocks[0]
    assert isinstance(lead, Paragraph)
    assert words in lead.line[0].text
