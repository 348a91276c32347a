"""Outlines made plain: idle corners go, curves stay, whatever their corners."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from wellheard.importers.outlines import SAME, ring_of, signed_area


@given(st.integers(60, 3000), st.floats(0.5, 30.0), st.floats(0.0, 6.3))
def test_a_circle_of_any_number_of_corners_stays_one(
    count: int, radius: float, turn: float
) -> None:
    angles = [turn + 2 * math.pi * k / count for k in range(count)]
    ring = ring_of([(radius * math.cos(a), radius * math.sin(a)) for a in angles])
    # An inscribed polygon whose arcs stand off its sides by at most h has at least the area of
    # the circle less its circumference times h.
    sagitta = radius * (1 - math.cos(math.pi / count)) + 2 * SAME
    assert signed_area(ring) == pytest.approx(
        math.pi * radius**2, abs=2 * math.pi * radius * sagitta
    )


@given(st.integers(0, 6), st.integers(1, 40))
def test_corners_on_a_side_are_idle_wherever_the_outline_begins(start: int, parts: int) -> None:
    corners = [(0.0, 0.0), (6.0, 0.0), (6.0, 4.0), (2.0, 4.0), (2.0, 2.0), (0.0, 2.0)]
    split = []
    for i, (ax, ay) in enumerate(corners):
        bx, by = corners[(i + 1) % 6]
        split += [(ax + (bx - ax) * k / parts, ay + (by - ay) * k / parts) for k in range(parts)]
    turned = split[start:] + split[:start]
    assert ring_of(turned) == tuple(corners)
    assert ring_of(turned[::-1]) == tuple(corners)
