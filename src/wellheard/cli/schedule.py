"""``wellheard schedule``."""

from __future__ import annotations

from pathlib import Path
from typing import Literal

from wellheard.cli.exits import Exit

Only = Literal["cables", "bill", "rack", "conduit", "network"]


def schedule(
    room: Path,
    /,
    *,
    only: Only | None = None,
    format: Literal["text", "json", "csv"] = "text",
) -> int:
    """List the cables, the bill, racks, conduit and network of a room as it stands.

    Of the links that the document has; wellheard design and wellheard wire
    write them. Prices are of the catalogue, whose products are invented.

    Parameters
    ----------
    room
        The room document.
    only
        One of them: cables, bill, rack, conduit or network.
    format
        text, json, or csv (of one of them, in metres).
    """
    from wellheard.cli import output, render_schedule
    from wellheard.errors import InputError
    from wellheard.workflow import schedule_tables, scheduling
    from wellheard.workflow.load import load

    if format == "csv" and only is None:
        raise InputError(
            "--format csv holds one table: name it with --only cables, bill, rack, conduit or "
            "network"
        )
    found = scheduling.scheduled(load(room))
    if format == "csv" and only is not None:
        output.payload(schedule_tables.schedule_csv(found, only))
    elif format == "json":
        answer = scheduling.only_answer(found, only) if only else scheduling.schedule_answer(found)
        output.json_payload({"title": found.room.title, "schedules": answer})
    else:
        output.payload(render_schedule.text(found, only))
    return Exit.OK
