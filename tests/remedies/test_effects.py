"""What a change does to findings, by findings made by hand."""

from __future__ import annotations

from dataclasses import replace
from types import SimpleNamespace
from typing import Any, cast

import pytest

from wellheard.checks.model import Finding
from wellheard.room.document import Room
from wellheard.workflow.design import Judged
from wellheard.workflow.remedy_effects import effects

NEAR = Finding(
    code="microphone-near-wall",
    severity="warning",
    status="fail",
    strength="house",
    at="devices.m1",
    message="0.30 m",
    value=0.3,
    limit=0.5,
    unit="m",
    remedy="",
    source="",
)
ROOM = Room.model_validate(
    {
        "wellheard": 1,
        "space": {"outline": [[0, 0], [6, 0], [6, 4], [0, 4]], "height": 2.7},
        "people": {"seats": {"s1": {"at": [3, 2]}}},
        "devices": {
            f"m{k}": {"kind": "microphone", "product": "table-boundary", "at": [k, 2, 0.74]}
            for k in range(1, 6)
        },
    }
)
OVERLAP = replace(NEAR, code="device-overlaps", severity="error", value=0.05, limit=0.01)


def judged(*found: Finding, parts: tuple[str, ...] = ()) -> Judged:
    named: Any = tuple(SimpleNamespace(name=name) for name in parts)
    return cast(
        Judged,
        SimpleNamespace(findings=found, parts=named, evidence=SimpleNamespace(room=ROOM)),
    )


def test_a_finding_that_goes_is_mended() -> None:
    found = effects(judged(NEAR), judged())
    assert found.mends_or_eases(NEAR)
    assert found.mends == ("microphone-near-wall@devices.m1",)
    assert found.counts == (0, 0)


def test_no_error_may_come_with_it() -> None:
    found = effects(judged(NEAR), judged(OVERLAP))
    assert found.new_errors == found.worsens == ("device-overlaps@devices.m1",)
    assert not found.mends_or_eases(NEAR)


def test_a_warning_that_becomes_an_error_is_a_new_error() -> None:
    warned = replace(OVERLAP, severity="warning")
    found = effects(judged(NEAR, warned), judged(OVERLAP))
    assert not found.mends_or_eases(NEAR)


def test_an_error_may_not_come_into_another_arrangement() -> None:
    parts = ("joined", "split.a", "split.b")
    there = replace(OVERLAP, arrangements=("joined",))
    moved = replace(OVERLAP, arrangements=("split.a",), message="elsewhere")
    found = effects(judged(NEAR, there, parts=parts), judged(moved, parts=parts))
    assert found.new_errors == ("device-overlaps@devices.m1",)
    assert not found.mends_or_eases(NEAR)


def test_what_is_told_of_all_arrangements_is_mended_only_in_all() -> None:
    parts = ("split.a", "split.b")
    left = replace(NEAR, arrangements=("split.b",))
    found = effects(judged(NEAR, parts=parts), judged(left, parts=parts))
    assert found.left(NEAR) == left
    assert not found.mends_or_eases(NEAR)
    assert found.mends == ()


def test_a_finding_that_only_moves_to_another_device_is_not_mended() -> None:
    found = effects(judged(NEAR), judged(replace(NEAR, at="devices.m2")))
    assert not found.mends_or_eases(NEAR)


def test_a_finding_that_can_no_longer_be_assessed_is_not_mended() -> None:
    unknown = replace(NEAR, severity="note", status="not-assessed", at="devices")
    found = effects(judged(NEAR), judged(unknown))
    assert found.unassessed == ("microphone-near-wall@devices",)
    assert not found.mends_or_eases(NEAR)


@pytest.mark.parametrize(("value", "eased"), [(0.33, False), (0.35, True)])
def test_a_finding_is_eased_from_four_fifths_of_its_excess_on(value: float, eased: bool) -> None:
    # 0.2 m are lacking; four fifths of that are 0.16 m, at 0.34 m.
    left = replace(NEAR, value=value, message="less")
    assert effects(judged(NEAR), judged(left)).mends_or_eases(NEAR) is eased


def test_what_gets_farther_from_its_limit_is_worse() -> None:
    other = replace(NEAR, at="devices.m2")
    worse = replace(other, value=0.25, message="0.25 m")
    found = effects(judged(NEAR, other), judged(worse))
    assert found.worsens == ("microphone-near-wall@devices.m2",)
    assert found.mends_or_eases(NEAR)


def test_what_costs_as_much_elsewhere_is_not_offered() -> None:
    other = replace(NEAR, code="sight-line-crossed", at="devices.m2")
    assert not effects(judged(NEAR), judged(other)).mends_or_eases(NEAR)


def test_of_two_findings_of_one_name_each_is_followed_by_itself() -> None:
    second = replace(NEAR, value=0.4, message="0.40 m")
    found = effects(judged(NEAR, second), judged(second))
    assert found.mends_or_eases(NEAR)
    assert not found.mends_or_eases(second)
    assert found.mends == ()


def test_a_chance_that_is_too_small_is_not_worse_for_a_better_value() -> None:
    risk = replace(NEAR, code="target-missed-sti", value=0.63, limit=0.62, message="at risk")
    better = replace(risk, value=0.66, message="less at risk")
    assert effects(judged(risk), judged(better)).worsens == ()
    assert effects(judged(better), judged(risk)).worsens == ("target-missed-sti@devices.m1",)


BARE = replace(NEAR, code="canceller-missing", value=None, limit=None)


@pytest.mark.parametrize("value", [None, 3.0])
@pytest.mark.parametrize(
    ("before", "after", "worse"),
    [
        ("m1 goes out", "m1, m2 and m3 go out", True),
        ("m1, m2 and 1 more go out", "m1, m2 and 2 more go out", True),
        ("m1, m2 and m3 go out", "m1 goes out", False),
        ("m1 goes out", "m2 goes out", False),
        ("m1 goes out", "m1 goes out by far", False),
    ],
)
def test_a_finding_without_figures_gets_worse_with_what_it_names(
    before: str, after: str, worse: bool, value: float | None
) -> None:
    was, now = (replace(BARE, message=one, value=value) for one in (before, after))
    told = effects(judged(was, OVERLAP), judged(now)).worsens
    assert told == (("canceller-missing@devices.m1",) if worse else ())
