"""Wiring of the examples: no error of the signal rules, and all of it written."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path

import pytest

from wellheard.checks.registry import rules
from wellheard.room import codec
from wellheard.workflow.design import Designed
from wellheard.workflow.wiring import as_json

EXAMPLES = sorted(
    path.parent.name for path in Path(__file__).parents[2].glob("examples/*/*.room.yaml")
)


@pytest.mark.parametrize("name", EXAMPLES)
def test_wired_example_has_no_error_of_the_signal_rules(
    name: str, designed: Callable[[str], Designed]
) -> None:
    made = designed(name)
    assert made.wired is not None
    of_signal = {
        code
        for code, rule in rules().items()
        if rule.check.__module__.startswith("wellheard.checks.signal")
    }
    assert not [one for one in made.judged.errors if one.code in of_signal]
    assert codec.parse(made.wired.text) == made.wired.room
    assert made.wired.wired.proof.status == "optimal"


@pytest.mark.parametrize("name", EXAMPLES)
def test_json_says_what_was_done(name: str, designed: Callable[[str], Designed]) -> None:
    made = designed(name)
    assert made.wired is not None
    wired = as_json(made.wired.wired)
    assert json.loads(json.dumps(wired)) == wired
    assert {*wired} >= {
        "links",
        "devices",
        "equipment",
        "processing",
        "price",
        "parts",
        "proof",
        "assumed",
        "unwired",
    }
    assert {*wired["proof"]} == {"status", "scope", "bound", "gap"}
    for link in wired["links"].values():
        assert {"from", "to", "cable", "length"} <= {*link}
