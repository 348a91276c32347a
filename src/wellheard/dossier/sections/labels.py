"""Labels of cables to print and cut out: both ends of every cable, in a grid."""

from __future__ import annotations

from wellheard.dossier.figures import picture
from wellheard.dossier.model import Block, Paragraph, Run, Section
from wellheard.dossier.words import fixed_spaces
from wellheard.drawings.labelsheet import label_drawings
from wellheard.room.document import Room
from wellheard.schedules.cables import CableSchedule
from wellheard.units import format_length

TITLE = "Cable labels"
FROM_PLUG = {"m": 0.05, "ft": 0.0508}
"""How far from the plug a label goes (common practice, no source). [m]"""


def labels_sections(room: Room, schedule: CableSchedule) -> tuple[Section, ...]:
    """Return the sheet of labels; none where there is no cable."""
    if not schedule.rows:
        return ()
    away = format_length(FROM_PLUG[room.units], unit=room.units)
    lead = (
        "One label for each end, its own end named first, both ends of a cable side by side. Put "
        f"them on {away} from the plug and before the cable is pulled. Print them full size; for a "
        "label printer the same stands in the file labels.csv."
    )
    drawings = label_drawings(
        [(row.label_from, row.label_to) for row in schedule.rows], embed_fonts=False
    )
    blocks: tuple[Block, ...] = (
        Paragraph((Run(fixed_spaces(lead)),), "note"),
        *map(picture, drawings),
    )
    return (Section(TITLE, "installer", blocks, new_page=False),)
