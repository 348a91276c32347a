"""``wellheard predict``."""

from __future__ import annotations

from pathlib import Path

from wellheard.cli.exits import Exit
from wellheard.cli.output import Format


def predict(room: Path, /, *, format: Format = "text") -> int:
    """Predict every seat of a room as it stands: the seat ledger, reverberation, noise.

    A room that divides is predicted in every arrangement; the ledger has each
    seat as it is in its worst one.

    Parameters
    ----------
    room
        The room document.
    format
        text or json.
    """
    from wellheard.cli import output, render, render_back
    from wellheard.workflow import answers, design
    from wellheard.workflow.load import load

    judged = design.predict(load(room))
    if format == "json":
        output.json_payload(answers.judgement(judged))
    else:
        parts = [
            render.verdict(judged),
            render.rooms(judged),
            render.ledger(judged.evidence),
            render_back.way_back(judged.evidence),
        ]
        output.payload("\n\n".join(filter(None, parts)))
    return Exit.FINDINGS if judged.errors else Exit.OK
