"""The PDF: pages, text, inert input, equal bytes, nothing outside the sheet."""

from __future__ import annotations

import dataclasses
import io
import re
import time
from collections.abc import Callable
from typing import Any

import pytest
from pypdf import PdfReader

from wellheard import dossier
from wellheard.checks.model import Finding
from wellheard.dossier import Identity
from wellheard.dossier.model import Column, Run, Table
from wellheard.dossier.sections.maps import maps_sections
from wellheard.dossier.writers.typst_pdf import is_accessible, write_pdf
from wellheard.place.proposal import Proposal
from wellheard.predict.evidence import Evidence

Build = Callable[..., Evidence]
MM = 72 / 25.4

HOSTILE = (
    'Room "9" #let x = 1 *bold* _it_ $x^2$ <tag> \\ `raw` @ref // no #image("/etc/passwd") & 🎉 '
    "שלום مرحبا"
)


def reader(pdf: bytes) -> PdfReader:
    return PdfReader(io.BytesIO(pdf))


def text_of(pdf: bytes) -> str:
    return "\n".join(page.extract_text() for page in reader(pdf).pages)


@pytest.fixture
def made(
    at_risk: Evidence,
    findings: tuple[Finding, ...],
    proposal: Proposal,
    plan_sheets: tuple[str, ...],
    small_plan: str,
    identity: Identity,
) -> bytes:
    return dossier.pdf(at_risk, findings, proposal, plan_sheets, small_plan, identity=identity)


def test_the_pdf_opens_with_the_customer_and_the_drawing_ends_the_part_of_the_installer(
    made: bytes,
) -> None:
    pages = reader(made).pages
    assert len(pages) >= 6
    first = pages[0].extract_text()
    assert "Will the far end understand every seat?" in first
    assert "Seat s10 is at risk" in first
    assert "Price" in first
    assert f"page 1 of {len(pages)}" in first
    texts = [page.extract_text() for page in pages]
    (drawing,) = (i for i, text in enumerate(texts) if "Ceiling plan" in text)
    assert "For the installer" in texts[drawing - 1]
    assert "For commissioning" in texts[drawing + 1]


def test_text_pages_are_a4_and_the_drawing_keeps_a3(made: bytes) -> None:
    sizes = [
        (round(float(p.mediabox.width) / MM), round(float(p.mediabox.height) / MM))
        for p in reader(made).pages
    ]
    assert sizes.count((420, 297)) == 1
    assert set(sizes) == {(420, 297), (210, 297)}


def test_every_part_is_in_the_pdf(made: bytes) -> None:
    text = text_of(made)
    for title in (
        "Seat ledger",
        "How many, and why not fewer",
        "The room",
        "Findings",
        "What this stands on",
        "Cautions",
    ):
        assert title in text
    assert text.count("Engineering predictions: local codes and licensed practice decide.") == (
        len(reader(made).pages) - 1
    )


def test_equal_input_gives_equal_bytes(
    evidence: Evidence, proposal: Proposal, identity: Identity, small_plan: str
) -> None:
    one, two = (
        dossier.pdf(evidence, (), proposal, (), small_plan, identity=identity) for _ in range(2)
    )
    assert one == two
    assert reader(one).metadata is not None


def test_another_date_gives_another_time_stamp(evidence: Evidence, identity: Identity) -> None:
    first = reader(dossier.pdf(evidence, (), None, identity=identity)).metadata
    later = dataclasses.replace(identity, date="2027-03-04")
    second = reader(dossier.pdf(evidence, (), None, identity=later)).metadata
    assert first is not None
    assert second is not None
    assert first.creation_date is not None
    assert first.creation_date.date().isoformat() == "2026-02-11"
    assert second.creation_date is not None
    assert second.creation_date.date().isoformat() == "2027-03-04"


def test_what_a_user_writes_is_printed_and_not_obeyed(
    build: Build, identity: Identity, findings: tuple[Finding, ...]
) -> None:
    hostile = build(room_changes={"title": HOSTILE, "project": {"client": HOSTILE, "number": "#1"}})
    # The reader of this test turns the line after right-to-left text about: remedy first.
    told = (
        dataclasses.replace(findings[2], remedy="$ #remedy *"),
        dataclasses.replace(findings[0], message=HOSTILE),
    )
    text = " ".join(text_of(dossier.pdf(hostile, told, None, identity=identity)).split())
    assert "#let x = 1 *bold* _it_ $x^2$ <tag>" in text
    assert '#image("/etc/passwd")' in text
    assert "$ #remedy *" in text


LONG = "Donaudampfschifffahrtsgesellschaftskapitänsmützenfabrikationsleiterbesprechungszimmer"


def outside(pdf: bytes) -> list[tuple[int, str, float, float]]:
    """Pieces of text that begin outside the type area of a text page."""
    found: list[tuple[int, str, float, float]] = []
    for number, page in enumerate(reader(pdf).pages, start=1):
        width, height = float(page.mediabox.width) / MM, float(page.mediabox.height) / MM
        if width > height:
            continue

        def seen(
            text: str,
            cm: list[float],
            tm: list[float],
            font: Any,
            size: float,
            number: int = number,
            width: float = width,
            height: float = height,
        ) -> None:
            if not text.strip():
                return
            x = (tm[4] * cm[0] + tm[5] * cm[2] + cm[4]) / MM
            y = (tm[4] * cm[1] + tm[5] * cm[3] + cm[5]) / MM
            if not (21.5 <= x <= width - 20.5 and 8 <= y <= height - 15):
                found.append((number, text, x, y))

        page.extract_text(visitor_text=seen)
    return found


def test_no_text_begins_outside_the_margins(made: bytes) -> None:
    assert outside(made) == []


def test_long_words_and_many_seats_stay_within_the_margins(
    build: Build, identity: Identity, proposal: Proposal, small_plan: str
) -> None:
    seats = {f"seat-{i}": {"at": [0.1 + 0.06 * i, 1.0], "facing": 0} for i in range(90)}
    crowded = build(
        room_changes={
            "title": LONG,
            "project": {"client": LONG, "site": LONG},
            "people": {"seats": seats},
        },
        sti=[0.60 + 0.001 * i for i in range(90)],
    )
    pdf = dossier.pdf(crowded, (), proposal, (), small_plan, identity=identity)
    assert outside(pdf) == []
    first = reader(pdf).pages[0].extract_text()
    assert "Price" in first
    ledger = [p.extract_text() for p in reader(pdf).pages if "80 wanted" in p.extract_text()]
    assert len(ledger) >= 2, "a long ledger repeats its head on every page"


@pytest.mark.parametrize("ratio", [0.5, 1.0, 2.5])
def test_the_customer_page_is_one_page_whatever_the_shape_of_the_plan(
    at_risk: Evidence, proposal: Proposal, identity: Identity, ratio: float
) -> None:
    svg = (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{100 * ratio}mm" height="100mm" '
        f'viewBox="0 0 {ratio} 1"><rect width="{ratio}" height="1" fill="#ccc"/></svg>'
    )
    pages = reader(dossier.pdf(at_risk, (), proposal, (), svg, identity=identity)).pages
    assert "Price" in pages[0].extract_text()
    assert "Seat ledger" in pages[1].extract_text()


def test_a_feet_document_is_set_on_letter_paper(
    build: Build, proposal: Proposal, identity: Identity, small_plan: str
) -> None:
    feet = build(
        room_changes={
            "units": "ft",
            "space": {"outline": [[0, 0], [21, 0], [21, 15], [0, 15]], "height": 9},
            "people": {"seats": {"s1": {"at": [6, 6], "facing": 0}}},
        }
    )
    pages = reader(dossier.pdf(feet, (), proposal, (), small_plan, identity=identity)).pages
    assert float(pages[0].mediabox.width) == pytest.approx(612)
    assert float(pages[0].mediabox.height) == pytest.approx(792)
    assert "Price" in pages[0].extract_text()


def test_only_the_shipped_sans_is_used_for_plain_text(made: bytes) -> None:
    fonts: set[str] = set()
    for page in reader(made).pages:
        resources: Any = page["/Resources"]
        for font in (resources.get("/Font") or {}).values():
            fonts.add(str(font.get_object()["/BaseFont"]))
    assert fonts
    assert all("Barlow" in name for name in fonts), fonts


def test_a_warm_dossier_takes_less_than_half_a_second(
    at_risk: Evidence,
    findings: tuple[Finding, ...],
    proposal: Proposal,
    plan_sheets: tuple[str, ...],
    small_plan: str,
    identity: Identity,
) -> None:
    def seconds() -> float:
        start = time.process_time()
        dossier.pdf(at_risk, findings, proposal, plan_sheets, small_plan, identity=identity)
        return time.process_time() - start

    seconds()
    # Processor time, all threads: the machine may be busy with other things.
    assert min(seconds() for _ in range(3)) < 0.5


def test_maps_stand_on_pages_of_their_own_with_a_word_for_who_cannot_see_them(
    at_risk: Evidence,
    findings: tuple[Finding, ...],
    proposal: Proposal,
    small_plan: str,
    identity: Identity,
) -> None:
    drawing = (
        '<svg xmlns="http://www.w3.org/2000/svg" width="160mm" height="200mm" '
        'viewBox="0 0 160 200"><title>Clarity &amp; more</title>'
        '<text x="10" y="20" font-family="Barlow" font-size="4">clear here</text></svg>'
    )
    maps = [("", drawing), ("", drawing)]
    plain, mapped = (
        dossier.pdf(
            at_risk, findings, proposal, (), small_plan, identity=identity, maps=maps[:count]
        )
        for count in (0, 2)
    )
    assert len(reader(mapped).pages) == len(reader(plain).pages) + 2
    pages = [page.extract_text() for page in reader(mapped).pages]
    shown = [number for number, page in enumerate(pages) if "clear here" in page]
    assert len(shown) == 2
    assert "Maps" in pages[shown[0]]
    outline = dossier.outline(
        at_risk, findings, proposal, (), small_plan, identity=identity, maps=maps
    )
    (section,) = [one for one in outline.sections if one.title == "Maps"]
    assert [block.alt for block in section.blocks[1:]] == ["Clarity & more"] * 2  # type: ignore[union-attr]


def test_every_arrangement_has_its_maps_under_its_name() -> None:
    drawing = '<svg xmlns="http://www.w3.org/2000/svg" width="10mm" height="10mm"></svg>'
    found = list(maps_sections([("joined", drawing), ("split", drawing), ("split", drawing)]))
    assert [(one.title, len(one.blocks)) for one in found] == [
        ("Maps: joined", 2),
        ("Maps: split", 3),
    ]
    assert list(maps_sections(())) == []


def test_the_last_rows_of_a_long_table_stay_together(build: Build, identity: Identity) -> None:
    """Three at least, with what is said under them, wherever the page ends."""
    whole = dossier.outline(build(), (), None, identity=identity)
    chapter = next(one for one in whole.chapters if one.sections and one.reader != "customer")

    def rows_on_pages(count: int) -> list[int]:
        rows = tuple((Run(f"row{n}"), Run("1")) for n in range(count))
        table = Table((Column("What", 0), Column("Value", 20, "right")), rows)
        section = dataclasses.replace(chapter.sections[0], blocks=(table,))
        short = dataclasses.replace(chapter, sections=(section,), sheets=())
        pdf = write_pdf(dataclasses.replace(whole, chapters=(short,)))
        return [len(re.findall(r"row\d+", page.extract_text())) for page in reader(pdf).pages]

    fits = rows_on_pages(60)[0]
    for over in (1, 2, 4):
        assert rows_on_pages(fits + over)[-1] == max(over, 3)


def test_letters_that_no_typeface_has_make_a_plain_pdf_and_nothing_fails(
    build: Build, identity: Identity
) -> None:
    """ISO 14289-1, 7.21: no letter may be without a glyph [M]."""
    plain = dossier.pdf(build(), (), None, identity=identity)
    foreign = dossier.pdf(build(room_changes={"title": HOSTILE}), (), None, identity=identity)
    assert is_accessible(plain)
    assert not is_accessible(foreign)
    assert b"/MarkInfo" in foreign
