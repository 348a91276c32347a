"""What the trade holds for good and bad, against the rules.

Every fact here is common practice, no source. Rooms and devices are invented.
"""

from __future__ import annotations

from typing import Any

import pytest

from wellheard.checks.run import findings
from wellheard.room.house_limits import HOUSE_LIMITS

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
        ("seat-pitch", 0.6),
        ("chair-clearance", 0.9),
        ("floor-per-person", 2.0),
        ("floor-per-person-in-rows", 1.2),
        ("picture-distance", 6.0),
        ("microphone-near-papers", 0.3),
        ("table-microphone-near", 0.6),
        ("table-microphone-far", 1.1),
        ("lectern-microphone", 0.4),
        ("table-microphone-seats", 3.0),
        ("ceiling-noise-nc", 30.0),
        ("near-noise-nc", 35.0),
        ("privacy-class", 45.0),
        ("privacy-class-board", 50.0),
        ("tile-load", 25.0),
        ("tile-load-two-wires", 4.5),
        ("speech-crest-db", 12.0),
        ("speech-over-noise-inbound", 15.0),
        ("loudspeaker-late-arrival", 0.030),
        ("playback-level-high", 80.0),
    ],
)
def test_limits_are_those_of_the_trade(code: str, limit: float) -> None:
    assert HOUSE_LIMITS[code].limit == limit


def test_four_feet_are_the_metric_distance_to_a_loudspeaker() -> None:
    assert HOUSE_LIMITS["microphone-near-loudspeaker"].limit == pytest.approx(4 * 0.3048, abs=0.05)


LAYOUT = {
    "chair-clearance",
    "chair-in-wall",
    "floor-per-person",
    "furniture-overlaps",
    "seat-in-furniture",
    "seat-pitch",
    "seat-unreachable",
    "seats-overlap",
}


def _ten_at_a_table(*, depth: float) -> dict[str, Any]:
    """Ten people at a table of 3.3 m, four a side at 0.75 m and one at each end, 0.3 m off it."""
    (x0, x1), (y0, y1) = (1.55, 4.85), (2.3 - depth / 2, 2.3 + depth / 2)
    along = [x0 + 0.525 + 0.75 * i for i in range(4)]
    heads = [[x, y] for y in (y0 - 0.3, y1 + 0.3) for x in along]
    heads += [[x0 - 0.3, 2.3], [x1 + 0.3, 2.3]]
    return {
        "furniture": {"table": {"outline": [[x0, y0], [x1, y0], [x1, y1], [x0, y1]]}},
        "people": {"seats": {f"s{i}": {"at": head} for i, head in enumerate(heads, start=1)}},
    }


def test_ten_people_fit_at_the_table_that_the_trade_makes_for_them(evidence_of: Any) -> None:
    found = findings(evidence_of({"room": _ten_at_a_table(depth=1.2)}))
    assert not LAYOUT & {f.code for f in found}


def test_people_between_those_ten_do_not_fit(evidence_of: Any) -> None:
    room = _ten_at_a_table(depth=1.2)
    side = {f"x{i}": {"at": [2.45 + 0.75 * i, 1.4]} for i in range(3)}
    room["people"]["seats"].update(side)
    found = {f.code for f in findings(evidence_of({"room": room}))}
    assert "seats-overlap" in found


@pytest.mark.parametrize(("depth", "kept"), [(1.2, False), (1.5, True)])
def test_table_for_two_rows_with_equipment_is_one_and_a_half_metres_deep(
    depth: float, kept: bool, evidence_of: Any
) -> None:
    room = _ten_at_a_table(depth=depth)
    room["devices"] = {
        "t1": {"kind": "microphone", "product": "table-boundary", "at": [3.2, 2.3, 0.74]}
    }
    found = {f.code for f in findings(evidence_of({"room": room}))}
    assert ("microphone-near-papers" not in found) == kept


def test_pair_of_heads_at_the_quarter_points_is_in_front_of_ten_people(evidence_of: Any) -> None:
    room = _ten_at_a_table(depth=1.2)
    room["devices"] = {
        "a": {**HEAD, "at": [3.2 - 1.525, 2.3, 2.75]},
        "b": {**HEAD, "at": [3.2 + 1.525, 2.3, 2.75]},
    }
    found = {f.code for f in findings(evidence_of({"room": room}))}
    assert "microphone-behind-talker" not in found


def test_head_behind_the_chairs_is_behind_the_people_on_them(evidence_of: Any) -> None:
    room = _ten_at_a_table(depth=1.2)
    room["devices"] = {"a": {**HEAD, "at": [3.2, 0.9, 2.75]}}
    behind = [
        f.at for f in findings(evidence_of({"room": room})) if f.code == "microphone-behind-talker"
    ]
    assert set(behind) == {f"people.seats.s{i}" for i in range(1, 5)}


def test_loudspeaker_over_head_height_needs_its_bond_wherever_it_hangs(evidence_of: Any) -> None:
    bare: dict[str, Any] = {"parts": {"ceiling-6": {"ceiling": []}, "wall-8": {"wall": []}}}
    devices = {
        "over": {"kind": "loudspeaker", "product": "ceiling-6", "at": [2.0, 2.3, 2.75]},
        "side": {"kind": "loudspeaker", "product": "wall-8", "at": [0.2, 2.3, 2.4]},
    }
    found = findings(evidence_of({**bare, "room": {"devices": devices}}))
    assert {f.at for f in found if f.code == "safety-bond"} == {"devices.over", "devices.side"}
    assert "devices.over" in {f.at for f in found if f.code == "tile-load"}


def test_loudspeaker_in_a_void_with_return_air_is_asked_for_its_rating(evidence_of: Any) -> None:
    devices = {"over": {"kind": "loudspeaker", "product": "ceiling-6", "at": [2.0, 2.3, 2.75]}}
    case = {"products": {"ceiling-6": {"plenum": False}}, "room": {"devices": devices}}
    found = findings(evidence_of(case))
    assert "devices.over" in {f.at for f in found if f.code == "void-air-return"}


def test_loudspeaker_under_a_lamp_is_refused_by_name(evidence_of: Any) -> None:
    lamp = {
        "kind": "luminaire",
        "outline": [[1.4, 2.2], [2.6, 2.2], [2.6, 2.4], [1.4, 2.4]],
        "clearance": 0.3,
    }
    speaker = {"kind": "loudspeaker", "product": "ceiling-6", "at": [2.0, 2.3, 2.75]}
    errors = _errors(evidence_of, {"devices": {"speaker-b": speaker}, "overhead": {"lamp-e": lamp}})
    assert "speaker-b" in errors["loudspeaker-in-keep-out"]
    assert "lamp-e" in errors["loudspeaker-in-keep-out"]
