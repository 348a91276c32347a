"""The fields of the JSON answers that outsiders rely on: names, types, no ``NaN``."""

from __future__ import annotations

import json
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
            "inbound": None,
            "lift": None,
            also: {"state"},
        }
    ],
    "echo": None,
    "loop": None,
    "delay_ms": None,
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
            "kind": {"microphone"},
            "product": text,
            "at": [number, number, number],
            also: {"drop", "mounting", "locked"},
        },
    },
    "count": {"microphone": int, "loudspeaker": int},
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
    assert answer["count"] == {"microphone": len(answer["devices"]), "loudspeaker": 0}
    assert answer["proof"]["status"] == "optimal"


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
