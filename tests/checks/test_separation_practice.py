"""What the trade holds of microphones and loudspeakers together, against the rules.

Every fact here is common practice, no source [C]. Rooms and devices are invented.
"""

from __future__ import annotations

from typing import Any

import pytest

from wellheard.checks.model import Finding
from wellheard.checks.run import findings

pytestmark = pytest.mark.practice

CODE = "microphone-near-loudspeaker"
PAIR = {"kind": "loudspeaker", "product": "display-pair", "at": [6.3, 2.3, 1.2]}
BEFORE_RIGHT = {"kind": "microphone", "product": "gooseneck", "at": [5.4, 1.2, 1.2]}
"""1.03 m from the right one of the pair, 0.6 m aside of its middle; 1.42 m from the middle."""


def _found(evidence_of: Any, room: dict[str, Any], code: str) -> list[Finding]:
    return [f for f in findings(evidence_of({"room": room})) if f.code == code]


def test_each_of_a_pair_keeps_its_own_distance(evidence_of: Any) -> None:
    (found,) = _found(evidence_of, {"devices": {"l1": PAIR, "m1": BEFORE_RIGHT}}, CODE)
    assert "l1.right" in found.message
    assert found.value == pytest.approx(1.03, abs=0.005)
    assert found.severity == "error"


def test_a_pair_beside_a_picture_stands_on_both_sides_of_it(evidence_of: Any) -> None:
    """2.4 m wide and 0.15 m beyond each edge: 1.35 m aside, and the microphone 1.0 m before it."""
    picture = {"kind": "display", "wall": "east", "centre": [2.3, 1.4], "size": [2.4, 1.35]}
    microphone = {"kind": "microphone", "product": "gooseneck", "at": [5.3, 0.95, 1.2]}
    room = {"furniture": {"picture": picture}, "devices": {"l1": PAIR, "m1": microphone}}
    (found,) = _found(evidence_of, room, CODE)
    assert "l1.right" in found.message
    assert found.value == pytest.approx(1.0, abs=0.005)


def test_relaxed_with_a_reason_it_is_allowed_and_said(evidence_of: Any) -> None:
    rules = {CODE: {"relaxed": True, "because": "the customer wants it there"}}
    room = {
        "devices": {"l1": PAIR, "m1": BEFORE_RIGHT},
        "targets": {"house_rules": rules},
    }
    assert not _found(evidence_of, room, CODE)
    (said,) = _found(evidence_of, room, "house-rule-relaxed")
    assert "the customer wants it there" in said.message + said.remedy


def test_a_bar_is_not_refused_for_its_own_housing_but_for_another_loudspeaker(
    evidence_of: Any,
) -> None:
    bar = {"kind": "combined", "product": "front-bar", "at": [6.3, 1.7, 1.2]}
    assert not _found(evidence_of, {"devices": {"bar": bar}}, CODE)
    beside = {"kind": "loudspeaker", "product": "wall-8", "at": [6.3, 2.7, 1.2]}
    (found,) = _found(evidence_of, {"devices": {"bar": bar, "l1": beside}}, CODE)
    assert "l1" in found.message
    assert found.value == pytest.approx(1.0)


def test_a_microphone_is_nearer_to_its_talkers_than_to_either_of_a_pair(evidence_of: Any) -> None:
    room = {
        "people": {"seats": {"s1": {"at": [4.0, 1.2]}}},
        "devices": {"l1": PAIR, "m1": {**BEFORE_RIGHT, "at": [5.1, 1.7, 1.2]}},
    }
    (found,) = _found(evidence_of, room, "loudspeaker-nearer-than-talkers")
    assert "l1.right" in found.message


def test_a_loudspeaker_ten_decibels_over_the_talker_is_the_fine_limit(evidence_of: Any) -> None:
    """Rule 30 of practice: at most 10 dB over the talker, both at the microphone."""
    case: dict[str, Any] = {
        "room": {"devices": {"m1": BEFORE_RIGHT}},
        "echo": {"m1": {"loss": -10.2, "over": 10.2}},
    }
    codes = {f.code for f in findings(evidence_of(case))}
    assert "loudspeaker-over-talker" in codes
    case["echo"]["m1"]["over"] = 9.8
    assert "loudspeaker-over-talker" not in {f.code for f in findings(evidence_of(case))}
