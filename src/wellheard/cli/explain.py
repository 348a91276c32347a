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
    path: Literal["outbound"] = "outbound",
    arrangement: str = "",
    format: Format = "text",
) -> int:
    """Open one voice path stage by stage: each number with formula, inputs and source.

    Parameters
    ----------
    room
        The room document, with microphones placed.
    seat
        A seat's id, or a point of a standing area such as presenter.1.
    path
        Which voice path; outbound is the one that this version predicts.
    arrangement
        Of a room that divides: the arrangement, or one of its spaces such as split.a; by
        default the one in which the seat is worst.
    format
        text or json.
    """
    from wellheard.cli import output, render
    from wellheard.workflow import answers, design
    from wellheard.workflow.load import load

    found = design.explain(load(room), seat, arrangement=arrangement)
    if format == "json":
        output.json_payload(
            answers.explanation(
                found.evidence, found.row, found.stages, arrangement=found.arrangement
            )
        )
    else:
        output.payload(render.path(found.row, found.stages, part=found.arrangement))
    return Exit.OK
