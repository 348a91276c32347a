"""The wiring of a room as sheets of its dossier, and as files."""

from __future__ import annotations

from dataclasses import replace

from wellheard.drawings.diagram.room import system_of
from wellheard.drawings.diagram.sheets import DiagramSheet, draw_sheets
from wellheard.drawings.view import PlanView
from wellheard.predict.evidence import Evidence
from wellheard.schedules.runs import Runs

CAUTIONS = (
    "Power off and locked out before a cover is opened; never lift a safety earth.",
    "Cable jackets to suit the void; every hole in a rated wall is sealed again.",
    "Label both ends of every cable as it is named here.",
    "Dashed is assumed: not in the document. Local codes and licensed practice decide.",
)


def wiring_drawings(evidence: Evidence, plan: PlanView) -> tuple[DiagramSheet, ...]:
    """Wiring diagrams, recorded; none where the document connects nothing.

    Parameters
    ----------
    evidence : Evidence
        Of the whole room.
    plan : PlanView
        Of its plan sheet: the title block and revisions of the diagram are the same.
    """
    room = evidence.room
    if not room.links:
        return ()
    system = system_of(
        room, evidence.catalogue, links=evidence.signal, runs=Runs(room, evidence.catalogue)
    )
    block = replace(plan.title_block, heading="Wiring diagram", sheet="W-01", of="1")
    return draw_sheets(system, replace(plan, title_block=block, cautions=CAUTIONS))
