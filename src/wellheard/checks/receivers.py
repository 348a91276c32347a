"""How many receivers of an assistive listening system a law asks for."""

from __future__ import annotations

import functools
import math
import re
from dataclasses import dataclass

from wellheard import tables
from wellheard.catalog.regions import region_of
from wellheard.room.document import Room


@dataclass(frozen=True)
class Asked:
    """Receivers, hearing-aid compatible ones among them, and who asks."""

    receivers: int
    compatible: int
    source: str


def asked(room: Room) -> Asked | None:
    """What is asked for the seats of a room; None where nothing is known of its region.

    The document's own table goes before that of its region. Beyond its last row nothing is
    known.
    """
    seats, own = len(room.people.seats), room.targets.assistive_receivers
    if own is not None:
        for most, receivers, compatible in own:
            if seats <= most:
                return Asked(receivers, compatible, "targets.assistive_receivers")
        return None
    return asked_in(_region(room.site.region), seats)


def asked_in(region: str, seats: int) -> Asked | None:
    """What the table asks in a region for so many seats; None where it does not have them.

    Examples
    --------
    >>> asked_in("US", 50).receivers, asked_in("US", 51).receivers, asked_in("US", 200).receivers
    (2, 3, 8)
    """
    for row in _table().rows:
        if row["region"] == region and seats <= int(row["seats_to"]):
            receivers = int(row["receivers"])
            if row["one_more_per_seats"]:
                beyond = max(seats - int(row["above_seats"]), 0)
                receivers += math.ceil(beyond / int(row["one_more_per_seats"]))
            compatible = int(row["compatible"])
            if row["compatible_one_per_receivers"]:
                share = int(row["compatible_one_per_receivers"])
                compatible = max(compatible, math.ceil(receivers / share))
            return Asked(receivers, compatible, str(_table().provenance["source"]))
    return None


@functools.cache
def _table() -> tables.Table:
    return tables.load("assistive_receivers")


def _region(text: str) -> str:
    """Region of the table, or the first word of what the document says."""
    known = region_of(text)
    if known is not None and known.id.upper() in _table().strings("region"):
        return known.id.upper()
    return re.split(r"[-_\s,/(]", text.strip())[0].upper()
