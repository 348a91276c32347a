"""The elevation of a rack: a front for each device, unit by unit, nothing over anything."""

from __future__ import annotations

from itertools import pairwise, product

import pytest

from tests.schedules.rooms import BASE, NETWORK, read
from wellheard.catalog.catalogue import Catalogue
from wellheard.drawings.canvas import Area
from wellheard.drawings.rack import UNIT, WIDTH, draw, rack_drawing
from wellheard.schedules.rack import Rack, racks
from wellheard.units import Unit

SHIPPED = Catalogue.shipped()


def rack(text: str = NETWORK, *changes: tuple[str, str]) -> Rack:
    (found,) = racks(read(text, *changes), SHIPPED)
    return found


def test_fronts_stand_in_their_units_and_apart() -> None:
    canvas, height = draw(rack())
    fronts = sorted(
        (min(y for _, y in one.rings[0]), max(y for _, y in one.rings[0]))
        for one in canvas.commands
        if isinstance(one, Area)
    )
    assert len(fronts) == 4
    assert all(low - high <= UNIT for high, low in fronts)
    assert all(lower < higher for (_, lower), (higher, _) in pairwise(fronts))
    assert fronts[-1][1] < height


def test_every_word_is_on_the_drawing_and_over_no_other() -> None:
    long_ids = [
        ("mixer:", "a-processor-with-a-very-long-name:"),
        ("mixer.", "a-processor-with-a-very-long-name."),
    ]
    found = (rack(), rack(BASE), rack(NETWORK, *long_ids))
    units: tuple[Unit, ...] = ("m", "ft")
    for one, unit in product(found, units):
        canvas, height = draw(one, unit)
        boxes = [text.box for text in canvas.texts()]
        for x0, y0, x1, y1 in (box.bounds for box in boxes):
            assert -0.01 <= x0 < x1 <= WIDTH + 0.01
            assert 0 <= y0 < y1 <= height
        for i, first in enumerate(boxes):
            assert not any(first.overlap(other) > 0 for other in boxes[i + 1 :])


@pytest.mark.parametrize(("units", "drawn"), [("12", 8), ("7", 7), ("6", 6)])
def test_two_free_units_are_drawn_at_most(units: str, drawn: int) -> None:
    canvas, _ = draw(rack(NETWORK, ("rack_units: 12", f"rack_units: {units}")))
    numbers = {text.text for text in canvas.texts() if text.text.isdecimal()}
    assert numbers == {str(unit) for unit in range(1, drawn + 1)}


def test_its_title_says_what_it_is() -> None:
    assert "<title>Rack rack, seen from the front</title>" in rack_drawing(
        rack(), embed_fonts=False
    )


def test_beside_feet_weights_are_in_pounds_too() -> None:
    """A pound is 0.45359237 kg by definition: 3.9 kg are 8.6 lb."""
    said = {text.text for text in draw(rack(), "ft")[0].texts()}
    assert "3.9 kg (8.6 lb)" in said
    assert "3.9 kg" in {text.text for text in draw(rack())[0].texts()}
