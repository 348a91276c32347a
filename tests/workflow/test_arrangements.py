"""A room that divides, end to end: what is judged, answered, explained and published."""

from __future__ import annotations

import csv
import io
import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from wellheard.errors import InputError
from wellheard.workflow import answers
from wellheard.workflow.design import Designed, Judged, Placed, place, predict
from wellheard.workflow.explaining import explain
from wellheard.workflow.load import Loaded, load
from wellheard.workflow.manifest import MANIFEST
from wellheard.workflow.publish import design_files, publish

pytestmark = pytest.mark.usefixtures("few_rays")

TWO = """\
wellheard: 1
title: Two Halves
units: m
space:
  outline: [[0, 0], [9.6, 0], [9.6, 4.8], [0, 4.8]]
  walls: [south, east, north, west]
  height: 2.7
  finishes: {walls: plasterboard}
people:
  seats:
    w1: {at: [1.6, 1.6], facing: 90}
    w2: {at: [3.0, 1.6], facing: 90}
    e1: {at: [6.6, 1.6], facing: 90}
noise: {background: {nc: 25}}
choices: {allow: [ceiling-head-3], mounting: [ceiling], max_drop: 0}
equipment: {rack: {kind: rack, at: [0.4, 4.4, 0.5]}}
devices:
  mixer: {kind: processor, product: processor-12, equipment: rack}
  m1: {kind: microphone, product: ceiling-head-3, at: [2.1, 2.1, 2.7]}
  m2: {kind: microphone, product: ceiling-head-3, at: [6.9, 2.1, 2.7]}
partitions: {fold: {from: [4.8, 0], to: [4.8, 4.8], stc: 45}}
arrangements: {joined: {open: [fold]}, split: {closed: [fold]}}
"""
M2 = "  m2: {kind: microphone, product: ceiling-head-3, at: [6.9, 2.1, 2.7]}\n"
NAMES = ["joined", "split.a", "split.b"]


@pytest.fixture
def read(tmp_path: Path) -> Callable[..., Loaded]:
    def made(text: str = TWO) -> Loaded:
        path = tmp_path / "two.room.yaml"
        path.write_text(text, encoding="utf-8")
        return load(path)

    return made


def codes(judged: Judged, **wanted: Any) -> list[str]:
    return [f.code for f in judged.findings if all(getattr(f, k) == v for k, v in wanted.items())]


def test_every_space_of_every_arrangement_is_judged(read: Callable[..., Loaded]) -> None:
    judged = predict(read())
    assert [part.name for part in judged.parts] == NAMES
    assert [len(part.evidence.talkers) for part in judged.parts] == [3, 2, 1]
    assert judged.leads in NAMES
    assert judged.unheard == ()
    assert judged.errors == ()


def test_ports_and_cables_are_judged_once_for_all_microphones(read: Callable[..., Loaded]) -> None:
    """Two microphones on one of two ports: too many, though each space has one."""
    crowded = TWO.replace("processor-12", "bridge-2").replace(
        M2, M2 + M2.replace("m2", "m3").replace("6.9", "8.7")
    )
    judged = predict(read(crowded))
    (found,) = [f for f in judged.findings if f.code == "ports-exceeded"]
    assert found.arrangements == ()
    assert (found.value, found.limit) == (3.0, 2.0)
    assert codes(predict(read()), code="cable-too-long") == []


def test_a_space_without_a_microphone_is_an_error_and_nobody_there_is_kept(
    read: Callable[..., Loaded],
) -> None:
    judged = predict(read(TWO.replace(M2, "")))
    assert codes(judged, severity="error", at="arrangements.split") == ["space-without-microphone"]
    assert judged.unheard == ("e1",)
    assert judged.worst_in("e1") == "split.b"
    said = {seat["id"]: seat for seat in answers.judgement(judged)["seats"]}
    assert (said["e1"]["kept"], said["e1"]["outbound"]) == (None, None)
    assert said["e1"]["arrangement"] == "split.b"


def test_a_promise_is_kept_only_if_every_part_keeps_it(read: Callable[..., Loaded]) -> None:
    """Relaxing the rule takes the error away; that nobody is heard stays."""
    relaxed = TWO.replace(M2, "").replace("[6.6, 1.6]", "[5.2, 1.6]") + (
        "targets: {house_rules: {space-without-microphone: {relaxed: true, because: a test}}}\n"
    )
    loaded = read(relaxed)
    placed = place(read())
    judged = predict(loaded)
    assert judged.errors == ()
    assert placed.proposal.proof.status == "optimal"
    assert not Designed(Placed(placed.proposal, loaded.room, relaxed), judged).kept


def test_placing_gives_every_space_a_microphone(read: Callable[..., Loaded]) -> None:
    bare = TWO.replace(M2, "").replace(M2.replace("m2", "m1").replace("6.9", "2.1"), "")
    placed = place(read(bare))
    assert placed.proposal.proof.status == "optimal"
    assert {d.at[0] < 4.8 for d in placed.proposal.devices} == {True, False}


def test_json_has_every_seat_once_and_every_part(read: Callable[..., Loaded]) -> None:
    judged = predict(read())
    answer = answers.judgement(judged)
    assert [seat["id"] for seat in answer["seats"]] == ["w1", "w2", "e1"]
    assert answer["arrangement"] == judged.leads
    assert list(answer["arrangements"]) == NAMES
    shape = set(answer) - {"arrangements"}
    for name, part in answer["arrangements"].items():
        assert set(part) == shape
        assert part["arrangement"] == name
        assert {seat["arrangement"] for seat in part["seats"]} == {name}
    for seat in answer["seats"]:
        there = [
            mine["outbound"]["chance"]
            for part in answer["arrangements"].values()
            for mine in part["seats"]
            if mine["id"] == seat["id"]
        ]
        assert seat["outbound"]["chance"] == min(there)
        assert seat["arrangement"] in NAMES
    assert list(answers.checked(judged)["arrangements"]) == NAMES


def test_a_room_that_does_not_divide_answers_as_ever(read: Callable[..., Loaded]) -> None:
    plain = TWO.partition("partitions:")[0]
    judged = predict(read(plain))
    assert (judged.parts, judged.leads, judged.unheard) == ((), "", ())
    answer = answers.judgement(judged)
    assert (answer["arrangement"], answer["arrangements"]) == (None, {})
    assert {seat["arrangement"] for seat in answer["seats"]} == {None}
    assert not any("arrangements" in finding for finding in answer["findings"])


def test_explaining_opens_the_worst_arrangement_or_the_one_asked_for(
    read: Callable[..., Loaded],
) -> None:
    loaded = read()
    judged = predict(loaded)
    worst = explain(loaded, "w1")
    assert worst.arrangement == judged.worst_in("w1")
    for asked, opened in (("joined", "joined"), ("split", "split.a"), ("split.a", "split.a")):
        found = explain(loaded, "w1", arrangement=asked)
        assert found.arrangement == opened
        assert found.seat == "w1"
        mine = next(p for p in judged.parts if p.name == opened).evidence
        assert found.row == next(o for o in mine.outbound if o.talker.id == "w1")


@pytest.mark.parametrize(
    ("seat", "arrangement", "says"),
    [
        ("w1", "spilt", "no arrangement 'spilt'; there are joined, split.a, split.b"),
        ("w1", "split.b", "no seat 'w1' in split, space b; the talking points are e1"),
        ("x", "", "no seat 'x'; the talking points are w1, w2, e1"),
    ],
)
def test_what_cannot_be_explained_is_said(
    read: Callable[..., Loaded], seat: str, arrangement: str, says: str
) -> None:
    with pytest.raises(InputError, match=says):
        explain(read(), seat, arrangement=arrangement)


def test_a_space_without_a_microphone_cannot_be_opened(read: Callable[..., Loaded]) -> None:
    loaded = read(TWO.replace(M2, ""))
    with pytest.raises(InputError, match=r"no microphone is placed in split, space b"):
        explain(loaded, "e1")
    assert explain(loaded, "e1", arrangement="joined").microphone == "m1"
    plain = read(TWO.partition("partitions:")[0])
    with pytest.raises(InputError, match=r"no arrangement 'split'; the room has none"):
        explain(plain, "w1", arrangement="split")


def test_the_folder_has_a_plan_for_each_arrangement(
    read: Callable[..., Loaded], tmp_path: Path
) -> None:
    loaded = read()
    paths = publish(loaded, predict(loaded), tmp_path / "out")
    names = {path.name for path in paths}
    assert {"plan.svg", "plan-split.svg", "dossier.pdf", "ledger.csv"} <= names
    assert "plan-joined.svg" not in names
    listed = json.loads((tmp_path / "out" / MANIFEST).read_text())["files"]
    assert {"plan.svg", "plan-split.svg"} <= set(listed)
    plan, split = ((tmp_path / "out" / n).read_text() for n in ("plan.svg", "plan-split.svg"))
    assert "fold, open" in plan
    assert "fold, closed" in split
    rows = list(csv.DictReader(io.StringIO((tmp_path / "out" / "ledger.csv").read_text())))
    assert list(rows[0])[-1] == "arrangement"
    assert {row["seat"]: row["arrangement"] for row in rows} == {
        name: predict(loaded).worst_in(name) for name in ("w1", "w2", "e1")
    }


def test_the_folder_of_an_undivided_room_is_as_ever(
    read: Callable[..., Loaded], tmp_path: Path
) -> None:
    loaded = read(TWO.partition("partitions:")[0])
    names = {path.name for path in publish(loaded, predict(loaded), tmp_path / "out")}
    assert {n for n in names if n.endswith(".svg")} == {"plan.svg", "section.svg"}
    head = (tmp_path / "out" / "ledger.csv").read_text().partition("\n")[0]
    assert "arrangement" not in head


def test_a_leading_sheet_is_there_even_if_something_is_always_closed(
    read: Callable[..., Loaded], tmp_path: Path
) -> None:
    loaded = read(TWO.replace("{joined: {open: [fold]}, split:", "{split:"))
    names = {path.name for path in publish(loaded, predict(loaded), tmp_path / "out")}
    assert {n for n in names if n.endswith(".svg")} == {"plan.svg", "section.svg"}


def test_the_example_keeps_its_promise_in_every_arrangement(
    designed: Callable[[str], Designed],
) -> None:
    answer = designed("two-in-one")
    assert answer.kept
    assert [part.name for part in answer.judged.parts] == NAMES
    for part in answer.judged.parts:
        assert {row.state for row in part.evidence.outbound} == {"kept"}
    files = design_files(
        load(Path(__file__).parents[2] / "examples" / "two-in-one" / "two-in-one.room.yaml"),
        answer,
    )
    assert {"plan.svg", "plan-split.svg"} <= set(files)


def test_nobody_hears_a_loudspeaker_beyond_a_closed_partition(read: Callable[..., Loaded]) -> None:
    loudspeaker = M2.replace("m2", "l1").replace("microphone", "loudspeaker")
    loudspeaker = loudspeaker.replace("ceiling-head-3", "ceiling-6")
    judged = predict(read(TWO.replace(M2, M2 + loudspeaker)))
    found = codes(judged, severity="error", at="arrangements.split")
    assert found == ["space-without-loudspeaker"]
    said = {seat["id"]: seat["inbound"] for seat in answers.judgement(judged)["seats"]}
    assert said["e1"] is not None
    assert [said[name] for name in said if name != "e1"] == [None] * (len(said) - 1)
