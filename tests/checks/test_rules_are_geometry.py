"""Properties of the rules: a room that is turned and moved is still the same room."""

from __future__ import annotations

import math
from collections.abc import Callable
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
OF_FURNITURE = {
    "chair-clearance",
    "chair-in-wall",
    "device-overlaps",
    "floor-per-person",
    "furniture-overlaps",
    "microphone-behind-talker",
    "microphone-near-papers",
    "pendant-in-camera-view",
    "pendant-in-projector-beam",
    "picture-distance",
    "seat-in-furniture",
    "seat-pitch",
    "seat-unreachable",
    "seats-overlap",
    "table-microphone-distance",
    "table-or-ceiling",
}
At = Callable[..., list[float]]
Box = Callable[[float, float, float, float], list[list[float]]]


def _turned(turn_deg: float, shift: Plan) -> tuple[At, Box]:
    cosine, sine = math.cos(math.radians(turn_deg)), math.sin(math.radians(turn_deg))

    def at(x: float, y: float, *z: float) -> list[float]:
        return [shift[0] + cosine * x - sine * y, shift[1] + sine * x + cosine * y, *z]

    def box(x0: float, y0: float, x1: float, y1: float) -> list[list[float]]:
        return [at(x0, y0), at(x1, y0), at(x1, y1), at(x0, y1)]

    return at, box


def _furnished_room(turn_deg: float, shift: Plan) -> dict[str, Any]:
    at, box = _turned(turn_deg, shift)
    head = {"kind": "microphone", "product": "ceiling-head-2", "rotation_deg": turn_deg}
    flat = {"kind": "microphone", "product": "table-boundary"}
    corners = [(0, 0), (7.1, 0), (7.1, 3), (4, 3), (4, 6.2), (0, 6.2)]
    return {
        "space": {
            "outline": [at(*corner) for corner in corners],
            "walls": ["a", "b", "c", "d", "e", "f"],
            "finishes": {"walls": "absent"},
            "obstacles": {"screen-wall": {"outline": box(0, 4.2, 3.8, 4.3)}},
        },
        "furniture": {
            "table": {"kind": "table", "outline": box(1.5, 0.8, 3.5, 2.0)},
            "side": {"kind": "table", "outline": box(3.4, 1.2, 4.5, 1.8)},
            "canvas": {"kind": "screen", "wall": "f", "centre": [3.2, 1.4], "size": [1.6, 0.4]},
        },
        "people": {
            "seats": {
                "s1": {"at": at(2.0, 0.5)},
                "s2": {"at": at(2.5, 0.5)},
                "s3": {"at": at(2.7, 0.5)},
                "s4": {"at": at(0.1, 2.6)},
                "s5": {"at": at(2.5, 1.3)},
                "s6": {"at": at(2.0, 5.4)},
            }
        },
        "noise": {
            "sources": {"beamer": {"kind": "projector", "at": at(3.4, 3.0, 2.4), "dba_at_1m": 34}}
        },
        "equipment": {
            "rack": {"kind": "rack", "at": at(6.5, 2.5, 0.5)},
            "cam": {"kind": "camera", "at": at(3.9, 2.9, 1.7)},
        },
        "devices": {
            "t1": {**flat, "at": at(2.0, 0.85, 0.74)},
            "m1": {**head, "at": at(1.6, 3.0, 1.9)},
            "m2": {**head, "at": at(1.65, 3.0, 1.9)},
            "m3": {**head, "at": at(2.05, 2.72, 1.43)},
            "m4": {**head, "at": at(2.0, 5.95, 2.4)},
        },
        "targets": {
            "house_rules": {
                "floor-per-person": {"limit": 8, "because": "so that one seat is too many"}
            }
        },
    }


def _angled_room(turn_deg: float, shift: Plan) -> dict[str, Any]:
    at, box = _turned(turn_deg, shift)
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


Turned = Callable[[float, Plan], dict[str, Any]]
ROOMS = [(_angled_room, GEOMETRIC), (_furnished_room, OF_FURNITURE)]


def _found(
    evidence_of: Any, room: Turned, codes: set[str], turn_deg: float, shift: Plan
) -> list[Finding]:
    found = findings(evidence_of({"room": room(turn_deg, shift)}))
    return [finding for finding in found if finding.code in codes]


@pytest.mark.parametrize(("room", "codes"), ROOMS)
def test_the_room_that_is_turned_troubles_every_geometric_rule(
    room: Turned, codes: set[str], evidence_of: Any
) -> None:
    assert {f.code for f in _found(evidence_of, room, codes, 0.0, (0.0, 0.0))} == codes


@pytest.mark.parametrize(("room", "codes"), ROOMS)
@pytest.mark.parametrize("turn_deg", [30.0, 45.0, 90.0, 137.0, 251.3])
@pytest.mark.parametrize("shift", [(0.0, 0.0), (-23.7, 61.2)])
def test_turning_and_moving_the_room_changes_no_finding(
    room: Turned, codes: set[str], turn_deg: float, shift: Plan, evidence_of: Any
) -> None:
    still = _found(evidence_of, room, codes, 0.0, (0.0, 0.0))
    turned = _found(evidence_of, room, codes, turn_deg, shift)
    assert [(f.code, f.at, f.message) for f in turned] == [(f.code, f.at, f.message) for f in still]
    for now, before in zip(turned, still, strict=True):
        assert now.value == pytest.approx(before.value, abs=1e-6), now.code
