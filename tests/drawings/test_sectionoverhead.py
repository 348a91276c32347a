"""What is overhead in a section: at its height, hung from the ceiling, before or beyond the cut."""

from __future__ import annotations

from dataclasses import replace

import pytest

from wellheard.drawings.boxes import Box, Placer
from wellheard.drawings.canvas import Area, Canvas, Line
from wellheard.drawings.sectionoverhead import (
    BODY,
    Part,
    draw_deep,
    draw_hung,
    name_overhead,
    parts_of,
)
from wellheard.drawings.view import OverheadMark, PlanView

MM = 20.0
"""Of paper to a metre, by hand: 1 : 50."""


def drawn(view: PlanView, *marks: OverheadMark) -> tuple[Canvas, list[Box]]:
    canvas = Canvas()
    placer = Placer(Box.spanning(0, 0, 400, 200))
    found = parts_of(
        replace(view, height=3.0, overhead=marks),
        2.0,
        px=lambda x: 10.0 + MM * x,
        pz=lambda z: 100.0 - MM * z,
    )
    draw_hung(canvas, found, placer, ceiling=40.0)
    draw_deep(canvas, found, placer)
    return canvas, [part.box for part in found]


def strip(y0: float, y1: float, bottom: float | None, kind: str = "luminaire") -> OverheadMark:
    outline = ((1.0, y0), (3.0, y0), (3.0, y1), (1.0, y1))
    return OverheadMark(
        "track-1", outline, "luminaire" if kind == "luminaire" else "keep-out", bottom=bottom
    )


def test_a_luminaire_hangs_on_rods_with_its_underside_at_its_height(
    views: dict[str, PlanView],
) -> None:
    canvas, (box,) = drawn(views["bare"], strip(1.9, 2.1, 2.4))
    left, top, right, bottom = box.bounds
    assert (left, right) == pytest.approx((30.0, 70.0))
    assert bottom == pytest.approx(100.0 - MM * 2.4)
    assert bottom - top == pytest.approx(MM * BODY)
    rods = [command.runs[0] for command in canvas.commands if isinstance(command, Line)]
    assert len(rods) == 2
    assert all(run[0][1] == pytest.approx(40.0) and run[1][1] == pytest.approx(top) for run in rods)


def test_a_duct_fills_what_is_between_it_and_the_ceiling(views: dict[str, PlanView]) -> None:
    canvas, (box,) = drawn(views["bare"], strip(1.9, 2.1, 2.5, "duct"))
    assert box.bounds[1] == pytest.approx(40.0)
    assert box.bounds[3] == pytest.approx(50.0)
    (edge,) = [command.runs[0] for command in canvas.commands if isinstance(command, Line)]
    assert edge == ((30.0, 40.0), (30.0, 50.0), (70.0, 50.0), (70.0, 40.0))


def test_what_is_south_of_the_cut_is_not_seen_and_what_is_beyond_is_finer(
    views: dict[str, PlanView],
) -> None:
    assert drawn(views["bare"], strip(0.5, 1.5, 2.4))[1] == []
    pens = {
        name: [c.pen for c in drawn(views["bare"], mark)[0].commands if isinstance(c, Area)]
        for name, mark in (("cut", strip(1.9, 2.1, 2.4)), ("beyond", strip(2.5, 2.6, 2.4)))
    }
    assert pens == {"cut": ["thin"], "beyond": ["hair"]}


def test_a_name_says_how_high_it_hangs(views: dict[str, PlanView]) -> None:
    view = replace(views["bare"], height=3.0)
    canvas, placer = Canvas(), Placer(Box.spanning(0, 0, 400, 200))
    box = Box.spanning(30.0, 50.0, 70.0, 52.0)
    name_overhead(canvas, view, [Part(strip(1.9, 2.1, 2.4), box, met=True)], placer, size=2.57)
    assert [text.text for text in canvas.texts()] == ["track 1, underside 2400"]


def test_a_duct_has_its_name_in_it_and_something_small_beside_a_name_has_its_own_further_off(
    views: dict[str, PlanView],
) -> None:
    view = replace(views["bare"], height=3.0)
    canvas = Canvas()
    # Both rows under the sprinkler, as far as a name would reach, are taken.
    placer = Placer(Box.spanning(0, 0, 400, 200), [Box.spanning(199.0, 41.0, 212.0, 60.0)])
    duct = Box.spanning(30.0, 40.0, 170.0, 50.0)
    sprinkler = Box.spanning(205.0, 40.0, 207.0, 41.0)
    parts = [
        Part(strip(1.9, 2.1, 2.5, "duct"), duct, met=True),
        Part(replace(strip(1.9, 2.1, None, "duct"), id="s-1"), sprinkler, met=True),
    ]
    name_overhead(canvas, view, parts, placer, size=2.57)
    inside, aside = canvas.texts()
    assert (inside.text, aside.text) == ("track 1, underside 2500", "s 1")
    x0, y0, x1, y1 = inside.box.bounds
    assert 30.0 < x0 < x1 < 170.0
    assert 40.0 < y0 < y1 < 50.0
    left, _, right, _ = aside.box.bounds
    assert right < 199.0 or left > 212.0
