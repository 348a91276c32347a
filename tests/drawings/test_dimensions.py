"""Chains add up on the printed digits, in both unit systems."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from wellheard.drawings.boxes import Box, Placer
from wellheard.drawings.canvas import Canvas
from wellheard.drawings.dimensions import GRAIN, chain, draw_chain, printed
from wellheard.drawings.view import Unit
from wellheard.units import parse_length

positions = st.lists(st.floats(0.0, 30.0), min_size=1, max_size=8)


@given(positions=positions, length=st.floats(0.5, 30.0), unit=st.sampled_from(["m", "ft"]))
def test_printed_parts_add_up_to_the_printed_whole(
    positions: list[float], length: float, unit: Unit
) -> None:
    inner = [min(position, length) for position in positions]
    links = chain([0.0, *inner, length], unit=unit)
    whole = chain([0.0, length], unit=unit)
    assert sum(links.parts) == sum(whole.parts)
    if unit == "m":
        assert sum(int(text) for text in links.labels) == int(whole.labels[0])
    else:  # read back by the parser of the document, an independent reader
        read = [parse_length(text, unit="ft") for text in links.labels]
        assert sum(read) == pytest.approx(parse_length(whole.labels[0], unit="ft"), abs=1e-9)


@given(position=st.floats(0.0, 30.0), unit=st.sampled_from(["m", "ft"]))
def test_rounding_moves_a_position_by_at_most_half_the_printed_step(
    position: float, unit: Unit
) -> None:
    (rounded,) = chain([position], unit=unit).positions
    assert abs(rounded - position) <= GRAIN[unit] / 2 + 1e-12


def test_the_worked_chain_of_three_heads() -> None:
    # 84 + 96 + 60 inches: exact in both systems
    links = chain([0.0, 2.1336, 4.572, 6.096], unit="ft")
    assert links.labels == ("7'-0\"", "8'-0\"", "5'-0\"")
    assert printed(0.0, "ft") == printed(0.0, "m") == "0"


def test_figures_of_parts_too_short_for_them_do_not_run_into_each_other() -> None:
    canvas = Canvas()
    placer = Placer(Box.spanning(0, 0, 200, 200))
    links = chain([0.0, 0.05, 0.1, 0.15, 2.0], unit="m")
    along = [20 + 40 * position for position in links.positions]
    draw_chain(canvas, placer, links, side="south", along=along, line_at=100.0, from_at=80.0)
    boxes = [text.box for text in canvas.texts()]
    assert len(boxes) == 4
    assert not any(a.overlap(b) for k, a in enumerate(boxes) for b in boxes[k + 1 :])
