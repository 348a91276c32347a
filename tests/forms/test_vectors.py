"""A user's SVG: what is passed on, and what is refused with where, what and what is allowed."""

from __future__ import annotations

import base64
import re
from pathlib import Path
from typing import Any

import pytest
import yaml

from tests.forms.test_rasters import png
from wellheard.forms.rasters import Unfit
from wellheard.forms.vectors import (
    DEEPEST,
    ELEMENTS,
    MOST_BYTES,
    MOST_ELEMENTS,
    MOST_PICTURES,
    read_svg,
)

HOSTILE: list[dict[str, Any]] = yaml.safe_load(
    (Path(__file__).parent / "hostile_svg.yaml").read_text(encoding="utf-8")
)


def svg(inside: str = "", attributes: str = 'viewBox="0 0 120 40"') -> bytes:
    return f'<svg xmlns="http://www.w3.org/2000/svg" {attributes}>{inside}</svg>'.encode()


def refused(raw: bytes) -> Unfit:
    with pytest.raises(Unfit) as found:
        read_svg(raw)
    return found.value


@pytest.mark.parametrize("case", HOSTILE, ids=lambda case: str(case["name"]))
def test_what_could_do_harm_is_refused(case: dict[str, Any]) -> None:
    raw = case["whole"].encode() if "whole" in case else svg(case["inside"])
    unfit = refused(raw)
    assert case["says"] in unfit.what
    assert unfit.allowed


def test_the_place_is_named() -> None:
    unfit = refused(svg("\n  <rect/>\n  <script>1</script>"))
    assert (unfit.line, unfit.column) == (3, 3)


@pytest.mark.parametrize(
    "raw",
    [
        svg("<g/>" * (MOST_ELEMENTS + 1)),
        svg("<g>" * DEEPEST + "</g>" * DEEPEST),
        svg("<metadata>" + "<x>" * 60 + "</x>" * 60 + "</metadata>"),
        svg(f'<path d="{"M0 0" * 50_000}"/>'),
        b" " * (MOST_BYTES + 1),
        svg(f'<image href="data:image/png;base64,{base64.b64encode(png(1, 1)).decode()}"/>' * 5),
    ],
    ids=["elements", "depth", "unseen depth", "letters", "bytes", "pictures"],
)
def test_what_would_cost_without_end_is_refused(raw: bytes) -> None:
    assert refused(raw).allowed


def test_shapes_colours_and_gradients_stay() -> None:
    inside = (
        "<style>/* ours */ .a, #b{fill:#1a2b3c;stroke-width:2}</style>"
        '<defs><linearGradient id="g"><stop offset="0" stop-color="#123"/></linearGradient>'
        '<clipPath id="c"><rect width="9" height="9"/></clipPath></defs>'
        '<g transform="translate(1 2)" clip-path="url(#c)"><path class="a" d="M0 0L5 5Z"/></g>'
        '<circle id="b" cx="3" cy="3" r="2" fill="url(#g)" style="opacity:.5"/>'
    )
    found = read_svg(svg(inside)).svg
    for kept in (
        ".a, #b{fill:#1a2b3c;stroke-width:2}",
        'stop-color="#123"',
        'd="M0 0L5 5Z"',
        'clip-path="url(#c)"',
        'fill="url(#g)"',
        'style="opacity:.5"',
    ):
        assert kept in found


def test_what_nobody_sees_is_left_out() -> None:
    inside = (
        "<title>Our logo</title><metadata><rdf>who</rdf></metadata><!-- secret -->"
        '<sodipodi:namedview xmlns:sodipodi="http://example.invalid/dtd" path="a-folder-of-mine"/>'
        '<rect width="5" height="5" data-owner="me" font-family="Any"/>'
    )
    found = read_svg(svg(inside)).svg
    for gone in ("Our logo", "who", "secret", "a-folder-of-mine", "data-owner", "font-family"):
        assert gone not in found
    assert '<rect width="5" height="5">' in found


def test_nothing_but_the_list_comes_out() -> None:
    found = read_svg(svg('<g id="a"><path d="M0 0" fill="&#34;&gt;x"/></g>'.replace("&gt;", "")))
    assert set(re.findall(r"<([\w:]+)", found.svg)) <= ELEMENTS


def test_a_value_cannot_close_its_attribute() -> None:
    assert "fill" in refused(svg('<rect fill="&quot;&gt;&lt;script&gt;" width="1"/>')).what


@pytest.mark.parametrize(
    ("attributes", "size"),
    [
        ('viewBox="0 0 120 40"', (120.0, 40.0)),
        ('viewBox="-5,-5 , 30 10" width="10mm"', (30.0, 10.0)),
        ('width="90px" height="30px"', (90.0, 30.0)),
    ],
)
def test_its_size_is_that_of_its_own_units(attributes: str, size: tuple[float, float]) -> None:
    found = read_svg(svg('<circle r="3"/>', attributes))
    assert (found.width, found.height) == size
    assert f'width="{size[0]:g}" height="{size[1]:g}"' in found.svg


@pytest.mark.parametrize(
    "inside",
    [
        "",
        "<g><g/></g>",
        "<title>ours</title>",
        "<style>.a{fill:#123}</style>",
        '<defs><rect width="5" height="5"/></defs>',
        '<clipPath id="c"><circle r="3"/></clipPath>',
        "<path/>",
        '<polygon points=" "/>',
        # A rectangle of no stated width has none (SVG 2, 10.2 [M]).
        '<rect height="5"/>',
    ],
)
def test_a_picture_of_nothing_is_refused(inside: str) -> None:
    unfit = refused(svg(inside))
    assert unfit.what == "nothing to see in it"
    assert "path, rect, circle" in unfit.allowed


@pytest.mark.parametrize("shape", ['<line x2="5"/>', '<ellipse rx="2"/>', '<path d="M0 0h9"/>'])
def test_one_shape_in_a_group_is_a_picture(shape: str) -> None:
    assert shape.partition(" ")[0] in read_svg(svg(f"<defs/><g><g>{shape}</g></g>")).svg


def test_it_is_read_again_as_it_was_written() -> None:
    once = read_svg(svg('<style>.a{fill:#123}</style><path class="a" d="M0 0L1 1"/>'))
    assert read_svg(once.svg.encode()) == once


def test_a_small_png_in_it_stays_without_what_hides_in_it() -> None:
    held = base64.b64encode(png(2, 2, texts=b"secret")).decode()
    inside = f'<image width="5" height="5" href="data:image/png;base64,{held}"/>'
    found = read_svg(svg(inside * MOST_PICTURES)).svg
    (data, *_) = re.findall(r"base64,([^\"]+)", found)
    assert b"secret" not in base64.b64decode(data)
