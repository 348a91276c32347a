"""``wellheard schema``."""

from __future__ import annotations

from wellheard.cli.exits import Exit


def schema() -> int:
    """Print the JSON Schema of the room document, for editors."""
    from wellheard.cli.output import json_payload
    from wellheard.room.schema import json_schema

    json_payload(json_schema())
    return Exit.OK
