"""The rule of cable length, placement and the schedule tell the same length of the same cable."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest

from wellheard.catalog.catalogue import Catalogue
from wellheard.checks.run import findings
from wellheard.place.rules import Rules
from wellheard.predict.evidence import Evidence
from wellheard.predict.scene import build
from wellheard.schedules.planes import End
from wellheard.schedules.runs import Runs

DUCT = {"kind": "duct", "outline": [[8, 1.0], [16, 1.0], [16, 8], [8, 8]], "clearance": 0.5}
HALL: dict[str, Any] = {
    "space": {"outline": [[0, 0], [24, 0], [24, 8], [0, 8]], "height": 4.0},
    "equipment": {"rack": {"kind": "rack", "at": [23.5, 1.0, 0.5]}},
    "devices": {
        "m1": {"kind": "microphone", "product": "ceiling-head-3", "at": [4.0, 3.5, 3.4]},
        "mixer": {"kind": "processor", "product": "bridge-2", "equipment": "rack"},
    },
}
CHANGES: dict[str, dict[str, Any]] = {
    "in a plain hall": {},
    "round a duct": {"overhead": {"duct": DUCT}},
    "by an entry": {
        "equipment": {**HALL["equipment"], "in": {"kind": "entry", "at": [24, 6, 4]}},
    },
    "with a link": {"links": {"l1": {"from": "m1.link", "to": "mixer.mic-1"}}},
    "along a stated route": {
        "links": {
            "l1": {
                "from": "m1.link",
                "to": "mixer.mic-1",
                "route": [
                    [4, 3.5, 3.4],
                    [4, 3.5, 4.1],
                    [4, 7.5, 4.1],
                    [23, 7.5, 4.1],
                    [23, 7.5, 0.5],
                ],
            }
        }
    },
}


@pytest.mark.parametrize("name", CHANGES)
def test_the_rule_judges_the_run_of_the_schedule(
    name: str, evidence_of: Callable[..., Evidence]
) -> None:
    evidence = evidence_of({"room": {**HALL, **CHANGES[name]}})
    (found,) = [f for f in findings(evidence) if f.code == "cable-too-long"]
    runs = Runs(evidence.room, evidence.catalogue)
    links = evidence.room.links
    run = runs.of_link(links["l1"]) if links else runs.run("m1.link", "mixer.mic-1")
    assert run.length is not None
    assert found.value == pytest.approx(run.length, abs=0.0005)


def test_placement_measures_a_place_as_the_rule_measures_the_device_there(
    evidence_of: Callable[..., Evidence],
) -> None:
    evidence = evidence_of({"room": {**HALL, "overhead": {"duct": DUCT}}})
    (found,) = [f for f in findings(evidence) if f.code == "cable-too-long"]
    rules = Rules(build(evidence.room, Catalogue.shipped()))
    start = End("", "", (4.0, 3.5, 3.4), rules.runs.ends.mounted("ceiling", (4.0, 3.5, 3.4)))
    placed = rules.runs.between(start, rules.runs.ends.end("mixer")).length
    assert placed == pytest.approx(found.value, abs=0.0005)
