"""``wellheard check``."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

from cyclopts import Parameter

from wellheard.cli.exits import Exit
from wellheard.cli.output import Format


def check(
    room: Path,
    /,
    *,
    format: Format = "text",
    strict: Annotated[bool, Parameter(negative="")] = False,
) -> int:
    """List what is wrong with a room as it stands.

    In a room that divides, a finding that does not hold in every arrangement names
    those it does.

    Parameters
    ----------
    room
        The room document.
    format
        text or json.
    strict
        Fail on warnings as well as on errors.
    """
    from wellheard.cli import output, render
    from wellheard.workflow import answers, design
    from wellheard.workflow.load import load

    judged = design.predict(load(room))
    found = judged.findings
    if format == "json":
        output.json_payload(answers.checked(judged))
    else:
        output.payload(render.findings(found))
    grave = ("error", "warning") if strict else ("error",)
    return Exit.FINDINGS if any(f.severity in grave for f in found) else Exit.OK
