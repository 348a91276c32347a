"""Ways of cables: those of the document's links, from end to end."""

from __future__ import annotations

from itertools import pairwise

import pytest

from tests.schedules.rooms import NETWORK, read
from wellheard.catalog.catalogue import Catalogue
from wellheard.schedules.cables import cable_schedule
from wellheard.workflow.cable_ways import cable_marks


def test_every_link_with_a_known_way_has_its_mark_from_end_to_end() -> None:
    room = read(NETWORK)
    rows = cable_schedule(room, Catalogue.shipped()).rows
    marks = {mark.id: mark for mark in cable_marks(room, rows)}
    # Cords from one device of the rack to the next have no way that could be drawn.
    known = {row.id for row in rows if len(set(row.run.route)) > 1}
    assert set(marks) == known == {"c01", "c02", "c03", "c07"}
    for name, mark in marks.items():
        device = room.devices.get(room.links[name].from_.partition(".")[0])
        if device is not None and device.kind == "microphone":
            assert mark.route[0] == pytest.approx(device.at)


def test_no_cables_are_no_marks() -> None:
    assert cable_marks(read(NETWORK), ()) == ()


ELBOW = """\
wellheard: 1
space:
  outline: [[0, 0], [6, 0], [6, 2], [2, 2], [2, 5], [0, 5]]
  height: 3
people: {seats: {s1: {at: [1, 1], facing: 0}}}
equipment:
  up: {kind: computer, at: [1, 4, 1.5]}
  table: {kind: computer, at: [5, 1, 0.75]}
devices: {}
links: {c1: {from: up.usb-1, to: table.usb-1, cable: usb-cord-5}}
"""


def test_a_cord_is_drawn_along_the_room_and_across_it_at_the_height_of_its_lower_end() -> None:
    """Down to the table's height, round the inner corner of an L, to the other end."""
    room = read(ELBOW)
    (mark,) = cable_marks(room, cable_schedule(room, Catalogue.shipped()).rows)
    assert [tuple(round(v, 6) for v in corner) for corner in mark.route] == [
        (1.0, 4.0, 1.5),
        (1.0, 4.0, 0.75),
        (1.0, 1.0, 0.75),
        (5.0, 1.0, 0.75),
    ]
    for one, other in pairwise(mark.route):
        assert sum(abs(a - b) > 1e-9 for a, b in zip(one, other, strict=True)) == 1
