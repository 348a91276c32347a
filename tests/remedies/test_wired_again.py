"""What is said of a document that is wired again: only what changes in it."""

from __future__ import annotations

from typing import Any, cast

from wellheard.catalog.catalogue import Catalogue
from wellheard.checks.model import Finding
from wellheard.predict.evidence import Evidence
from wellheard.remedies.model import Change, Situation
from wellheard.remedies.wiring_again import MAKERS
from wellheard.room.document import Room
from wellheard.wiring.asking import task_of
from wellheard.wiring.solve import solve
from wellheard.wiring.wired import wired_room

SHIPPED = Catalogue.shipped()
LOOSE = Room.model_validate(
    {
        "wellheard": 1,
        "space": {
            "outline": [[0, 0], [8, 0], [8, 5], [0, 5]],
            "walls": ["south", "east", "north", "west"],
            "height": 2.8,
        },
        "people": {"seats": {"s1": {"at": [3, 2], "facing": 0}}},
        "equipment": {
            "rack": {"kind": "rack", "at": [7.6, 0.4, 0.5]},
            "pc": {"kind": "computer", "at": [7.2, 0.4, 0.5]},
        },
        "devices": {
            "m1": {"kind": "microphone", "product": "ceiling-head-3", "at": [2, 2.5, 2.8]},
            "l1": {"kind": "loudspeaker", "product": "wall-5-active", "at": [7.9, 2.5, 1.8]},
            "p": {"kind": "processor", "product": "processor-4", "equipment": "rack"},
        },
    }
)


def _change(room: Room) -> Change:
    situation = Situation(room, SHIPPED, cast(Evidence, None), (), ())
    (maker,) = MAKERS["port-unknown"]
    (change,) = maker(situation, cast(Finding, None))
    return change


def _wired() -> Room:
    return wired_room(LOOSE, solve(task_of(LOOSE, SHIPPED)))


def _without(room: Room, **update: Any) -> Room:
    return room.model_copy(update=update)


def test_a_loose_document_gets_all_its_cables() -> None:
    change = _change(LOOSE)
    assert change.says.startswith(f"Wire the room anew: {len(change.room.links)} cables")
    assert "of them new" not in change.says


def test_cables_that_stay_are_not_told_as_new() -> None:
    wired = _wired()
    first = next(iter(wired.links))
    left = {name: link for name, link in wired.links.items() if name != first}
    change = _change(_without(wired, links=left))
    assert f"{len(wired.links)} cables, 1 of them new" in change.says


def test_where_only_a_canceller_is_missing_no_wiring_is_told() -> None:
    wired = _wired()
    (stage,) = wired.processing.values()
    change = _change(_without(wired, processing={}))
    assert change.room.links == wired.links
    assert change.room.processing == wired.processing
    assert "Wire the room anew" not in change.says
    assert stage.on in change.says
    assert "no cable changes" in change.says
