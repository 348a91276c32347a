"""Maps of the room: what a talker anywhere in it would get, expected and at the low end."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from wellheard.dossier.figures import picture
from wellheard.dossier.model import Paragraph, Run, Section
from wellheard.room.divide import spoken

LEAD = (
    "What a talker anywhere in the room would get, over the whole plan and not only where seats "
    "are. Each quantity stands twice with the same lines: what is expected, and what nine of ten "
    "such rooms reach. Where the two differ much, the room is not known well enough yet."
)


HEARD = (
    " The same of the far end in the room: what an ear anywhere would hear, loudspeakers as set."
)


def maps_sections(maps: Sequence[tuple[str, str]], *, playing: bool = False) -> Iterator[Section]:
    """Return a section for every arrangement that has maps, one quantity to a page.

    Parameters
    ----------
    maps : sequence of (str, str)
        Key of the arrangement, '' for a room that has none, and the drawing as SVG.
    playing : bool
        Whether some are of what is heard of the far end.

    Raises
    ------
    ValueError
        A drawing is no SVG with a width and a height.
    """
    for key in dict.fromkeys(key for key, _ in maps):
        yield Section(
            title=f"Maps: {spoken(key)}" if key else "Maps",
            reader="engineer",
            blocks=(
                Paragraph((Run(LEAD + HEARD if playing else LEAD),), "lead"),
                *(picture(svg) for mine, svg in maps if mine == key),
            ),
        )
