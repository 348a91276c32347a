"""``wellheard predict``."""

from __future__ import annotations

from pathlib import Path

from wellheard.cli.exits import Exit
from wellheard.cli.output import Format


def predict(room: Path, /, *, format: Format = "text") -> int:
    """Predict every seat of a room as it stands: the seat ledger, reverberation, noise.

    Parameters
    ----------
    room
        The room document.
    format
        text or json.
    """
    from wellheard.cli import output, render
    from wellheard.workflow import answers, design
    from wellheard.workflow.load import load

    judged = design.predict(load(room))
    if format == "json":
        output.json_payload(answers.prediction(judged.evidence, judged.findings))
    else:
        evidence = judged.evidence
        output.payload(
            f"{render.verdict(evidence)}\n\n{render.room(evidence)}\n\n{render.ledger(evidence)}"
        )
    return Exit.FINDINGS if judged.errors else Exit.OK
