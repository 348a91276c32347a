"""From tables to products: each cell read once, each fault named with its line."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any, Literal, TypeVar, cast

from wellheard.catalog.finishes import OCTAVE_COLUMNS, Octaves
from wellheard.catalog.products import (
    Accessory,
    Amplifier,
    Beam,
    BeamDesign,
    BuiltIn,
    Cable,
    Element,
    Extender,
    Fit,
    Fitting,
    Jacket,
    Link,
    Loudspeaker,
    Microphone,
    MixerKind,
    Mounting,
    Polar,
    PortKind,
    PowerFrom,
    Processor,
    Selects,
    Status,
    Switch,
    Vector,
)
from wellheard.catalog.rows import Row
from wellheard.errors import CatalogError
from wellheard.tables import Table

Made = TypeVar("Made")
T = TypeVar("T")


@dataclass(frozen=True)
class ProductTables:
    """The tables that together describe products; see docs/catalogue.md for their columns."""

    microphones: Table
    microphone_elements: Table
    microphone_positions: Table
    combined: Table
    processors: Table
    loudspeakers: Table
    loudspeaker_polars: Table
    amplifiers: Table
    switches: Table
    extenders: Table
    cables: Table
    accessories: Table
    fittings: Table


@dataclass(frozen=True)
class Products:
    """Everything read from `ProductTables`, in the tables' order."""

    microphones: tuple[Microphone, ...]
    processors: tuple[Processor, ...]
    loudspeakers: tuple[Loudspeaker, ...]
    amplifiers: tuple[Amplifier, ...]
    switches: tuple[Switch, ...]
    extenders: tuple[Extender, ...]
    cables: tuple[Cable, ...]
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
    side = _SideTables(
        elements=_grouped(given.microphone_elements, "product", _element, wrong),
        positions=_grouped(given.microphone_positions, "product", _position, wrong),
        polars=_grouped(given.loudspeaker_polars, "product", _beside, wrong),
        built_in=_grouped(given.combined, "product", _built_in, wrong),
        fittings=_grouped(given.fittings, "product", _fitting, wrong),
    )

    def mounted(table: Table, make: Callable[[Row, _SideTables], Made]) -> tuple[Made, ...]:
        return _all(table, lambda row: make(row, side), wrong)

    products = Products(
        microphones=mounted(given.microphones, _microphone),
        processors=mounted(given.processors, _processor),
        loudspeakers=mounted(given.loudspeakers, _loudspeaker),
        amplifiers=mounted(given.amplifiers, _amplifier),
        switches=mounted(given.switches, _switch),
        extenders=mounted(given.extenders, _extender),
        cables=_all(given.cables, _cable, wrong),
        accessories=_all(given.accessories, _accessory, wrong),
    )
    mains = (
        given.microphones,
        given.processors,
        given.loudspeakers,
        given.amplifiers,
        given.switches,
        given.extenders,
    )
    everything = {row.get("id", "") for table in mains for row in table.rows}
    listening = {row.get("id", "") for row in given.microphones.rows}
    sounding = {row.get("id", "") for row in given.loudspeakers.rows}
    for table, owners in (
        (given.microphone_elements, listening),
        (given.microphone_positions, listening),
        (given.combined, listening),
        (given.loudspeaker_polars, sounding),
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


@dataclass(frozen=True)
class _SideTables:
    """Rows of the side tables by the product that they belong to."""

    elements: Mapping[str, tuple[Element, ...]]
    positions: Mapping[str, tuple[Vector, ...]]
    polars: Mapping[str, tuple[tuple[float, Octaves], ...]]
    built_in: Mapping[str, tuple[BuiltIn, ...]]
    fittings: Mapping[str, tuple[Fitting, ...]]


def _all(table: Table, make: Callable[[Row], Made], wrong: list[str]) -> tuple[Made, ...]:
    made = []
    for line, row in enumerate(table.rows, start=2):
        try:
            made.append(make(Row(table, row)))
        except ValueError as error:
            wrong.append(f"{table.name}.csv:{line}: {row.get('id', '?')}: {error}")
    return tuple(made)


def _grouped(
    table: Table, column: str, make: Callable[[Row], Made], wrong: list[str]
) -> dict[str, tuple[Made, ...]]:
    groups: dict[str, tuple[Made, ...]] = {}
    for line, row in enumerate(table.rows, start=2):
        owner = row.get(column, "?")
        try:
            groups[owner] = (*groups.get(owner, ()), make(Row(table, row)))
        except ValueError as error:
            wrong.append(f"{table.name}.csv:{line}: {owner}: {error}")
    return groups


def _element(cell: Row) -> Element:
    return Element(
        azimuth_deg=cell.number("azimuth_deg"),
        elevation_deg=cell.number("elevation_deg"),
        pattern_a=cell.number("pattern_a"),
    )


def _position(cell: Row) -> Vector:
    return (cell.number("x"), cell.number("y"), cell.number("z"))


def _beside(cell: Row) -> tuple[float, Octaves]:
    """An angle from a loudspeaker's axis, and the levels there."""
    a, b, c, d, e, f, g = (cell.number(f"level_{octave}") for octave in OCTAVE_COLUMNS)
    return cell.number("angle_deg"), (a, b, c, d, e, f, g)


def _fitting(cell: Row) -> Fitting:
    return Fitting(
        mounting=cast(Mounting, cell.one_of("mounting", Mounting)),
        accessories=cell.words("accessories"),
        labour=cell.number("labour"),
    )


def _built_in(cell: Row) -> BuiltIn:
    return BuiltIn(
        max_level_db=cell.number("max_level_db"),
        angle_deg=cell.number("angle_deg"),
        coupling_db=cell.number("coupling_db"),
        canceller=cell.truth("canceller"),
        usb=cell.truth("usb"),
        canceller_tail=cell.optional("canceller_tail"),
        canceller_loss_db=cell.optional("canceller_loss_db"),
        latency_ms=cell.number("latency_ms"),
        distortion=cell.optional("distortion"),
    )


def _beam(cell: Row) -> Beam | None:
    columns = [f"beam_{octave}" for octave in OCTAVE_COLUMNS]
    columns += ["steer_limit_deg", "beam_elevation_deg"]
    values = [cell.optional(column) for column in columns]
    given = [value for value in values if value is not None]
    design = cast(BeamDesign | None, cell.one_of_or_none("beam_design", BeamDesign))
    if not given:
        if design is not None:
            raise ValueError("beam_design: of a microphone without beam; leave it empty")
        return None
    if len(given) < len(columns):
        empty = [c for c, v in zip(columns, values, strict=True) if v is None]
        raise ValueError(f"{', '.join(empty)}: empty; a beam needs all of {', '.join(columns)}")
    a, b, c, d, e, f, g, limit, elevation = given
    return Beam(
        directivity_index_db=(a, b, c, d, e, f, g),
        steer_limit_deg=limit,
        elevation_deg=elevation,
        design=design or "delay-and-sum",
    )


def _common(cell: Row, side: _SideTables) -> dict[str, Any]:
    selectable = cell.one_of("selectable", Literal["yes", "by name", "no"])
    return {
        "id": cell.text("id"),
        "name": cell.text("name"),
        "price": cell.number("price"),
        "currency": cell.currency,
        "price_date": cell.date("price_date"),
        "size": (cell.number("size_x"), cell.number("size_y"), cell.number("size_z")),
        "weight_kg": cell.number("weight_kg"),
        "power_w": cell.number("power_w"),
        "fittings": side.fittings.get(cell.text("id"), ()),
        "plenum": cell.perhaps("plenum"),
        "powered_from": cast(PowerFrom, cell.one_of("powered_from", PowerFrom)),
        "poe_class": cell.optional_whole("poe_class"),
        "status": cast(Status, cell.one_of("status", Status)),
        "last_orders": cell.optional_date("last_orders"),
        "successor": cell.text("successor"),
        "lead_time_weeks": cell.number("lead_time_weeks"),
        "colours": cell.words("colours"),
        "warranty_years": cell.number("warranty_years"),
        "minimum_firmware": cell.text("minimum_firmware"),
        "selectable": selectable != "no",
        "by_name": selectable == "by name",
        "note": cell.text("note"),
    }


def _overhead(cell: Row) -> dict[str, Any]:
    """Columns of what may hang from a ceiling."""
    module = [cell.optional("module_x"), cell.optional("module_y")]
    known = [edge for edge in module if edge is not None]
    if len(known) == 1:
        raise ValueError("module_x, module_y: give both or none")
    return {
        "fits": cast(tuple[Fit, ...], cell.some_of("fits", Fit)),
        "cutout": cell.optional("cutout"),
        "module": tuple(known) or None,
        "drops": cell.numbers("drops"),
    }


def _microphone(cell: Row, side: _SideTables) -> Microphone:
    rated = [cell.optional(f"rated_{step}") for step in ("clear", "usual", "last")]
    known = [distance for distance in rated if distance is not None]
    if len(known) not in (0, 3):
        raise ValueError("rated_clear, rated_usual, rated_last: give all three or none")
    return Microphone(
        **_common(cell, side),
        **_overhead(cell),
        selects=cast(Selects, cell.one_of("selects", Selects)),
        elements=side.elements.get(cell.text("id"), ()),
        positions=side.positions.get(cell.text("id"), ()),
        beam=_beam(cell),
        boundary=cell.truth("boundary"),
        rated_distances=tuple(known),
        stem=cell.number("stem"),
        self_noise_dba=cell.number("self_noise_dba"),
        overload_db=cell.number("overload_db"),
        sensitivity_mv_pa=cell.optional("sensitivity_mv_pa"),
        sensitivity_dbfs=cell.optional("sensitivity_dbfs"),
        latency_ms=cell.number("latency_ms"),
        link=Link(kind=cell.text("link"), max_length=cell.number("link_length")),
        built_in=_only(side.built_in.get(cell.text("id"), ()), "combined"),
    )


def _only(found: tuple[T, ...], table: str) -> T | None:
    if len(found) > 1:
        raise ValueError(f"{len(found)} rows in {table}.csv; one at most")
    return found[0] if found else None


def _processor(cell: Row, side: _SideTables) -> Processor:
    return Processor(
        **_common(cell, side),
        microphone_ports=cell.whole("microphone_ports"),
        port_kinds=cell.words("port_kinds"),
        canceller=cell.truth("canceller"),
        canceller_tail=cell.number("canceller_tail"),
        canceller_loss_db=cell.optional("canceller_loss_db"),
        automatic_mixer=cell.truth("automatic_mixer"),
        mixer=cast(MixerKind | None, cell.one_of_or_none("mixer", MixerKind)),
        line_inputs=cell.whole("line_inputs"),
        outputs=cell.whole("outputs"),
        usb=cell.truth("usb"),
        network_audio=cell.truth("network_audio"),
        latency_ms=cell.number("latency_ms"),
        rack_units=cell.number("rack_units"),
        clip_dbu=cell.optional("clip_dbu"),
        preamp_noise_dbu=cell.optional("preamp_noise_dbu"),
    )


def _loudspeaker(cell: Row, side: _SideTables) -> Loudspeaker:
    rows = side.polars.get(cell.text("id"), ())
    return Loudspeaker(
        **_common(cell, side),
        **_overhead(cell),
        sensitivity_db=cell.number("sensitivity_db"),
        max_level_db=cell.number("max_level_db"),
        angle_deg=cell.number("angle_deg"),
        impedance=cell.number("impedance"),
        taps_w=cell.numbers("taps_w"),
        active=cell.truth("active"),
        units=cell.whole("units"),
        latency_ms=cell.number("latency_ms"),
        distortion=cell.optional("distortion"),
        polar=_polar(rows) if rows else None,
    )


def _polar(rows: tuple[tuple[float, Octaves], ...]) -> Polar:
    angles, levels = zip(*rows, strict=True)
    return Polar(angles_deg=angles, levels_db=levels)


def _amplifier(cell: Row, side: _SideTables) -> Amplifier:
    return Amplifier(
        **_common(cell, side),
        channels=cell.whole("channels"),
        channel_power_w=cell.number("channel_power_w"),
        minimum_impedance=cell.number("minimum_impedance"),
        line_voltages=cell.numbers("line_voltages"),
        network_audio=cell.truth("network_audio"),
        rack_units=cell.number("rack_units"),
        latency_ms=cell.number("latency_ms"),
        input_sensitivity_dbu=cell.optional("input_sensitivity_dbu"),
    )


def _switch(cell: Row, side: _SideTables) -> Switch:
    return Switch(
        **_common(cell, side),
        network_ports=cell.whole("network_ports"),
        poe_ports=cell.whole("poe_ports"),
        supplies_class=cell.optional_whole("supplies_class"),
        poe_budget_w=cell.number("poe_budget_w"),
        managed=cell.truth("managed"),
        fan=cell.truth("fan"),
        rack_units=cell.number("rack_units"),
    )


def _extender(cell: Row, side: _SideTables) -> Extender:
    return Extender(
        **_common(cell, side),
        carries=cast(PortKind, cell.one_of("carries", PortKind)),
        over=cast(PortKind, cell.one_of("over", PortKind)),
        max_length=cell.number("max_length"),
        passes_power=cell.truth("passes_power"),
        latency_ms=cell.number("latency_ms"),
    )


def _cable(cell: Row) -> Cable:
    return Cable(
        id=cell.text("id"),
        name=cell.text("name"),
        carries=cast(tuple[PortKind, ...], cell.some_of("carries", PortKind)),
        price=cell.number("price"),
        price_per_metre=cell.number("price_per_metre"),
        currency=cell.currency,
        price_date=cell.date("price_date"),
        jackets=cast(tuple[Jacket, ...], cell.some_of("jackets", Jacket)),
        surcharges_per_metre=cell.numbers("surcharges_per_metre"),
        outer_diameter=cell.number("outer_diameter"),
        awg=cell.whole("awg"),
        pairs=cell.whole("pairs"),
        max_length=cell.number("max_length"),
        length=cell.optional("length"),
        status=cast(Status, cell.one_of("status", Status)),
        note=cell.text("note"),
    )


def _accessory(cell: Row) -> Accessory:
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
