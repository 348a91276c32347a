"""What the trade holds for good and bad, against the rules.

Every fact here is common practice, no source. Rooms and devices are invented.
"""

from __future__ import annotations

from typing import Any

import pytest

from wellheard.checks.run import findings
from wellheard.room.targets import HOUSE_LIMITS

pytestmark = pytest.mark.practice

HEAD: dict[str, Any] = {"kind": "microphone", "product": "ceiling-head-3", "at": [2.0, 2.3, 2.4]}


def _errors(evidence_of: Any, room: dict[str, Any]) -> dict[str, str]:
    found = findings(evidence_of({"room": room}))
    return {f.code: f.message for f in found if f.severity == "error"}


def test_head_one_metre_from_a_loudspeaker_is_refused_by_name(evidence_of: Any) -> None:
    speaker = {"kind": "loudspeaker", "product": "ceiling-6", "at": [3.0, 2.3, 2.4]}
    errors = _errors(evidence_of, {"devices": {"head-a": HEAD, "speaker-b": speaker}})
    assert "head-a" in errors["microphone-near-loudspeaker"]
    assert "speaker-b" in errors["microphone-near-loudspeaker"]


@pytest.mark.parametrize("drop", [0.15, 0.35, 0.6, 0.9, 1.2])
def test_head_in_the_stream_of_an_outlet_is_refused_by_name(drop: float, evidence_of: Any) -> None:
    outlet = {"kind": "air-outlet", "at": [3.2, 2.3, 2.75], "dba_at_1m": 28}
    head = {**HEAD, "at": [3.2, 2.3, 2.75 - drop]}
    room = {"devices": {"head-a": head}, "noise": {"sources": {"outlet-c": outlet}}}
    errors = _errors(evidence_of, room)
    assert "head-a" in errors["microphone-near-air-outlet"]
    assert "outlet-c" in errors["microphone-near-air-outlet"]


@pytest.mark.parametrize("side", [(-1.0, 0.0), (1.0, 0.0), (0.0, 1.0), (0.0, -1.0)])
def test_head_beside_a_projector_is_refused_by_name_on_every_side(
    side: tuple[float, float], evidence_of: Any
) -> None:
    fan = {"kind": "projector", "at": [2.0 + side[0], 2.3 + side[1], 2.4], "dba_at_1m": 34}
    room = {"devices": {"head-a": HEAD}, "noise": {"sources": {"projector-d": fan}}}
    errors = _errors(evidence_of, room)
    assert "head-a" in errors["microphone-near-fan"]
    assert "projector-d" in errors["microphone-near-fan"]


def test_head_under_a_lamp_is_refused_by_name(evidence_of: Any) -> None:
    lamp = {
        "kind": "luminaire",
        "outline": [[1.4, 2.2], [2.6, 2.2], [2.6, 2.4], [1.4, 2.4]],
        "clearance": 0.3,
    }
    errors = _errors(evidence_of, {"devices": {"head-a": HEAD}, "overhead": {"lamp-e": lamp}})
    assert "head-a" in errors["microphone-in-keep-out"]
    assert "lamp-e" in errors["microphone-in-keep-out"]


def test_head_far_from_everything_is_refused_by_nothing(evidence_of: Any) -> None:
    room = {
        "devices": {
            "head-a": HEAD,
            "speaker-b": {"kind": "loudspeaker", "product": "ceiling-6", "at": [5.6, 4.0, 2.7]},
        },
        "noise": {
            "sources": {"vent": {"kind": "air-outlet", "at": [5.0, 1.0, 2.75], "dba_at_1m": 28}}
        },
    }
    assert not _errors(evidence_of, room)


def test_bar_at_the_display_is_exempt_from_walls_and_from_its_own_loudspeaker(
    evidence_of: Any,
) -> None:
    bar = {"kind": "combined", "product": "front-bar", "at": [0.08, 2.3, 1.0]}
    found = findings(evidence_of({"room": {"devices": {"bar": bar}}}))
    codes = {f.code for f in found if f.status == "fail"}
    assert not codes & {
        "microphone-near-loudspeaker",
        "microphone-near-wall",
        "loudspeaker-nearer-than-talkers",
    }


def test_microphone_in_the_table_is_exempt_from_the_wall_beside_it(evidence_of: Any) -> None:
    flat = {"kind": "microphone", "product": "table-boundary", "at": [2.0, 0.3, 0.74]}
    found = findings(evidence_of({"room": {"devices": {"t1": flat}}}))
    assert "microphone-near-wall" not in {f.code for f in found}


def test_glass_opposite_glass_is_the_common_fault(evidence_of: Any) -> None:
    walls = {"south": "glass-front", "north": "glass-front"}
    found = findings(evidence_of({"room": {"space": {"finishes": {"walls": walls}}}}))
    (flutter,) = [f for f in found if f.code == "parallel-hard-walls"]
    assert "south" in flutter.message
    assert "north" in flutter.message


def test_absorbing_one_wall_of_the_pair_at_seated_head_height_cures_the_flutter(
    evidence_of: Any,
) -> None:
    walls = {"south": "glass-front", "north": "glass-front"}
    panel = {
        "wall": "north",
        "from": 0.4,
        "to": 6.0,
        "bottom": 0.9,
        "top": 2.0,
        "finish": "fabric-panel",
    }
    space = {"finishes": {"walls": walls, "patches": {"panel": panel}}}
    found = findings(evidence_of({"room": {"space": space}}))
    assert "parallel-hard-walls" not in {f.code for f in found}


@pytest.mark.parametrize(
    ("code", "limit"),
    [
        ("microphone-near-loudspeaker", 1.2),
        ("microphone-near-air-outlet", 1.0),
        ("microphone-in-air-jet", 1.5),
        ("microphone-near-fan", 1.5),
        ("microphone-near-wall", 0.5),
        ("head-height-under-pendant", 2.1),
        ("head-height-over-table", 1.8),
        ("service-loop", 3.0),
        ("parallel-hard-walls", 0.1),
        ("parallel-hard-walls-splay-deg", 5.0),
        ("privacy-class", 45.0),
        ("privacy-class-board", 50.0),
        ("tile-load", 25.0),
        ("tile-load-two-wires", 4.5),
    ],
)
def test_limits_are_those_of_the_trade(code: str, limit: float) -> None:
    assert HOUSE_LIMITS[code].limit == limit


def test_four_feet_are_the_metric_distance_to_a_loudspeaker() -> None:
    assert HOUSE_LIMITS["microphone-near-loudspeaker"].limit == pytest.approx(4 * 0.3048, abs=0.05)
