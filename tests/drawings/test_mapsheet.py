"""A map on its own: its words, its lines, its size, on the plan and in a section."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from shapely.geometry import LineString, Polygon

from wellheard.drawings.canvas import Area, Canvas, Circle, Line
from wellheard.drawings.mapsheet import (
    ASIDE,
    LANDSCAPE,
    MAP_STYLE,
    PAIR_STYLE,
    PORTRAIT,
    LevelPanel,
    MapWords,
    Shown,
    draw_map,
    map_picture,
    paper_of,
)
from wellheard.drawings.sectionmap import (
    MicrophoneMark,
    MouthMark,
    SectionPanel,
    SectionPiece,
    Standing,
)
from wellheard.drawings.tokens import colour
from wellheard.drawings.view import FieldMap, PlanView

WORDS = MapWords("Some ratio, dB", "Middle value. Mouth at 1.20 m.", "Kept all over.", "A room")
LENGTH, HEIGHT = 8.0, 3.0


def field(target: float | None = -6.0, span: tuple[float, float] | None = None) -> FieldMap:
    """Falls by 1 dB per metre along the section, from 0 dB on: a plane has straight contours."""
    x, y = np.linspace(0.1, 7.9, 40), np.linspace(0.1, 2.9, 15)
    values = np.broadcast_to(-x, (15, 40))
    return FieldMap(values, x, y, "ratio", "dB", target=target, step=1.0, span=span)


def section(**changes: object) -> SectionPanel:
    made = SectionPanel(
        length=LENGTH,
        height=HEIGHT,
        units="m",
        field=field(),
        pieces=(SectionPiece(field(), ((0.0, LENGTH),)),),
        outline=((0.0, 0.0), (8.0, 0.0), (8.0, 5.0), (0.0, 5.0)),
        start=(0.0, 2.0),
        end=(8.0, 2.0),
    )
    return replace(made, **changes)  # type: ignore[arg-type]


def mm_per_metre(panel: SectionPanel | LevelPanel, width: float, tallest: float) -> float:
    return min((width - 2 * ASIDE) / panel.size[0], (tallest - 2 * ASIDE) / panel.size[1])


def accent_lines(canvas: Canvas) -> list[LineString]:
    """The promise on the map; its stroke on the scale of tints is no longer than 5.1 mm."""
    lines = [
        LineString(run)
        for c in canvas.commands
        if isinstance(c, Line) and c.colour == "accent" and c.pen == "bold"
        for run in c.runs
    ]
    return [line for line in lines if line.length > 5.2]


def test_the_promise_stands_in_a_section_where_the_field_has_it() -> None:
    canvas, _ = draw_map([Shown(section())], WORDS, width=180.0, tallest=200.0)
    mm = mm_per_metre(section(), 180.0, 200.0)
    lines = accent_lines(canvas)
    # −6 dB is 6 m from the start, whose wall face is drawn ASIDE mm from the edge.
    xs = np.concatenate([np.array(line.coords)[:, 0] for line in lines])
    np.testing.assert_allclose(xs, ASIDE + 6.0 * mm, atol=0.3)
    tall = sum(line.length for line in lines)
    assert tall > 0.6 * HEIGHT * mm  # the rest is the gap of its label


def test_hachures_point_to_the_side_that_fails() -> None:
    canvas, _ = draw_map([Shown(section())], WORDS, width=180.0, tallest=200.0)
    strokes = [
        run
        for c in canvas.commands
        if isinstance(c, Line) and c.colour == "accent" and c.pen == "fine"
        for run in c.runs
    ]
    assert len(strokes) > 5
    # The ratio falls to the right.
    assert all(b[0] > a[0] + 1.0 for a, b in strokes)


def test_no_line_is_drawn_in_what_is_solid_or_beyond_the_walls() -> None:
    panel = section(solids=(Standing(5.5, 6.5, 2.0),))
    canvas, _ = draw_map([Shown(panel)], WORDS, width=180.0, tallest=200.0)
    mm = mm_per_metre(panel, 180.0, 200.0)
    bottom = max(y for line in accent_lines(canvas) for _, y in line.coords)
    top = min(y for line in accent_lines(canvas) for _, y in line.coords)
    # Of 3 m only the upper one is air at 6 m along.
    assert bottom - top <= 1.0 * mm + 0.01
    assert bottom - top > 0.5 * mm


def test_a_section_shows_mouths_with_figures_and_microphones_with_labels() -> None:
    panel = section(
        mouths=(
            MouthMark("s1", (2.0, 1.2), "−2.1", "kept"),
            MouthMark("s2", (6.8, 1.2), "−6.9", "broken"),
        ),
        microphones=(
            MicrophoneMark("M1", (2.5, 2.8), off=False, drop=True),
            MicrophoneMark("M2", (6.0, 3.0), off=True, drop=False),
        ),
        tables=(Standing(1.0, 3.0, 0.74),),
        mouth_height=1.2,
        mouth_words="seated mouth 1.20 m",
    )
    canvas, _ = draw_map([Shown(panel)], WORDS, width=180.0, tallest=200.0)
    written = {text.text for text in canvas.texts()}
    assert {"s1", "−2.1", "s2", "−6.9", "M1", "M2", "seated mouth 1.20 m"} <= written
    assert "broken" in written  # the mark is explained in words
    assert "at risk" not in written
    assert sum(isinstance(c, Circle) for c in canvas.commands) >= 6


def test_a_partition_is_a_double_line_where_it_is_closed() -> None:
    shut, ajar = (section(partitions=((4.0, closed),)) for closed in (True, False))
    dashes = []
    for panel in (shut, ajar):
        canvas, _ = draw_map([Shown(panel)], WORDS, width=180.0, tallest=200.0)
        dashes.append(
            sum(isinstance(c, Line) and c.dash == "dashed" for c in canvas.commands),
        )
    assert dashes[1] == dashes[0] + 1


def test_a_section_has_a_key_that_shows_where_it_is_cut() -> None:
    canvas, _ = draw_map([Shown(section())], WORDS, width=180.0, tallest=200.0)
    chains = [c for c in canvas.commands if isinstance(c, Line) and c.pen == "mid"]
    cut = next(c for c in chains if c.dash == "chain")
    (x0, y0), (x1, y1) = cut.runs[0]
    plan = next(c for c in canvas.commands if isinstance(c, Line) and c.closed and c.pen == "fine")
    xs, ys = zip(*plan.runs[0], strict=True)
    assert (x0, x1) == pytest.approx((min(xs), max(xs)))
    # Two of five metres from the south: y points down on paper.
    assert y0 == y1 == pytest.approx(max(ys) - 0.4 * (max(ys) - min(ys)))


@pytest.mark.parametrize("name", ["ten seats", "L-shape, feet, turned grid", "horseshoe"])
def test_a_plan_has_all_words_and_no_text_over_text(views: dict[str, PlanView], name: str) -> None:
    panel = LevelPanel(views[name], MAP_STYLE)
    width, tallest = paper_of(panel)
    canvas, height = draw_map([Shown(panel)], WORDS, width=width, tallest=tallest, margin=4.0)
    written = [text.text for text in canvas.texts()]
    for words in ("Some ratio, dB", "Middle value. Mouth at 1.20 m.", "A room"):
        assert words in written
    assert any(text.startswith("Kept all over. Lines every") for text in written)
    shown = [text for text in canvas.texts() if text.text.strip()]
    for text in shown:
        x0, y0, x1, y1 = text.box.bounds
        assert x0 >= 3.9
        assert y0 >= 3.9
        assert x1 <= width + 4.1
        assert y1 <= height - 3.9
        assert text.size >= 2.14  # capitals of 1.5 mm
    for k, one in enumerate(shown):
        for other in shown[k + 1 :]:
            assert one.box.overlap(other.box) < 0.25, (one.text, other.text)


def test_two_maps_share_their_lines_and_their_scale(views: dict[str, PlanView]) -> None:
    plain = views["ten seats"]
    assert plain.field is not None
    low = replace(plain.field, values=plain.field.values - 3.0, span=(-12.0, -2.0))
    first = replace(plain, field=replace(plain.field, span=(-12.0, -2.0)))
    second = replace(plain, field=low)
    panels = [
        Shown(LevelPanel(first, PAIR_STYLE), "Middle value"),
        Shown(LevelPanel(second, PAIR_STYLE), "Low end", "Kept on 10 %."),
    ]
    canvas, height = draw_map(panels, WORDS, width=168.0, tallest=190.0)
    fills = [c for c in canvas.commands if isinstance(c, Area) and c.fill.startswith("tint-")]
    scale = [c for c in fills if Polygon(c.rings[0]).bounds[1] > height - 20]
    assert {c.fill for c in fills} <= {c.fill for c in scale}
    written = [text.text for text in canvas.texts()]
    assert {"Middle value", "Low end", "Kept on 10 %."} <= set(written)
    assert written.count("Some ratio, dB") == 1


@pytest.mark.parametrize(
    ("size", "landscape"), [((6.0, 4.0), False), ((12.0, 6.0), True), ((4.0, 9.0), False)]
)
def test_wide_rooms_lie_and_fill_the_paper(size: tuple[float, float], landscape: bool) -> None:
    wide, tall = size
    panel = section(length=wide, height=tall)
    width, tallest = paper_of(panel)
    assert tallest == (LANDSCAPE if landscape else PORTRAIT)[1]
    mm = mm_per_metre(panel, width, tallest)
    assert mm * wide + 2 * ASIDE <= width + 1e-9
    assert mm * tall + 2 * ASIDE <= tallest + 1e-9
    assert math.isclose(mm * tall + 2 * ASIDE, tallest) or math.isclose(
        mm * wide + 2 * ASIDE, width
    )


def test_slate_is_the_same_drawing_in_other_colours() -> None:
    white, slate = (
        map_picture([Shown(section())], WORDS, width=180.0, tallest=200.0, theme=theme)
        for theme in ("white", "slate")
    )
    assert colour("accent", "white") in white
    assert colour("accent", "slate") in slate
    assert colour("accent", "white") not in slate
    assert white.count("<path") == slate.count("<path")
