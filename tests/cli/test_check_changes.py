"""``check --changes`` and ``check --apply``: what is offered, and what is written."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from tests.cli.shapes import CHANGE, also, faults
from wellheard.cli import render
from wellheard.room import codec
from wellheard.workflow.judging import judge
from wellheard.workflow.load import load
from wellheard.workflow.remedying import Search

pytestmark = pytest.mark.usefixtures("few_rays")

ROOM = """\
wellheard: 1
title: Plain Room  # invented
space:
  outline: [[0, 0], [6.4, 0], [6.4, 4.6], [0, 4.6]]
  height: 2.75
  finishes: {walls: {w0: fabric-panel, w1: fabric-panel, w2: plasterboard, w3: plasterboard}}
people:
  seats:
    s1: {at: [2.0, 0.15], facing: across}  # drawn too near to the wall
    s2: {at: [4.0, 0.15], facing: across}
targets: {sti_inbound: null, listening_level_dba: null, uniformity_db: null}
"""
FIRST, SECOND = "chair-in-wall@people.seats.s1", "chair-in-wall@people.seats.s2"


@pytest.fixture
def room(tmp_path: Path) -> Path:
    path = tmp_path / "plain.room.yaml"
    path.write_text(ROOM, "utf-8")
    return path


def _words(text: str) -> str:
    return " ".join(text.split())


def test_a_computed_change_stands_below_its_remedy(wellheard: Any, room: Path) -> None:
    said = _words(wellheard("check", room, "--changes").out)
    # 0.15 m from the wall, 0.25 m wanted: 0.10 m, worked out by hand.
    assert "⇒ computed: Move seat s1 by 0.10 m to 2.00 m, 0.25 m on the plan." in said
    assert f"(wellheard check {room} --apply {FIRST})" in said
    assert "0.15 m → 0.25 m, 0.25 m wanted" in said
    assert said.index("→ Move s1") < said.index("⇒ computed")


STUCK = """\
wellheard: 1
space: {outline: [[0, 0], [6, 0], [6, 4], [0, 4]], height: 2.7,
        finishes: {walls: {w0: fabric-panel, w1: fabric-panel, w2: plasterboard, w3: plasterboard}}}
people: {seats: {s1: {at: [2, 2], facing: 0}, s2: {at: [2.3, 2], facing: 0}}}
equipment: {rack: {kind: rack, at: [5.7, 0.4, 0.5]}, pc: {kind: computer, at: [5.5, 0.4, 0.5]}}
devices:
  p: {kind: processor, product: processor-4, equipment: rack}
  q: {kind: processor, product: processor-4, equipment: rack}
links: {wrong: {from: p.line-out-1, to: q.line-out-1, locked: true}}
targets: {sti_inbound: null, listening_level_dba: null, uniformity_db: null}
"""


def test_findings_that_no_change_is_found_for_are_counted(wellheard: Any, tmp_path: Path) -> None:
    """A locked link joins two outputs, which wiring may not touch; of two seats one can move."""
    path = tmp_path / "stuck.room.yaml"
    path.write_text(STUCK, "utf-8")
    plain, ended = wellheard("check", path), wellheard("check", path, "--changes")
    assert "computed change" not in plain.out
    assert ended.out.count("⇒ computed") == 1
    assert _words(ended.out).endswith(
        "1 error, 1 warning, 9 notes Of 2 errors and warnings: 1 has a computed change above; "
        "for 1 no change is known that could be tried."
    )
    found = wellheard("check", path, "--changes", "--format", "json").json["findings"]
    assert [f["code"] for f in found if f["change"] is not None] == ["seats-overlap"]


def test_changes_that_were_tried_in_vain_are_told(wellheard: Any, tmp_path: Path) -> None:
    path = tmp_path / "stuck.room.yaml"
    path.write_text(STUCK, "utf-8")
    loaded = load(path)
    judged = judge(loaded.room, loaded.catalogue)
    one, other, *_ = judged.findings
    said = render.searched(Search((), {one: 3, other: 0}))
    assert "1 had changes tried, none of which helps; for 1 no change is known" in _words(said)
    assert _words(render.searched(Search((), {one: 8}))) == (
        "Of 1 error or warning: 1 had changes tried, none of which helps."
    )


def test_where_nothing_is_wrong_no_change_is_missed(wellheard: Any, room: Path) -> None:
    good = ROOM.replace("[2.0, 0.15]", "[2.0, 2.0]").replace("[4.0, 0.15]", "[4.0, 2.0]")
    room.write_text(good, "utf-8")
    assert "There is no error and no warning" in wellheard("check", room, "--changes").out


def test_without_being_asked_no_change_is_computed(wellheard: Any, room: Path) -> None:
    assert "computed" not in wellheard("check", room).out
    answer = wellheard("check", room, "--format", "json").json
    assert {f["change"] for f in answer["findings"]} == {None}


def test_a_change_has_the_promised_fields(wellheard: Any, room: Path) -> None:
    answer = wellheard("check", room, "--changes", "--format", "json").json
    changes = {f"{f['code']}@{f['at']}": f["change"] for f in answer["findings"]}
    assert faults(changes[FIRST], {**CHANGE, "further": [CHANGE]}) == []
    assert changes[FIRST]["operations"] == [{"path": "people.seats.s1.at", "set": [2.0, 0.25]}]
    assert changes[FIRST]["mends"] == [FIRST]
    assert changes[FIRST]["value_after"] == pytest.approx(0.25)
    assert answer["applied"] == []


def test_apply_writes_the_document_and_keeps_its_comments(wellheard: Any, room: Path) -> None:
    ended = wellheard("check", room, "--apply", FIRST)
    assert ended.code == 0
    assert ended.out == ROOM.replace("[2.0, 0.15]", "[2, 0.25]")
    assert FIRST in ended.err
    assert room.read_text("utf-8") == ROOM


def test_several_changes_are_made_one_after_the_other(
    wellheard: Any, room: Path, tmp_path: Path
) -> None:
    target = tmp_path / "new.room.yaml"
    ended = wellheard("check", room, "--apply", FIRST, "--apply", SECOND, "-o", target)
    assert (ended.code, ended.out) == (0, "")
    assert codec.read(target).people.seats["s1"].at == (2.0, 0.25)
    assert codec.read(target).people.seats["s2"].at == (4.0, 0.25)
    again = wellheard("check", target, "--format", "json").json["findings"]
    assert not {FIRST, SECOND} & {f"{f['code']}@{f['at']}" for f in again}


def test_apply_in_place_and_as_json(wellheard: Any, room: Path) -> None:
    ended = wellheard("check", room, "--apply", SECOND, "--in-place", "--format", "json")
    assert [one["finding"] for one in ended.json["applied"]] == [SECOND]
    assert faults(ended.json["applied"], [{**CHANGE, "finding": str, also: set()}]) == []
    left = {f"{f['code']}@{f['at']}" for f in ended.json["findings"]}
    assert FIRST in left
    assert SECOND not in left
    assert codec.read(room).people.seats["s2"].at == (4.0, 0.25)


def test_a_finding_that_went_with_another_is_no_mistake(wellheard: Any, room: Path) -> None:
    ended = wellheard("check", room, "--apply", FIRST, "--apply", FIRST)
    assert ended.code == 0
    assert f"{FIRST}: gone with the changes before it." in _words(ended.err)


@pytest.mark.parametrize(
    ("arguments", "says"),
    [
        (("--apply", "chair-in-wall@people.seats.s3"), f"did you mean {SECOND}?"),
        (("--apply", "nonsense"), f"is allowed, as code@place: {FIRST}, {SECOND}"),
        (("--apply", f"{FIRST}#2"), "it has 1 change; #1 to #1 is allowed"),
        (("--apply", f"{FIRST}#x"), "'x' is no number of a change; 1, 2, … is allowed"),
        (("--in-place",), "only with --apply"),
        (("--apply", FIRST, "--changes"), "--apply and --changes: give one of them"),
        (("--changes", "--time-limit", "0"), "more than 0 s is allowed"),
    ],
)
def test_what_cannot_be_done_says_what_is_allowed(
    wellheard: Any, room: Path, arguments: tuple[str, ...], says: str
) -> None:
    ended = wellheard("check", room, *arguments)
    assert (ended.code, ended.out) == (2, "")
    assert says in _words(ended.err)
    assert room.read_text("utf-8") == ROOM


# One finish for all walls: of each of the two pairs of walls that face each other it is said there.
BARE = ROOM.replace(
    "{walls: {w0: fabric-panel, w1: fabric-panel, w2: plasterboard, w3: plasterboard}}",
    "{walls: plasterboard}",
).replace("0.15]", "1.5]")
ECHOES = "parallel-hard-walls@space.finishes.walls"


@pytest.fixture
def bare(tmp_path: Path) -> Path:
    path = tmp_path / "bare.room.yaml"
    path.write_text(BARE, "utf-8")
    return path


def _offered(answer: Any) -> dict[str, Any]:
    """Changes by how each is asked for, in the order of the findings."""
    alike = [f for f in answer["findings"] if f"{f['code']}@{f['at']}" == ECHOES]
    return {f["change"]["apply"]: f for f in alike}


def test_findings_of_one_rule_at_one_place_have_names_of_their_own(
    wellheard: Any, bare: Path
) -> None:
    answer = wellheard("check", bare, "--changes", "--format", "json").json
    found = _offered(answer)
    assert list(found) == [f"{ECHOES}:1", f"{ECHOES}:2"]
    for name, finding in found.items():
        further = finding["change"]["further"]
        assert [one["apply"] for one in further] == [
            f"{name}#{n}" for n in range(2, 2 + len(further))
        ]
        assert further
    said = _words(wellheard("check", bare, "--changes").out)
    for name in found:
        assert f"--apply {name}, or {name}#2 for another)" in said


@pytest.mark.parametrize("suffix", ["", "#2"])
@pytest.mark.parametrize("number", [1, 2])
def test_a_name_means_one_finding_and_one_change(
    wellheard: Any, bare: Path, tmp_path: Path, number: int, suffix: str
) -> None:
    answer = wellheard("check", bare, "--changes", "--format", "json").json
    name = f"{ECHOES}:{number}"
    change = _offered(answer)[name]["change"]
    meant = change["further"][0] if suffix else change
    target = tmp_path / "one.room.yaml"
    done = wellheard("check", bare, "--apply", name + suffix, "-o", target, "--format", "json").json
    (one,) = done["applied"]
    assert (one["apply"], one["finding"]) == (name + suffix, ECHOES)
    assert one["operations"] == meant["operations"]
    left = [f for f in done["findings"] if f"{f['code']}@{f['at']}" == ECHOES]
    other = _offered(answer)[f"{ECHOES}:{3 - number}"]
    assert [f["message"] for f in left] == [other["message"]]


def test_a_name_keeps_its_finding_when_an_earlier_change_has_taken_another(
    wellheard: Any, bare: Path
) -> None:
    both = ("--apply", f"{ECHOES}:1", "--apply", f"{ECHOES}:2")
    done = wellheard("check", bare, *both, "--output", bare.parent / "two", "--format", "json").json
    assert [one["apply"] for one in done["applied"]] == [f"{ECHOES}:1", f"{ECHOES}:2"]
    assert ECHOES not in {f"{f['code']}@{f['at']}" for f in done["findings"]}


def test_a_name_without_a_number_is_all_of_them(wellheard: Any, bare: Path) -> None:
    ended = wellheard("check", bare, "--apply", ECHOES)
    said = _words(ended.err)
    assert f"{ECHOES}:1: Fix" in said
    assert f"{ECHOES}:2: Fix" in said
    assert ended.code == 0


def test_a_change_by_number_wants_one_finding(wellheard: Any, bare: Path) -> None:
    ended = wellheard("check", bare, "--apply", f"{ECHOES}#2")
    assert ended.code == 2
    assert f"2 findings have that name; {ECHOES}:1#2 to {ECHOES}:2#2 is allowed" in _words(
        ended.err
    )
    ended = wellheard("check", bare, "--apply", f"{ECHOES}:3")
    assert ended.code == 2
    assert f"did you mean {ECHOES}:2?" in _words(ended.err)


def test_predict_computes_the_same_changes_if_asked(wellheard: Any, room: Path) -> None:
    checked = wellheard("check", room, "--changes", "--format", "json").json["findings"]
    asked = wellheard("predict", room, "--changes", "--format", "json").json
    assert asked["findings"] == checked
    assert {
        f["change"] for f in wellheard("predict", room, "--format", "json").json["findings"]
    } == {None}
    ended = wellheard("predict", room, "--changes")
    assert ended.code == 2
    assert "--changes: only with --format json" in _words(ended.err)


def test_documents_have_the_changes_of_what_is_found_wrong(
    wellheard: Any, room: Path, tmp_path: Path
) -> None:
    checked = wellheard("check", room, "--changes", "--format", "json").json["findings"]
    wellheard("publish", room, "-o", tmp_path / "out")
    kept = json.loads((tmp_path / "out" / "result.json").read_text("utf-8"))
    assert kept["prediction"]["findings"] == checked
    assert [f["change"]["apply"] for f in checked if f["change"]] == [FIRST, SECOND]


def test_a_design_says_what_mends_what_is_left_of_its_findings(
    wellheard: Any, room: Path, tmp_path: Path
) -> None:
    answer = wellheard("design", room, "-o", tmp_path / "out", "--format", "json").json
    kept = json.loads((tmp_path / "out" / "result.json").read_text("utf-8"))
    findings = answer["prediction"]["findings"]
    assert kept["prediction"]["findings"] == findings
    changes = {f"{f['code']}@{f['at']}": f["change"] for f in findings}
    # Seats stand where they stood: placing devices does not move them.
    assert changes[FIRST]["operations"] == [{"path": "people.seats.s1.at", "set": [2.0, 0.25]}]
    document = tmp_path / "out" / "plain.room.yaml"
    again = wellheard("check", document, "--changes", "--format", "json").json["findings"]
    assert {f"{f['code']}@{f['at']}": f["change"] for f in again} == changes


def test_a_finding_that_nothing_mends_says_so(wellheard: Any, tmp_path: Path) -> None:
    path = tmp_path / "locked.room.yaml"
    device = "{kind: microphone, product: ceiling-head-3, at: [2, 4.3, 2.4], locked: true}"
    path.write_text(f"{ROOM}devices: {{m1: {device}}}\n", "utf-8")
    ended = wellheard("check", path, "--apply", "microphone-near-wall@devices.m1")
    assert ended.code == 2
    assert "no change that was tried mends it" in _words(ended.err)
