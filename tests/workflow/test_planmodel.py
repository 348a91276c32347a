"""The plan of a document as data: each thing once, known symbols, words that read back."""

from __future__ import annotations

import json
import math
from collections import Counter
from collections.abc import Iterator
from importlib import resources
from pathlib import Path
from typing import Any
from xml.etree import ElementTree

import pytest
from shapely.geometry import LineString, Polygon

from wellheard.catalog.catalogue import Catalogue
from wellheard.room import codec
from wellheard.room.amend import entries_of
from wellheard.room.moving import COLLECTIONS, item_at
from wellheard.room.operations import OperationError, apply
from wellheard.units import Unit, parse_length
from wellheard.workflow.load import Loaded, load
from wellheard.workflow.planmodel import plan

EXAMPLES = sorted((Path(__file__).parents[2] / "examples").glob("*/*.room.yaml"))
LOADED = {path.parent.name: load(path) for path in EXAMPLES}
LISTS = (
    *("obstacles", "patches", "furniture", "displays", "standing", "seats", "overhead"),
    *("sources", "equipment", "devices", "housed", "partitions"),
)
SYMBOLS = {
    symbol.attrib["id"]
    for symbol in ElementTree.fromstring(
        resources.files("wellheard.data").joinpath("look/symbols.svg").read_text("utf-8")
    ).iter("{http://www.w3.org/2000/svg}symbol")
}


@pytest.fixture(params=LOADED)
def loaded(request: pytest.FixtureRequest) -> Loaded:
    return LOADED[request.param]


def designed(name: str) -> Loaded:
    """An example with microphones of several mountings and a loudspeaker."""
    at = LOADED[name]
    devices = {
        "m1": {"kind": "microphone", "product": "ceiling-head-3", "at": [2, 1.5, 2.6]},
        "m2": {"kind": "microphone", "product": "table-boundary", "at": [1.5, 1.5, 0.74]},
        "m3": {"kind": "microphone", "product": "ceiling-array-16", "at": [1, 1, 2.6]},
        "bar": {"kind": "combined", "product": "front-bar", "at": [0.05, 1.5, 0.9], "aim_deg": 0},
        "l1": {"kind": "loudspeaker", "product": "ceiling-6", "at": [3, 2.5, 2.6]},
        "amp": {"kind": "amplifier", "product": "amplifier-2x40", "at": [3, 2.8, 0.4]},
    }
    operations = [{"path": f"devices.{key}", "set": one} for key, one in devices.items()]
    room = apply(at.room, operations, unit="m").room
    return Loaded(codec.parse_document(codec.dump(room)), at.catalogue)


def items_of(loaded: Loaded) -> list[str]:
    """Every item of a document by its own account."""
    room = loaded.room
    return [".".join((*c, key)) for c in COLLECTIONS for key in entries_of(room, c)]


def values(thing: Any, key: str = "") -> Iterator[tuple[str, Any]]:
    if isinstance(thing, dict):
        for name, inside in thing.items():
            yield from values(inside, name)
    elif isinstance(thing, list):
        for inside in thing:
            yield from values(inside, key)
    else:
        yield key, thing


@pytest.mark.parametrize("unit", ["m", "ft"])
def test_every_item_is_on_the_plan_once_and_has_its_rows(loaded: Loaded, unit: Unit) -> None:
    drawn = plan(loaded, unit=unit)
    paths = Counter(one["path"] for name in LISTS for one in drawn[name])
    assert paths == Counter(items_of(loaded))
    corners = range(len(loaded.room.space.outline))
    assert set(drawn["aspects"]) == {
        "room",
        *paths,
        *(f"space.walls.{i}" for i in corners),
        *(f"space.outline.{i}" for i in corners),
    }
    assert all(drawn["aspects"].values())
    for path in paths:
        assert item_at(loaded.room, path).path == path


@pytest.mark.parametrize("unit", ["m", "ft"])
def test_it_is_plain_data_of_finite_numbers_and_text(loaded: Loaded, unit: Unit) -> None:
    drawn = plan(loaded, unit=unit)
    assert json.loads(json.dumps(drawn, allow_nan=False)) == drawn
    texts = ("path", "id", "label", "symbol", "kind", "word", "words", "value", "told", "name")
    for key, value in values(drawn):
        assert not isinstance(value, float) or math.isfinite(value)
        if key in texts or key.endswith("_words"):
            assert isinstance(value, str), key
    for rows in drawn["aspects"].values():
        for row in rows:
            assert {"path", "word", "value", "kind"} <= set(row)
            assert row.get("told", "told") in ("told", "drawing", "measured", "assumed")


def test_symbols_are_those_of_the_sheet() -> None:
    for one in (*LOADED.values(), designed("huddle-four")):
        drawn = plan(one, unit="m")
        named = {
            entry["symbol"] for name in ("sources", "equipment", "devices") for entry in drawn[name]
        }
        assert named <= SYMBOLS


def test_devices_are_drawn_as_they_are_mounted() -> None:
    drawn = {one["id"]: one for one in plan(designed("huddle-four"), unit="ft")["devices"]}
    assert {key: one["symbol"] for key, one in drawn.items()} == {
        "m1": "mic-ceiling",
        "m2": "mic-table",
        "m3": "array",
        "bar": "bar",
        "l1": "speaker-ceiling",
        "amp": "processor",
    }
    assert [drawn[key]["label"] for key in ("m1", "l1")] == ["m1", "l1"]
    assert [drawn[key]["on_ceiling"] for key in ("m1", "m2", "l1", "amp")] == [
        *(True, False, True, False)
    ]
    assert (drawn["bar"]["aim_deg"], drawn["m1"]["aim_deg"]) == (0, None)
    assert drawn["m1"]["height_words"] == "8'-6⅜\""  # 2.6 m is 102.36 in


def test_tile_lines_end_at_the_walls() -> None:
    room = LOADED["training-forty"].room
    tiles = plan(LOADED["training-forty"], unit="m")["tiles"]
    outline = Polygon(room.space.outline)
    for x0, y0, x1, y1 in tiles["lines"]:
        assert outline.buffer(1e-4).covers(LineString([(x0, y0), (x1, y1)]))
        for point in ((x0, y0), (x1, y1)):
            assert outline.exterior.distance(LineString([point, point]).centroid) < 1e-4
    # 10.2 × 8.2 m at 0.6 m from (0.3, 0.2): x = 0.3 … 9.9, y = 0.2 … 8.0, counted by hand.
    across = [line for line in tiles["lines"] if line[1] == line[3]]
    assert (len(tiles["lines"]) - len(across), len(across)) == (17, 14)
    assert plan(LOADED["glass-fan"], unit="m")["tiles"] is None  # a hard ceiling


def test_set_out_chains_add_up_from_wall_to_wall() -> None:
    found = {one["axis"]: one for one in plan(designed("huddle-four"), unit="m")["dimensions"]}
    # m3 at 1.0, the table microphone at 1.5, m1 at 2.0, l1 at 3.0, room 3.6 m: by hand.
    assert found["x"]["stops"] == pytest.approx([0, 1, 1.5, 2, 3, 3.6])
    assert found["x"]["words"] == ["1000", "500", "500", "1000", "600"]
    assert found["y"]["words"] == ["1000", "500", "1000", "500"]
    assert plan(LOADED["huddle-four"], unit="m")["dimensions"] == []


def test_walls_say_their_length_and_finish() -> None:
    walls = plan(LOADED["ten-seats"], unit="ft")["walls"]
    assert [wall["length_words"] for wall in walls] == ["20'-0\"", "14'-0\"", "20'-0\"", "14'-0\""]
    assert walls[0]["finish"] == "Glass front of a meeting room"


@pytest.mark.parametrize("unit", ["m", "ft"])
def test_a_length_typed_back_as_shown_is_the_same_to_the_printed_step(
    loaded: Loaded, unit: Unit
) -> None:
    step = 0.0005 if unit == "m" else 0.0254 / 16
    for rows in plan(loaded, unit=unit)["aspects"].values():
        for row in rows:
            if row["kind"] == "length" and row["value"]:
                shown = parse_length(row["value"], unit=unit)
                assert row["value"] == row["value"].strip()
                again = _value(loaded, row["path"])
                if again is not None:
                    assert shown == pytest.approx(again, abs=step + 1e-9), row["path"]


def _value(loaded: Loaded, path: str) -> float | None:
    """Value of a leaf that stands in the document itself."""
    here: Any = json.loads(json.dumps(loaded.room.model_dump(by_alias=True, mode="json")))
    for step in path.split("."):
        if isinstance(here, list) and step.isdecimal():
            here = here[int(step)]
        elif isinstance(here, dict) and step in here:
            here = here[step]
        else:
            return None
    return here if isinstance(here, int | float) else None


@pytest.mark.parametrize("name", ["huddle-four", "two-in-one"])
def test_every_row_can_be_typed_back_as_it_stands(name: str) -> None:
    loaded = LOADED[name]
    refused = []
    for rows in plan(loaded, unit="m")["aspects"].values():
        for row in rows:
            try:
                done = apply(loaded.room, [{"path": row["path"], "typed": row["value"]}], unit="m")
            except OperationError as error:
                refused.append((row["path"], row["value"], str(error)))
                continue
            # Saying again what is so changes nothing but what was a default of its own.
            assert len(done.touched) <= 1, row
            if "basis" in row:
                apply(loaded.room, [{"path": row["basis"], "set": "measured"}], unit="m")
    assert refused == []


def test_choices_hold_what_is_chosen(loaded: Loaded) -> None:
    for rows in plan(loaded, unit="m")["aspects"].values():
        for row in rows:
            if "choices" in row and row["kind"] != "facing":
                assert row["value"] in [choice["value"] for choice in row["choices"]], row["path"]


def test_colours_offered_are_those_of_the_product() -> None:
    rows = plan(designed("huddle-four"), unit="m")["aspects"]["devices.l1"]
    row = next(row for row in rows if row["path"] == "devices.l1.colour")
    product = designed("huddle-four").room.devices["l1"].product
    colours = Catalogue.shipped().product(product).colours
    assert [one["value"] for one in row["choices"]] == ["", *colours]
    assert row["value"] == ""


def test_products_offered_are_of_the_device_s_kind() -> None:
    rows = plan(designed("huddle-four"), unit="m")["aspects"]["devices.l1"]
    offered = next(row for row in rows if row["kind"] == "product")["choices"]
    assert {"ceiling-6", "wall-8"} <= {one["value"] for one in offered}
    assert "ceiling-head-3" not in {one["value"] for one in offered}
