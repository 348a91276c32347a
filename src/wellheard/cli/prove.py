"""``wellheard prove``."""

from __future__ import annotations

from pathlib import Path

from wellheard.cli.exits import Exit
from wellheard.cli.output import Format


def prove(room: Path, session: Path, /, *, format: Format = "text") -> int:
    """Hold a room against recordings made in it: kept, broken, or cannot tell.

    The room is predicted again as it was measured, with the source, the people
    and the air of the session; what was measured is brought to the promised
    conditions by the difference of the two predictions. What is not decided is
    said with what would decide it. Exit 1 where a promise is broken.

    Parameters
    ----------
    room
        The room document that makes the promise.
    session
        Folder of the session, or the session.yaml in it.
    format
        text or json.
    """
    from wellheard.cli import output, render_verdict
    from wellheard.workflow import proving
    from wellheard.workflow.load import load

    loaded = load(room)
    found = proving.prove(loaded, session, say=output.talk)
    if format == "json":
        output.json_payload(proving.as_json(found))
    else:
        output.payload(render_verdict.text(found, title=loaded.room.title))
    return Exit.FINDINGS if found.word == "broken" else Exit.OK
