"""Sessions of measurement beside a room's document: listed, named in it, deleted.

They lie in a folder beside the document: ``tide.room.yaml`` has ``tide.sessions``, and in it one
folder for each. Recordings stay there; the document only names them.
"""

from __future__ import annotations

import hashlib
import os
import re
import shutil
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from wellheard.errors import DocumentError, InputError
from wellheard.files import reason
from wellheard.forms.fields import ID_PATTERN
from wellheard.measurement.session import FILE, Session, SessionFolder, load_session
from wellheard.room import codec
from wellheard.room.amend import without_value
from wellheard.workflow.load import Loaded, document_hash

ENDING = ".sessions"


@dataclass(frozen=True)
class Listed:
    """One session beside a document.

    Attributes
    ----------
    name : str
        Of its folder, or the id under which the document names it.
    folder : Path
    found : SessionFolder or None
        None where it cannot be read.
    why_not : str
        Why it cannot.
    named : bool
        Whether the document names it.
    """

    name: str
    folder: Path
    found: SessionFolder | None
    why_not: str
    named: bool


def sessions_folder(room: str | os.PathLike[str]) -> Path:
    """Folder with the sessions of a document.

    Examples
    --------
    >>> sessions_folder("rooms/tide.room.yaml").as_posix()
    'rooms/tide.sessions'
    """
    path = Path(room)
    stem = path.name.removesuffix(".yaml").removesuffix(".room")
    return path.with_name(stem + ENDING)


def session_path(room: str | os.PathLike[str], name: str) -> Path:
    """Folder of one session of a document.

    Raises
    ------
    InputError
        The name is no id.
    """
    if not re.fullmatch(ID_PATTERN, name):
        raise InputError(
            f"session {name!r}: no name of a session; small letters, digits and hyphens, at most "
            "40, as in 2026-11-20"
        )
    return sessions_folder(room) / name


def sessions(loaded: Loaded) -> tuple[Listed, ...]:
    """Sessions beside a document and those that it names, by name."""
    path = Path(loaded.document.name)
    home = sessions_folder(path)
    folders = {one.name: one for one in home.iterdir()} if home.is_dir() else {}
    named = {name: path.parent / _folder_of(loaded, name) for name in loaded.room.measurements}
    there = {n: f for n, f in folders.items() if (f / FILE).is_file()}
    return tuple(
        _listed(name, named.get(name) or there[name], named=name in named)
        for name in sorted({*there, *named})
    )


def _folder_of(loaded: Loaded, name: str) -> Path:
    told = loaded.room.measurements[name].get("folder")
    home = sessions_folder(loaded.document.name).name
    return Path(told) if isinstance(told, str) and told else Path(home) / name


def _listed(name: str, folder: Path, *, named: bool) -> Listed:
    try:
        return Listed(name, folder, load_session(folder), "", named)
    except (InputError, DocumentError) as error:
        return Listed(name, folder, None, str(error).splitlines()[0], named)


def attached(loaded: Loaded, session: SessionFolder, summary: dict[str, Any] | None = None) -> str:
    """Text of the document with a session named under ``measurements``.

    Parameters
    ----------
    loaded : Loaded
        The document.
    session : SessionFolder
        Its folder lies beside the document, or below.
    summary : dict, optional
        What it said, to stand beside its name.

    Raises
    ------
    InputError
        The folder lies elsewhere, or its name is no id.
    """
    home = Path(loaded.document.name).resolve().parent
    try:
        relative = session.folder.resolve().relative_to(home)
    except ValueError:
        raise InputError(
            f"{session.folder}: not beside {loaded.document.name}; move it to "
            f"{sessions_folder(loaded.document.name)} first, so that both can be sent together"
        ) from None
    if not re.fullmatch(ID_PATTERN, session.name):
        raise InputError(
            f"{session.folder}: {session.name!r} is no id; rename the folder with small letters, "
            "digits and hyphens"
        )
    entry: dict[str, Any] = {"folder": relative.as_posix()}
    if session.session.date is not None:
        entry["date"] = session.session.date.isoformat()
    entry["recordings"] = len(session.session.recordings)
    entry |= summary or {}
    measurements = {**loaded.room.measurements, session.name: entry}
    room = loaded.room.model_copy(update={"measurements": measurements})
    return codec.edit(loaded.document, room)


def unnamed_text(loaded: Loaded) -> str:
    """Text of the document as it is with no session named: what a session is of.

    To name a session changes the text, and nothing of what was promised.
    """
    if not loaded.room.measurements:
        return loaded.document.text
    return codec.edit(loaded.document, without_value(loaded.room, "measurements"))


def of_another(loaded: Loaded, session: Session) -> str:
    """What is to be said where a session was taken of another document; '' where of this one."""
    if any(
        measured_of(text, session.room) for text in (loaded.document.text, unnamed_text(loaded))
    ):
        return ""
    return (
        f"The session was taken of document {session.room}; this one is "
        f"{document_hash(loaded.document.text)}, so what was promised may not be what was measured."
    )


def measured_of(text: str, said: str) -> bool:
    """Whether a session that names first letters of a hash is of the document with this text.

    One that names none may be.

    Examples
    --------
    >>> measured_of("wellheard: 1", "8b0f-aaaa"), measured_of("wellheard: 1", "")
    (False, True)
    """
    digest = hashlib.sha256(text.encode()).hexdigest()
    return digest.startswith(said.replace("-", "").lower())


def without(loaded: Loaded, name: str) -> str | None:
    """Text of the document that no longer names a session; None where it does not."""
    if name not in loaded.room.measurements:
        return None
    if len(loaded.room.measurements) == 1:
        return unnamed_text(loaded)
    rest = {key: entry for key, entry in loaded.room.measurements.items() if key != name}
    room = loaded.room.model_copy(update={"measurements": rest})
    return codec.edit(loaded.document, room)


def contents(folder: Path) -> tuple[tuple[str, int], ...]:
    """Files of a session with their sizes [bytes].

    Raises
    ------
    InputError
        It is no folder of a session, or leads elsewhere.
    """
    if folder.is_symlink() or not (folder / FILE).is_file():
        raise InputError(f"{folder}: no folder with a {FILE}; name a session as session list does")
    found = sorted(one for one in folder.rglob("*") if one.is_file() or one.is_symlink())
    return tuple((one.relative_to(folder).as_posix(), one.lstat().st_size) for one in found)


def delete(folder: Path) -> None:
    """Delete a session with its recordings; nothing of it is kept.

    Raises
    ------
    InputError
        It is no session, or cannot be deleted whole.
    """
    contents(folder)
    try:
        shutil.rmtree(folder)
        if not any(folder.parent.iterdir()) and folder.parent.name.endswith(ENDING):
            folder.parent.rmdir()
    except OSError as error:
        raise InputError(f"{folder}: {reason(error)}; delete the rest by hand") from None
