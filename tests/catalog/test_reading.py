"""Cells of the shipped tables: one that cannot be read is named with its line."""

from __future__ import annotations

import dataclasses

import pytest

from wellheard import tables
from wellheard.catalog import reading
from wellheard.errors import CatalogError


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
