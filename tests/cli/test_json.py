"""The fields of the JSON answers that outsiders rely on: names, types, no ``NaN``."""

from __future__ import annotations

import json
import math
import re
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest

from tests.cli.shapes import (
    AMPLIFIER,
    ECHO,
    INBOUND,
    LIFTED,
    LOOP,
    PLACEMENT,
    PLAYBACK,
    PREDICTION,
    also,
    bands,
    faults,
    number,
    text,
)

if TYPE_CHECKING:
    from tests.cli.conftest import Wellheard


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
    promised = {k: PREDICTION[k] for k in ("findings", "arrangements")}
    assert faults(ended.json, {**promised, "applied": []}) == []
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
    assert set(result) == {"prediction", "placement", "wiring", "schedules"}
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
