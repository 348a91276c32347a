"""Small drawings of the dossier."""

from __future__ import annotations

from xml.etree import ElementTree

import pytest

from wellheard.drawings.canvas import Area, Canvas, Line
from wellheard.drawings.pieces import (
    draw_range_bar,
    octave_chart,
    range_bar,
    state_mark,
    wellheard_mark,
)
from wellheard.drawings.tokens import colour
from wellheard.drawings.view import State


def bar(**changes: object) -> Canvas:
    given: dict[str, object] = {
        "low": 2.0,
        "middle": 4.0,
        "high": 6.0,
        "scale": (0.0, 10.0),
        "promise": 3.0,
    }
    canvas = Canvas()
    draw_range_bar(canvas, at=(0.0, 0.0), width=100.0, **(given | changes))  # type: ignore[arg-type]
    return canvas


def spans(canvas: Canvas, *, filled: bool) -> list[tuple[float, float]]:
    found = []
    for command in canvas.commands:
        if isinstance(command, Area) and (command.fill == "ink") == filled:
            if not filled and command.pen is None:
                continue  # the gap of the cross-stroke
            xs = [x for x, _ in command.rings[0]]
            found.append((round(min(xs), 6), round(max(xs), 6)))
    return found


@pytest.mark.parametrize(
    ("promise", "better", "hollow", "solid"),
    [
        (3.0, True, [(20.0, 30.0)], [(30.0, 60.0)]),
        (3.0, False, [(30.0, 60.0)], [(20.0, 30.0)]),
        (1.0, True, [], [(20.0, 60.0)]),
        (9.0, True, [(20.0, 60.0)], []),
        (None, True, [], [(20.0, 60.0)]),
    ],
)
def test_a_bar_is_hollow_exactly_where_it_misses_the_promise(
    promise: float | None,
    better: bool,
    hollow: list[tuple[float, float]],
    solid: list[tuple[float, float]],
) -> None:
    canvas = bar(promise=promise, higher_is_better=better)
    assert spans(canvas, filled=False) == hollow
    assert spans(canvas, filled=True) == solid


def test_the_promise_is_the_only_accent_stroke() -> None:
    accents = [c for c in bar().commands if isinstance(c, Line) and c.colour == "accent"]
    assert len(accents) == 1
    assert {x for x, _ in accents[0].runs[0]} == {30.0}


def test_a_scale_without_length_and_values_out_of_order_are_refused() -> None:
    with pytest.raises(ValueError, match="a scale runs upwards"):
        bar(scale=(1.0, 1.0))
    with pytest.raises(ValueError, match="must ascend"):
        bar(middle=7.0)


STATES: tuple[State, ...] = ("kept", "at risk", "broken", "not assessed")


def test_states_differ_by_shape_and_none_is_accent() -> None:
    marks = [state_mark(state) for state in STATES]
    bodies = {mark.partition("</title>")[2] for mark in marks}
    assert len(bodies) == 4
    assert not any(colour("accent") in mark for mark in marks)


def test_pieces_bring_no_fonts_and_are_well_formed() -> None:
    octaves = [125, 250, 500, 1000, 2000, 4000, 8000]
    pieces = [
        wellheard_mark(),
        range_bar(low=1, middle=2, high=3, scale=(0, 4)),
        octave_chart(octaves, [0.6, 0.5, 0.5, 0.4, 0.4, 0.4, 0.3], wanted=0.5),
        *(state_mark(state) for state in STATES),
    ]
    for piece in pieces:
        assert "@font-face" not in piece
        assert ElementTree.fromstring(piece).attrib["width"].endswith("mm")


def test_a_chart_shows_the_range_behind_the_line_and_one_promise() -> None:
    chart = octave_chart(
        [500, 1000], [0.5, 0.4], low=[0.4, 0.3], high=[0.7, 0.5], wanted=0.45, decimals=2
    )
    assert chart.count(colour("accent")) == 2  # the line and its word
    assert chart.index(colour("faint")) < chart.index('stroke-width="0.5"')
    assert "promise 0.45" in chart


def test_slate_is_the_same_drawing_in_other_colours() -> None:
    white, slate = state_mark("at risk"), state_mark("at risk", theme="slate")
    for name in ("ink", "paper"):
        white = white.replace(colour(name), f"<{name}>")
        slate = slate.replace(colour(name, "slate"), f"<{name}>")
    assert white == slate
