"""Properties of the rules: a room that is turned and moved is still the same room."""

from __future__ import annotations

import math
from typing import Any

import pytest

from wellheard.checks.model import Finding
from wellheard.checks.run import findings

Plan = tuple[float, float]

GEOMETRIC = {
    "head-height-under-pendant",
    "loudspeaker-nearer-than-talkers",
    "microphone-in-keep-out",
    "microphone-near-air-outlet",
    "microphone-near-fan",
    "microphone-near-loudspeaker",
    "microphone-near-wall",
    "parallel-hard-walls",
    "talker-beyond-rated-distance",
}


def _angled_room(turn_deg: float, shift: Plan) -> dict[str, Any]:
    cosine, sine = math.cos(math.radians(turn_deg)), math.sin(math.radians(turn_deg))

    def at(x: float, y: float, *z: float) -> list[float]:
        return [shift[0] + cosine * x - sine * y, shift[1] + sine * x + cosine * y, *z]

    def box(x0: float, y0: float, x1: float, y1: float) -> list[list[float]]:
        return [at(x0, y0), at(x1, y0), at(x1, y1), at(x0, y1)]

    head = {"kind": "microphone", "product": "ceiling-head-3"}
    corners = [(0, 0), (7.1, 0), (7.1, 3), (4, 3), (4, 6.2), (0, 6.2)]
    return {
        "space": {
            "outline": [at(*corner) for corner in corners],
            "walls": ["a", "b", "c", "d", "e", "f"],
            "finishes": {
                "walls": "absent",
                "patches": {
                    "panel": {
                        "wall": "f",
                        "from": 0.5,
                        "to": 2.8,
                        "bottom": 0.8,
                        "top": 2.0,
                        "finish": "fabric-panel",
                    }
                },
            },
            "obstacles": {"column": {"outline": box(2.2, 3.6, 2.6, 4.0)}},
        },
        "furniture": {"table": {"kind": "table", "outline": box(1.5, 1.0, 3.5, 2.0)}},
        "people": {"seats": {"s1": {"at": at(2.0, 0.7)}, "s2": {"at": at(6.5, 0.4)}}},
        "noise": {
            "sources": {
                "vent": {"kind": "air-outlet", "at": at(1.2, 4.6, 2.75), "dba_at_1m": 30},
                "beamer": {"kind": "projector", "at": at(3.2, 1.4, 2.3), "dba_at_1m": 34},
            }
        },
        "overhead": {
            "lamp": {"kind": "luminaire", "outline": box(1.8, 1.2, 3.0, 1.303), "clearance": 0.3}
        },
        "equipment": {"rack": {"kind": "rack", "at": at(6.5, 2.5, 0.5)}},
        "devices": {
            "m1": {**head, "at": at(2.0, 1.5, 2.3)},
            "m2": {**head, "at": at(1.2, 4.5, 1.9)},
            "m3": {**head, "at": at(2.9, 3.8, 2.4)},
            "m4": {**head, "at": at(3.7, 4.8, 2.4)},
            "ls": {"kind": "loudspeaker", "product": "ceiling-6", "at": at(1.1, 1.5, 2.7)},
        },
    }


def _found(evidence_of: Any, turn_deg: float, shift: Plan) -> list[Finding]:
    found = findings(evidence_of({"room": _angled_room(turn_deg, shift)}))
    return [finding for finding in found if finding.code in GEOMETRIC]


def test_the_room_that_is_turned_troubles_every_geometric_rule(evidence_of: Any) -> None:
    assert {f.code for f in _found(evidence_of, 0.0, (0.0, 0.0))} == GEOMETRIC


@pytest.mark.parametrize("turn_deg", [30.0, 45.0, 90.0, 137.0, 251.3])
@pytest.mark.parametrize("shift", [(0.0, 0.0), (-23.7, 61.2)])
def test_turning_and_moving_the_room_changes_no_finding(
    turn_deg: float, shift: Plan, evidence_of: Any
) -> None:
    still = _found(evidence_of, 0.0, (0.0, 0.0))
    turned = _found(evidence_of, turn_deg, shift)
    assert [(f.code, f.at, f.message) for f in turned] == [(f.code, f.at, f.message) for f in still]
    assert [f.value for f in turned] == pytest.approx([f.value for f in still], abs=1e-6)
