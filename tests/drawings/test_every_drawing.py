"""Every drawing of every example, in both units: nothing over anything, nothing outside.

What is told apart by colour is told apart without it too, and legends show what is drawn.
"""

from __future__ import annotations

import itertools
import math
import re
from collections.abc import Iterator, Sequence

import pytest

from tests.drawings.documents import NAMES, Drawing, drawings_of
from tests.effort import some
from wellheard.drawings import tokens
from wellheard.drawings.absorptioncurve import HEIGHT, WIDTH, Curve, absorption_curve
from wellheard.drawings.canvas import Line, Symbol, Text
from wellheard.drawings.dxf.outlines import Fill, Stroke, symbol_pieces
from wellheard.drawings.panel import STATES
from wellheard.drawings.sheet import A3, ANSI_B
from wellheard.drawings.symbols import library
from wellheard.units import Unit

UNITS: tuple[Unit, ...] = ("m", "ft")
EVERY = [(name, unit) for name in NAMES for unit in UNITS]
"""Tried each in one unit, every other in feet, unless everything is to be tried."""
LEAST_MM = 1.5  # height of the lowest letters, after ISO 3098 [M]
LONG_MM = 12.0


@pytest.fixture(
    scope="module",
    params=some(EVERY, [2 * k + k % 2 for k in range(len(NAMES))]),
    ids=lambda asked: f"{asked[0]}, {asked[1]}",
)
def drawings(request: pytest.FixtureRequest, few_rays: None) -> tuple[Drawing, ...]:
    name, unit = request.param
    return drawings_of(name, unit)


def near(texts: Sequence[Text]) -> Iterator[tuple[Text, Text]]:
    """Pairs whose bounds meet."""
    ordered = sorted(((text.box.bounds, text) for text in texts), key=lambda found: found[0])
    for k, (one, text) in enumerate(ordered):
        for other, again in itertools.islice(ordered, k + 1, None):
            if other[0] >= one[2]:
                break
            if other[1] < one[3] and one[1] < other[3]:
                yield text, again


def over(texts: Sequence[Text]) -> list[tuple[str, str]]:
    return [(a.text, b.text) for a, b in near(texts) if a.box.overlap(b.box) > 0.05]


def outside(texts: Sequence[Text], width: float, height: float) -> list[str]:
    return [
        text.text
        for text in texts
        for left, top, right, bottom in [text.box.bounds]
        if left < 0 or top < 0 or right > width or bottom > height
    ]


def test_no_text_lies_over_text(drawings: tuple[Drawing, ...]) -> None:
    found = {drawing.title: over(drawing.canvas.texts()) for drawing in drawings}
    assert {title: pairs for title, pairs in found.items() if pairs} == {}


def test_no_text_is_outside_its_paper(drawings: tuple[Drawing, ...]) -> None:
    found = {d.title: outside(d.canvas.texts(), d.width, d.height) for d in drawings}
    assert {title: texts for title, texts in found.items() if texts} == {}


def test_no_word_is_cut_short(drawings: tuple[Drawing, ...]) -> None:
    found = {d.title: [t.text for t in d.canvas.texts() if "…" in t.text] for d in drawings}
    assert {title: texts for title, texts in found.items() if texts} == {}


def test_no_letter_is_too_low_to_read(drawings: tuple[Drawing, ...]) -> None:
    low = {
        (drawing.title, text.text)
        for drawing in drawings
        for text in drawing.canvas.texts()
        if 0.7 * text.size < LEAST_MM - 1e-6
    }
    assert low == set()


DASH_MM = 2.5
MINUS_MM = 1.0
"""Nearer to a figure what is left of a line is read as its sign; common practice, no source [C]."""
FIGURE = re.compile(r"−?\d+\.\d+")


def test_no_line_ends_so_near_to_a_figure_that_it_is_read_as_a_minus_sign(
    drawings: tuple[Drawing, ...],
) -> None:
    from shapely import LineString, Polygon, STRtree

    for drawing, _ in sheets(drawings):
        runs = [
            LineString(run)
            for command in drawing.canvas.commands
            if isinstance(command, Line)
            for run in command.runs
            if len(run) > 1
        ]
        found, tree = [], STRtree(runs)
        for text in drawing.canvas.texts():
            if text.face == "semibold" and FIGURE.fullmatch(text.text):
                beside = Polygon(text.box.grown(-0.3, along=MINUS_MM + 0.3).corners)
                if len(tree.query(beside, predicate="intersects")):
                    found.append(text.text)
        assert not found, drawing.title


def test_no_dash_stands_beside_a_figure_where_its_minus_would(
    drawings: tuple[Drawing, ...],
) -> None:
    """A dash is taken for a sign within a digit's width or two; common practice, no source [C]."""
    from shapely import LineString, Polygon, STRtree

    for drawing, divider in sheets(drawings):
        dashed = [
            LineString(run)
            for command in drawing.canvas.commands
            if isinstance(command, Line) and command.dash == "dashed"
            for run in command.runs
            if len(run) > 1 and max(x for x, _ in run) < divider
        ]
        found, tree = [], STRtree(dashed)
        for text in drawing.canvas.texts():
            if text.face == "semibold" and FIGURE.fullmatch(text.text):
                beside = Polygon(text.box.grown(-0.3, along=DASH_MM + 0.3).corners)
                if len(tree.query(beside, predicate="intersects")):
                    found.append(text.text)
        assert not found, drawing.title


def sheets(drawings: tuple[Drawing, ...]) -> Iterator[tuple[Drawing, float]]:
    """Drawings with a column of tables, and where that begins."""
    for drawing in drawings:
        for paper in (A3, ANSI_B):
            if (drawing.width, drawing.height) == (paper.width, paper.height):
                yield drawing, paper.divider


def test_symbols_on_a_sheet_are_those_of_its_legend(drawings: tuple[Drawing, ...]) -> None:
    for drawing, divider in sheets(drawings):
        inside = {s.name for s in drawing.canvas.symbols() if s.at[0] < divider}
        legend = {s.name for s in drawing.canvas.symbols() if s.at[0] > divider}
        # North stands beside its word; a state that is kept has no mark beside its figure.
        assert inside - {"north"} <= legend, drawing.title
        drawn_as_symbols = {
            name
            for name in legend
            if name.startswith(("mic-", "speaker-", "air-", "state-")) or name in PLACED
        }
        assert drawn_as_symbols - inside <= {"state-kept"}, drawing.title


PLACED = {"seat", "person-standing", "array", "bar", "rack", "table-box", "projector", "entry"}
"""Symbols that stand on the plan as they stand in the legend; others are drawn to scale."""


def test_lines_of_a_wiring_sheet_are_those_of_its_legend(drawings: tuple[Drawing, ...]) -> None:
    found = [(d, divider) for d, divider in sheets(drawings) if d.title.startswith("W-")]
    assert found
    for drawing, divider in found:
        cables, samples = set(), set()
        for role, command in drawing.canvas.by_role():
            if not isinstance(command, Line):
                continue
            style = (command.pen, command.dash)
            if role == "cable":
                cables.add(style)
            elif is_sample(command, divider):
                samples.add(style)
        assert cables == samples, drawing.title


def is_sample(line: Line, divider: float) -> bool:
    """A line of the legend: 13 mm long, in the column of tables."""
    (start, end) = line.runs[0][0], line.runs[0][-1]
    return start[0] > divider and math.dist(start, end) == pytest.approx(13.0)


def test_cables_that_look_alike_say_at_themselves_what_they_are(
    drawings: tuple[Drawing, ...],
) -> None:
    for drawing, _ in sheets(drawings):
        if not drawing.title.startswith("W-"):
            continue
        lines = [c for role, c in drawing.canvas.by_role() if role == "cable" and type(c) is Line]
        labels = [c for role, c in drawing.canvas.by_role() if role == "cable" and type(c) is Text]
        assert len(labels) == len(lines)
        assert all("·" in label.text for label in labels)


def test_the_promise_is_told_by_its_pen_where_there_is_no_colour(
    drawings: tuple[Drawing, ...],
) -> None:
    for drawing, divider in sheets(drawings):
        long = [
            command
            for command in drawing.canvas.commands
            if isinstance(command, Line)
            for run in command.runs
            if max(x for x, _ in run) < divider and length(run) > LONG_MM
        ]
        accent = {(line.pen, line.dash) for line in long if line.colour == "accent"}
        others = {(line.pen, line.dash) for line in long if line.colour != "accent"}
        assert not accent & others, drawing.title


def length(run: Sequence[tuple[float, float]]) -> float:
    return sum(math.dist(a, b) for a, b in itertools.pairwise(run))


def test_the_worse_a_state_the_more_ink_it_has() -> None:
    ink = {state: inked(f"state-{state.replace(' ', '-')}") for state in STATES}
    assert ink["kept"] < ink["at risk"] < ink["broken"]
    dashed = {
        state
        for state in STATES
        for piece in symbol_pieces(f"state-{state.replace(' ', '-')}")
        if isinstance(piece, Stroke) and piece.dash != "solid"
    }
    assert dashed == {"not assessed"}


def inked(name: str) -> float:
    return sum(p.shape.area for p in symbol_pieces(name) if isinstance(p, Fill))


def test_tints_are_told_apart_by_their_lightness() -> None:
    # Luminance after sRGB (IEC 61966-2-1) [M]: each step of the scale is lighter than the last.
    light = [luminance(tokens.colour(f"tint-{k}")) for k in range(tokens.TINTS)]
    assert all(b > a for a, b in itertools.pairwise(light))


def luminance(colour: str) -> float:
    channels = [int(colour[k : k + 2], 16) / 255 for k in (1, 3, 5)]
    linear = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in channels]
    return sum(share * c for share, c in zip((0.2126, 0.7152, 0.0722), linear, strict=True))


def test_no_two_symbols_differ_in_colour_only() -> None:
    shapes = {
        name: sorted((type(p).__name__, p.shape.wkt) for p in symbol_pieces(name))
        for name in library()
    }
    for one, other in itertools.combinations(shapes, 2):
        assert shapes[one] != shapes[other], (one, other)


@pytest.mark.parametrize(
    "figures",
    [
        (0.02, 0.06, 0.14, 0.37, 0.6, 0.65, 0.65),
        (0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0),
        (1.0, 1.0, 1.05, 1.1, 1.2, 1.2, 1.2),
        (0.5, 0.9, 0.2, 0.9, 0.2, 0.9, 0.2),
    ],
)
def test_curves_of_absorption_have_their_words_apart(figures: tuple[float, ...]) -> None:
    other = Curve(
        "A very long name of a finish that is there today, on battens", (0.3,) * 7, "present"
    )
    svg = absorption_curve([Curve("Chosen", figures, "chosen"), other], title="A", unit="m²")
    texts = [
        Text(said, (float(x), float(y)), 11.0, "regular", "ink", anchor or "start", 0.0)
        for x, y, anchor, said in re.findall(
            r'<text class="\w+" x="([^"]*)" y="([^"]*)"(?: text-anchor="(\w+)")?>([^<]*)<', svg
        )
    ]
    assert len(texts) > 15
    assert over(texts) == []
    assert outside(texts, WIDTH, HEIGHT) == []


def test_north_is_on_every_plan(drawings: tuple[Drawing, ...]) -> None:
    for drawing, _ in sheets(drawings):
        if "plan" in drawing.title.partition(":")[0]:
            assert any(isinstance(c, Symbol) and c.name == "north" for c in drawing.canvas.commands)
