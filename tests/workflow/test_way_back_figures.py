"""Both ways beside the plan: the worse of two states, the echo table, maps of the way in."""

from __future__ import annotations

import json
import math
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from tests.workflow.test_strip_back import HEAD, LIFT, SPEAKER, made
from wellheard.predict.evidence import Evidence
from wellheard.predict.promises import Promise
from wellheard.room.operations import apply
from wellheard.workflow.bothways import BothWays, both_ways, quick_state
from wellheard.workflow.live import Live
from wellheard.workflow.load import load
from wellheard.workflow.properties import aspects


@pytest.fixture(scope="module")
def live(tmp_path_factory: pytest.TempPathFactory) -> Live:
    return made(tmp_path_factory.mktemp("both"), HEAD + SPEAKER + LIFT)


@pytest.fixture(scope="module")
def figures(live: Live) -> dict[str, Any]:
    return live.figures(unit="m")


def evidence_of(live: Live) -> Evidence:
    return live._now.judged.evidence


@pytest.fixture(scope="module")
def place(live: Live) -> BothWays:
    return both_ways(evidence_of(live))[0]


def with_states(place: BothWays, out: Any, ear: Any) -> BothWays:
    """The same place with other states; '' promises nothing of that way."""
    assert place.out is not None
    row = replace(place.out.worst, state=out or "not assessed", binds="sti_outbound" * bool(out))
    inbound = replace(place.ears[0], state=ear or "not assessed", binds="sti_inbound" * bool(ear))
    return replace(place, out=replace(place.out, rows=(row,)), ears=(inbound,))


@pytest.mark.parametrize(
    ("out", "ear", "state", "binds"),
    [
        ("kept", "broken", "broken", "sti_inbound"),
        ("broken", "kept", "broken", "sti_outbound"),
        ("at risk", "kept", "at risk", "sti_outbound"),
        ("kept", "", "kept", "sti_outbound"),
        ("", "at risk", "at risk", "sti_inbound"),
        ("", "", "not assessed", ""),
    ],
)
def test_a_place_is_as_good_as_the_worse_of_its_ways(
    place: BothWays, out: str, ear: str, state: str, binds: str
) -> None:
    found = with_states(place, out, ear)
    assert (found.state, found.binds) == (state, binds)


def test_a_place_that_nothing_hears_is_kept_by_no_loudspeaker(place: BothWays) -> None:
    deaf = replace(place, out=None)
    assert deaf.state == "not assessed"
    broken = replace(deaf, ears=(replace(place.ears[0], state="broken"),))
    assert broken.state == "broken"


def test_rows_and_marks_and_evidence_tell_one_state(live: Live, figures: dict[str, Any]) -> None:
    json.dumps(figures, allow_nan=False)
    for row in figures["ledger"]["rows"]:
        assert row["state"] == figures["marks"][row["path"]]["state"]
        assert row["state"] == evidence_of(live).state_of(row["id"])
        assert row["inbound_why"] == ""
        assert 0 < float(row["inbound"]) <= 1


def test_while_a_microphone_moves_the_way_in_counts_as_it_was(live: Live) -> None:
    rows = live.moved({"devices.m1": [2.6, 2.2]}, unit="m")["rows"]
    ears = {one.owner: one.ears for one in both_ways(evidence_of(live))}
    first = evidence_of(live).outbound[0]
    promise = Promise({}, chance=first.chance, binds=first.binds, state=first.state)
    for row in rows:
        (ear,) = ears[row["path"]]
        broken = replace(ear, state="broken", binds="sti_inbound")
        assert quick_state(promise, [broken])[0] == "broken"
        assert "inbound" not in row


def test_a_loudspeaker_under_the_hand_says_that_its_figures_follow(live: Live) -> None:
    moves = {"devices.l1": [0.1, 2.6]}
    found = live.moved(moves, unit="m", quantity="sti-inbound")
    assert found["map"] is None
    assert "follows when the hand rests" in found["waits"]
    still = live.moved({"devices.m1": [2.6, 2.2]}, unit="m", quantity="sti-inbound")
    assert still["waits"] == ""
    assert still["marks"]["people.seats.s1"]["figure"] == next(
        row["inbound"]
        for row in live.figures(unit="m")["ledger"]["rows"]
        if row["path"] == "people.seats.s1"
    )
    # at rest it is worked out in full
    rested = live.rested(moves, unit="m", quantity="playback-level")
    assert rested["map"]["quantity"] == "playback-level"


def test_the_map_of_levels_falls_with_the_distance_and_meets_the_ears(live: Live) -> None:
    found = live.figures(unit="m", quantity="playback-level")
    grid = found["map"]["grid"]
    assert found["map"]["target"] == 65
    assert "65–75 dBA is promised" in found["map"]["conditions"]

    def at(x: float, y: float) -> float:
        column = round((x - grid["x0"]) / grid["dx"])
        row = round((y - grid["y0"]) / grid["dy"])
        return float(grid["values"][row * grid["columns"] + column])

    levels = [at(x, 2.0) for x in (0.6, 1.5, 3.0, 5.0)]
    assert levels == sorted(levels, reverse=True)
    for seat, (x, y) in {"s1": (2.1, 2.0), "s2": (4.6, 2.0), "s3": (3.2, 3.6)}.items():
        mark = float(found["marks"][f"people.seats.{seat}"]["figure"])
        assert at(x, y) == pytest.approx(mark, abs=0.5)


@pytest.mark.parametrize("quantity", ["sti-inbound", "playback-level"])
def test_a_map_of_the_way_in_without_loudspeakers_says_why(tmp_path: Path, quantity: str) -> None:
    found = made(tmp_path, HEAD).figures(unit="m", quantity=quantity)
    assert found["map"] is None
    assert found["map_words"].startswith("Not assessed: No loudspeaker is placed")
    assert {row["inbound"] for row in found["ledger"]["rows"]} == {"–"}
    assert {row["inbound_why"] for row in found["ledger"]["rows"]} == {"no loudspeaker is placed"}
    assert found["back"]["why"] == "no loudspeaker is placed"


def test_the_echo_table_has_every_microphone_and_adds_up(figures: dict[str, Any]) -> None:
    back = figures["back"]
    assert back["why"] == ""
    (row,) = back["echo"]
    assert row["path"] == "devices.m1"

    def number(key: str) -> float:
        return float(row[key].replace("−", "-"))

    need = max(number("needed") - number("return_loss"), 0)
    assert number("to_add") == pytest.approx(need, abs=0.11)
    assert row["by"] in ("tail", "distortion", "noise", "practice", "data sheet")
    assert {column["key"] for column in back["head"]} <= set(row)
    assert "not included" in back["loop"]["note"]
    assert back["loop"]["state"] in ("kept", "broken")


def test_delays_beside_the_plan_are_the_sums_of_their_parts(figures: dict[str, Any]) -> None:
    for line in figures["back"]["delays"][:-1]:
        parts = [float(part.split(" (")[0].split()[-1]) for part in line["parts"].split("), ")]
        assert float(line["ms"]) == pytest.approx(math.fsum(parts), abs=0.06 * len(parts))
    assert figures["back"]["delays"][-1]["ms"] == "300"


def test_stages_can_be_read_and_changed_where_they_run(tmp_path: Path) -> None:
    path = tmp_path / "stages.room.yaml"
    path.write_text(HEAD + SPEAKER + LIFT, encoding="utf-8")
    loaded = load(path)
    rows = {row["path"]: row for row in aspects(loaded, unit="m")["devices.l1"]}
    assert rows["processing.up.sources"]["value"] == "m1.link"
    assert rows["processing.up.gain_db"]["value"] == "−12"
    change = {"path": "processing.up.gain_db", "typed": "−9"}
    assert apply(loaded.room, [change], unit="m").room.processing["up"].gain_db == -9
    housed = {row["path"] for row in aspects(loaded, unit="m")["equipment.rack"]}
    assert {"devices.mixer.product", "devices.amp.product"} <= housed


def test_what_is_taken_away_takes_its_cables_along(tmp_path: Path) -> None:
    path = tmp_path / "cables.room.yaml"
    text = HEAD.replace(
        "equipment: {", "equipment: {computer: {kind: computer, at: [5.5, 0.5, 0.5]}, "
    )
    link = "links: {usb: {from: mixer.usb, to: computer.usb, cable: usb-cord-2, length: 2}}\n"
    path.write_text(text + link, encoding="utf-8")
    room = load(path).room
    found = apply(room, [{"do": "remove", "items": ["equipment.computer"]}], unit="m").room
    assert found.links == {}
    assert "computer" not in found.equipment
