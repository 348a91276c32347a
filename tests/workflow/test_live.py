"""A room that answers while things move: the same figures as the ledger, and quick."""

from __future__ import annotations

import functools
import json
import re
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from wellheard.errors import InputError
from wellheard.predict import ledger, outbound
from wellheard.predict import scene as scenes
from wellheard.predict.coverage import coverage
from wellheard.room import codec
from wellheard.workflow.design import Designed, predict
from wellheard.workflow.dragged import placed_quickly
from wellheard.workflow.live import Live
from wellheard.workflow.load import Loaded, load
from wellheard.workflow.maps import OUTBOUND

pytestmark = pytest.mark.usefixtures("few_rays")

EXAMPLES = Path(__file__).parents[2] / "examples"
NAMES = sorted(p.name for p in EXAMPLES.iterdir() if p.is_dir())

Designs = Callable[[str], Designed]


def loaded_of(name: str, text: str | None = None) -> Loaded:
    """An example, or what has become of its text."""
    found = load(EXAMPLES / name / f"{name}.room.yaml")
    if text is None:
        return found
    return Loaded(codec.parse_document(text, name=name), found.catalogue, found.own)


@pytest.fixture(scope="module")
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


@pytest.mark.parametrize("name", ["huddle-four", "l-shape", "two-in-one"])
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


TEXT = """\
wellheard: 1
title: Drag Room
units: m
space:
  outline: [[0, 0], [6, 0], [6, 4.5], [0, 4.5]]
  height: 2.7
  finishes: {floor: carpet-tile, ceiling: ceiling-mineral-tile, walls: plasterboard}
  obstacles: {column: {outline: [[3.0, 3.6], [3.4, 3.6], [3.4, 4.0], [3.0, 4.0]]}}
furniture:
  table: {kind: table, outline: [[2, 1.6], [4, 1.6], [4, 2.8], [2, 2.8]]}
people:
  seats:
    s1: {at: [2.0, 1.2], facing: across}
    s2: {at: [4.4, 2.2], facing: [across, 90]}
    s3: {at: [1.2, 3.2], facing: across}
noise:
  background: {nc: 25}
  sources: {vent: {kind: air-outlet, at: [5.0, 1.0, 2.7], dba_at_1m: 30}}
targets: {chance: 0.8, sti_outbound: 0.6, direct_to_reverberant_db: -6, speech_to_noise_db: 15}
devices:
  m1: {kind: microphone, product: ceiling-head-3, at: [2.2, 2.2, 2.7]}
  m2: {kind: microphone, product: ceiling-head-3, at: [4.2, 2.2, 2.7]}
  m3: {kind: microphone, product: table-boundary, at: [3.0, 2.2, 0.78]}
"""
M3 = "  m3: {kind: microphone, product: table-boundary, at: [3.0, 2.2, 0.78]}\n"


def opened(tmp_path: Path, text: str) -> Loaded:
    path = tmp_path / "drag.room.yaml"
    path.write_text(text, encoding="utf-8")
    return load(path)


def edited(text: str, **places: str) -> str:
    """The document with other places written into it."""
    for name, at in places.items():
        text, count = re.subn(rf"([ {{]{name}: {{.*?at: )\[[^]]*\]", rf"\g<1>{at}", text)
        assert count == 1
    return text


@pytest.mark.parametrize(
    ("moves", "written"),
    [
        (
            {"devices.m2": [5.5, 0.5, 2.1], "people.seats.s3": [1.5, 0.75]},
            {"m2": "[5.5, 0.5, 2.1]", "s3": "[1.5, 0.75]"},
        ),
        (
            {"devices.m1": [1.0, 1.0], "noise.sources.vent": [1.5, 4.0, 2.7]},
            {"m1": "[1.0, 1.0, 2.7]", "vent": "[1.5, 4.0, 2.7]"},
        ),
        ({"people.seats.s1": {"by": [0.5, -0.25]}}, {"s1": "[2.5, 0.95]"}),
    ],
)
def test_at_rest_it_is_what_the_edited_document_predicts(
    tmp_path: Path, moves: dict[str, Any], written: dict[str, str]
) -> None:
    text = TEXT.replace(M3, "")
    live = Live(opened(tmp_path, text))
    before = live.figures(unit="m")
    found = live.rested(moves, unit="m")
    assert found.pop("waits") == ""
    loaded = opened(tmp_path, edited(text, **written))
    assert found == Live(loaded).figures(unit="m")
    judged = predict(loaded)
    rows = {row["point"]: row for row in found["ledger"]["rows"]}
    for row in judged.evidence.outbound:
        assert rows[row.talker.id]["middle"] == row.sti.value
        assert rows[row.talker.id]["state"] == row.state
    assert [f["code"] for f in found["findings"]["rows"]] == [f.code for f in judged.findings]
    assert live.figures(unit="m") == before  # nothing of it stays


@pytest.mark.parametrize(
    "text", [TEXT, TEXT.replace(M3, ""), TEXT.partition("  m2:")[0]], ids=["three", "two", "one"]
)
def test_the_map_under_the_hand_is_the_same_as_one_made_from_nothing(
    tmp_path: Path, text: str
) -> None:
    loaded = opened(tmp_path, text)
    live = Live(loaded)
    moves = {"devices.m1": [3.1, 1.1]}
    room = placed_quickly(loaded.room, moves)
    scene = scenes.build(room, loaded.catalogue)
    grid = live.moved(moves, unit="m")["map"]["grid"]
    anew = coverage(
        scene,
        ledger.evidence(scene, assumptions=False),
        spacing=max(grid["dx"], grid["dy"]) + 1e-6,
    )
    ground = live._ready().after(room).mapped[0][1]
    for quantity, mapped in OUTBOUND.items():
        cover = anew[mapped.key]
        np.testing.assert_allclose(ground.cover(mapped.key).values, cover.values, atol=1e-9)
        np.testing.assert_allclose(ground.cover(mapped.key).low, cover.low, atol=1e-9)
        for worst, expected in ((False, cover.values), (True, cover.low)):
            found = live.moved(moves, unit="m", quantity=quantity, worst=worst)["map"]
            values = np.array(found["grid"]["values"], dtype=float).reshape(expected.shape)
            half = 0.5 * 10**-mapped.places
            np.testing.assert_allclose(values, expected, atol=half + 1e-9)


def test_only_the_moved_microphone_is_worked_out(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    column = re.compile(r"  obstacles: .*\n")
    live = Live(opened(tmp_path, column.sub("", TEXT)))
    live.figures(unit="m")
    live.prepare()
    asked = []
    real = outbound.transfer

    def counted(scene: Any, product: Any, at: Any, *rest: Any, **more: Any) -> Any:
        asked.append(np.asarray(at).tolist())
        return real(scene, product, at, *rest, **more)

    monkeypatch.setattr(outbound, "transfer", counted)
    live.moved({"devices.m2": [4.0, 1.0]}, unit="m")
    assert asked == [[[4.0, 1.0, 2.7]]]


def test_a_moved_seat_has_its_own_row_and_leaves_the_map(tmp_path: Path) -> None:
    live = Live(opened(tmp_path, TEXT.replace(M3, "")))
    moves = {"people.seats.s1": [5.4, 0.6]}
    found, whole = live.moved(moves, unit="m"), live.rested(moves, unit="m")
    assert found["map"] is None
    assert found["waits"] == ""
    rows = {row["id"]: row for row in whole["ledger"]["rows"]}
    before = {row["id"]: row for row in live.figures(unit="m")["ledger"]["rows"]}
    for row in found["rows"]:
        # decay and noise are those of before the move
        assert row["middle"] == pytest.approx(rows[row["id"]]["middle"], abs=0.01)
    moved = next(row for row in found["rows"] if row["id"] == "s1")
    assert moved["distance"] == rows["s1"]["distance"] != before["s1"]["distance"]


@pytest.mark.parametrize(
    ("moves", "said"),
    [
        ({"devices.m1": [7.0, 2.0]}, "m1 is 1.00 m outside the room"),
        ({"devices.m1": [2.0, 2.0, 3.0]}, "m1 is 0.30 m above the ceiling"),
        ({"devices.m1": [2.0, 2.0, -0.2]}, "m1 is 0.20 m below the floor"),
        ({"devices.m1": [3.2, 3.8]}, "m1 is inside column, which is solid"),
        ({"people.seats.s1": [3.2, 3.8]}, "s1 is inside column, which is solid"),
        ({"people.seats.s1": [-1.0, 2.0]}, "s1 is 1.00 m outside the room"),
        ({"devices.nobody": [1.0, 1.0]}, "devices.nobody"),
        ({"devices.m1": [float("nan"), 1.0]}, "no point"),
        ({"devices.m1": "here"}, "no point"),
        ({"devices.m1": [1.0]}, "no point"),
        ({"people.seats.__class__": [1.0, 1.0]}, "people.seats.__class__"),
    ],
)
def test_a_place_that_is_none_is_answered_with_words(
    tmp_path: Path, moves: dict[str, Any], said: str
) -> None:
    live = Live(opened(tmp_path, TEXT))
    for found in (live.moved(moves, unit="m"), live.rested(moves, unit="m")):
        assert found["map"] is None
        assert found["rows"] == []
        if "nobody" not in said and "__" not in said:
            assert said in found["waits"]
        assert found["waits"]


@pytest.mark.parametrize(
    ("path", "said"),
    [
        ("furniture.table", "furniture changes the room’s reverberation"),
        ("noise.sources.vent", "a source changes the noise everywhere"),
        ("space.obstacles.column", "shape and the surfaces"),
    ],
)
def test_what_changes_the_room_waits_until_the_hand_rests(
    tmp_path: Path, path: str, said: str
) -> None:
    live = Live(opened(tmp_path, TEXT))
    quick = live.moved({path: {"by": [0.1, 0.0]}}, unit="m")
    assert quick["map"] is None
    assert said in quick["waits"]
    assert "figures follow when the hand rests" in quick["waits"]
    whole = live.rested({path: {"by": [0.1, 0.0]}}, unit="m")
    assert whole["waits"] == ""
    assert whole["map"]["bands"]


def test_a_microphone_dragged_through_a_closed_partition_changes_spaces(
    live_of: Callable[[str], Live],
) -> None:
    live = live_of("two-in-one")
    room = live.loaded.room
    (fold,) = room.partitions.values()
    placed = {k: d.at for k, d in room.devices.items() if d.kind == "microphone" and d.at}
    (west, _), (_, at) = sorted(placed.items(), key=lambda item: item[1][0])[:: len(placed) - 1]
    assert at[0] > fold.from_[0]
    moves = {f"devices.{west}": [at[0] - 0.5, at[1] + 1.0]}
    quick, whole = live.moved(moves, unit="m"), live.rested(moves, unit="m")
    assert [row["path"] for row in quick["rows"]] == [r["path"] for r in whole["ledger"]["rows"]]
    silent = [row for row in quick["rows"] if row["state"] == "not assessed"]
    assert silent  # the west has none left
    assert {row["why"] for row in silent} == {"some arrangement leaves it without a microphone"}
    assert quick["marks"] == whole["marks"]


def test_no_quantity_of_that_name_is_refused(tmp_path: Path) -> None:
    live = Live(opened(tmp_path, TEXT))
    for ask in (
        live.figures,
        functools.partial(live.moved, {}),
        functools.partial(live.rested, {}),
    ):
        with pytest.raises(InputError, match="no quantity 'noise'; there are sti"):
            ask(unit="m", quantity="noise")


def test_several_threads_get_the_same_answer(tmp_path: Path) -> None:
    live = Live(opened(tmp_path, TEXT))
    expected = Live(opened(tmp_path, TEXT)).moved({"devices.m1": [1.0, 1.0]}, unit="m")
    with ThreadPoolExecutor(4) as pool:
        calls = [pool.submit(live.moved, {"devices.m1": [1.0, 1.0]}, unit="m") for _ in range(4)]
        assert all(call.result() == expected for call in calls)
