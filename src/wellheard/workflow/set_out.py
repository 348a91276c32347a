"""What the rounding of a printed place would break, of devices that the program did not place.

A device that is locked, or was placed by hand, stays where the document has it. A tape shows the
nearest millimetre, or eighth of an inch: where a rule would not hold there, the installer is told.
"""

from __future__ import annotations

from collections.abc import Sequence

from wellheard.catalog.catalogue import Catalogue
from wellheard.checks.model import Finding
from wellheard.dossier.positions import Position
from wellheard.drawings.dimensions import GRAIN, grains
from wellheard.geometry.setting_out import EXACT, ties_of
from wellheard.predict.evidence import Point
from wellheard.room.document import Room
from wellheard.room.edit import with_devices
from wellheard.units import SET_OUT_STEP
from wellheard.workflow.judging import judge


def set_out_doubts(
    room: Room, catalogue: Catalogue, rows: Sequence[Position], findings: Sequence[Finding]
) -> tuple[str, ...]:
    """Return what the room would break with its devices where the printed figures put them.

    Parameters
    ----------
    room : Room
        The document's.
    catalogue : Catalogue
        That has every product of the document.
    rows : sequence of Position
        As they are printed.
    findings : sequence of Finding
        Of the room as it is.

    Returns
    -------
    tuple of str
        A sentence for each error or warning that the room itself has not; empty, and nothing is
        predicted, where every printed figure is the document's own.
    """
    moved = {
        row.device: room.devices[row.device].model_copy(update={"at": at})
        for row in rows
        if row.set_out_by == "walls" and (at := printed_place(room, row)) is not None
    }
    if not moved:
        return ()
    known = {(one.code, one.at) for one in findings}
    judged = judge(with_devices(room, moved), catalogue, assumptions=False)
    return tuple(
        f"At the figures as printed this would not hold: {one.message} Measure to the "
        "document's own figures there, or unlock it and let it be placed."
        for one in judged.findings
        if one.status == "fail" and one.severity != "note" and (one.code, one.at) not in known
    )


def printed_place(room: Room, row: Position) -> Point | None:
    """Return where the printed figures put a device; None where that is its own place."""
    at = room.devices[row.device].at
    if at is None:
        return None
    unit = room.units
    ties = ties_of(room.space.outline, at[:2], SET_OUT_STEP[unit])
    first, second = (GRAIN[unit] * grains(away, unit) for away in ties.distances(at[:2]))
    height = at[2]
    if row.mounting not in ("table", "lectern"):
        height = (
            GRAIN[unit] * grains(at[2], unit)
            if row.drop is None
            else room.space.height - GRAIN[unit] * grains(room.space.height - at[2], unit)
        )
    printed = (*ties.place(first, second), height)
    if all(abs(a - b) < EXACT for a, b in zip(printed, at, strict=True)):
        return None
    return printed
