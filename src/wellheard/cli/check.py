"""``wellheard check``."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

from cyclopts import Parameter

from wellheard.cli import saving
from wellheard.cli.exits import Exit
from wellheard.cli.output import Format

if TYPE_CHECKING:
    from wellheard.workflow.design import Judged
    from wellheard.workflow.load import Loaded


def check(
    room: Path,
    /,
    *,
    format: Format = "text",
    strict: Annotated[bool, Parameter(negative="")] = False,
    changes: Annotated[bool, Parameter(negative="")] = False,
    apply: Annotated[tuple[str, ...], Parameter(negative="")] = (),
    output: Annotated[Path | None, Parameter(name=["--output", "-o"])] = None,
    in_place: Annotated[bool, Parameter(negative="")] = False,
    time_limit: float = 10.0,
) -> int:
    """List what is wrong with a room as it stands.

    In a room that divides, a finding that does not hold in every arrangement names
    those it does.

    With --changes every error and warning is given the change that mends it best, if
    there is one: each is predicted and checked before it is offered, which takes
    seconds. --apply makes such changes; without --output the document then goes to
    stdout and what was done to stderr.

    Parameters
    ----------
    room
        The room document.
    format
        text or json.
    strict
        Fail on warnings as well as on errors.
    changes
        Compute a change for each error and warning.
    apply
        Findings to mend, as CODE@PLACE; CODE@PLACE#2 takes the second of its changes. Where
        several findings are of one code and place, CODE@PLACE:2 is the second of them.
    output
        Write the document with its changes here.
    in_place
        Write it back to the room document itself.
    time_limit
        Seconds for each search that a change makes.
    """
    from wellheard.cli import output as out
    from wellheard.cli import render
    from wellheard.errors import UsageError
    from wellheard.workflow import answers, design, remedying
    from wellheard.workflow.load import load

    target = saving.target(room, output, in_place=in_place)
    if target is not None and not apply:
        raise UsageError("--output and --in-place: only with --apply, which says what to change")
    if apply and changes:
        raise UsageError("--apply and --changes: give one of them")
    saving.some_seconds(time_limit)
    loaded = load(room)
    if apply:
        judged = _applied(loaded, apply, target, format, time_limit)
        return _exit(judged, strict=strict)
    judged = design.predict(loaded)
    found = (
        remedying.search(loaded.room, loaded.catalogue, judged, time_limit=time_limit, say=out.talk)
        if changes
        else None
    )
    offers = () if found is None else found.offers
    if format == "json":
        out.json_payload(answers.checked(judged, offers))
    else:
        out.payload(render.findings(judged.findings, offers, room=str(room)))
        if found is not None:
            out.payload(render.searched(found))
    return _exit(judged, strict=strict)


def _applied(
    loaded: Loaded, names: tuple[str, ...], target: Path | None, format: Format, time_limit: float
) -> Judged:
    from wellheard.cli import output as out
    from wellheard.cli import render
    from wellheard.workflow import answers, applying

    mended = applying.mend(loaded, names, time_limit=time_limit, say=out.talk)
    saving.save(loaded, mended.text, target)
    if format == "json":
        out.json_payload(answers.checked(mended.judged, applied=applying.applied(mended)))
    elif target is None:
        out.payload(mended.text)
    for one in mended.taken:
        out.say(render.wrapped(f"{one.name}: {render.change(one)}"))
    for name in mended.gone:
        out.say(render.wrapped(f"{name}: gone with the changes before it."))
    return mended.judged


def _exit(judged: Judged, *, strict: bool) -> int:
    grave = ("error", "warning") if strict else ("error",)
    return Exit.FINDINGS if any(f.severity in grave for f in judged.findings) else Exit.OK
