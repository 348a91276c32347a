"""A sheet in the name of a company, with its logo: everything keeps its place."""

from __future__ import annotations

import base64
import re
from dataclasses import replace

import pytest

from tests.drawings.test_sheet import collisions
from wellheard.drawings.canvas import Picture
from wellheard.drawings.panel import LOGO_HEIGHT, LOGO_WIDTH
from wellheard.drawings.plan import draw_sheet, plan_sheet
from wellheard.drawings.view import Logo, PlanView

SVG = (
    '<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 60 20">'
    '<rect width="60" height="20"/></svg>'
)


def signed(view: PlanView, **changes: str) -> PlanView:
    logo = Logo(SVG, 60.0, 20.0)
    block = replace(view.title_block, company="Curlew Sound", logo=logo, **changes)
    return replace(view, title_block=block)


@pytest.mark.parametrize("name", ["ten seats", "ten seats, feet", "sixty, turned grid"])
def test_company_and_logo_stand_clear_of_all_words(views: dict[str, PlanView], name: str) -> None:
    drawing = draw_sheet(
        signed(views[name], title="A Room with a Name of Great Length", site="X" * 80)
    )
    canvas = drawing.canvas
    assert collisions(canvas.texts()) == []
    assert "Curlew Sound" in {text.text for text in canvas.texts()}
    (logo,) = (one for one in canvas.commands if isinstance(one, Picture))
    left, top = logo.at
    right, bottom = left + logo.width, top + logo.height
    for text in canvas.texts():
        x, y = text.box.centre
        half = (text.box.width / 2, text.box.height / 2)
        apart = x + half[0] <= left or x - half[0] >= right
        assert apart or y + half[1] <= top or y - half[1] >= bottom, text.text


def test_the_logo_keeps_its_shape_within_its_box(views: dict[str, PlanView]) -> None:
    canvas = draw_sheet(signed(views["ten seats"])).canvas
    (logo,) = (one for one in canvas.commands if isinstance(one, Picture))
    assert logo.width / logo.height == pytest.approx(3.0)
    assert logo.width <= LOGO_WIDTH
    assert logo.height <= LOGO_HEIGHT


def test_the_logo_is_an_image_of_its_own_in_the_file(views: dict[str, PlanView]) -> None:
    found = plan_sheet(signed(views["ten seats"]))
    (data,) = re.findall(r'href="data:image/svg\+xml;base64,([^"]+)"', found)
    assert base64.b64decode(data).decode() == SVG


def test_a_sheet_of_nobody_is_as_it_was(views: dict[str, PlanView]) -> None:
    assert "<image" not in plan_sheet(views["ten seats"])
