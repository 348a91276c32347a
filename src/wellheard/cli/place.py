"""``wellheard place``."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

from cyclopts import Parameter

from wellheard.cli import saving
from wellheard.cli.exits import Exit
from wellheard.cli.output import Format


def place(
    room: Path,
    /,
    *,
    output: Annotated[Path | None, Parameter(name=["--output", "-o"])] = None,
    in_place: Annotated[bool, Parameter(negative="")] = False,
    format: Format = "text",
    time_limit: float = 60.0,
) -> int:
    """Place the fewest or cheapest microphones and loudspeakers that keep the promise, proven.

    Loudspeakers and their amplifiers are placed where what is heard in the room
    is promised and choices.allow is empty or names any. Without --output the
    document goes to stdout, the summary to stderr. A promise that cannot be met
    still gives the best document there is, and exit 1.

    Parameters
    ----------
    room
        The room document.
    output
        Write the document with its devices here.
    in_place
        Write it back to the room document itself.
    format
        json prints devices and proof to stdout instead of the document.
    time_limit
        Seconds for the search; when they are over, the answer says by how far it may be off.
    """
    from wellheard.cli import output as out
    from wellheard.cli import render
    from wellheard.workflow import answers, design
    from wellheard.workflow.load import load

    target = saving.target(room, output, in_place=in_place)
    saving.some_seconds(time_limit)
    loaded = load(room)
    placed = design.place(loaded, time_limit=time_limit, say=out.talk)
    saving.save(loaded, placed.text, target)
    if format == "json":
        out.json_payload(answers.placement(placed.proposal))
    else:
        if target is None:
            out.payload(placed.text)
        said = render.placement(
            placed.proposal, placed.room, certificate_in="printed with --format json"
        )
        out.say(said)
    return Exit.FINDINGS if placed.proposal.proof.status == "infeasible" else Exit.OK
