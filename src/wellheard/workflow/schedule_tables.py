"""Schedules as comma-separated values, and as files of a folder."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from typing import TypeAlias

from wellheard.cells import comma_separated
from wellheard.dossier.positions import Position
from wellheard.schedules.whole import Schedules
from wellheard.workflow.scheduling import (
    LENGTH_PLACES,
    POWER_PLACES,
    PRICE_PLACES,
    Only,
    pipe_answer,
)

EXACT_PLACES = 9
"""Decimals of a place: what is typed in again is the very same place. [m]"""
FILES: Mapping[str, Only] = {"cables.csv": "cables", "bill.csv": "bill"}
"""Files of a folder, and the schedule that each holds."""


def schedule_files(found: Schedules, rows: Sequence[Position] = ()) -> dict[str, bytes]:
    """Schedules as files, by name; none where the document has no devices.

    Parameters
    ----------
    found : Schedules
        Of the document.
    rows : sequence of Position
        Of `wellheard.dossier.positions.positions`; without any there is no file of positions.
    """
    if not found.room.devices:
        return {}
    files = {name: schedule_csv(found, only).encode() for name, only in FILES.items()}
    if found.cables.rows:
        files["labels.csv"] = labels_csv(found).encode()
    if rows:
        files["positions.csv"] = positions_csv(rows).encode()
    return files


def labels_csv(found: Schedules) -> str:
    """Labels of cables, one row for each, as a label printer takes them."""
    head = ("number", "end", "label", "this_end", "other_end")
    return comma_separated(head, labels_rows(found))


def labels_rows(found: Schedules) -> Iterator[tuple[str, str, str, str, str]]:
    """Every label: number of its cable, which end, all of it, its own end and the other."""
    for row in found.cables.rows:
        for end, text in (("first", row.label_from), ("second", row.label_to)):
            yield row.number, end, text, *_ends(text)


def _ends(label: str) -> tuple[str, str]:
    """This end and the other of a label, without its number."""
    here, _, there = label.partition(" ")[2].partition(" → ")
    return here, there


POSITIONS = (
    "label",
    "id",
    "product",
    "mounting",
    "from_wall",
    "distance_m",
    "from_other_wall",
    "other_distance_m",
    "height_m",
    "drop_m",
    "faces",
    "tile_from_west",
    "tile_from_south",
    "set_out_by",
    "fixings",
    "hole_m",
    "weight_kg",
    "safety_bond",
    "locked",
    "owned",
    "off_step_m",
)


def positions_csv(rows: Iterable[Position]) -> str:
    """Positions of devices as comma-separated values; in metres, whatever the document's units."""
    return comma_separated(
        POSITIONS,
        (
            (
                row.label,
                row.id,
                row.product,
                row.mounting,
                row.walls[0],
                round(row.distances[0], EXACT_PLACES),
                row.walls[1],
                round(row.distances[1], EXACT_PLACES),
                round(row.height, EXACT_PLACES),
                _cell(row.drop, EXACT_PLACES),
                row.aim.replace("\u00a0", " "),
                "" if row.tile is None else row.tile[0],
                "" if row.tile is None else row.tile[1],
                row.set_out_by,
                "; ".join(row.fixings),
                _cell(row.cutout, LENGTH_PLACES),
                round(row.weight_kg, POWER_PLACES),
                _yes(row.bond),
                _yes(row.locked),
                _yes(row.owned),
                round(row.off, EXACT_PLACES),
            )
            for row in rows
        ),
    )


def _yes(holds: bool) -> str:
    return "yes" if holds else "no"


def schedule_csv(found: Schedules, only: Only) -> str:
    """One schedule as comma-separated values with a head; no cell of it is a formula.

    Lengths are in metres, whatever the document's units.
    """
    head, rows = _CSV[only](found)
    return comma_separated(head, rows)


Sheet: TypeAlias = tuple[Sequence[str], Iterable[Iterable[object]]]


def _cables_csv(found: Schedules) -> Sheet:
    head = (
        "id",
        "number",
        "from",
        "to",
        "kind",
        "cable",
        "jacket",
        "jacket_name",
        "awg",
        "length_m",
        "cut_length_m",
        "label_from",
        "label_to",
        "how",
    )
    rows = (
        (
            row.id,
            row.number,
            row.from_,
            row.to,
            row.kind or "",
            row.cable.id if row.cable else "",
            row.jacket or "",
            row.jacket_name,
            row.cable.awg if row.cable else "",
            _cell(row.length, LENGTH_PLACES),
            _cell(row.cut_length, LENGTH_PLACES),
            row.label_from,
            row.label_to,
            row.run.how,
        )
        for row in found.cables.rows
    )
    return head, rows


def _bill_csv(found: Schedules) -> Sheet:
    head = (
        "kind",
        "id",
        "what",
        "colour",
        "count",
        "unit",
        "unit_price",
        "amount",
        "currency",
        "lead_time_weeks",
        "owned",
        "for",
        "note",
    )
    lines = [
        (
            line.kind,
            line.id,
            line.what,
            line.colour,
            round(line.count, LENGTH_PLACES),
            line.unit,
            round(line.unit_price, PRICE_PLACES),
            line.amount,
            line.currency,
            "" if line.lead_time_weeks is None else line.lead_time_weeks,
            "yes" if line.owned else "no",
            " ".join(line.where),
            line.note,
        )
        for line in (*found.bill.lines, *found.bill.others)
    ]
    missing = [
        ("not priced", "", one.what, "", "", "", "", "", "", "", "", "", one.why)
        for one in found.bill.not_priced
    ]
    total = (
        "total",
        "",
        "Total without tax",
        *("",) * 4,
        "" if found.bill.total is None else found.bill.total,
        found.bill.currency,
        *("",) * 4,
    )
    return head, (*lines, *missing, total)


def _rack_csv(found: Schedules) -> Sheet:
    head = ("equipment", "from_u", "height_u", "kind", "device", "product", "weight_kg", "heat_w")
    rows = (
        (
            rack.equipment,
            slot.from_u,
            slot.height_u,
            slot.kind,
            slot.device,
            slot.product,
            slot.weight_kg,
            round(slot.heat_w, POWER_PLACES),
        )
        for rack in found.racks
        for slot in rack.slots
    )
    return head, rows


def _conduit_csv(found: Schedules) -> Sheet:
    fields = [pipe_answer(pipe) for pipe in found.conduit]
    head = tuple(_pipe_names())
    rows = (
        tuple(
            " ".join(value) if isinstance(value, list) else "" if value is None else value
            for value in each.values()
        )
        for each in fields
    )
    return head, rows


def _pipe_names() -> tuple[str, ...]:
    return (
        "place",
        "sort",
        "way",
        "cables",
        "size",
        "size_trade",
        "size_metric",
        "fill",
        "jam_ratio",
        "spare",
        "pipe_bend_radius_m",
        "cable_bend_radius_m",
        "pull_tension_n",
        "pull_points",
    )


def _network_csv(found: Schedules) -> Sheet:
    head = (
        "device",
        "port",
        "what",
        "switch_port",
        "address_placeholder",
        "protocols",
        "sends_bps",
        "receives_bps",
        "multicast",
        "clock",
        "poe_class",
        "power_w",
        "access_control",
        "updates",
        "note",
    )
    rows = (
        (
            row.device,
            row.port,
            row.what,
            row.switch_port,
            row.address,
            " ".join(row.protocols),
            round(row.sends_bps),
            round(row.receives_bps),
            "yes" if row.multicast else "no",
            row.clock,
            "" if row.poe_class is None else row.poe_class,
            _cell(row.power_w, POWER_PLACES),
            row.access_control,
            row.updates,
            row.note,
        )
        for row in found.network.rows
    )
    return head, rows


_CSV: Mapping[Only, Callable[[Schedules], Sheet]] = {
    "cables": _cables_csv,
    "bill": _bill_csv,
    "rack": _rack_csv,
    "conduit": _conduit_csv,
    "network": _network_csv,
}


def _cell(value: float | None, places: int) -> object:
    return "" if value is None else round(value, places)
