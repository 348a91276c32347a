"""The main job end to end, from a document to a judged design, without touching the document."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from wellheard.errors import DocumentError, InputError
from wellheard.room import codec
from wellheard.workflow.design import Designed, design, judge, place, predict
from wellheard.workflow.explaining import explain
from wellheard.workflow.load import Loaded, load

EXAMPLES = Path(__file__).parents[2] / "examples"
TEN = EXAMPLES / "ten-seats" / "ten-seats.room.yaml"

SMALL = """\
# A room that nobody ever built.
wellheard: 1
title: Two Chairs   # kept
units: m
space:
  outline: [[0, 0], [4, 0], [4, 3.6], [0, 3.6]]
  height: 2.7
people:
  seats:
    a: {at: [1.4, 1.8], facing: 0}
    b: {at: [2.6, 1.8], facing: 180}
  standing:
    board: {outline: [[0.6, 0.6], [1.2, 0.6], [1.2, 1.4], [0.6, 1.4]], facing: 45}
noise: {background: {nc: 25}}
choices: {allow: [ceiling-head-3], mounting: [ceiling], max_drop: 0}
"""


@pytest.fixture
def small(tmp_path: Path) -> Callable[..., Loaded]:
    def made(text: str = SMALL) -> Loaded:
        path = tmp_path / "two.room.yaml"
        path.write_text(text, encoding="utf-8")
        return load(path)

    return made


def test_a_design_is_placed_predicted_and_judged(designed: Callable[[str], Designed]) -> None:
    answer = designed("ten-seats")
    assert answer.kept
    assert answer.judged.errors == ()
    placed = {d.id: d.at for d in answer.placed.proposal.devices}
    judged = {m.id: m.at for m in answer.judged.evidence.microphones}
    assert judged.keys() == placed.keys()
    for name, at in placed.items():
        assert judged[name] == pytest.approx(at)
    assert len(answer.judged.evidence.outbound) == 10


def test_designing_leaves_the_document_as_it_was(small: Callable[..., Loaded]) -> None:
    loaded = small()
    design(loaded)
    assert "devices" not in loaded.room.model_fields_set
    assert loaded.document.text == SMALL


def test_the_text_of_a_design_is_the_document_with_its_devices(
    small: Callable[..., Loaded], tmp_path: Path
) -> None:
    placed = place(small())
    path = tmp_path / "placed.room.yaml"
    path.write_text(placed.text, encoding="utf-8")
    again = codec.load(path).room
    assert again.devices == placed.room.devices
    assert "# A room that nobody ever built." in placed.text
    assert "title: Two Chairs   # kept" in placed.text


def test_placing_what_is_placed_changes_nothing(
    small: Callable[..., Loaded], tmp_path: Path
) -> None:
    first = place(small())
    second = place(small(first.text))
    assert second.room.devices == first.room.devices
    assert second.text == first.text


def test_a_locked_device_is_not_touched_and_a_loose_microphone_gives_way(
    small: Callable[..., Loaded],
) -> None:
    devices = """\
devices:
  old: {kind: microphone, product: ceiling-head-3, at: [2, 1.8, 2.7], locked: true,
        rotation_deg: 30}
  loose: {kind: microphone, product: table-boundary, at: [2, 1.8, 0.7]}
  ls: {kind: loudspeaker, product: ceiling-6, at: [3.4, 0.6, 2.7]}
"""
    room = place(small(SMALL + devices)).room
    assert room.devices["old"].rotation_deg == 30
    assert room.devices["old"].locked
    assert "loose" not in room.devices
    assert "ls" in room.devices


@pytest.mark.parametrize("allow", ["[ceiling-head-3]", "[ceiling-head-3, ceiling-6]"])
def test_a_loose_combined_device_gives_way_with_and_without_loudspeakers(
    small: Callable[..., Loaded], allow: str
) -> None:
    """Placement counts on its place: both ways, and where no loudspeaker is left to choose."""
    room = place(
        small(
            SMALL.replace("allow: [ceiling-head-3]", f"allow: {allow}")
            + "devices:\n  bar: {kind: combined, product: table-unit, at: [2, 1.8, 0.75]}\n"
        )
    ).room
    assert "bar" not in room.devices
    assert {d.kind for d in room.devices.values()} >= {"microphone"}


def test_predict_judges_the_document_as_it_stands(small: Callable[..., Loaded]) -> None:
    judged = predict(small())
    assert judged.evidence.outbound == ()
    assert judged.findings


def test_progress_is_said_on_the_way(small: Callable[..., Loaded]) -> None:
    said: list[str] = []
    design(small(), say=said.append)
    assert any("placing" in s for s in said)
    assert any("checking" in s for s in said)


def test_explaining_needs_a_seat_that_is_there(small: Callable[..., Loaded]) -> None:
    with pytest.raises(InputError, match=r"no seat 'c'; the talking points are a, b, board\.1"):
        explain(small(), "c")
    with pytest.raises(InputError, match="opened point by point"):
        explain(small(), "board")


def test_explaining_needs_a_microphone(small: Callable[..., Loaded]) -> None:
    with pytest.raises(InputError, match="no microphone is placed"):
        explain(small(), "a")


def test_explaining_opens_the_path_of_the_ledger(small: Callable[..., Loaded]) -> None:
    loaded = small(place(small()).text)
    opened = explain(loaded, "b")
    row = next(o for o in predict(loaded).evidence.outbound if o.talker.id == "b")
    assert opened.row == row
    assert opened.stages[-1].rows[0].value == row.sti.value


def test_every_unknown_id_is_said_at_once_with_its_place(small: Callable[..., Loaded]) -> None:
    wrong = SMALL.replace("ceiling-head-3", "ceiling-head-33").replace(
        "height: 2.7", "height: 2.7\n  finishes: {floor: carpet-tiles}"
    )
    with pytest.raises(DocumentError) as caught:
        small(wrong)
    text = str(caught.value)
    assert "no finish 'carpet-tiles'" in text
    assert "did you mean carpet-tile" in text
    assert "no product 'ceiling-head-33'" in text


def test_a_device_of_another_kind_is_refused(small: Callable[..., Loaded]) -> None:
    wrong = SMALL + "devices:\n  m1: {kind: microphone, product: ceiling-6, at: [1, 1, 2.7]}\n"
    with pytest.raises(DocumentError, match="ceiling-6 is a loudspeaker, not a microphone"):
        small(wrong)


def test_the_ten_seat_design_is_the_same_every_time(designed: Callable[[str], Designed]) -> None:
    again = place(load(TEN))
    assert again.proposal == designed("ten-seats").placed.proposal
    assert again.text == designed("ten-seats").placed.text


@pytest.mark.usefixtures("effects_tried")
@pytest.mark.parametrize("name", ["glass-fan", "huddle-four"])
def test_what_assumptions_do_is_all_that_is_left_out_where_nobody_asks(name: str) -> None:
    loaded = load(EXAMPLES / name / f"{name}.room.yaml")
    whole = judge(loaded.room, loaded.catalogue)
    found = judge(loaded.room, loaded.catalogue, assumptions=False)
    assert whole.evidence.assumptions
    assert found.evidence.assumptions == ()
    assert found.evidence.outbound == whole.evidence.outbound
    others = [one for one in whole.findings if one.code != "assumed-inputs"]
    assert list(found.findings) == others != list(whole.findings)
