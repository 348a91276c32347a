"""A house's own logo and words: where they stand, and what is refused."""

from __future__ import annotations

import io
from pathlib import Path

import pytest
from pypdf import PdfReader

from tests.forms.test_rasters import png
from wellheard import dossier
from wellheard.dossier import Identity
from wellheard.dossier.letterhead import (
    LOGO_HEIGHT,
    LOGO_WIDTH,
    parse_house,
    parse_logo,
    read_letterhead,
)
from wellheard.dossier.model import Letterhead
from wellheard.errors import DocumentError, InputError
from wellheard.place.proposal import Proposal
from wellheard.predict.evidence import Evidence

HOUSE = """\
company: Curlew Sound
address: [Quay 3, 12345 Port Ebb]
contact: hello@curlew.example
opening: Thank you for asking us.
closing: |
  We come back to measure.

  Then you sign.
terms: Prices hold for thirty days.
"""
NO_LOGOS = {
    b"": "there is nothing in it",
    b"\xff\xd8\xff\xe0\x00\x10JFIF": r"this is a picture \(JPEG\)",
    b"%PDF-1.7\n": "this is a PDF",
}
LOGO = (
    b'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 120 40">'
    b'<rect width="120" height="40" fill="#123456"/></svg>'
)
REFUSED = {
    "compagny: x": ":1:1: compagny: unknown field; did you mean company?",
    "company: [x]": ":1:10: company: ",
    f"company: {'x' * 81}": ":1:10: company: text of 81 characters; at most 80 characters",
    "address: [a, b, c, d, e, f]": ":1:10: address: 6 lines; at most 5 lines",
    f"opening: {'x ' * 201}y": ":1:10: opening: text of 403 characters; at most 400 characters",
    "terms: 3": ":1:8: terms: ",
    "company: a\ncompany: b": ":2:1: company: ",
    "a: &x [1]\nb: *x": "<text>:1",
    "": "there is nothing in it",
    "%PDF-1.7": "this is a PDF",
    'company: "\\e[2J"': "control character",
}


@pytest.fixture
def files(tmp_path: Path) -> tuple[Path, Path]:
    logo, house = tmp_path / "logo.svg", tmp_path / "house.yaml"
    logo.write_bytes(LOGO)
    house.write_text(HOUSE, encoding="utf-8")
    return logo, house


@pytest.fixture
def whose(files: tuple[Path, Path]) -> Letterhead:
    return read_letterhead(*files)


def pages(pdf: bytes) -> list[str]:
    return [" ".join(page.extract_text().split()) for page in PdfReader(io.BytesIO(pdf)).pages]


def test_nothing_is_said_of_nobody() -> None:
    assert read_letterhead(None, None) == Letterhead()


def test_words_stand_where_they_belong(
    evidence: Evidence, proposal: Proposal, identity: Identity, small_plan: str, whose: Letterhead
) -> None:
    pdf = dossier.pdf(evidence, (), proposal, (), small_plan, identity=identity, letterhead=whose)
    first, second, *others = pages(pdf)
    assert "Thank you for asking us." in first
    assert "Price" in first
    for text in ("We come back to measure.", "Then you sign.", "Quay 3 · 12345 Port Ebb"):
        assert text in second
    assert second.index("From Curlew Sound") < second.index("Terms")
    assert not any("Curlew" in page for page in others)


@pytest.mark.parametrize("raw", [LOGO, png(300, 100)], ids=["svg", "png"])
def test_a_logo_is_a_picture_with_a_name_on_the_first_page(
    evidence: Evidence, identity: Identity, small_plan: str, raw: bytes
) -> None:
    whose = Letterhead(company="Curlew Sound", logo=parse_logo(raw, whose="Curlew Sound"))
    pdf = dossier.pdf(evidence, (), None, (), small_plan, identity=identity, letterhead=whose)
    assert b"Logo of Curlew Sound" in pdf or "Logo of Curlew Sound".encode("utf-16-be") in pdf
    again = dossier.pdf(evidence, (), None, (), small_plan, identity=identity, letterhead=whose)
    assert pdf == again


@pytest.mark.parametrize(
    ("box", "size"),
    [("0 0 120 40", (42.0, 14.0)), ("0 0 200 20", (42.0, 4.2)), ("0 0 10 20", (7.0, 14.0))],
)
def test_a_logo_fits_its_box_and_keeps_its_shape(box: str, size: tuple[float, float]) -> None:
    found = parse_logo(LOGO.replace(b"0 0 120 40", box.encode()))
    assert (found.width, found.height) == pytest.approx(size)
    assert found.width <= LOGO_WIDTH
    assert found.height <= LOGO_HEIGHT


@pytest.mark.parametrize(("text", "says"), REFUSED.items())
def test_a_text_that_is_none_is_refused_with_place_and_what_is_allowed(
    text: str, says: str
) -> None:
    with pytest.raises(DocumentError) as refused:
        parse_house(text)
    assert says in str(refused.value)


def test_a_hostile_logo_is_refused_under_its_file_name(tmp_path: Path) -> None:
    logo = tmp_path / "logo.svg"
    logo.write_bytes(LOGO.replace(b"<rect", b"<script/><rect"))
    with pytest.raises(DocumentError, match=r"logo\.svg:1:\d+: an element <script>; shapes"):
        read_letterhead(logo, None)


def test_a_logo_that_is_not_there_is_an_error_of_input(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="a logo as PNG or SVG that can be read"):
        read_letterhead(tmp_path / "none.svg", None)


@pytest.mark.parametrize("raw", NO_LOGOS)
def test_what_is_no_logo_is_called_what_it_is(raw: bytes) -> None:
    with pytest.raises(DocumentError, match=f"{NO_LOGOS[raw]}; a logo as PNG or SVG"):
        parse_logo(raw, name="brand")
