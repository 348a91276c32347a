"""The wiring of a document as a page shows it: diagram, cables on the plan, schedule, bill."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from functools import cached_property
from typing import Any

from wellheard.dossier.sections.bill import bill_section
from wellheard.dossier.sections.cables import cables_section
from wellheard.drawings.backends import svg
from wellheard.drawings.canvas import Canvas
from wellheard.drawings.diagram.layout import layout
from wellheard.drawings.diagram.model import Layout, PlacedBox
from wellheard.drawings.diagram.picture import MARGIN, draw
from wellheard.drawings.diagram.room import device_of, system_of
from wellheard.drawings.tokens import ThemeName
from wellheard.room.document import Room
from wellheard.schedules.cables import CableRow
from wellheard.schedules.runs import Runs
from wellheard.schedules.whole import Schedules, schedules
from wellheard.signal.ports import split
from wellheard.units import Unit, money
from wellheard.workflow.cable_ways import CableWays
from wellheard.workflow.load import Loaded
from wellheard.workflow.passages import Passage, passages_of, up_to_heading

NO_DEVICE = "No device is placed in this room, so there is nothing to wire."
NO_CABLE = (
    "This document names no cable: the diagram shows what is assumed, and the bill has none. "
    "Wire works all of them out, at least cost."
)
PLACES = 4
"""Decimals of a place on the plan. [m]"""


class WiringSheet:
    """The wiring of one state of a document, each part worked out when it is first asked for.

    Parameters
    ----------
    loaded : Loaded
        The document with its catalogue.
    """

    def __init__(self, loaded: Loaded) -> None:
        self.loaded = loaded
        self._layouts: dict[Unit, Layout] = {}

    @cached_property
    def _runs(self) -> Runs:
        return Runs(self.loaded.room, self.loaded.catalogue)

    @cached_property
    def _schedules(self) -> Schedules:
        return schedules(self.loaded.room, self.loaded.catalogue, self._runs)

    def answer(self, *, unit: Unit) -> dict[str, Any]:
        """Everything but the picture, as JSON has it.

        Parameters
        ----------
        unit : {"m", "ft"}
            Of lengths in words.

        Raises
        ------
        CatalogError
            The document names something that is not in the catalogue.
        """
        found = self._read_in(unit)
        laid = self._layout(unit)
        rows = found.cables.rows
        cables, *said = passages_of(
            up_to_heading(cables_section(found, self.loaded.catalogue).blocks, "Labels")
        )
        table = next((one for one in said if one.kind == "table"), None) if rows else None
        bill = bill_section(found)
        return {
            "sentence": _sentence(found, cables),
            "diagram": {
                "width": laid.width + 2 * MARGIN,
                "height": laid.height + 2 * MARGIN,
                "boxes": [_box(one, found.room) for one in laid.boxes],
            },
            "routes": list(routes(found.room, rows)),
            "cables": None if table is None else table.plain,
            "paths": [[f"links.{row.id}", *_ends(found.room, row)] for row in rows],
            "said": [one.plain for one in said if one is not table] if rows else [],
            "bill": [one.plain for one in passages_of(bill.blocks)] if found.room.devices else [],
            "total": _total(found),
        }

    def picture(self, *, unit: Unit, theme: ThemeName) -> str:
        """The diagram as SVG, as large as `answer` says; `MARGIN` stands round it."""
        laid = self._layout(unit)
        canvas = Canvas()
        draw(canvas, laid.moved(right=MARGIN, down=MARGIN))
        return svg.render(
            canvas,
            laid.width + 2 * MARGIN,
            laid.height + 2 * MARGIN,
            title=f"Wiring: {self.loaded.room.title or 'Untitled room'}",
            theme=theme,
            background=False,
        )

    def _read_in(self, unit: Unit) -> Schedules:
        """The same schedules, read in a unit: cable is cut as the document's unit has it."""
        found = self._schedules
        return replace(found, room=found.room.model_copy(update={"units": unit}))

    def _layout(self, unit: Unit) -> Layout:
        if unit not in self._layouts:
            room = self.loaded.room.model_copy(update={"units": unit})
            system = system_of(room, self.loaded.catalogue, runs=self._runs)
            laid = layout(system)
            assert laid is not None  # nothing bounds it
            self._layouts[unit] = laid
        return self._layouts[unit]


def _sentence(found: Schedules, lead: Passage) -> str:
    if not found.room.devices:
        return NO_DEVICE
    return lead.rows[0][0] if found.cables.rows else NO_CABLE


def _total(found: Schedules) -> str:
    bill = found.bill
    if bill.total is None or not found.room.devices:
        return ""
    words = money(bill.total, bill.currency)
    return words if bill.cables_known else f"{words}, cables in part or not at all"


def _box(placed: PlacedBox, room: Room) -> dict[str, Any]:
    return {
        "path": _path(room, device_of(placed.box.id)),
        "words": ", ".join(placed.box.lines),
        "x": placed.x + MARGIN,
        "y": placed.y + MARGIN,
        "width": placed.width,
        "height": placed.height,
    }


def _path(room: Room, name: str) -> str | None:
    """Item path of a box; None where the document does not have it."""
    for collection in ("devices", "equipment", "furniture"):
        if name in getattr(room, collection):
            return f"{collection}.{name}"
    return None


def _ends(room: Room, row: CableRow) -> list[str]:
    ends = (_path(room, split(port)[0]) for port in (row.from_, row.to))
    return [end for end in ends if end is not None]


def routes(room: Room, rows: Sequence[CableRow]) -> Iterator[dict[str, Any]]:
    """Cables whose way is known, as lines on the plan."""
    ways = CableWays(room)
    for row in rows:
        if row.run.route:
            yield {
                "path": f"links.{row.id}",
                "ends": _ends(room, row),
                "points": [list(point) for point in flat(ways.of(row) or row.run.route)],
            }


def flat(route: Sequence[Sequence[float]]) -> list[tuple[float, float]]:
    """A way seen from above: what only goes up or down is one point."""
    found: list[tuple[float, float]] = []
    for x, y, *_ in route:
        point = (round(x, PLACES), round(y, PLACES))
        if not found or found[-1] != point:
            found.append(point)
    return found
