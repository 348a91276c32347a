"""``wellheard explain``."""

from __future__ import annotations

from pathlib import Path
from typing import Literal

from wellheard.cli.exits import Exit
from wellheard.cli.output import Format


def explain(
    room: Path,
    seat: str,
    /,
    *,
    path: Literal["outbound", "inbound", "echo", "lift"] = "outbound",
    arrangement: str = "",
    format: Format = "text",
) -> int:
    """Open one voice path stage by stage: each number with formula, inputs and source.

    Parameters
    ----------
    room
        The room document, with microphones placed, and loudspeakers for all but outbound.
    seat
        A seat's id, or a point of a standing area such as presenter.1; of an echo also a
        microphone's.
    path
        outbound from the seat to the far end, inbound from there to the seat, echo from the far
        end through the seat's microphone and back, or lift from somebody else in the room.
    arrangement
        Of a room that divides: the arrangement, or one of its spaces such as split.a; by
        default the one in which the seat is worst.
    format
        text or json.
    """
    from wellheard.cli import output, render_path
    from wellheard.workflow import answers
    from wellheard.workflow.explaining import explain as opened
    from wellheard.workflow.load import load

    found = opened(load(room), seat, path=path, arrangement=arrangement)
    if format == "json":
        output.json_payload(answers.explanation(found))
    else:
        output.payload(render_path.path(found))
    return Exit.OK
