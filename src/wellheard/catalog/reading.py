"""From tables to products: each cell read once, each fault named with its line."""

from __future__ import annotations

import datetime
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any, Literal, TypeVar, cast, get_args

from wellheard.catalog.finishes import OCTAVE_COLUMNS
from wellheard.catalog.products import (
    Accessory,
    Beam,
    BuiltIn,
    Element,
    Fit,
    Fitting,
    Link,
    Loudspeaker,
    Microphone,
    Mounting,
    Processor,
    Selects,
    Status,
)
from wellheard.errors import CatalogError
from wellheard.tables import Table

Made = TypeVar("Made")
T = TypeVar("T")


@dataclass(frozen=True)
class ProductTables:
    """The tables that together describe products; see docs/catalogue.md for their columns."""

    microphones: Table
    microphone_elements: Table
    combined: Table
    processors: Table
    loudspeakers: Table
    accessories: Table
    fittings: Table


@dataclass(frozen=True)
class Products:
    """Everything read from `ProductTables`, in the tables' order."""

    microphones: tuple[Microphone, ...]
    processors: tuple[Processor, ...]
    loudspeakers: tuple[Loudspeaker, ...]
    accessories: tuple[Accessory, ...]


def from_tables(given: ProductTables) -> Products:
    """Read products.

    Parameters
    ----------
    given : ProductTables
        Main and side tables, from the package or a user's own.

    Returns
    -------
    Products

    Raises
    ------
    CatalogError
        A column is missing, a cell cannot be read, or a side table names a product that no
        main table has. All faults are listed.
    """
    wrong: list[str] = []
    elements = _grouped(given.microphone_elements, "product", _element, wrong)
    fittings = _grouped(given.fittings, "product", _fitting, wrong)
    built_in = _grouped(given.combined, "product", _built_in, wrong)

    def microphone(cell: _Cells) -> Microphone:
        return _microphone(cell, elements, fittings, built_in)

    def processor(cell: _Cells) -> Processor:
        return _processor(cell, fittings)

    def loudspeaker(cell: _Cells) -> Loudspeaker:
        return _loudspeaker(cell, fittings)

    products = Products(
        microphones=_all(given.microphones, microphone, wrong),
        processors=_all(given.processors, processor, wrong),
        loudspeakers=_all(given.loudspeakers, loudspeaker, wrong),
        accessories=_all(given.accessories, _accessory, wrong),
    )
    mains = (given.microphones, given.processors, given.loudspeakers)
    everything = {row.get("id", "") for table in mains for row in table.rows}
    listening = {row.get("id", "") for row in given.microphones.rows}
    for table, owners in (
        (given.microphone_elements, listening),
        (given.combined, listening),
        (given.fittings, everything),
    ):
        for line, row in enumerate(table.rows, start=2):
            if row.get("product") not in owners:
                wrong.append(
                    f"{table.name}.csv:{line}: product {row.get('product')!r} is in no main table"
                )
    if wrong:
        raise CatalogError("\n".join(wrong))
    return products


class _Cells:
    """One row whose cells are read by kind; a bad cell is a ValueError that names the column."""

    def __init__(self, table: Table, row: dict[str, str]) -> None:
        self.row = row
        self.currency = str(table.provenance.get("currency", "EUR"))

    def text(self, column: str) -> str:
        if column not in self.row:
            raise ValueError(f"no column {column!r}")
        return self.row[column]

    def words(self, column: str) -> tuple[str, ...]:
        return tuple(self.text(column).split())

    def number(self, column: str) -> float:
        text = self.text(column)
        try:
            return float(text)
        except ValueError:
            raise ValueError(f"{column}: {text!r} is not a number") from None

    def optional(self, column: str) -> float | None:
        return None if self.text(column) == "" else self.number(column)

    def whole(self, column: str) -> int:
        value = self.number(column)
        if value != int(value):
            raise ValueError(f"{column}: {value} is not a whole number")
        return int(value)

    def numbers(self, column: str) -> tuple[float, ...]:
        try:
            return tuple(float(word) for word in self.words(column))
        except ValueError:
            raise ValueError(
                f"{column}: {self.text(column)!r} must be numbers separated by blanks"
            ) from None

    def truth(self, column: str) -> bool:
        text = self.text(column)
        if text not in ("yes", "no"):
            raise ValueError(f"{column}: {text!r} is neither yes nor no")
        return text == "yes"

    def date(self, column: str) -> datetime.date:
        text = self.text(column)
        try:
            return datetime.date.fromisoformat(text)
        except ValueError:
            raise ValueError(f"{column}: {text!r} is no date such as 2026-01-31") from None

    def one_of(self, column: str, kind: Any) -> str:
        text = self.text(column)
        if text not in get_args(kind):
            raise ValueError(f"{column}: {text!r} is none of {', '.join(get_args(kind))}")
        return text

    def some_of(self, column: str, kind: Any) -> tuple[str, ...]:
        for word in self.words(column):
            if word not in get_args(kind):
                raise ValueError(f"{column}: {word!r} is none of {', '.join(get_args(kind))}")
        return self.words(column)


def _all(table: Table, make: Callable[[_Cells], Made], wrong: list[str]) -> tuple[Made, ...]:
    made = []
    for line, row in enumerate(table.rows, start=2):
        try:
            made.append(make(_Cells(table, row)))
        except ValueError as error:
            wrong.append(f"{table.name}.csv:{line}: {row.get('id', '?')}: {error}")
    return tuple(made)


def _grouped(
    table: Table, column: str, make: Callable[[_Cells], Made], wrong: list[str]
) -> dict[str, tuple[Made, ...]]:
    groups: dict[str, tuple[Made, ...]] = {}
    for line, row in enumerate(table.rows, start=2):
        owner = row.get(column, "?")
        try:
            groups[owner] = (*groups.get(owner, ()), make(_Cells(table, row)))
        except ValueError as error:
            wrong.append(f"{table.name}.csv:{line}: {owner}: {error}")
    return groups


def _element(cell: _Cells) -> Element:
    return Element(
        azimuth_deg=cell.number("azimuth_deg"),
        elevation_deg=cell.number("elevation_deg"),
        pattern_a=cell.number("pattern_a"),
    )


def _fitting(cell: _Cells) -> Fitting:
    return Fitting(
        mounting=cast(Mounting, cell.one_of("mounting", Mounting)),
        accessories=cell.words("accessories"),
        labour=cell.number("labour"),
    )


def _built_in(cell: _Cells) -> BuiltIn:
    return BuiltIn(
        max_level_db=cell.number("max_level_db"),
        angle_deg=cell.number("angle_deg"),
        coupling_db=cell.number("coupling_db"),
        canceller=cell.truth("canceller"),
        usb=cell.truth("usb"),
    )


def _beam(cell: _Cells) -> Beam | None:
    columns = [f"beam_{octave}" for octave in OCTAVE_COLUMNS]
    columns += ["steer_limit_deg", "beam_elevation_deg"]
    values = [cell.optional(column) for column in columns]
    given = [value for value in values if value is not None]
    if not given:
        return None
    if len(given) < len(columns):
        empty = [c for c, v in zip(columns, values, strict=True) if v is None]
        raise ValueError(f"{', '.join(empty)}: empty; a beam needs all of {', '.join(columns)}")
    a, b, c, d, e, f, g, limit, elevation = given
    return Beam(
        directivity_index_db=(a, b, c, d, e, f, g),
        steer_limit_deg=limit,
        elevation_deg=elevation,
    )


def _common(cell: _Cells, fittings: Mapping[str, tuple[Fitting, ...]]) -> dict[str, Any]:
    has_ceiling_columns = "fits" in cell.row
    return {
        "id": cell.text("id"),
        "name": cell.text("name"),
        "price": cell.number("price"),
        "currency": cell.currency,
        "price_date": cell.date("price_date"),
        "size": (cell.number("size_x"), cell.number("size_y"), cell.number("size_z")),
        "weight_kg": cell.number("weight_kg"),
        "power_w": cell.number("power_w"),
        "fittings": fittings.get(cell.text("id"), ()),
        "fits": cast(tuple[Fit, ...], cell.some_of("fits", Fit)) if has_ceiling_columns else (),
        "cutout": cell.optional("cutout") if has_ceiling_columns else None,
        "status": cast(Status, cell.one_of("status", Status)),
        "lead_time_weeks": cell.number("lead_time_weeks"),
        "colours": cell.words("colours"),
        "warranty_years": cell.number("warranty_years"),
        "minimum_firmware": cell.text("minimum_firmware"),
        "selectable": cell.truth("selectable"),
        "note": cell.text("note"),
    }


def _microphone(
    cell: _Cells,
    elements: Mapping[str, tuple[Element, ...]],
    fittings: Mapping[str, tuple[Fitting, ...]],
    built_in: Mapping[str, tuple[BuiltIn, ...]],
) -> Microphone:
    rated = [cell.optional(f"rated_{step}") for step in ("clear", "usual", "last")]
    known = [distance for distance in rated if distance is not None]
    if len(known) not in (0, 3):
        raise ValueError("rated_clear, rated_usual, rated_last: give all three or none")
    return Microphone(
        **_common(cell, fittings),
        selects=cast(Selects, cell.one_of("selects", Selects)),
        elements=elements.get(cell.text("id"), ()),
        beam=_beam(cell),
        boundary=cell.truth("boundary"),
        rated_distances=tuple(known),
        drops=cell.numbers("drops"),
        stem=cell.number("stem"),
        self_noise_dba=cell.number("self_noise_dba"),
        overload_db=cell.number("overload_db"),
        link=Link(kind=cell.text("link"), max_length=cell.number("link_length")),
        built_in=_only(built_in.get(cell.text("id"), ()), "combined"),
    )


def _only(found: tuple[T, ...], table: str) -> T | None:
    if len(found) > 1:
        raise ValueError(f"{len(found)} rows in {table}.csv; one at most")
    return found[0] if found else None


def _processor(cell: _Cells, fittings: Mapping[str, tuple[Fitting, ...]]) -> Processor:
    return Processor(
        **_common(cell, fittings),
        microphone_ports=cell.whole("microphone_ports"),
        port_kinds=cell.words("port_kinds"),
        canceller=cell.truth("canceller"),
        canceller_tail=cell.number("canceller_tail"),
        automatic_mixer=cell.truth("automatic_mixer"),
        line_inputs=cell.whole("line_inputs"),
        outputs=cell.whole("outputs"),
        usb=cell.truth("usb"),
        network_audio=cell.truth("network_audio"),
        latency_ms=cell.number("latency_ms"),
        rack_units=cell.number("rack_units"),
    )


def _loudspeaker(cell: _Cells, fittings: Mapping[str, tuple[Fitting, ...]]) -> Loudspeaker:
    return Loudspeaker(
        **_common(cell, fittings),
        sensitivity_db=cell.number("sensitivity_db"),
        max_level_db=cell.number("max_level_db"),
        angle_deg=cell.number("angle_deg"),
        impedance=cell.number("impedance"),
        taps_w=cell.numbers("taps_w"),
    )


def _accessory(cell: _Cells) -> Accessory:
    return Accessory(
        id=cell.text("id"),
        name=cell.text("name"),
        price=cell.number("price"),
        price_per_metre=cell.number("price_per_metre"),
        currency=cell.currency,
        fits=cast(tuple[Fit, ...], cell.some_of("fits", Fit)),
        needed=cast(
            Literal["always", "drop", "flush"],
            cell.one_of("needed", Literal["always", "drop", "flush"]),
        ),
        note=cell.text("note"),
    )
