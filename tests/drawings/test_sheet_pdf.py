"""Sheets as PDF files of their own, read back with another library."""

from __future__ import annotations

import pypdfium2 as pdfium
import pytest

from wellheard.drawings.backends.pdf import sheet_pdf
from wellheard.drawings.plan import SheetDrawing, draw_sheet
from wellheard.drawings.view import PlanView

POINT = 25.4 / 72  # [mm]


@pytest.fixture(scope="module", params=["ten seats", "L-shape, feet, turned grid"])
def sheet(views: dict[str, PlanView], request: pytest.FixtureRequest) -> SheetDrawing:
    return draw_sheet(views[request.param])


def made(sheet: SheetDrawing, date: str = "2026-11-20") -> bytes:
    paper = sheet.paper
    return sheet_pdf(sheet.canvas, paper.width, paper.height, title="Plan of a room", date=date)


def test_the_page_is_the_paper_and_there_is_one(sheet: SheetDrawing) -> None:
    with pdfium.PdfDocument(made(sheet)) as document:
        assert len(document) == 1
        width, height = document[0].get_size()
    # ISO 216 and ANSI/ASME Y14.1, from memory: A3 is 297 × 420, ANSI B 11 × 17 in.
    paper = {"A3": (420.0, 297.0), "ANSI B": (17 * 25.4, 11 * 25.4)}[sheet.paper.name]
    assert (width * POINT, height * POINT) == pytest.approx(paper, abs=0.05)


def test_every_word_of_the_sheet_can_be_searched(sheet: SheetDrawing) -> None:
    with pdfium.PdfDocument(made(sheet)) as document:
        found = document[0].get_textpage().get_text_bounded()
    said = "".join(found.split())
    for text in sheet.canvas.texts():
        assert "".join(text.text.split()) in said, text.text


def test_it_is_tagged_titled_and_says_in_words_what_it_shows(sheet: SheetDrawing) -> None:
    data = made(sheet)
    with pdfium.PdfDocument(data) as document:
        assert document.get_metadata_value("Title") == "Plan of a room"
        assert document.is_tagged()
    assert b"/Alt" in data or b"/StructTreeRoot" in data


def test_the_same_sheet_and_date_give_the_same_bytes(sheet: SheetDrawing) -> None:
    assert made(sheet) == made(sheet)
    assert made(sheet) != made(sheet, date="2026-11-21")
