"""``wellheard session``."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

from cyclopts import App, Parameter

from wellheard.cli.exits import Exit
from wellheard.cli.output import Format

if TYPE_CHECKING:
    from wellheard.measurement.session import SessionFolder
    from wellheard.workflow.sessions import Listed

session = App(
    name="session",
    help="Sessions of measurement beside a room: listed, named in its document, deleted.",
)


@session.command(name="list")
def list_(room: Path, /, *, format: Format = "text") -> int:
    """List the sessions of a room.

    Parameters
    ----------
    room
        The room document.
    format
        text or json.
    """
    from wellheard.cli import output as out
    from wellheard.cli.render import table
    from wellheard.workflow import sessions as work
    from wellheard.workflow.load import load

    found = work.sessions(load(room))
    if format == "json":
        out.json_payload({"sessions": [_answer(one) for one in found]})
    elif not found:
        out.payload(f"No session yet. They lie in {work.sessions_folder(room)}.")
    else:
        out.payload(table(["session", "date", "recordings", "in the document"], _rows(found)))
    return Exit.OK


@session.command
def attach(room: Path, folder: Path, /) -> int:
    """Name a session in the room's document; its recordings stay where they are.

    Parameters
    ----------
    room
        The room document, which is written.
    folder
        Folder of the session, beside the document or below.
    """
    from wellheard.cli import output as out
    from wellheard.cli import saving
    from wellheard.measurement.session import load_session
    from wellheard.workflow import sessions as work
    from wellheard.workflow.load import load

    loaded = load(room)
    taken = load_session(folder)
    saving.save(loaded, work.attached(loaded, taken), room)
    out.say(f"{room}: names {folder}")
    if note := work.of_another(loaded, taken.session):
        out.say(note)
    return Exit.OK


@session.command
def delete(
    room: Path,
    name: str,
    /,
    *,
    yes: Annotated[bool, Parameter(negative="")] = False,
) -> int:
    """Delete a session with all its recordings, and take its name out of the document.

    Nothing of it is kept. Without --yes it only says what would go.

    Parameters
    ----------
    room
        The room document.
    name
        Of the session, as list has it.
    yes
        Really delete.
    """
    from wellheard.cli import output as out
    from wellheard.cli import saving
    from wellheard.dossier.words import counted
    from wellheard.errors import InputError
    from wellheard.workflow import sessions as work
    from wellheard.workflow.load import load

    loaded = load(room)
    known = {one.name: one for one in work.sessions(loaded)}
    if name not in known:
        there = ", ".join(known) or "there is none"
        raise InputError(f"{room}: no session {name!r}; sessions: {there}")
    folder = known[name].folder
    files = work.contents(folder) if folder.exists() else ()
    if not yes:
        lines = [f"{path} ({_size(size)})" for path, size in files]
        total = f"{counted(len(files), 'file')} with {_size(sum(size for _, size in files))}"
        out.payload("\n".join([f"Of {folder} would be deleted, {total}:", *lines]))
        out.say("nothing is deleted yet; add --yes")
        return Exit.OK
    text = work.without(loaded, name)
    if text is not None:
        saving.save(loaded, text, room)
    if files:
        work.delete(folder)
    out.say(f"{folder}: deleted, {counted(len(files), 'file')}")
    return Exit.OK


def _size(size: int) -> str:
    return f"{size / 1e6:.1f} MB" if size >= 1e5 else f"{max(size / 1e3, 0.1):.1f} kB"


def _recorded(told: SessionFolder) -> int:
    """Recordings whose file is there."""
    from wellheard.workflow.session_text import planned

    return len(told.session.recordings) - len(planned(told))


def _rows(found: tuple[Listed, ...]) -> list[list[str]]:
    return [
        [
            one.name,
            "" if one.found is None else str(one.found.session.date or "–"),
            one.why_not
            if one.found is None
            else f"{_recorded(one.found)} of {len(one.found.session.recordings)}",
            "yes" if one.named else "no",
        ]
        for one in found
    ]


def _answer(one: Listed) -> dict[str, object]:
    told = None if one.found is None else one.found.session
    return {
        "name": one.name,
        "folder": str(one.folder),
        "date": None if told is None or told.date is None else told.date.isoformat(),
        "title": "" if told is None else told.title,
        "recordings": None if told is None else len(told.recordings),
        "recorded": None if one.found is None else _recorded(one.found),
        "named": one.named,
        "error": one.why_not,
    }
