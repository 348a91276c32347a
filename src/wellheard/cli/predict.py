"""``wellheard predict``."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

from cyclopts import Parameter

from wellheard.cli import saving
from wellheard.cli.exits import Exit
from wellheard.cli.output import Format


def predict(
    room: Path,
    /,
    *,
    format: Format = "text",
    changes: Annotated[bool, Parameter(negative="")] = False,
    time_limit: float = 10.0,
) -> int:
    """Predict every seat of a room as it stands: the seat ledger, reverberation, noise.

    A room that divides is predicted in every arrangement; the ledger has each
    seat as it is in its worst one.

    Parameters
    ----------
    room
        The room document.
    format
        text or json, which has the findings too.
    changes
        Compute a change for each error and warning of the JSON, as check --changes does.
    time_limit
        Seconds for each search that a change makes.
    """
    from wellheard.cli import output, render, render_back
    from wellheard.errors import UsageError
    from wellheard.workflow import answers, design, remedying
    from wellheard.workflow.load import load

    if changes and format != "json":
        raise UsageError("--changes: only with --format json; check --changes has them as text")
    saving.some_seconds(time_limit)
    loaded = load(room)
    judged = design.predict(loaded)
    if format == "json":
        offers = (
            remedying.offers(
                loaded.room, loaded.catalogue, judged, time_limit=time_limit, say=output.talk
            )
            if changes
            else ()
        )
        output.json_payload(answers.judgement(judged, offers))
    else:
        parts = [
            render.verdict(judged),
            render.rooms(judged),
            render.ledger(judged.evidence),
            render_back.way_back(judged.evidence),
        ]
        output.payload("\n\n".join(filter(None, parts)))
    return Exit.FINDINGS if judged.errors else Exit.OK
