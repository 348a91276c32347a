"""Ways of cables: those of the document's links, from end to end."""

from __future__ import annotations

import pytest

from tests.schedules.rooms import NETWORK, read
from wellheard.catalog.catalogue import Catalogue
from wellheard.schedules.cables import cable_schedule
from wellheard.workflow.cable_ways import cable_marks


def test_every_link_with_a_known_way_has_its_mark_from_end_to_end() -> None:
    room = read(NETWORK)
    rows = cable_schedule(room, Catalogue.shipped()).rows
    marks = {mark.id: mark for mark in cable_marks(rows)}
    known = {row.id for row in rows if row.length is not None and row.run.route}
    assert set(marks) == known
    assert known
    for name, mark in marks.items():
        device = room.devices.get(room.links[name].from_.partition(".")[0])
        if device is not None and device.kind == "microphone":
            assert mark.route[0] == pytest.approx(device.at)


def test_no_cables_are_no_marks() -> None:
    assert cable_marks(()) == ()
