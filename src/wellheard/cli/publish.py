"""``wellheard publish``."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

from cyclopts import Parameter

from wellheard.cli.exits import Exit


def publish(
    room: Path,
    /,
    *,
    output: Annotated[Path, Parameter(name=["--output", "-o"])],
) -> int:
    """Write the documents of a room as it stands; nothing is placed.

    Parameters
    ----------
    room
        The room document.
    output
        The folder: new, empty, or written by wellheard and unchanged since.
    """
    from wellheard.cli import output as out
    from wellheard.workflow import design as work
    from wellheard.workflow import publish as writing
    from wellheard.workflow.load import load

    loaded = load(room)
    writing.check_folder(output)
    judged = work.predict(loaded)
    out.payload("\n".join(map(str, writing.publish(loaded, judged, output, say=out.talk))))
    return Exit.FINDINGS if judged.errors else Exit.OK
