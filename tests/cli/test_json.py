"""The fields of the JSON answers that outsiders rely on: names, types, no ``NaN``."""

from __future__ import annotations

import json
import math
import re
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest

if TYPE_CHECKING:
    from tests.cli.conftest import Wellheard

# A shape is a type, a tuple of shapes (any of them), a list of one shape (each entry has it), a
# list of more (so many entries, one shape each), a set (one of these words), or a dict: every
# name must be there. Names under "also" are ours to change; any other name is a failure, so that
# an addition is noticed.
number = (int, float)
text = str
bands = [number] * 7
also = "also"

ARRIVAL = {
    "loudspeaker": text,
    "distance": number,
    "time": number,
    "direct_dba": number,
    "level_dba": number,
}
INBOUND = {
    "level_dba": number,
    "sti": number,
    "sti_range": [number, number],
    "chance": number,
    "c50_db": bands,
    "level_range_dba": [number, number],
    "levels_db": bands,
    "noise_db": bands,
    "rating": text,
    "category": text,
    "state": {"kept", "at risk", "broken", "not assessed"},
    "binds": (text, None),
    "chances": {also: True},
    "loudspeaker": text,
    "distance": number,
    "direction_deg": (int, float, None),
    "direct_to_reverberant_db": number,
    "speech_to_noise_db": number,
    "arrivals": [ARRIVAL],
}
LIFTED = {
    "gain_db": number,
    "speaker": text,
    "natural_dba": number,
    "lifted_dba": number,
    "loudspeaker": (text, None),
}
PLAYBACK = {
    "target_dba": number,
    "mean_dba": number,
    "level_1m_dba": number,
    "uniformity_db": number,
    "uniformity_chance": (int, float, None),
    "uniformity_speech_db": number,
    "loudspeakers": [
        {
            "id": text,
            "device": text,
            "product": text,
            "at": [number] * 3,
            "axis": [number] * 3,
            "mounting": text,
            "trim_db": number,
            "delay": number,
            "level_1m_dba": number,
            "peak_1m_db": number,
            "max_level_db": number,
            "headroom_db": number,
            "power_w": (int, float, None),
            "tap_w": (int, float, None),
        }
    ],
}
ECHO = {
    "microphone": text,
    "return_loss_db": number,
    "needed_db": number,
    "canceller": (text, None),
    "tail": (int, float, None),
    "return_loss_bands_db": bands,
    "return_loss_by_loudspeaker_db": {also: True},
    "echo_to_speech_db": number,
    "echo_dba": number,
    "speech_dba": number,
    "must_add_db": number,
    "can_add_db": (int, float, None),
    "limits_db": {
        "tail": (int, float, None),
        "distortion": number,
        "noise": number,
        "practice": number,
        "suppression": number,
    },
    "practice_from": {"rated", "practice"},
    "held_by": {"tail", "distortion", "noise", "rated", "practice"},
    "tail_needed": (int, float, None),
    "state": {"kept", "at risk", "broken", "not assessed"},
    "talker": text,
    "needed_from": text,
}
LOOP = {
    "margin_db": number,
    "gain_db": number,
    "octave": number,
    "microphone": text,
    "loudspeaker": text,
    "in_use": bool,
    "potential_gain_db": number,
    "needed_gain_db": number,
    "open_microphones": number,
    "loop_gain_db": number,
    "wanted_margin_db": number,
    "equivalent_distance": number,
    "left_out": [[text, text]],
    "pairs": [
        {
            "microphone": text,
            "loudspeaker": text,
            "gain_bands_db": bands,
            "margin_db": number,
            "octave": number,
        }
    ],
}
PARTS = [{"name": text, "at": text, "ms": number, "source": text}]
DELAYS = {
    "outbound": (int, float, None),
    "inbound": (int, float, None),
    "lift": (int, float, None),
    "one_way": number,
    "round_trip": number,
    "lip_sync": (int, float, None),
    "parts": {"outbound": PARTS, "inbound": PARTS, "lift": PARTS},
}
LEVELS = {
    "path": {"outbound", "inbound"},
    "device": text,
    "recommended_gain_db": (int, float, None),
    "stated_gain_db": (int, float, None),
    "stages": [
        {
            "name": text,
            "at": text,
            "unit": {"dB SPL", "dBA", "dBV", "dBu", "dBFS", "W"},
            "level": (int, float, None),
            "noise": (int, float, None),
            "clip": (int, float, None),
            "gain_db": (int, float, None),
            "headroom_db": (int, float, None),
            "formula": text,
            "source": text,
        }
    ],
}

PREDICTION = {
    "title": text,
    "bands": [int] * 7,
    "reverberation": {
        "time": bands,
        "model": text,
        "range": [bands, bands],
        "sabine": bands,
        "eyring": bands,
        "scattering": number,
        "smooth": bands,
        "rough": bands,
        "level_time": bands,
        also: {"arau_puchades", "fitzroy", "unoccupied", "schroeder_frequency"},
    },
    "noise": {
        "nc": (int, float, None),
        "governing": (int, float, None),
        "levels_db": {"63": number, "125": number, "8000": number, also: True},
        also: {"label", "dba"},
    },
    "seats": [
        {
            "id": text,
            "arrangement": (text, None),
            "kept": (bool, None),
            "outbound": (
                {
                    "microphone": text,
                    "distance": number,
                    "sti": number,
                    "sti_range": [number, number],
                    "chance": number,
                    "c50_db": bands,
                    "direct_to_reverberant_db": number,
                    "direct_to_reverberant_bands_db": bands,
                    "speech_to_noise_db": number,
                    "speech_level_dba": number,
                    also: {
                        "facing_deg",
                        "rating",
                        "category",
                        "binds",
                        "direct_to_reverberant_range_db",
                        "speech_to_noise_range_db",
                        "noise_level_dba",
                        "chances",
                    },
                },
                None,
            ),
            "inbound": (INBOUND, None),
            "lift": (LIFTED, None),
            also: {"state"},
        }
    ],
    "echo": ([ECHO], None),
    "loop": (LOOP, None),
    "delay_ms": DELAYS,
    "playback": (PLAYBACK, None),
    "levels": [LEVELS],
    "findings": [
        {
            "code": text,
            "severity": {"error", "warning", "note"},
            "status": {"fail", "not-assessed"},
            "strength": {"law", "product", "house"},
            "at": text,
            "message": text,
            "value": (int, float, None),
            "limit": (int, float, None),
            "unit": (text, None),
            "remedy": (text, None),
            "source": text,
        }
    ],
    "arrangement": (text, None),
    "arrangements": {also: True},
}

PLACEMENT = {
    "devices": {
        also: True,
        "m1": {
            "kind": {"microphone", "loudspeaker"},
            "product": text,
            "at": [number, number, number],
            also: {"drop", "mounting", "locked"},
        },
    },
    "amplifiers": {also: True},
    "count": {"microphone": int, "loudspeaker": int, "amplifier": int},
    "price": (int, float, None),
    "worst": {"sti_outbound": number, "direct_to_reverberant_db": number, also: True},
    "mean": {also: True},
    "proof": {
        "status": {"optimal", "infeasible", "gap"},
        "scope": text,
        "fewer_is_impossible": bool,
        "certificate": (dict, None),
        "gap": (int, float, None),
        "binding": [text],
        also: True,
    },
    "seconds": number,
    also: {"currency", "shortfalls", "would_have_to_give", "candidates", "refused"},
}


AMPLIFIER = {
    "product": text,
    "equipment": (text, None),
    "locked": bool,
    "channels": [{"number": int, "loudspeakers": [text], "tap_w": (int, float, None)}],
}


def faults(value: Any, shape: Any, at: str = "$") -> list[str]:
    """Where a value has not the shape."""
    if isinstance(shape, tuple):
        tried = [faults(value, one, at) for one in shape]
        return min(tried, key=len) if all(tried) else []
    if shape is None:
        return [] if value is None else [f"{at}: {value!r} is not null"]
    if isinstance(shape, type):
        right = isinstance(value, shape) and not (isinstance(value, bool) and shape is not bool)
        return [] if right else [f"{at}: {value!r} is no {shape.__name__}"]
    if isinstance(shape, set):
        return [] if value in shape else [f"{at}: {value!r} is none of {shape}"]
    if isinstance(shape, list):
        if not isinstance(value, list):
            return [f"{at}: {value!r} is no list"]
        shapes = shape * len(value) if len(shape) == 1 else shape
        if len(value) != len(shapes):
            return [f"{at}: {len(value)} entries, not {len(shapes)}"]
        return [
            f
            for i, (v, s) in enumerate(zip(value, shapes, strict=True))
            for f in faults(v, s, f"{at}[{i}]")
        ]
    if not isinstance(value, dict):
        return [f"{at}: {value!r} is no object"]
    known = {k: s for k, s in shape.items() if k != also}
    found = [f"{at}.{k}: missing" for k in known if k not in value]
    extra = shape.get(also, set())
    if extra is not True:
        found += [f"{at}.{k}: unknown" for k in value if k not in known and k not in extra]
    for k, s in known.items():
        if k in value:
            found += faults(value[k], s, f"{at}.{k}")
    return found


def test_the_shape_check_bites() -> None:
    assert faults({"a": 1}, {"a": int}) == []
    assert faults({"a": True}, {"a": int})
    assert faults({"a": 1, "b": 2}, {"a": int})
    assert faults({}, {"a": int})
    assert faults({"a": [1, "x"]}, {"a": [number]})
    assert faults({"a": None}, {"a": number})
    assert faults({"a": "c"}, {"a": {"d"}})


def test_predict_has_the_promised_fields(
    wellheard: Wellheard, placed: Path, glass: Path, huddle: Path
) -> None:
    for room in (placed, glass, huddle):
        answer = wellheard("predict", room, "--format", "json").json
        assert faults(answer, PREDICTION) == []
        assert answer["bands"] == [125, 250, 500, 1000, 2000, 4000, 8000]


def test_ratios_are_ratios_and_ranges_hold_their_middle(wellheard: Wellheard, placed: Path) -> None:
    answer = wellheard("predict", placed, "--format", "json").json
    decay = answer["reverberation"]
    for low, time, high in zip(decay["range"][0], decay["time"], decay["range"][1], strict=True):
        assert 0 < low <= time <= high
    for seat in answer["seats"]:
        row = seat["outbound"]
        assert 0 <= row["sti_range"][0] <= row["sti"] <= row["sti_range"][1] <= 1
        assert 0 <= row["chance"] <= 1
        assert row["distance"] > 0.2
        assert seat["kept"] is (seat["state"] == "kept")


def test_without_microphones_nothing_is_kept_and_nothing_is_broken(
    wellheard: Wellheard, huddle: Path
) -> None:
    answer = wellheard("predict", huddle, "--format", "json").json
    assert [(s["kept"], s["outbound"], s["state"]) for s in answer["seats"]] == [
        (None, None, "not assessed")
    ] * len(answer["seats"])


BACK = Path(__file__).parents[1] / "cases" / "rooms" / "there-and-back.room.yaml"
"""A room in which the far end is heard and a voice is lifted."""


def test_the_way_back_has_the_promised_fields(wellheard: Wellheard) -> None:
    answer = wellheard("predict", BACK, "--format", "json").json
    assert faults(answer, PREDICTION) == []
    for seat in answer["seats"]:
        assert faults(seat["inbound"], INBOUND) == []
        assert faults(seat["lift"], LIFTED) == []
    assert faults(answer["playback"], PLAYBACK) == []
    assert faults(answer["echo"], [ECHO]) == []
    assert faults(answer["loop"], LOOP) == []
    assert {one["path"] for one in answer["levels"]} == {"outbound", "inbound"}


def test_figures_of_the_way_back_are_what_their_names_say(wellheard: Wellheard) -> None:
    answer = wellheard("predict", BACK, "--format", "json").json
    heard = [seat["inbound"] for seat in answer["seats"]]
    # The document's playback level is the mean energy over the ears; evenness is their spread.
    mean = 10 * math.log10(sum(10 ** (one["level_dba"] / 10) for one in heard) / len(heard))
    assert mean == pytest.approx(68.0, abs=0.05)
    levels = [one["level_dba"] for one in heard]
    assert answer["playback"]["uniformity_db"] == pytest.approx(max(levels) - min(levels), abs=0.02)
    for one in heard:
        assert 0 <= one["sti_range"][0] <= one["sti"] <= one["sti_range"][1] <= 1
        assert one["distance"] == one["arrivals"][0]["distance"] > 1.2
        times = [arrival["time"] for arrival in one["arrivals"]]
        assert times == sorted(times)
    for seat in answer["seats"]:
        lift = seat["lift"]
        gain_db = lift["lifted_dba"] - lift["natural_dba"]
        assert lift["gain_db"] == pytest.approx(gain_db, abs=0.02)
        assert gain_db >= 0
    for one in answer["echo"]:
        missing_db = max(0.0, one["needed_db"] - one["return_loss_db"])
        assert one["must_add_db"] == pytest.approx(missing_db, abs=0.02)
        over_db = one["echo_dba"] - one["speech_dba"]
        assert one["echo_to_speech_db"] == pytest.approx(over_db, abs=0.02)
        worst = min(one["return_loss_by_loudspeaker_db"].values())
        assert one["return_loss_db"] < worst  # two return more than either
    delay = answer["delay_ms"]
    for name in ("outbound", "inbound", "lift"):
        assert delay[name] == pytest.approx(sum(p["ms"] for p in delay["parts"][name]), abs=0.05)
    assert delay["round_trip"] == 2 * delay["one_way"]
    # The sound of the call, 150 ms late, comes 30 ms after its picture, which is 120 ms late.
    assert delay["lip_sync"] == 30
    assert answer["loop"]["in_use"] is True
    assert answer["loop"]["gain_db"] == -20


def test_without_loudspeakers_nothing_comes_back(wellheard: Wellheard, placed: Path) -> None:
    answer = wellheard("predict", placed, "--format", "json").json
    assert [answer[name] for name in ("playback", "echo", "loop")] == [None] * 3
    assert {(seat["inbound"], seat["lift"]) for seat in answer["seats"]} == {(None, None)}
    assert answer["delay_ms"]["inbound"] is None
    assert answer["delay_ms"]["outbound"] > 0


def test_standing_areas_appear_as_numbered_points(wellheard: Wellheard, examples: Path) -> None:
    ended = wellheard("predict", examples / "l-shape" / "l-shape.room.yaml", "--format", "json")
    names = [s["id"] for s in ended.json["seats"]]
    standing = [n for n in names if "." in n]
    stem = standing[0].partition(".")[0]
    assert [n for n in standing if n.startswith(stem + ".")] == [
        f"{stem}.{i}" for i in range(1, 1 + sum(n.startswith(stem + ".") for n in standing))
    ]


def test_check_has_the_promised_fields(wellheard: Wellheard, glass: Path) -> None:
    ended = wellheard("check", glass, "--format", "json")
    assert ended.code == 1
    assert faults(ended.json, {k: PREDICTION[k] for k in ("findings", "arrangements")}) == []
    assert (
        wellheard("predict", glass, "--format", "json").json["findings"] == (ended.json["findings"])
    )


def test_place_has_the_promised_fields(wellheard: Wellheard, huddle: Path) -> None:
    ended = wellheard("place", huddle, "--format", "json")
    assert (ended.code, ended.err) == (0, "")
    answer = ended.json
    assert faults(answer, PLACEMENT) == []
    assert answer["count"] == _counted(answer)
    assert answer["count"]["loudspeaker"] == 0
    assert answer["proof"]["status"] == "optimal"


def _counted(answer: Any) -> dict[str, int]:
    kinds = [device["kind"] for device in answer["devices"].values()]
    return {
        "microphone": kinds.count("microphone"),
        "loudspeaker": kinds.count("loudspeaker"),
        "amplifier": len(answer["amplifiers"]),
    }


def test_place_says_what_feeds_each_loudspeaker(wellheard: Wellheard) -> None:
    ended = wellheard("place", BACK, "--format", "json")
    assert (ended.code, ended.err) == (0, "")
    answer = ended.json
    assert faults(answer, PLACEMENT) == []
    assert answer["count"] == _counted(answer)
    assert answer["count"]["loudspeaker"] >= 1
    for amplifier in answer["amplifiers"].values():
        assert faults(amplifier, AMPLIFIER) == []
    fed = [
        name
        for amplifier in answer["amplifiers"].values()
        for channel in amplifier["channels"]
        for name in channel["loudspeakers"]
    ]
    sounds = [k for k, device in answer["devices"].items() if device["kind"] == "loudspeaker"]
    assert sorted(fed) == sorted(sounds)
    assert answer["worst"]["sti_inbound"] >= 0.6
    assert answer["proof"]["together"]


def test_place_says_that_a_promise_cannot_be_met(wellheard: Wellheard, glass: Path) -> None:
    ended = wellheard("place", glass, "--format", "json")
    assert ended.code == 1
    answer = ended.json
    names = {also: True}
    assert faults(answer, {**PLACEMENT, "devices": names}) == []
    assert answer["proof"]["status"] == "infeasible"
    assert answer["shortfalls"]
    assert answer["would_have_to_give"]


def test_design_prints_what_its_result_file_holds(designed: Path) -> None:
    result = json.loads((designed / "result.json").read_bytes())
    assert set(result) == {"prediction", "placement"}
    assert faults(result["prediction"], PREDICTION) == []
    # How long it took is printed, and kept out of the file, which is the same for the same input.
    assert faults({**result["placement"], "seconds": 0.0}, PLACEMENT) == []
    assert "seconds" not in result["placement"]


def test_explain_gives_every_number_its_formula_and_source(
    wellheard: Wellheard, placed: Path
) -> None:
    answer = wellheard("explain", placed, "s1", "--format", "json").json
    shape = {
        "title": text,
        "seat": {"s1"},
        "arrangement": None,
        "path": {"outbound"},
        "microphone": text,
        "loudspeaker": None,
        "state": {"kept", "at risk", "broken"},
        "bands": [int] * 7,
        "stages": [
            {
                "name": text,
                "rows": [
                    {
                        "quantity": text,
                        "value": (int, float, None, bands),
                        "unit": text,
                        "formula": text,
                        "inputs": dict,
                        "source": text,
                    }
                ],
            }
        ],
    }
    assert faults(answer, shape) == []
    for stage in answer["stages"]:
        for row in stage["rows"]:
            assert row["formula"]
            assert row["source"]
    air = [r for s in answer["stages"] for r in s["rows"] if r["unit"] == "1/m"]
    assert air
    assert all(v > 0 for row in air for v in row["value"])  # small figures are not rounded away
    printed = wellheard("explain", placed, "s1").out
    assert not re.search(r"0\.00000? .*1/m", printed)


@pytest.mark.parametrize(
    ("end", "path", "through"),
    [("a", "inbound", "loudspeaker"), ("m1", "echo", "microphone"), ("a", "lift", "loudspeaker")],
)
def test_explain_opens_the_way_back_too(
    wellheard: Wellheard, end: str, path: str, through: str
) -> None:
    answer = wellheard("explain", BACK, end, "--path", path, "--format", "json").json
    assert answer["path"] == path
    assert isinstance(answer[through], str)
    rows = [row for stage in answer["stages"] for row in stage["rows"]]
    assert len(rows) > 10
    assert all(row["formula"] and row["source"] for row in rows)


FINISH = {
    "id": text,
    "name": text,
    "absorption": bands,
    "per_item": bool,
    "source": text,
    "trust": text,
    also: {"file"},
}
PRODUCT = {
    "id": text,
    "name": text,
    "kind": text,
    "mountings": [text],
    "price": number,
    "currency": text,
    "invented": bool,
    also: {"status", "file"},
}
PART = {
    "id": text,
    "name": text,
    "kind": text,
    "price": number,
    "price_per_metre": number,
    "currency": text,
    "invented": bool,
    "file": (text, None),
}
SHAPES: dict[str, dict[str, Any]] = {
    **dict.fromkeys(("microphones", "processors", "loudspeakers"), PRODUCT),
    **dict.fromkeys(("amplifiers", "switches", "extenders"), PRODUCT),
    "cables": {**PART, "carries": [text], "length": (int, float, None), "status": text},
    "accessories": {**PART, "needed": {"always", "drop", "flush"}},
    "finishes": FINISH,
}


@pytest.mark.parametrize("kind", ["all", *SHAPES])
def test_the_catalogue_has_ids_and_says_what_is_invented(wellheard: Wellheard, kind: str) -> None:
    answer = wellheard("catalog", "list", kind, "--format", "json").json
    assert set(answer) == (set(SHAPES) if kind == "all" else {kind})
    for name, entries in answer.items():
        assert faults(entries, [SHAPES[name]]) == []


def test_a_data_sheet_is_told_whole(wellheard: Wellheard) -> None:
    (entry,) = wellheard("catalog", "show", "ceiling-head-3", "--format", "json").json["entries"]
    price = {"mounting": text, "fit": text, "drop": number, "price": number, "currency": text}
    port = {
        "name": text,
        "kinds": [text],
        "signal": {"microphone", "line", "loudspeaker", "audio", "data"},
        "flow": {"in", "out", "both"},
        "count": int,
    }
    shape = {
        "collection": text,
        "id": text,
        "kind": text,
        "price": number,
        "size": [number] * 3,
        "rated_distances": [number],
        "ports": [port],
        "installed": [price],
        "invented": bool,
        "file": (text, None),
        "line": (int, None),
        also: True,
    }
    assert faults(entry, shape) == []


def test_the_schema_is_that_of_a_room_document(wellheard: Wellheard) -> None:
    schema = wellheard("schema").json
    assert schema["$schema"] == "https://json-schema.org/draft/2020-12/schema"
    assert schema["required"] == ["wellheard", "space", "people"]
