"""Changes for planted faults: what they say, what they leave, what they may not touch."""

from __future__ import annotations

from functools import cache
from pathlib import Path
from typing import Any

import pytest
import yaml

from tests.checks.conftest import PLAIN, _catalogue, _merged
from wellheard.room.document import Room
from wellheard.room.operations import apply
from wellheard.workflow.design import judge
from wellheard.workflow.remedying import Offer, key, offers

CASES: dict[str, Any] = yaml.safe_load(
    (Path(__file__).parents[1] / "cases" / "remedies.yaml").read_text("utf-8")
)


@cache
def offered(name: str) -> tuple[Room, tuple[Offer, ...]]:
    case = CASES[name]
    over = dict(case["room"])
    cables = over.pop("cables", [])
    room = Room.model_validate(_merged(PLAIN, over))
    catalogue = _catalogue({**case, "cables": cables})
    judged = judge(room, catalogue, assumptions=False)
    planted = [one for one in judged.findings if key(one) == case["finding"]]
    assert planted, [key(f) for f in judged.findings]
    return room, offers(room, catalogue, judged, only=planted)


@pytest.mark.parametrize("name", CASES)
def test_a_planted_fault_is_mended_as_its_case_says(name: str) -> None:
    case, (room, found) = CASES[name], offered(name)
    if case.get("nothing"):
        assert found == ()
        return
    (best,) = found
    assert all(words in best.says for words in case["says"]), best.says
    assert best.after is None
    assert case["finding"] in best.mends
    if "value_after" in case:
        assert best.value_after == pytest.approx(case["value_after"], abs=0.005)
    if "at_least" in case:
        assert best.value_after is not None
        assert best.value_after >= case["at_least"] - 1e-9
    if "at_most" in case:
        assert best.value_after is not None
        assert best.value_after <= case["at_most"] + 1e-9
    assert set(case.get("further", [])) <= {one.says for one in best.further}
    for path in case.get("kept", []):
        collection, _, item = path.partition(".")
        assert getattr(best.room, collection)[item] == getattr(room, collection)[item]


@pytest.mark.parametrize("name", [n for n, case in CASES.items() if not case.get("nothing")])
def test_the_operations_of_a_change_make_its_room(name: str) -> None:
    room, (best,) = offered(name)
    for one in (best, *best.further):
        assert apply(room, one.operations, unit=room.units).room == one.room


def test_a_change_that_worsens_something_says_so() -> None:
    (name,) = [n for n, case in CASES.items() if case.get("worsens")]
    _, (best,) = offered(name)
    assert best.worsens
    code, _, at = best.worsens[0].partition("@")
    assert f"Comes or gets worse: {code} at {at.removeprefix('devices.')}" in best.achieves


@pytest.mark.parametrize("name", CASES)
def test_no_change_touches_a_promise_or_what_is_locked(name: str) -> None:
    room, found = offered(name)
    for offer in found:
        for one in (offer, *offer.further):
            assert one.room.targets == room.targets
            for device, stated in room.devices.items():
                if stated.locked:
                    assert one.room.devices[device] == stated
