"""An entry as a user would type it: a file to copy, rename and edit."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

from wellheard.catalog import products
from wellheard.catalog.datasheets import SHEETS, Entry, kind_of
from wellheard.catalog.entries import SCHEMA, VERSION
from wellheard.catalog.finishes import OCTAVE_COLUMNS, Finish
from wellheard.catalog.sheetparts import (
    Absorption,
    BeamSheet,
    BuiltInSheet,
    Directivity,
    ElementSheet,
    FittingSheet,
    LinkSheet,
    PolarSheet,
)
from wellheard.forms.fields import Frozen
from wellheard.forms.writing import block


def written(entries: Iterable[Entry]) -> str:
    """YAML of entries, in metres and without what is a default, that reads back equal.

    Examples
    --------
    >>> from wellheard.catalog.catalogue import Catalogue
    >>> print(written([Catalogue.shipped().accessory("tile-bridge")]), end="")
    wellheard-products: 1
    accessories:
      tile-bridge:
        name: Bridge across a lay-in tile
        price: 38
        currency: EUR
        fits: [tile]
        note: "Carries the load to the grid: a tile alone carries nothing."
    """
    data: dict[str, dict[str, Any]] = {}
    for entry in entries:
        data.setdefault(kind_of(entry), {})[entry.id] = sheet_data(entry)
    lines = [f"{VERSION}: {SCHEMA}\n"]
    for kind in SHEETS:
        for number, (entry_id, sheet) in enumerate(data.get(kind, {}).items()):
            head = f"{kind}:\n" if number == 0 else ""
            lines.append(f"{head}  {entry_id}:\n{block(sheet, indent=4)}")
    return "".join(lines)


def sheet_data(entry: Entry) -> dict[str, Any]:
    """What a data sheet of an entry says, without what is a default: the inverse of ``entry``."""
    return _part_data(SHEETS[kind_of(entry)], entry)


def _part_data(model: type[Frozen], thing: Any) -> dict[str, Any]:
    data: dict[str, Any] = {}
    for name, info in model.model_fields.items():
        value = getattr(thing, name)
        default = None if info.is_required() else info.get_default()
        if value == default or (value == "" and default is None):
            continue
        if info.annotation in (Absorption, Directivity):
            data[name] = _by_octave(value)
        elif info.annotation == tuple[Directivity, ...]:
            data[name] = tuple(_by_octave(one) for one in value)
        else:
            data[name] = _value_data(value)
    if isinstance(thing, Finish) and thing.extrapolated:
        del data["absorption"]["8000"]
    return data


def _by_octave(values: Iterable[float]) -> dict[str, float]:
    return dict(zip(OCTAVE_COLUMNS, values, strict=True))


_PARTS: Mapping[type, type[Frozen]] = {
    products.Element: ElementSheet,
    products.Beam: BeamSheet,
    products.Link: LinkSheet,
    products.BuiltIn: BuiltInSheet,
    products.Polar: PolarSheet,
}


def _value_data(value: Any) -> Any:
    if type(value) in _PARTS:
        return _part_data(_PARTS[type(value)], value)
    if isinstance(value, tuple) and value and isinstance(value[0], products.Fitting):
        return {one.mounting: _part_data(FittingSheet, one) for one in value}
    if isinstance(value, tuple):
        return tuple(_value_data(one) for one in value)
    return value
