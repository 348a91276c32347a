"""The shipped catalogue is sound, and each check bites when its figure is spoiled."""

from __future__ import annotations

import dataclasses
import datetime
from typing import Any

import pytest

from wellheard import tables
from wellheard.catalog import reading
from wellheard.catalog.catalogue import Catalogue
from wellheard.catalog.plausibility import problems
from wellheard.catalog.products import Beam, BuiltIn, Element, Fitting, Link
from wellheard.errors import CatalogError

SHIPPED = Catalogue.shipped()


def spoiled(collection: str, entry_id: str, **changes: Any) -> Catalogue:
    entries = tuple(
        dataclasses.replace(entry, **changes) if entry.id == entry_id else entry
        for entry in getattr(SHIPPED, collection)
    )
    assert entries != getattr(SHIPPED, collection)
    return dataclasses.replace(SHIPPED, **{collection: entries})


def test_nothing_is_wrong_with_the_shipped_catalogue() -> None:
    assert problems(SHIPPED, today=datetime.date(2026, 11, 25)) == ()


CARDIOID = Element(azimuth_deg=0, elevation_deg=-30, pattern_a=0.5)
BEAM = Beam(
    directivity_index_db=(1.0, 2.0, 3.0, 4.0, 5.0, 6.0, 25.0), steer_limit_deg=70, elevation_deg=-90
)

FAULTS = [
    ("finishes", "plasterboard", {"absorption": (15, 10, 6, 4, 4, 5, 5)}, "absorption 15 is"),
    ("finishes", "plasterboard", {"source": ""}, "source is missing"),
    ("finishes", "plasterboard", {"trust": "?"}, "trust '?' is none of"),
    ("finishes", "plasterboard", {"name": ""}, "name is missing"),
    ("finishes", "plasterboard", {"id": "Plaster Board"}, "id must be"),
    ("finishes", "plasterboard", {"scattering": 30.0}, "scattering 30 is"),
    ("microphones", "ceiling-head-3", {"id": "Head 3"}, "id must be"),
    ("microphones", "ceiling-head-3", {"name": ""}, "name is missing"),
    ("microphones", "ceiling-head-3", {"name": "Gooseneck capsule"}, "is not its own"),
    ("microphones", "ceiling-head-3", {"price": -1.0}, "price -1 is outside"),
    ("microphones", "ceiling-head-3", {"price": float("nan")}, "price nan is outside"),
    ("microphones", "ceiling-head-3", {"currency": "USD"}, "currencies are mixed: EUR, USD"),
    ("microphones", "ceiling-head-3", {"currency": "€"}, "no three-letter code"),
    ("microphones", "ceiling-head-3", {"size": (110, 110, 55)}, "width 110 m is outside"),
    ("microphones", "ceiling-head-3", {"weight_kg": 500.0}, "weight_kg 500 kg is outside"),
    ("microphones", "ceiling-head-3", {"fits": ()}, "go together"),
    ("microphones", "ceiling-head-3", {"drops": ()}, "go together"),
    ("microphones", "ceiling-head-3", {"drops": (0.0, 0.6, 0.35)}, "drops must ascend"),
    ("microphones", "ceiling-head-3", {"drops": (0.0, 35.0)}, "drop 35 m is outside"),
    ("microphones", "ceiling-head-3", {"rated_distances": (1.5, 1.5, 3.0)}, "must grow"),
    ("microphones", "ceiling-head-3", {"rated_distances": ()}, "rated distances are missing"),
    ("microphones", "ceiling-head-3", {"rated_distances": (5.0, 10.0, 15.0)}, "15 m is outside"),
    ("microphones", "ceiling-head-3", {"self_noise_dba": -26.0}, "self_noise_dba -26 dBA"),
    ("microphones", "ceiling-head-3", {"overload_db": 20.0}, "overload_db 20 dB is outside"),
    ("microphones", "ceiling-head-3", {"elements": (CARDIOID,)}, "two or more elements"),
    ("microphones", "ceiling-head-3", {"selects": "single"}, "selects 'single', with 3"),
    ("microphones", "ceiling-head-3", {"fittings": ()}, "no mounting"),
    (
        "microphones",
        "ceiling-head-3",
        {"fittings": (Fitting(mounting="ceiling", accessories=("glue",), labour=1),)},
        "accessories glue are not in the catalogue",
    ),
    (
        "microphones",
        "ceiling-head-3",
        {"fittings": (Fitting(mounting="ceiling", accessories=("tile-bridge",), labour=1),)},
        "without a safety bond",
    ),
    (
        "microphones",
        "ceiling-head-3",
        {"fittings": (Fitting(mounting="ceiling", accessories=("safety-bond",), labour=1),)},
        "nothing among its accessories holds it by the fit 'hard'",
    ),
    (
        "microphones",
        "ceiling-head-3",
        {"fittings": (Fitting(mounting="ceiling", accessories=("safety-bond",), labour=1),)},
        "no accessory is sold by length",
    ),
    (
        "microphones",
        "ceiling-head-3",
        {"fittings": SHIPPED.microphone("ceiling-head-3").fittings * 2},
        "a mounting occurs twice",
    ),
    (
        "microphones",
        "gooseneck",
        {"elements": (dataclasses.replace(CARDIOID, pattern_a=50),)},
        "pattern_a 50 is outside",
    ),
    (
        "microphones",
        "gooseneck",
        {"elements": (dataclasses.replace(CARDIOID, elevation_deg=120),)},
        "elevation_deg 120° is outside",
    ),
    ("microphones", "gooseneck", {"stem": 0.0}, "stem is 0"),
    ("microphones", "gooseneck", {"link": Link(kind="string", max_length=9)}, "link 'string'"),
    ("microphones", "front-bar", {"link": Link(kind="usb", max_length=30)}, "usb link 30 m is"),
    ("microphones", "gooseneck", {"link": Link(kind="usb", max_length=3)}, "no processor takes"),
    ("microphones", "table-boundary", {"elements": (CARDIOID,)}, "axis in the surface"),
    (
        "microphones",
        "gooseneck",
        {"boundary": True, "fittings": ()},
        "cannot be mounted on a table",
    ),
    ("microphones", "ceiling-array-16", {"beam": BEAM}, "directivity index 25 dB is outside"),
    ("microphones", "ceiling-array-16", {"beam": None}, "with 0 elements and no beam"),
    (
        "microphones",
        "front-bar",
        {
            "built_in": BuiltIn(
                max_level_db=9, angle_deg=100, coupling_db=-14, canceller=True, usb=True
            )
        },
        "built-in max_level_db 9 dB is outside",
    ),
    (
        "processors",
        "bridge-2",
        {"microphone_ports": 0},
        "microphone_ports and port_kinds go together",
    ),
    ("processors", "bridge-2", {"port_kinds": ("string",)}, "port kind 'string'"),
    ("processors", "bridge-2", {"port_kinds": ()}, "microphone_ports and port_kinds go together"),
    ("processors", "bridge-2", {"canceller_tail": 0.0}, "canceller_tail go together"),
    ("processors", "bridge-2", {"usb": False, "outputs": 0}, "nothing comes out of it"),
    ("loudspeakers", "ceiling-6", {"sensitivity_db": 8.8}, "sensitivity_db 8.8 dB is outside"),
    ("loudspeakers", "ceiling-6", {"taps_w": (6.0, 3.0)}, "taps_w must ascend"),
    ("loudspeakers", "ceiling-6", {"max_level_db": 95.0}, "would exceed max_level_db"),
    ("accessories", "tile-bridge", {"name": ""}, "name is missing"),
    ("accessories", "tile-bridge", {"price_per_metre": 3.0}, "not needed only with a drop"),
    ("accessories", "tile-bridge", {"price": -3.0}, "price -3 is outside"),
]


@pytest.mark.parametrize(("collection", "entry_id", "changes", "message"), FAULTS)
def test_a_spoiled_figure_is_noticed(
    collection: str, entry_id: str, changes: dict[str, Any], message: str
) -> None:
    found = problems(spoiled(collection, entry_id, **changes))
    assert any(message in str(problem) for problem in found), found


def test_a_price_from_the_future_is_noticed() -> None:
    before = SHIPPED.microphone("gooseneck").price_date - datetime.timedelta(days=1)
    found = problems(SHIPPED, today=before)
    assert any("gooseneck: price_date" in str(problem) for problem in found)


def read_with(name: str, old: str, new: str) -> reading.Products:
    given = {
        field.name: tables.load(field.name) for field in dataclasses.fields(reading.ProductTables)
    }
    rows = tuple(
        {column: new if cell == old else cell for column, cell in row.items()}
        for row in given[name].rows
    )
    assert rows != given[name].rows
    given[name] = dataclasses.replace(given[name], rows=rows)
    return reading.from_tables(reading.ProductTables(**given))


@pytest.mark.parametrize(
    ("name", "old", "new", "message"),
    [
        ("microphones", "680", "six hundred", r"microphones\.csv:3: ceiling-head-3: price: 'six"),
        ("microphones", "2026-09-01", "yesterday", "price_date: 'yesterday' is no date"),
        ("microphones", "yes", "perhaps", "selectable: 'perhaps' is none of yes, by name, no"),
        ("microphones", "yes", "perhaps", "plenum: 'perhaps' is none of yes, no, unknown"),
        ("microphones", "network", "wifi", "powered_from: 'wifi' is none of link, network, usb"),
        ("extenders", "twisted-pair", "string", "over: 'string' is none of twisted-pair"),
        ("cables", "plenum riser general", "cotton", "jackets: 'cotton' is none of plenum"),
        ("microphone_positions", "ceiling-array-48", "bridge-2", "'bridge-2' is in no main table"),
        ("microphones", "single", "any", "selects: 'any' is none of"),
        ("microphones", "tile hard", "tile velcro", "fits: 'velcro' is none of"),
        ("microphones", "-90", "", "beam_elevation_deg: empty; a beam needs all of"),
        ("microphones", "4.6", "", "give all three or none"),
        ("microphones", "0.3 0.6 0.9 1.2 1.5", "0.3, 0.6", "separated by blanks"),
        ("microphone_elements", "gooseneck", "goose", "product 'goose' is in no main table"),
        ("combined", "front-bar", "bridge-2", "product 'bridge-2' is in no main table"),
        ("fittings", "lectern", "pulpit", "mounting: 'pulpit' is none of"),
        ("processors", "no", "perhaps", "canceller: 'perhaps' is neither yes nor no"),
        ("processors", "12", "12.5", "microphone_ports: 12.5 is not a whole number"),
        ("accessories", "drop", "hanging", "needed: 'hanging' is none of"),
    ],
)
def test_a_cell_that_cannot_be_read_names_its_line_and_what_is_allowed(
    name: str, old: str, new: str, message: str
) -> None:
    with pytest.raises(CatalogError, match=message):
        read_with(name, old, new)


def test_half_a_tile_module_is_refused() -> None:
    table = tables.load("microphones")
    rows = tuple(
        {**row, "module_y": ""} if row["id"] == "ceiling-array-16" else row for row in table.rows
    )
    given = {
        field.name: tables.load(field.name) for field in dataclasses.fields(reading.ProductTables)
    }
    given["microphones"] = dataclasses.replace(table, rows=rows)
    with pytest.raises(CatalogError, match="module_x, module_y: give both or none"):
        reading.from_tables(reading.ProductTables(**given))
