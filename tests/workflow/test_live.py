"""A room that answers while things move: the same figures as the ledger, and quick."""

from __future__ import annotations

import json
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from wellheard.room import codec
from wellheard.room.document import Room
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
            text = designed(name).placed.text
            if name == "glass-fan":  # its only microphone
                text = text.replace("locked: true", "locked: false")
            known[name] = Live(loaded_of(name, text))
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


def a_microphone(live: Live) -> tuple[str, tuple[float, ...]]:
    room = live.loaded.room
    placed = {k: d for k, d in room.devices.items() if d.kind == "microphone"}
    name = min(placed, key=lambda k: placed[k].locked)
    at = room.devices[name].at
    assert at is not None
    return f"devices.{name}", at


def middle_of(room: Room, x: float, y: float) -> list[float]:
    """A place at shares of the plan's bounds."""
    corners = np.array(room.space.outline)
    low, high = corners.min(axis=0), corners.max(axis=0)
    return [float(v) for v in low + np.array([x, y]) * (high - low)]


@pytest.mark.parametrize("name", NAMES)
def test_where_it_is_already_a_microphone_changes_nothing(
    live_of: Callable[[str], Live], name: str
) -> None:
    live = live_of(name)
    path, at = a_microphone(live)
    found, whole = live.moved({path: at}, unit="m"), live.figures(unit="m")
    assert found["map"] is None
    assert found["waits"] == ""
    rows = {row["path"]: row for row in whole["ledger"]["rows"]}
    assert [row["path"] for row in found["rows"]] == list(rows)
    for row in found["rows"]:
        expected = rows[row["path"]]
        assert row["middle"] == pytest.approx(expected["middle"], abs=1e-9)
        same = ("state", "point", "sti", "band", "level", "binds", "microphone", "distance")
        assert {key: row[key] for key in same} == {key: expected[key] for key in same}
    assert found["marks"] == whole["marks"]


@pytest.mark.parametrize("name", NAMES)
def test_a_moved_microphone_does_what_the_full_prediction_says(
    live_of: Callable[[str], Live], name: str
) -> None:
    live = live_of(name)
    path, at = a_microphone(live)
    moves = {path: [at[0] + 0.31, at[1] - 0.17]}
    quick, whole = live.moved(moves, unit="m"), live.rested(moves, unit="m")
    json.dumps(quick, allow_nan=False)
    assert quick["map"]["labels"] == []
    rows = {row["path"]: row for row in whole["ledger"]["rows"]}
    assert [row["path"] for row in quick["rows"]] == list(rows)
    for row in quick["rows"]:
        assert row["middle"] == pytest.approx(rows[row["path"]]["middle"], abs=1e-9)
        assert row["state"] == rows[row["path"]]["state"]
    assert quick["marks"] == whole["marks"]


def test_what_is_locked_stays_and_says_so() -> None:
    live = Live(loaded_of("glass-fan"))
    for found in (
        live.moved({"devices.old-head": [1.0, 1.0]}, unit="m"),
        live.rested({"devices.old-head": [1.0, 1.0]}, unit="m"),
    ):
        assert found["map"] is None
        assert "old-head is locked" in found["waits"]
