"""What a change is said to cost: the difference of both bills, summed by hand."""

from __future__ import annotations

from typing import Any

from tests.checks.conftest import PLAIN, _catalogue, _merged
from wellheard.room.document import Room
from wellheard.schedules.whole import schedules
from wellheard.workflow.judging import judge
from wellheard.workflow.prices import Total, step
from wellheard.workflow.remedying import Offer, key, offers


def _offered(over: dict[str, Any], finding: str) -> tuple[Offer, ...]:
    room, catalogue = Room.model_validate(_merged(PLAIN, over)), _catalogue({})
    judged = judge(room, catalogue, assumptions=False)
    meant = [one for one in judged.findings if key(one) == finding]
    assert meant, [key(one) for one in judged.findings]
    return offers(room, catalogue, judged, only=meant)


def test_a_thicker_cable_costs_what_its_metres_cost_more() -> None:
    """20 m of 14 gauge at 1.7 instead of 16 gauge at 1.1 a metre, and 1.4 instead of 1.0 for the
    plenum jacket: 20 · (0.6 + 0.4) = 20 more; ends and work are the same."""
    over: dict[str, Any] = {
        "units": "m",
        "devices": {
            "amp": {"kind": "amplifier", "product": "amplifier-2x40", "equipment": "rack"},
            "l1": {"kind": "loudspeaker", "product": "pendant-5", "at": [2.0, 2.0, 2.45]},
        },
        "links": {
            "c1": {
                "from": "amp.out-1",
                "to": "l1.in",
                "cable": "loudspeaker-pair-16",
                "length": 20.0,
            }
        },
    }
    (best,) = _offered(over, "cable-too-thin@links.c1.cable")
    thicker = next(one for one in (best, *best.further) if "14 gauge" in one.says)
    more = step(Total(100.0, "EUR"), Total(120.0, "EUR"))
    assert more in thicker.achieves, thicker.achieves


def test_cables_that_are_laid_again_as_they_were_cost_nothing_more() -> None:
    """Two heads are wired, a third waits for a port: what is bought is told, not all cables."""
    heads = {
        f"m{k}": {"kind": "microphone", "product": "ceiling-head-3", "at": [x, 2.1, 2.4]}
        for k, x in enumerate((1.5, 3.3, 5.1), start=1)
    }
    over: dict[str, Any] = {
        "devices": {
            **heads,
            "mixer": {"kind": "processor", "product": "bridge-2", "equipment": "rack"},
        },
        "links": {
            f"c{k}": {"from": f"m{k}.link", "to": f"mixer.mic-{k}", "cable": "twisted-pair"}
            for k in (1, 2)
        },
    }
    (best,) = _offered(over, "ports-exceeded@devices")
    anew = next(one for one in (best, *best.further) if "Wire the room anew" in one.says)
    both = [_whole(room) for room in (Room.model_validate(_merged(PLAIN, over)), anew.room)]
    assert step(*both) in anew.achieves, (anew.achieves, both)


def _whole(room: Room) -> Total:
    """Total of the printed bill."""
    return Total(schedules(room, _catalogue({})).bill.total, "EUR")
