"""The curve of a finish: points where they belong, figures that are read, names that are inert."""

from __future__ import annotations

import re
from itertools import pairwise
from xml.etree import ElementTree

from wellheard.drawings.absorptioncurve import BOTTOM, HEIGHT, TOP, Curve, absorption_curve

FIGURES = (0.02, 0.06, 0.14, 0.37, 0.6, 0.65, 0.65)


def _dots(svg: str, role: str) -> list[tuple[float, float]]:
    found = re.findall(rf'class="dot {role}" cx="([0-9.]+)" cy="([0-9.]+)"', svg)
    return [(float(x), float(y)) for x, y in found]


def test_points_lie_at_their_share_of_the_height_and_at_equal_steps() -> None:
    svg = absorption_curve([Curve("A", FIGURES, "chosen")], title="A")
    dots = _dots(svg, "chosen")
    inside = HEIGHT - TOP - BOTTOM
    for value, (_, y) in zip(FIGURES, dots, strict=True):
        assert abs(y - (TOP + inside * (1 - value))) <= 0.051  # 0 to 1, one decimal is drawn
    steps = [b[0] - a[0] for a, b in pairwise(dots)]
    assert max(steps) - min(steps) <= 0.11


def test_every_figure_of_the_chosen_one_is_written_and_none_of_the_other() -> None:
    other = Curve("B", (0.11, 0.12, 0.13, 0.15, 0.16, 0.17, 0.18), "present")
    svg = absorption_curve([Curve("A", FIGURES, "chosen"), other], title="A")
    written = re.findall(r'class="figure"[^>]*>([0-9.]+)<', svg)
    assert written == [f"{value:.2f}" for value in FIGURES]


def test_chamber_values_above_one_stay_on_the_sheet() -> None:
    svg = absorption_curve([Curve("A", (0.5, 0.9, 1.1, 1.2, 1.2, 1.1, 1.0), "chosen")], title="A")
    assert all(y >= TOP for _, y in _dots(svg, "chosen"))
    assert ">1.2<" in svg


def test_names_are_text_however_they_are_written() -> None:
    name = '"><img src=x onerror=alert(1)>&'
    svg = absorption_curve([Curve(name, FIGURES, "chosen")], title=name)
    root = ElementTree.fromstring(svg)
    assert root.attrib["aria-label"] == name
    assert {element.tag for element in root.iter()} == {"svg", "path", "text", "circle"}
