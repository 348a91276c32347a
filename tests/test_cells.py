"""No cell of a table is a formula, and no figure stops being one."""

from __future__ import annotations

import csv
import io

import pytest
from hypothesis import given
from hypothesis import strategies as st

from wellheard.cells import comma_separated, csv_cell, is_formula

# The first characters that OWASP ASVS 5.0 requirement 1.2.10 names [L], the line ends that
# spreadsheets drop before them, and the full-width and small forms of the signs (Unicode charts).
STARTS = ["=", "+", "-", "@", "\t=", "\r=", "\n=", " =", "\u00a0=", "\ufeff=", "\u200b="]
WIDE = ["＝", "＋", "－", "＠", "﹦", "﹢", "﹣", "﹫"]
ATTACKS = ["cmd|' /C calc'!A0", 'HYPERLINK("https://example.invalid","x")', "SUM(1+1)*cmd|' '!A0"]


@pytest.mark.parametrize("start", STARTS + WIDE)
@pytest.mark.parametrize("attack", ATTACKS)
def test_what_begins_like_a_formula_is_marked_as_text(start: str, attack: str) -> None:
    assert is_formula(start + attack)
    assert csv_cell(start + attack) == "'" + start.replace("\r", "\n") + attack


@pytest.mark.parametrize("start", ["\t", "\r", "\n"])
def test_text_that_begins_with_a_tab_or_line_end_is_marked(start: str) -> None:
    assert str(csv_cell(f"{start}Tide Room")).startswith("'")


@pytest.mark.parametrize("figure", ["-3.5", "+3", "0", "1e-3", "-12", -3.5, 7, 0.0])
def test_a_figure_stays_a_figure(figure: object) -> None:
    assert csv_cell(figure) == figure
    assert type(csv_cell(figure)) is type(figure)


@pytest.mark.parametrize("text", ["Tide Room", "4 + 4", "a=b", "", "s1", "10–90 %", "'quoted'"])
def test_plain_text_stays_as_it_is(text: str) -> None:
    assert csv_cell(text) == text


@given(st.lists(st.text(), min_size=1, max_size=4))
def test_every_cell_reads_back_as_text_that_is_no_formula(cells: list[str]) -> None:
    table = comma_separated([f"c{i}" for i in range(len(cells))], [cells])
    _, *rows = csv.reader(io.StringIO(table, newline=""), strict=True)
    for given_text, cell in zip(cells, rows[0] if rows else [""], strict=True):
        lines = given_text.replace("\r\n", "\n").replace("\r", "\n")
        assert cell in (lines, f"'{lines}")
        assert not is_formula(cell)
