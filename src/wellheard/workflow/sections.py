"""The section of a room as a picture that stands alone, with a map where microphones hear it."""

from __future__ import annotations

import contextlib
from dataclasses import replace

from wellheard.drawings import section, view
from wellheard.drawings.backends.svg import render
from wellheard.drawings.canvas import Canvas
from wellheard.drawings.sheet import extent
from wellheard.drawings.tokens import ThemeName
from wellheard.errors import InputError
from wellheard.predict import ledger
from wellheard.units import Unit
from wellheard.workflow.load import Loaded, document_hash
from wellheard.workflow.map_pictures import MARGIN, picture
from wellheard.workflow.maps import Asked, room_map
from wellheard.workflow.sheets import plan_view

PAPER = (250.0, 150.0)
"""Largest size of a section without a map. [mm]"""


def section_picture(
    loaded: Loaded,
    *,
    quantity: str = "sti",
    worst: bool = False,
    theme: ThemeName = "white",
    unit: Unit = "m",
) -> str:
    """SVG of the section through most microphones, looking north.

    Parameters
    ----------
    loaded : Loaded
        The room, with or without microphones.
    quantity : str
        Mapped in the plane of the section where a microphone is placed; a key of
        `wellheard.workflow.maps.QUANTITIES`.
    worst : bool
        Map the low end in place of the middle value.
    theme, unit
        Colours, and the unit of lengths.
    """
    read = replace(
        loaded,
        document=replace(loaded.document, room=loaded.room.model_copy(update={"units": unit})),
    )
    shown = _view(read)
    if any(device.microphone for device in shown.devices):
        x0, _, x1, _ = extent(shown.outline)
        y = section.cut_of(shown).y
        asked = Asked(quantity=quantity, section=((x0, y), (x1, y)), worst=worst)
        # Where nothing is heard in the plane, the section is drawn without a map.
        with contextlib.suppress(InputError):
            return picture(room_map(read, asked), theme=theme)
    canvas = Canvas()
    width, height = PAPER
    scale = section.section_scale(shown, width=width, height=height)
    tall = section.draw(canvas, shown, x=MARGIN, y=MARGIN, width=width, scale=scale)
    return render(
        canvas, width=width + 2 * MARGIN, height=tall + 2 * MARGIN, theme=theme, title="Section"
    )


def _view(loaded: Loaded) -> view.PlanView:
    evidence = ledger.predict(loaded.room, loaded.catalogue, assumptions=False)
    return plan_view(
        evidence,
        (),
        quantity="sti_outbound",
        sheet="",
        of="",
        document_hash=document_hash(loaded.document.text),
        state="",
    )
