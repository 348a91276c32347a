"""The chart of designs: where marks stand, that words keep clear, that ink has its word."""

from __future__ import annotations

import itertools

import pytest

from wellheard.drawings.alternativeschart import BOTTOM, HEIGHT, LEFT, RIGHT, TOP, Mark, draw, ticks
from wellheard.drawings.canvas import Circle, Line

WIDTH = 168.0
MARKS = [
    Mark("Cheapest", "one opening", 2000.0, 0.9, "much", strong=True),
    Mark("Nothing cut", "nothing cut", 3000.0, 0.95, "none"),
    Mark("Surest, with treatment", "13.0 m² of finishes", 6000.0, 0.997, "some"),
    Mark("In between", "nothing cut", 6000.0, 0.993, "none"),
]
OTHERS = [(2600.0, 0.91), (4000.0, 0.83)]


def test_a_mark_stands_where_its_price_and_chance_are() -> None:
    canvas = draw(MARKS, OTHERS, promise=0.8, currency="EUR", width=WIDTH)
    circles = [c for c in canvas.commands if isinstance(c, Circle)]
    assert len(circles) == len(MARKS)
    # Scales by hand: 1 000 to 7 000 across, 75 to 100 % up.
    across = ticks(2000.0, 6000.0, most=6)
    for mark, circle in zip(MARKS, circles, strict=True):
        part = (mark.price - across[0]) / (across[-1] - across[0])
        assert circle.centre[0] == pytest.approx(LEFT + part * (WIDTH - LEFT - RIGHT))
        up = (1.0 - mark.chance) / 0.25
        assert circle.centre[1] == pytest.approx(TOP + up * (HEIGHT - BOTTOM - TOP))


ALIKE = [
    Mark(f"Design number {k} with a long name", "nothing cut, 13 m²", 6000.0 + 5 * k, 0.98, "some")
    for k in range(6)
]


@pytest.mark.parametrize("marks", [MARKS, ALIKE, MARKS[:1]], ids=["usual", "all alike", "one"])
def test_no_words_lie_over_each_other_or_outside(marks: list[Mark]) -> None:
    canvas = draw(marks, OTHERS, promise=0.8, currency="EUR", width=WIDTH)
    boxes = [text.box for text in canvas.texts()]
    for one, other in itertools.combinations(boxes, 2):
        assert one.overlap(other) <= 0.0
    for box in boxes:
        x0, y0, x1, y1 = box.bounds
        assert x0 >= 0
        assert y0 >= 0
        assert x1 <= WIDTH
        assert y1 <= HEIGHT


def test_the_promise_is_the_only_line_in_accent_and_every_mark_has_its_word() -> None:
    canvas = draw(MARKS, OTHERS, promise=0.8, currency="EUR", width=WIDTH)
    accent = [c for c in canvas.commands if isinstance(c, Line) and c.colour == "accent"]
    level = TOP + (1.0 - 0.8) / 0.25 * (HEIGHT - BOTTOM - TOP)
    assert all(run[0][1] == pytest.approx(level) for line in accent for run in line.runs)
    words = [text.text for text in canvas.texts()]
    assert all(mark.name in words for mark in MARKS)
    assert all(mark.word in words for mark in MARKS)


@pytest.mark.parametrize(
    ("low", "high"),
    [
        (0.5, 0.6),
        (999.0, 1001.0),
        (120.0, 98_000.0),
        # Spans of five to six times a power of ten: the widest that five steps do not hold.
        (5736.0, 5736.0),
        (5000.0, 5500.5),
        (0.0, 60.0),
        *((1000.0, 1000.0 + 10.0 * part) for part in range(1, 200, 7)),
    ],
)
def test_a_scale_holds_its_range_in_few_round_steps(low: float, high: float) -> None:
    found = ticks(low, high, most=6)
    assert found[0] <= low
    assert found[-1] >= high
    assert 3 <= len(found) <= 9
    steps = {round(b - a, 6) for a, b in itertools.pairwise(found)}
    assert len(steps) == 1
