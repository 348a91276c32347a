"""Sheets and pictures of a diagram: all of it, legible, nothing over anything."""

from __future__ import annotations

import itertools
from itertools import pairwise

import pytest

from tests.drawings.diagram.conftest import hall
from tests.drawings.diagram.systems import random_system
from wellheard.catalog.catalogue import Catalogue
from wellheard.drawings.canvas import Area, Canvas, Line
from wellheard.drawings.diagram.layout import layout
from wellheard.drawings.diagram.model import Box, End, Link, Port, System
from wellheard.drawings.diagram.picture import ARROW, draw
from wellheard.drawings.diagram.room import system_of
from wellheard.drawings.diagram.sheets import DiagramSheet, draw_sheets
from wellheard.drawings.view import PlanView, Revision, TitleBlock, Unit

NOTE_MM = 1.8  # lowest letters of ISO 3098 that are kept to here


def view(units: Unit = "m") -> PlanView:
    block = TitleBlock(
        "Wharf Trust",
        "Long Quay",
        "Heron Hall",
        "Wiring of the room",
        "W-01",
        "Wiring diagram",
        "4",
        "A",
        "2026-140",
        "7f3a-91c2",
        "designed, not yet measured",
    )
    return PlanView(
        ((0.0, 0.0), (12.0, 0.0), (12.0, 9.0), (0.0, 9.0)),
        3.0,
        block,
        units=units,
        revisions=(Revision("A", "2026-11-26", "as designed", ""),),
        cautions=("Isolate mains and loudspeaker lines before work; local code decides.",),
    )


CASES = ("hall", "hall, feet", "assumed", "forty loudspeakers", "random", "random, feet", "bare")


@pytest.fixture(scope="module", params=CASES)
def sheets(request: pytest.FixtureRequest, catalogue: Catalogue) -> tuple[DiagramSheet, ...]:
    units: Unit = "ft" if "feet" in request.param else "m"
    if "random" in request.param:
        return draw_sheets(random_system(4, 30, 40), view(units))
    count = 40 if "forty" in request.param else 8
    room = hall(links=request.param not in ("assumed", "bare"), loudspeakers=count)
    if request.param == "bare":
        room = room.model_copy(update={"devices": {}})
    return draw_sheets(system_of(room, catalogue), view(units))


def test_every_letter_is_high_enough_to_read(sheets: tuple[DiagramSheet, ...]) -> None:
    for sheet in sheets:
        written = [t for b in sheet.layout.boxes for t in (*b.texts, *(p.text for p in b.ports))]
        written += [link.label for link in sheet.layout.links if link.label is not None]
        assert all(0.7 * text.size >= NOTE_MM - 1e-9 for text in written)


def test_no_text_lies_over_text_or_leaves_the_frame(sheets: tuple[DiagramSheet, ...]) -> None:
    for sheet in sheets:
        x0, y0, x1, y1 = sheet.paper.frame
        for text in sheet.canvas.texts():
            left, top, right, bottom = text.box.bounds
            assert x0 < left, text.text
            assert right < x1, text.text
            assert y0 < top, text.text
            assert bottom < y1, text.text
            assert right < sheet.paper.divider or left > sheet.paper.divider, text.text
        for one, other in itertools.combinations(sheet.canvas.texts(), 2):
            assert one.box.overlap(other.box) <= 0.02, (one.text, other.text)


def test_no_line_runs_through_a_text_of_the_diagram(sheets: tuple[DiagramSheet, ...]) -> None:
    for sheet in sheets:
        for link in sheet.layout.links:
            for (xa, ya), (xb, yb) in pairwise(link.points):
                for text in sheet.canvas.texts():
                    x0, y0, x1, y1 = text.box.bounds
                    assert (
                        max(xa, xb) <= x0
                        or min(xa, xb) >= x1
                        or max(ya, yb) <= y0
                        or min(ya, yb) >= y1
                    ), text.text


def test_several_sheets_have_every_link_once_and_say_where_boxes_are_besides(
    sheets: tuple[DiagramSheet, ...],
) -> None:
    links = [link.link.id for sheet in sheets for link in sheet.layout.links]
    assert len(set(links)) == len(links)
    names = [sheet.title.split()[0] for sheet in sheets]
    assert len(set(names)) == len(names)
    for sheet, name in zip(sheets, names, strict=True):
        for placed in sheet.layout.boxes:
            others = [
                again
                for other, again in zip(sheets, names, strict=True)
                if again != name and any(b.box.id == placed.box.id for b in other.layout.boxes)
            ]
            said = placed.box.lines[-1]
            assert said.startswith("also on") == bool(others)
            assert all(other in said for other in others)


def chain(units: int) -> System:
    """Devices one behind the other, each fed by the one before it."""
    boxes = tuple(
        Box(
            f"d{k}",
            (f"d{k}", "amplifier-of-some-length", "in the rack of the hall"),
            (Port("in", "left"), Port("out", "right")),
        )
        for k in range(units)
    )
    links = tuple(
        Link(f"c{k}", End(f"d{k}", "out"), End(f"d{k + 1}", "in"), f"c{k} · balanced · 4.00 m")
        for k in range(units - 1)
    )
    return System(boxes, links)


def test_what_is_too_wide_is_drawn_in_rows_of_one_sheet() -> None:
    system = chain(9)
    laid = layout(system)
    (sheet,) = draw_sheets(system, view())
    assert laid is not None
    assert laid.width > sheet.paper.divider
    assert sorted(one.link.id for one in sheet.layout.links) == [f"c{k}" for k in range(8)]
    shown: dict[str, list[tuple[float, str]]] = {}
    for one in sorted(sheet.layout.boxes, key=lambda box: box.y):
        shown.setdefault(one.box.id, []).append((one.y, one.box.lines[-1]))
    twice = [places for places in shown.values() if len(places) > 1]
    assert twice
    for places in twice:
        assert [said for _, said in places] == ["also drawn below", "also drawn above"]
    for places in shown.values():
        assert len(places) > 1 or not places[0][1].startswith("also")
    bounds = [(one.x, one.y, one.x + one.width, one.y + one.height) for one in sheet.layout.boxes]
    for a, b in itertools.combinations(bounds, 2):
        assert a[2] <= b[0] or b[2] <= a[0] or a[3] <= b[1] or b[3] <= a[1]


def test_title_blocks_count_the_sheets_that_there_are(sheets: tuple[DiagramSheet, ...]) -> None:
    """The set of four in `view` has the diagram as one sheet: in parts, it has more."""
    for one in sheets:
        words = [text.text for text in one.canvas.texts()]
        assert words[words.index("Of") + 1] == str(3 + len(sheets))


@pytest.mark.parametrize("links", [True, False])
def test_stated_cables_are_solid_and_assumed_ones_dashed(catalogue: Catalogue, links: bool) -> None:
    (sheet,) = draw_sheets(system_of(hall(links=links), catalogue), view())
    drawn = {c.runs[0]: c for c in sheet.canvas.commands if isinstance(c, Line)}
    for link in sheet.layout.links:
        assert drawn[link.points].dash == ("dashed" if link.link.assumed else "solid")
        assert link.label is not None
        assert link.label.text.startswith("assumed" if link.link.assumed else link.link.id)
    said = " ".join(text.text for text in sheet.canvas.texts())
    assert ("assumed: not in the document" in said) == (not links)


def test_arrowheads_point_into_the_port_that_takes_the_signal(catalogue: Catalogue) -> None:
    (sheet,) = draw_sheets(system_of(hall(), catalogue), view())
    tips = {
        c.rings[0][0]: c for c in sheet.canvas.commands if isinstance(c, Area) and c.fill == "ink"
    }
    for link in sheet.layout.links:
        ends = [link.points[-1], link.points[0]] if link.link.both else [link.points[-1]]
        for tip in ends:
            arrow = tips.pop(tip)
            assert abs(arrow.rings[0][1][0] - tip[0]) == pytest.approx(ARROW)
    assert not [
        at for at in tips if at[0] < sheet.paper.divider and at[1] < sheet.paper.height - 40
    ]


def test_a_hall_of_forty_loudspeakers_takes_several_sheets(catalogue: Catalogue) -> None:
    system = system_of(hall(loudspeakers=40), catalogue)
    drawn = [link.link.id for sheet in draw_sheets(system, view()) for link in sheet.layout.links]
    assert sorted(drawn) == sorted(link.id for link in system.links)
    found = draw_sheets(system, view())
    assert 1 < len(found) <= 5
    for number, sheet in enumerate(found):
        assert sheet.paper.width == 420
        assert any(f"W-01{'abcde'[number]}" in text.text for text in sheet.canvas.texts())
    assert [sheet.canvas for sheet in draw_sheets(system, view())] == [s.canvas for s in found]


def test_a_picture_for_the_screen_shows_everything_at_once(catalogue: Catalogue) -> None:
    system = system_of(hall(loudspeakers=40), catalogue)
    laid, canvas = layout(system), Canvas()
    assert laid is not None
    draw(canvas, laid)
    assert {box.id for box in system.boxes} <= {text.text for text in canvas.texts()}


def test_nothing_to_draw_takes_no_sheet() -> None:
    assert draw_sheets(System((), ()), view()) == ()
