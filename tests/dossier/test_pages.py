"""Every page of whole dossiers, as a PDF reader sees it: nothing over anything, nothing cut off.

Boxes of letters are those of PDFium, which has no part in setting them.
"""

from __future__ import annotations

import ctypes
import io
import itertools
import re
import unicodedata
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
import pypdfium2
import pypdfium2.raw as pdfium
import pytest
import typst
from pypdf import PdfReader

from tests.effort import some
from wellheard.arrays import Array
from wellheard.dossier.model import (
    Block,
    Entries,
    Facts,
    Heading,
    Line,
    Outline,
    Paragraph,
    Run,
    Table,
)
from wellheard.workflow import publish
from wellheard.workflow.design import Designed
from wellheard.workflow.load import load

ROOT = Path(__file__).parents[2]
EXAMPLES = ("huddle-four", "ten-seats", "both-ways", "two-in-one")
"""Metres and feet, with and without sound, one that divides."""
MM = 72 / 25.4
TOUCH = 0.3
"""By how much two letters may reach into each other's boxes. [mm]"""
PART = 10.0
HEADINGS = (4.3, 7.14, PART)
"""Sizes of headings, that of a part the largest. [mm]"""
NOTE = 2.57
"""Size of what is said between a heading and its table. [mm]"""
LEAST_LETTERS = 80
"""On a page, beside its head and its foot."""
LEAST_REACH = 50.0
"""How far down a page goes; its head ends at 29. [mm]"""


@dataclass(frozen=True, eq=False)
class Page:
    """Letters of a page, from its upper left corner. [mm]"""

    number: int
    width: float
    height: float
    letters: str
    boxes: Array
    """Left, top, right, bottom of each."""
    words: Array
    """Number of the word that each belongs to."""
    sizes: Array
    fonts: frozenset[str]

    @property
    def is_drawing(self) -> bool:
        """Whether it is a sheet with one drawing."""
        return self.width > self.height


@dataclass(frozen=True, eq=False)
class Book:
    """A dossier as it was meant, and as it was set."""

    outline: Outline
    pdf: bytes
    pages: tuple[Page, ...]


def _page(document: pypdfium2.PdfDocument, number: int) -> Page:
    page = document[number]
    width, height = page.get_width() / MM, page.get_height() / MM
    text = page.get_textpage()
    letters: list[str] = []
    boxes, words, sizes, fonts, word = [], [], [], set(), 0
    for index in range(text.count_chars()):
        letter = chr(pdfium.FPDFText_GetUnicode(text, index))
        if letter.isspace() or unicodedata.category(letter) == "Cf":
            word += 1
            continue
        left, bottom, right, top = text.get_charbox(index)
        letters.append(letter)
        boxes.append((left / MM, height - top / MM, right / MM, height - bottom / MM))
        words.append(word)
        sizes.append(pdfium.FPDFText_GetFontSize(text, index) / MM)
        name, flags = ctypes.create_string_buffer(128), ctypes.c_int()
        pdfium.FPDFText_GetFontInfo(text, index, name, 128, flags)
        fonts.add(name.value.decode())
    return Page(
        number + 1,
        width,
        height,
        "".join(letters),
        np.array(boxes).reshape(-1, 4),
        np.array(words),
        np.array(sizes),
        frozenset(fonts),
    )


@pytest.fixture(scope="module", params=some(EXAMPLES, (1, 2, 3)))
def book(
    request: pytest.FixtureRequest, few_rays: None, designed: Callable[[str], Designed]
) -> Book:
    name = request.param
    loaded = load(ROOT / "examples" / name / f"{name}.room.yaml")
    made = publish.made(loaded, designed(name))
    pdf = made.files["dossier.pdf"]
    document = pypdfium2.PdfDocument(pdf)
    return Book(made.dossier, pdf, tuple(_page(document, n) for n in range(len(document))))


def crossing(page: Page) -> list[str]:
    """Words of a page that stand over each other."""
    left, top, right, bottom = page.boxes.T
    across = np.minimum(right[:, None], right) - np.maximum(left[:, None], left)
    down = np.minimum(bottom[:, None], bottom) - np.maximum(top[:, None], top)
    hit = (across > TOUCH) & (down > TOUCH) & (page.words[:, None] < page.words)
    return [
        f"page {page.number}: {word_at(page, int(a))!r} over {word_at(page, int(b))!r}"
        for a, b in zip(*np.nonzero(hit), strict=True)
    ]


def word_at(page: Page, index: int) -> str:
    return "".join(
        letter
        for letter, word in zip(page.letters, page.words, strict=True)
        if word == page.words[index]
    )


def test_no_letter_stands_over_another(book: Book) -> None:
    assert not [said for page in book.pages for said in crossing(page)]


def test_no_letter_stands_outside_the_margins(book: Book) -> None:
    found = []
    for page in book.pages:
        left, top, right, bottom = (4.0,) * 4 if page.is_drawing else (21.5, 15.0, 19.5, 7.0)
        out = (
            (page.boxes[:, 0] < left)
            | (page.boxes[:, 1] < top)
            | (page.boxes[:, 2] > page.width - right)
            | (page.boxes[:, 3] > page.height - bottom)
        )
        found += [f"page {page.number}: {word_at(page, int(n))!r}" for n in np.flatnonzero(out)]
    assert not found


def body(page: Page) -> Array:
    """Which letters stand between the head and the foot of a page."""
    return np.asarray((page.boxes[:, 1] > 26.0) & (page.boxes[:, 3] < page.height - 19.0))


def test_no_page_is_next_to_empty(book: Book) -> None:
    thin = [
        page.number
        for page in book.pages
        if not page.is_drawing and int(body(page).sum()) < LEAST_LETTERS
    ]
    assert not thin


def test_no_page_has_a_few_lines_alone(book: Book) -> None:
    """What is over from the page before is more than a note of four lines."""
    ends = {
        page.number: float(page.boxes[body(page), 3].max())
        for page in book.pages
        if not page.is_drawing
    }
    assert not {number: end for number, end in ends.items() if end < LEAST_REACH}


def test_no_heading_ends_a_page(book: Book) -> None:
    found = []
    for page in book.pages:
        inside = np.flatnonzero(body(page))
        if page.is_drawing or not len(inside):
            continue
        last = inside[np.argmax(page.boxes[inside, 3])]
        if any(abs(page.sizes[last] - size) < 0.05 for size in HEADINGS):
            found.append(f"page {page.number}: {word_at(page, int(last))!r}")
    assert not found


def is_heading(page: Page, index: int) -> bool:
    return any(abs(page.sizes[index] - size) < 0.05 for size in HEADINGS)


def test_no_heading_is_parted_from_its_table_by_a_page_with_only_what_is_said_between(
    book: Book,
) -> None:
    found = []
    for page, after in itertools.pairwise(book.pages):
        inside, behind = np.flatnonzero(body(page)), np.flatnonzero(body(after))
        heads = [n for n in inside if is_heading(page, int(n))]
        if page.is_drawing or after.is_drawing or not heads or not len(behind):
            continue
        foot = max(page.boxes[n, 3] for n in heads)
        below = inside[page.boxes[inside, 1] > foot]
        first = behind[np.argmin(after.boxes[behind, 1])]
        if (
            len(below)
            and page.sizes[below].max() < NOTE + 0.05
            and not is_heading(after, int(first))
        ):
            found.append(f"page {page.number}: {word_at(page, int(below[0]))!r}")
    assert not found


def test_only_fonts_of_the_package_are_in_it_and_they_are_embedded(book: Book) -> None:
    names = frozenset[str]().union(*(page.fonts for page in book.pages))
    assert names
    assert all("Barlow" in name for name in names), names


def test_it_is_tagged_titled_and_in_english(book: Book) -> None:
    """ISO 14289-1 (PDF/UA-1), 7.1 and 7.2: marked, a title that is shown, a language [M]."""
    catalogue = _root(book)
    assert catalogue["/MarkInfo"]["/Marked"]
    assert str(catalogue["/Lang"]).startswith("en")
    assert catalogue["/ViewerPreferences"]["/DisplayDocTitle"]
    assert b"pdfuaid:part" in book.pdf
    found = PdfReader(_stream(book.pdf)).metadata
    assert found is not None
    assert found.title == book.outline.title


def _root(book: Book) -> Any:
    """Catalogue of the file, whose parts have no types."""
    return PdfReader(_stream(book.pdf)).trailer["/Root"]


def _stream(pdf: bytes) -> io.BytesIO:
    return io.BytesIO(pdf)


def test_bookmarks_are_the_parts_with_their_sections_and_drawings(book: Book) -> None:
    found: dict[str, list[str]] = {}
    for entry in PdfReader(_stream(book.pdf)).outline:
        if isinstance(entry, list):
            found[list(found)[-1]] = [str(one.title) for one in entry if not isinstance(one, list)]
        else:
            found[str(entry.title)] = []
    assert list(found) == [chapter.title for chapter in book.outline.chapters]
    for chapter in book.outline.chapters:
        wanted = [section.title for section in chapter.sections]
        wanted += [drawing.alt for drawing in chapter.sheets]
        assert [title for title in found[chapter.title] if title != "The promise"] == wanted


def test_each_part_begins_on_a_page_of_its_own_under_its_name(book: Book) -> None:
    names = [_squeezed(chapter.title) for chapter in book.outline.chapters[1:]]
    assert book.outline.chapters[0].reader == "customer"
    assert [name for page in book.pages[1:] if (name := _largest(page))] == names
    last = len(book.pages)
    for page in book.pages:
        if not page.is_drawing:
            assert f"page{page.number}of{last}" in page.letters


def _largest(page: Page) -> str:
    """What is set as large as the name of a part."""
    large = np.abs(page.sizes - PART) < 0.05
    return "" if page.is_drawing else "".join(np.array(list(page.letters))[large])


def _figures(node: object) -> Iterator[object]:
    """Every figure of a structure tree."""
    node = getattr(node, "get_object", lambda: node)()
    if isinstance(node, list):
        for one in node:
            yield from _figures(one)
    elif isinstance(node, dict):
        if node.get("/S") == "/Figure":
            yield node
        if "/K" in node:
            yield from _figures(node["/K"])


def test_every_figure_says_what_it_shows(book: Book) -> None:
    """ISO 14289-1, 7.3: a figure has alternative text [M]."""
    figures = list(_figures(_root(book)["/StructTreeRoot"]))
    assert len(figures) >= len(book.outline.chapters)
    for figure in figures:
        assert isinstance(figure, dict)
        assert str(figure.get("/Alt", "")).strip()


def _lines(blocks: tuple[Block, ...]) -> Iterator[str]:
    def of(line: Line) -> Iterator[str]:
        for run in line:
            yield run.text

    for block in blocks:
        if isinstance(block, Heading):
            yield block.text
        elif isinstance(block, Paragraph):
            yield from of(block.line)
        elif isinstance(block, Table):
            for row in block.rows:
                yield from (cell.text for cell in row if isinstance(cell, Run))
        elif isinstance(block, Facts):
            for label, line in block.rows:
                yield label
                yield from of(line)
        elif isinstance(block, Entries):
            for entry in block.rows:
                yield entry.lead
                yield from of(entry.body)


# Arrows are drawn; a hyphen that ends a line has no letter of its own for PDFium.
_GONE = re.compile(r"[\s\u200b\u00ad\x02→-]+")


def _squeezed(text: str) -> str:
    return _GONE.sub("", text)


def test_no_word_is_cut_off(book: Book) -> None:
    """Whatever the outline says stands in the file, letter for letter."""
    whole = _squeezed("".join(page.letters for page in book.pages))
    missing = [
        text
        for section in book.outline.sections
        for text in _lines(section.blocks)
        if _squeezed(text) not in whole
    ]
    assert not missing


def _set(words: str) -> Page:
    pdf = typst.compile(words.encode())
    return _page(pypdfium2.PdfDocument(bytes(pdf)), 0)


def test_the_check_sees_words_that_stand_over_each_other() -> None:
    assert crossing(_set("#place(dx: 20mm)[first]#place(dx: 21mm)[other]"))
    assert not crossing(_set("first and other"))
