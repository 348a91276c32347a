"""Schedules of a document as plain data."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, Literal, TypeAlias

from wellheard.schedules.bill import Bill, BillLine
from wellheard.schedules.cables import CableRow, CableSchedule
from wellheard.schedules.conduit import Pipe
from wellheard.schedules.network import CAUTIONS, DECISIONS, NetworkSheet
from wellheard.schedules.rack import Rack
from wellheard.schedules.whole import Schedules, schedules
from wellheard.workflow.load import Loaded

Only: TypeAlias = Literal["cables", "bill", "rack", "conduit", "network"]
TABLES: tuple[Only, ...] = ("cables", "bill", "rack", "conduit", "network")

PRICE_PLACES = 4
LENGTH_PLACES = 4
RATIO_PLACES = 3
POWER_PLACES = 2


def scheduled(loaded: Loaded) -> Schedules:
    """Every schedule of a document as it stands."""
    return schedules(loaded.room, loaded.catalogue)


def schedule_answer(found: Schedules) -> dict[str, Any]:
    """What ``schedule --format json`` prints under ``schedules``, SI throughout."""
    return {
        "cables": [_cable(row) for row in found.cables.rows],
        "order": _order(found.cables),
        "unlinked": list(found.cables.unlinked),
        "bill": _bill(found.bill),
        "rack": [_rack(rack) for rack in found.racks],
        "conduit": [pipe_answer(pipe) for pipe in found.conduit],
        "network": _network(found.network),
        "network_protocols": [
            {
                "id": one.id,
                "protocol": one.protocol,
                "transport": one.transport,
                "ports": one.ports or None,
                "addresses": one.addresses,
                "purpose": one.purpose,
                "standard": one.standard,
            }
            for one in found.network.protocols
        ],
        "network_decisions": list(DECISIONS) if found.network.rows else [],
        "network_cautions": list(CAUTIONS) if found.network.rows else [],
        "network_assumed": list(found.network.assumed),
    }


def only_answer(found: Schedules, only: Only) -> dict[str, Any]:
    """One schedule of them, under its names."""
    return {name: value for name, value in schedule_answer(found).items() if name in _NAMES[only]}


_NAMES: Mapping[Only, tuple[str, ...]] = {
    "cables": ("cables", "order", "unlinked"),
    "bill": ("bill",),
    "rack": ("rack",),
    "conduit": ("conduit",),
    "network": (
        "network",
        "network_protocols",
        "network_decisions",
        "network_cautions",
        "network_assumed",
    ),
}


def _cable(row: CableRow) -> dict[str, Any]:
    return {
        "id": row.id,
        "number": row.number,
        "from": row.from_,
        "to": row.to,
        "kind": row.kind,
        "cable": row.cable.id if row.cable else None,
        "jacket": row.jacket,
        "jacket_name": row.jacket_name or None,
        "jacket_because": row.because,
        "jacket_assumed": row.jacket_assumed,
        "length": _rounded(row.length, LENGTH_PLACES),
        "cut_length": _rounded(row.cut_length, LENGTH_PLACES),
        "awg": row.cable.awg if row.cable else None,
        "label_from": row.label_from,
        "label_to": row.label_to,
        "route": [[round(v, LENGTH_PLACES) for v in corner] for corner in row.run.route],
        "how": row.run.how,
        "assumed": list(row.run.assumed),
    }


def _order(found: CableSchedule) -> list[dict[str, Any]]:
    return [
        {
            "cable": one.cable.id,
            "jacket": one.jacket,
            "jacket_name": one.jacket_name or None,
            "runs": one.runs,
            "length": round(one.length, LENGTH_PLACES),
            "with_reserve": round(one.with_reserve, LENGTH_PLACES),
        }
        for one in found.sums
    ]


def _bill(found: Bill) -> dict[str, Any]:
    return {
        "lines": [_line(line) for line in found.lines],
        "total": found.total,
        "currency": found.currency,
        "lead_time_weeks": found.lead_time_weeks,
        "lead_time_of": list(found.lead_time_of),
        "cables_known": found.cables_known,
        "other_currencies": [_line(line) for line in found.others],
        "not_priced": [{"what": one.what, "why": one.why} for one in found.not_priced],
    }


def _line(line: BillLine) -> dict[str, Any]:
    return {
        "id": line.id,
        "what": line.what,
        "count": round(line.count, LENGTH_PLACES),
        "unit": line.unit,
        "unit_price": round(line.unit_price, PRICE_PLACES),
        "amount": line.amount,
        "currency": line.currency,
        "kind": line.kind,
        "lead_time_weeks": line.lead_time_weeks,
        "owned": line.owned,
        "colour": line.colour or None,
        "for": list(line.where),
        "note": line.note or None,
    }


def _rack(found: Rack) -> dict[str, Any]:
    return {
        "equipment": found.equipment,
        "units": [
            {
                "from_u": slot.from_u,
                "height_u": slot.height_u,
                "kind": slot.kind,
                "device": slot.device or None,
            }
            for slot in found.slots
        ],
        "weight_kg": round(found.weight_kg, POWER_PLACES),
        "power_w": round(found.power_w, POWER_PLACES),
        "heat_w": round(found.heat_w, POWER_PLACES),
        "heat_btu_h": round(found.heat_btu_h, POWER_PLACES),
        "used_u": found.used_u,
        "free_u": found.free_u,
        "notes": list(found.notes),
    }


def pipe_answer(found: Pipe) -> dict[str, Any]:
    """A pipe as it is listed under ``conduit``."""
    return {
        "place": found.place,
        "sort": found.sort,
        "way": found.way or None,
        "cables": [row.id for row in found.cables],
        "size": found.chosen.size if found.chosen else None,
        "size_trade": found.trade.size if found.trade else None,
        "size_metric": found.metric.size if found.metric else None,
        "fill": _rounded(found.fill, RATIO_PLACES),
        "jam_ratio": _rounded(found.jam_ratio, POWER_PLACES),
        "spare": found.spare,
        "pipe_bend_radius": _rounded(found.pipe_bend_radius, LENGTH_PLACES),
        "cable_bend_radius": round(found.cable_bend_radius, LENGTH_PLACES),
        "pull_tension_n": found.pull_tension,
        "pull_points": found.pull_points,
    }


def _network(found: NetworkSheet) -> list[dict[str, Any]]:
    return [
        {
            "device": row.device,
            "port": row.port or None,
            "what": row.what,
            "switch_port": row.switch_port or None,
            "address": row.address or None,
            "address_is_placeholder": bool(row.address),
            "protocols": list(row.protocols),
            "bandwidth_bps": round(row.bandwidth_bps),
            "sends_bps": round(row.sends_bps),
            "receives_bps": round(row.receives_bps),
            "multicast": row.multicast,
            "clock": row.clock or None,
            "poe_class": row.poe_class,
            "power_w": _rounded(row.power_w, POWER_PLACES),
            "access_control": row.access_control or None,
            "updates": row.updates or None,
            "note": row.note or None,
        }
        for row in found.rows
    ]


def _rounded(value: float | None, places: int) -> float | None:
    return None if value is None else round(value, places)
