"""Finishes of patches on the bill, summed by hand from the prices of the (invented) catalogue."""

from typing import Any

import pytest

from wellheard.catalog.catalogue import Catalogue
from wellheard.room.document import Room
from wellheard.schedules.whole import schedules

PANELS = {"wall": "w0", "from": 0.5, "to": 2.9, "bottom": 0.6, "top": 1.8}
CARPET = {"surface": "floor", "outline": [[1, 1], [4, 1], [4, 3], [1, 3]]}


def _bill(patches: dict[str, Any]) -> Any:
    room = Room.model_validate(
        {
            "wellheard": 1,
            "space": {
                "outline": [[0, 0], [6, 0], [6, 4], [0, 4]],
                "height": 2.7,
                "finishes": {"floor": "vinyl-floor", "patches": patches},
            },
            "people": {"seats": {"s1": {"at": [3, 2], "facing": 0}}},
        }
    )
    return schedules(room, Catalogue.shipped()).bill


def test_panels_cost_what_their_modules_their_fixing_and_their_order_cost() -> None:
    # 2.4 m by 1.2 m is four modules of 1.2 m by 0.6 m: 4 x (142 + 38) + 180 = 900.
    found = _bill({"p1": {**PANELS, "finish": "wall-panel-100"}})
    lines = {line.id: line for line in found.lines}
    assert lines["wall-panel-100"].count == 4
    assert lines["wall-panel-100"].amount == 568.00
    assert lines["fix-wall-panel-100"].amount == 152.00
    assert lines["set-up-wall-panel-100"].amount == 180.00
    assert found.total == 900.00
    assert lines["wall-panel-100"].where == ("p1",)


def test_what_is_sold_by_area_is_counted_by_area() -> None:
    carpets = [t for t in Catalogue.shipped().treatments if t.on == "floor"]
    assert carpets
    product = carpets[0]
    found = _bill({"c1": {**CARPET, "finish": product.id}})
    lines = {line.id: line for line in found.lines}
    # 3 m by 2 m is 6 m².
    assert lines[product.id].count == pytest.approx(
        6.0 if product.width is None else 6.0 / product.area
    )
    by_hand = 6.0 / product.area * (product.price + product.labour) + product.fixed
    assert found.total == pytest.approx(by_hand, abs=0.011)


def test_a_published_finish_is_nobodys_to_sell() -> None:
    assert _bill({"p1": {**PANELS, "finish": "fabric-panel"}}).lines == ()


def test_a_patch_is_covered_by_whole_panels() -> None:
    # 1.5 m by 1.2 m is two and a half panels of 1.2 m by 0.6 m: three are bought and one is cut.
    found = _bill({"p1": {**PANELS, "to": 2.0, "finish": "wall-panel-100"}})
    assert {line.id: line.count for line in found.lines}["wall-panel-100"] == 3
    # Two such patches on walls of their own want six.
    two = {n: {**PANELS, "to": 2.0, "wall": n, "finish": "wall-panel-100"} for n in ("w0", "w2")}
    assert {line.id: line.count for line in _bill(two).lines}["wall-panel-100"] == 6
