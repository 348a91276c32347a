"""Tables load only with complete provenance, and never turn a gap into a number."""

from __future__ import annotations

import datetime
from pathlib import Path

import pytest

from wellheard import tables

CSV = "id,height,source,trust\nlow,1.5,one book,L\nhigh,,another book,M\n"
TOML = """
title = "Heights"
source = "by row"
edition = ""
licence = "facts"
transcribed_by = "a tester"
checked = "by row"
date = 2026-01-31
[columns]
id = "name"
height = "how high [m]"
source = "citation"
trust = "mark"
"""


def test_a_complete_table_loads_with_its_provenance() -> None:
    table = tables.parse(CSV, TOML, name="heights")
    assert table.provenance["date"] == datetime.date(2026, 1, 31)
    assert table.strings("id") == ("low", "high")
    assert table.optional_floats("height") == (1.5, None)
    assert table.by("id")["high"]["source"] == "another book"


def test_an_empty_cell_is_not_a_number() -> None:
    table = tables.parse(CSV, TOML, name="heights")
    with pytest.raises(ValueError, match=r"heights\.csv:3: height: '' is not a number"):
        table.floats("height")


def test_an_unknown_column_names_those_there_are() -> None:
    table = tables.parse(CSV, TOML, name="heights")
    with pytest.raises(ValueError, match=r"no column 'width'.*id, height, source, trust"):
        table.floats("width")


@pytest.mark.parametrize("key", tables.REQUIRED)
def test_each_required_key_is_missed_when_it_goes(key: str) -> None:
    without = "\n".join(
        line for line in TOML.splitlines() if not line.startswith((f"{key} =", f"[{key}]"))
    )
    if key == "columns":
        without = without.split("id =", maxsplit=1)[0]
    with pytest.raises(ValueError, match=rf"heights\.toml: {key} is missing"):
        tables.parse(CSV, without, name="heights")


@pytest.mark.parametrize(
    ("old", "new", "message"),
    [
        ('checked = "by row"', 'checked = "X"', "none of L, M, C"),
        ('title = "Heights"', 'title = " "', "title is empty"),
        ("date = 2026-01-31", 'date = "last week"', "date must be a date"),
        ('trust = "mark"', "", "column 'trust' is not described"),
        ('trust = "mark"', 'trust = "mark"\nwidth = "w"', "'width' is described but not"),
    ],
)
def test_each_fault_of_the_provenance_is_named(old: str, new: str, message: str) -> None:
    assert old in TOML
    with pytest.raises(ValueError, match=message):
        tables.parse(CSV, TOML.replace(old, new), name="heights")


@pytest.mark.parametrize(
    ("csv_text", "message"),
    [
        ("id,height,source,trust\nlow,1.5,one book,Z\n", "trust 'Z' is none of L, M, C"),
        ("id,height,source,trust\nlow,1.5,,L\n", "csv:2: source is empty"),
        ("id,height,source,trust\nlow,1.5,one book\n", "3 cells for 4 columns"),
        ("id,height,id,trust\nlow,1.5,one book,L\n", "differ"),
        ("id,height,source,trust\n", "at least one row"),
    ],
)
def test_each_fault_of_the_rows_is_named(csv_text: str, message: str) -> None:
    with pytest.raises(ValueError, match=message):
        tables.parse(csv_text, TOML, name="heights")


def test_a_key_that_occurs_twice_is_refused() -> None:
    table = tables.parse("id\na\na\n", None, name="twins")
    with pytest.raises(ValueError, match=r"twins\.csv:3: id 'a' occurs twice"):
        table.by("id")


def test_every_csv_has_its_toml_and_every_toml_its_csv() -> None:
    folder = Path(tables.__file__).parent / "data"
    listed = {path.stem for path in folder.glob("*.csv")}
    assert listed
    assert listed == {path.stem for path in folder.glob("*.toml")}


def test_every_packaged_table_loads() -> None:
    for name in tables.names():
        assert tables.load(name).rows


def test_a_table_that_is_not_there_says_what_a_table_is() -> None:
    with pytest.raises(FileNotFoundError, match=r"data/no-such\.csv: not found; each table"):
        tables.load("no-such")
