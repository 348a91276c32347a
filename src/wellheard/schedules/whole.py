"""All schedules of one document, made together: they share its cable runs."""

from __future__ import annotations

from dataclasses import dataclass

from wellheard.catalog.catalogue import Catalogue
from wellheard.room.document import Room
from wellheard.schedules.bill import Bill, bill
from wellheard.schedules.cables import CableSchedule, cable_schedule
from wellheard.schedules.conduit import Pipe, conduits_of
from wellheard.schedules.network import NetworkSheet, network_sheet
from wellheard.schedules.rack import Rack, racks
from wellheard.schedules.runs import Runs


@dataclass(frozen=True)
class Schedules:
    """What a document comes to in cables, parts, racks, conduits and network ports."""

    room: Room
    cables: CableSchedule
    bill: Bill
    racks: tuple[Rack, ...]
    conduit: tuple[Pipe, ...]
    network: NetworkSheet


def schedules(room: Room, catalogue: Catalogue, runs: Runs | None = None) -> Schedules:
    """Return every schedule of a document.

    Parameters
    ----------
    room : Room
        With devices, equipment and links.
    catalogue : Catalogue
        That has every product and cable of the document.
    runs : Runs, optional
        Ways of cables through this very room, where they are made already.

    Raises
    ------
    CatalogError
        The document names something that is not in the catalogue.
    """
    cables = cable_schedule(room, catalogue, runs)
    return Schedules(
        room=room,
        cables=cables,
        bill=bill(room, catalogue, cables),
        racks=racks(room, catalogue),
        conduit=conduits_of(room, cables),
        network=network_sheet(room, catalogue),
    )
