"""``wellheard survey``."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, Literal

from cyclopts import Parameter

from wellheard.cli import saving
from wellheard.cli.exits import Exit
from wellheard.cli.output import Format

FORMS = ("pdf", "xlsx")


def survey(
    room: Path | None = None,
    /,
    *,
    output: Annotated[Path | None, Parameter(name=["--output", "-o"])] = None,
    format: Format = "text",
    force: Annotated[bool, Parameter(negative="")] = False,
    time_limit: float = 60.0,
    units: Literal["m", "ft"] | None = None,
) -> int:
    """Write a survey sheet with the open questions, those first that move the worst seat most.

    Without ROOM the sheet is blank. Without --output the questions are
    printed. Where ROOM has no microphone, some are placed in memory to try
    with; the document is not changed.

    Parameters
    ----------
    room
        The room document as far as it goes.
    output
        Where to write the sheet; its name ends in .pdf or .xlsx.
    format
        json prints open questions and known values to stdout.
    force
        Replace a file that exists.
    time_limit
        Seconds for placing microphones to try with.
    units
        Of a blank sheet, m unless given; a ROOM states its own.
    """
    from wellheard import files
    from wellheard.cli import output as out
    from wellheard.cli import survey_text
    from wellheard.errors import InputError, UsageError
    from wellheard.workflow import survey as work
    from wellheard.workflow.load import load

    form = "" if output is None else output.suffix.lower().removeprefix(".")
    if output is not None:
        if form not in FORMS:
            raise UsageError(f"--output: {output.name!r}; a name that ends in .pdf or .xlsx")
        if output.exists() and not force:
            raise InputError(f"{output}: exists already; name another file, or add --force")
    saving.some_seconds(time_limit)
    if units is not None and room is not None:
        raise UsageError(
            f"--units: {units}; only for a blank sheet, {room.name} states its own units: change "
            "units there, or leave the option out"
        )
    loaded = None if room is None else load(room)
    found = work.survey(loaded, unit=units or "m", time_limit=time_limit, say=out.talk)
    if output is not None:
        files.save(output, work.written(found, form), replace=force)
        out.say(f"{output}: written")
    if format == "json":
        out.json_payload(work.as_json(found))
    elif output is None:
        out.payload(survey_text.questions(found))
    return Exit.OK
