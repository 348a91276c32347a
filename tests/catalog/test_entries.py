"""A user's own entries: read back as they were written, refused with their place."""

from __future__ import annotations

import dataclasses

import pytest

from wellheard.catalog.catalogue import Catalogue
from wellheard.catalog.datasheets import SHEETS, Entry, kind_of
from wellheard.catalog.entries import (
    parse_entries,
)
from wellheard.catalog.export import written
from wellheard.catalog.finishes import Finish

SHIPPED = Catalogue.shipped()
EVERY: tuple[Entry, ...] = (
    *SHIPPED.finishes,
    *SHIPPED.products,
    *SHIPPED.accessories,
    *SHIPPED.cables,
)


def _own(entry: Entry) -> Entry:
    """The entry as a sheet of its own: another name of a finish takes its figures along."""
    return dataclasses.replace(entry, same_as="") if isinstance(entry, Finish) else entry


@pytest.mark.parametrize("kind", SHEETS)
def test_a_data_sheet_has_every_field_of_its_entry(kind: str) -> None:
    derived = {"id", "same_as", "extrapolated"}
    fields = {f.name for f in dataclasses.fields(SHEETS[kind].makes)} - derived
    assert set(SHEETS[kind].model_fields) == fields


@pytest.mark.parametrize("kind", SHEETS)
def test_what_the_sheet_leaves_out_is_what_the_entry_leaves_out(kind: str) -> None:
    # A default that differs from the dataclass's would make two products of one data sheet.
    defaults = {f.name: f.default for f in dataclasses.fields(SHEETS[kind].makes)}
    for name, info in SHEETS[kind].model_fields.items():
        if not info.is_required() and defaults[name] is not dataclasses.MISSING:
            assert (info.get_default() or defaults[name]) == defaults[name], name


@pytest.mark.parametrize("entry", EVERY, ids=lambda e: f"{kind_of(e)}.{e.id}")
def test_every_shipped_entry_reads_back_equal_from_its_yaml(entry: Entry) -> None:
    (back,) = parse_entries(written([entry]), name="x.products.yaml")
    assert back == _own(entry)


def test_the_whole_catalogue_reads_back_equal_from_one_file() -> None:
    back = parse_entries(written(EVERY), name="x.products.yaml")
    assert set(back.collections) == set(SHEETS)
    for kind, entries in back.collections.items():
        assert entries == tuple(map(_own, getattr(SHIPPED, kind)))
