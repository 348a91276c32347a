"""Text measures against facts of the font file."""

from __future__ import annotations

import math

import pytest

from wellheard.drawings.boxes import Box, Placer
from wellheard.drawings.canvas import Canvas
from wellheard.drawings.lettering import text_width, wrap, wrap_evenly
from wellheard.drawings.tokens import Face, Pen, load, pen_mm, size_mm

# Advance of the tabular digits in the shipped files, read with fontTools 4.68 [1/1000]
TABULAR: dict[Face, float] = {"regular": 527, "medium": 533, "semibold": 538, "italic": 511}


@pytest.mark.parametrize(("face", "advance"), TABULAR.items())
def test_all_digits_are_equally_wide(face: Face, advance: float) -> None:
    for digit in "0123456789":
        assert text_width(digit, 1000, face=face) == advance


def test_lettering_heights_are_those_of_iso_3098_by_the_cap_height_of_the_font() -> None:
    # ISO 3098-1 series 1.8, 2.5, 3.5, 5, 7 mm, from memory [M]; cap height 700/1000 from the file
    heights = [load()["cap_height_mm"][name] for name in ("note", "body", "head", "title")]
    assert heights == [1.8, 2.5, 3.5, 5]
    assert size_mm("title") * 0.7 == pytest.approx(5.0)


def test_pens_are_the_iso_128_series() -> None:
    # ISO 128-20 line widths, from memory [M]
    pens: tuple[Pen, ...] = ("hair", "thin", "fine", "mid", "bold", "heavy")
    assert [pen_mm(pen) for pen in pens] == [0.13, 0.18, 0.25, 0.35, 0.5, 0.7]


def test_wrapped_text_fits_and_loses_no_word() -> None:
    text = "Rated fixing and safety bond on each overhead device, and cable jackets to suit"
    for lines in (wrap(text, 40.0, 2.57), wrap_evenly(text, 40.0, 2.57)):
        assert " ".join(lines) == text
        assert max(text_width(line, 2.57) for line in lines) <= 40.0
    assert len(wrap(text, 40.0, 2.57)) == len(wrap_evenly(text, 40.0, 2.57))


@pytest.mark.parametrize("angle", [0.0, -90.0, 37.0])
@pytest.mark.parametrize(("anchor", "share"), [("start", 0.0), ("middle", 0.5), ("end", 1.0)])
def test_the_box_of_a_text_turns_and_shifts_with_it(
    angle: float, anchor: str, share: float
) -> None:
    text = Canvas().text("2300", (10, 20), size=10.0, anchor=anchor, angle_deg=angle)  # type: ignore[arg-type]
    turn = math.radians(angle)
    # half way up the capitals, from one end of the line to the other
    for part in (0.02, 0.98):
        along = (part - share) * text_width("2300", 10.0)
        point = (
            10 + along * math.cos(turn) + 3.5 * math.sin(turn),
            20 + along * math.sin(turn) - 3.5 * math.cos(turn),
        )
        assert text.box.contains(point)
    assert text.box.width == pytest.approx(21.08)


def test_turned_boxes_overlap_only_where_they_meet() -> None:
    diagonal = Box((0, 0), 10, 1, 45.0)
    assert diagonal.overlap(Box((3, 3), 1, 1)) > 0
    assert diagonal.overlap(Box((3, -3), 1, 1)) == 0
    assert diagonal.overlap(Box((3, 0), 1, 1)) == 0


def test_a_placer_takes_the_first_candidate_that_is_free_and_inside() -> None:
    placer = Placer(Box.spanning(0, 0, 10, 10))
    placer.take(Box((2, 2), 2, 2))
    outside, taken, free = Box((11, 5), 3, 1), Box((2.5, 2), 2, 2), Box((7, 7), 2, 2)
    assert placer.first_free([[outside], [taken], [free]]) == 2
    assert placer.first_free([[outside], [taken]]) is None
