"""A room that answers while things move: the same figures as the ledger, and quick."""

from __future__ import annotations

import json
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest

from wellheard.room import codec
from wellheard.workflow.design import Designed
from wellheard.workflow.live import Live
from wellheard.workflow.load import Loaded, load

EXAMPLES = Path(__file__).parents[2] / "examples"
NAMES = sorted(p.name for p in EXAMPLES.iterdir() if p.is_dir())

Designs = Callable[[str], Designed]


def loaded_of(name: str, text: str | None = None) -> Loaded:
    """An example, or what has become of its text."""
    found = load(EXAMPLES / name / f"{name}.room.yaml")
    if text is None:
        return found
    return Loaded(codec.parse_document(text, name=name), found.catalogue, found.own)


@pytest.fixture(scope="session")
def live_of(designed: Designs) -> Callable[[str], Live]:
    """Give the function that opens an example as it was designed, once."""
    known: dict[str, Live] = {}

    def made(name: str) -> Live:
        if name not in known:
            known[name] = Live(loaded_of(name, designed(name).placed.text))
        return known[name]

    return made


def numbers(found: Any) -> Iterator[float]:
    if isinstance(found, dict):
        found = list(found.values())
    if isinstance(found, list):
        for one in found:
            yield from numbers(one)
    elif isinstance(found, float):
        yield found


@pytest.mark.parametrize("name", NAMES)
def test_figures_of_every_example_are_json_and_worst_first(
    live_of: Callable[[str], Live], name: str
) -> None:
    live = live_of(name)
    found = live.figures(unit="m")
    json.dumps(found, allow_nan=False)
    order = {"broken": 0, "not assessed": 0, "at risk": 1, "kept": 2}
    states = [order[row["state"]] for row in found["ledger"]["rows"]]
    assert states == sorted(states)
    assert found["map"]["bands"][0]["d"].startswith("M")


@pytest.mark.parametrize("name", NAMES)
def test_a_room_without_microphones_says_why_there_is_no_map(name: str) -> None:
    found = Live(loaded_of(name)).figures(unit="ft")
    json.dumps(found, allow_nan=False)
    if found["map"] is None:
        assert "No microphone" in found["map_words"]
        assert {row["why"] for row in found["ledger"]["rows"]} == {"no microphone is placed"}
        assert {row["sti"] for row in found["ledger"]["rows"]} == {"–"}
