"""The document as text: read with every problem at once, written so that it reads back equal.

``load`` a file and work with ``.room``; ``edit`` its text when the room has changed, which keeps
every comment and every line that still says the same; ``save`` it. ``dump`` writes a room that
has no text yet.
"""

from __future__ import annotations

import contextlib
import os
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import islice
from typing import Any

from pydantic import ValidationError

from wellheard import files
from wellheard.bands import OCTAVES
from wellheard.errors import DocumentError, InputError, Problem
from wellheard.forms.fields import shown
from wellheard.forms.refusals import Form, Refusal
from wellheard.forms.source import (
    MEND_FIRST,
    MOST_PROBLEMS,
    Path,
    Source,
    dotted,
    read_file,
    read_source,
)
from wellheard.room.consistency import contradictions, names_of
from wellheard.room.document import Room
from wellheard.room.furniture import KINDS
from wellheard.room.migrate import migrated, version_refusal
from wellheard.room.writing import edited, written

MOST_WALLS = 200
MOST_SEATS = 500
MOST_ENTRIES = 500
"""Entries of any other collection."""
MOST_TOLD = MOST_PROBLEMS + 1
"""Problems of one kind that are told, a last one that there are more among them."""
KEPT = ("measurements", "history")
"""Parts that are kept and not read, beside those that begin with x-."""

FORM = Form(Room, KINDS)
_FIELDS = {
    *KEPT,
    *(field.alias or name for name, field in Room.model_fields.items()),
} - {"wellheard"}


@dataclass(frozen=True, slots=True)
class Document:
    """A room with the text it was read from.

    Attributes
    ----------
    room : Room
    source : Source
        Text, and the place of everything in it.
    """

    room: Room
    source: Source

    @property
    def text(self) -> str:
        """The text as it was read."""
        return self.source.text

    @property
    def name(self) -> str:
        """The file as the user named it."""
        return self.source.name

    def position(self, path: str) -> tuple[int, int]:
        """Line and column, from 1, of a dotted path; of its nearest ancestor if it is a default.

        Examples
        --------
        >>> text = '''
        ... wellheard: 1
        ... space: {outline: [[0, 0], [4, 0], [4, 3], [0, 3]], height: 2.7}
        ... people: {seats: {s1: {at: [1, 1]}}}
        ... '''
        >>> document = parse_document(text)
        >>> document.position("space.height"), document.position("space.climate.humidity")
        ((3, 60), (3, 8))
        """
        return self.source.place(_steps(path))

    def problem(self, path: str, what: str, allowed: str) -> Problem:
        """Problem at a dotted path of this document, as for a product that no catalogue has."""
        return self.source.problem(_steps(path), what, allowed)


def _steps(path: str) -> Path:
    return tuple(int(s) if s.isdecimal() else s for s in path.split(".") if s)


def load(path: str | os.PathLike[str]) -> Document:
    """Room of a file, with its text.

    Parameters
    ----------
    path : path
        A ``*.room.yaml``.

    Returns
    -------
    Document

    Raises
    ------
    InputError
        The file cannot be opened.
    DocumentError
        It can be, but is no document: every problem in it, with line and column.
    """
    return parse_document(read_file(path, what="a room document"), name=os.fspath(path))


def read(path: str | os.PathLike[str]) -> Room:
    """Room of a file; see `load`."""
    return load(path).room


def parse(text: str | bytes, *, name: str = "<text>") -> Room:
    """Room of a text; see `parse_document`."""
    return parse_document(text, name=name).room


def parse_document(text: str | bytes, *, name: str = "<text>") -> Document:
    """Room of a text, with the places of everything in it.

    Parameters
    ----------
    text : str or bytes
        One YAML document, UTF-8.
    name : str
        What messages call it.

    Raises
    ------
    DocumentError
        Every problem, in reading order.
    """
    source, problems = _read(text, name=name)
    data = source.data
    if problems and not isinstance(data, dict):
        raise DocumentError(_in_order(problems))
    room, found = _understood(data)
    # What has a problem of form is not what was meant, so nothing more is said of it.
    ill_formed = {problem.path for problem in problems}
    problems += [
        source.problem(r.path, r.what, r.allowed, key=r.key)
        for r in found
        if dotted(r.path) not in ill_formed
    ]
    if problems or room is None:
        raise DocumentError(_in_order(problems))
    return Document(room, source)


def _read(text: str | bytes, *, name: str) -> tuple[Source, list[Problem]]:
    return read_source(text, name=name, wanted="a room document: wellheard: 1 …", levels=9)


def from_data(data: Mapping[str, Any], *, name: str = "<data>") -> Room:
    """Room of plain data, as JSON gives it; problems have no line.

    Raises
    ------
    DocumentError
        Every problem.
    """
    room, found = _understood(dict(data))
    if found or room is None:
        raise DocumentError(Problem(name, 0, 0, dotted(r.path), r.what, r.allowed) for r in found)
    return room


def _in_order(problems: Iterable[Problem]) -> list[Problem]:
    found = sorted(dict.fromkeys(problems), key=lambda p: (p.line, p.column))
    if len(found) > MOST_TOLD:
        last = found[MOST_PROBLEMS]
        found[MOST_PROBLEMS:] = [replace(last, path="", what="more is wrong", allowed=MEND_FIRST)]
    return found


def _understood(data: dict[str, Any]) -> tuple[Room | None, list[Refusal]]:
    """Room of plain data, or everything that keeps it from being one."""
    wrong_version = _of_another_kind(data) or version_refusal(data)
    if wrong_version is not None:
        return None, [wrong_version]
    data = migrated(data)
    too_many = list(_too_many(data))
    if too_many:
        return None, too_many
    try:
        room = Room.model_validate(data, by_name=False, by_alias=True)
    except ValidationError as error:
        found = [
            replace(refusal, path=_as_keyed(data, refusal.path))
            for refusal in islice(FORM.refusals(error.errors(include_url=False)), MOST_TOLD + 1)
        ]
        if len(found) > MOST_TOLD:
            return None, found
        partial = _without(data, [r.path for r in found])
        if partial is not None:
            rest, names = partial
            told = [r.path for r in found]
            found += [
                r
                for r in islice(contradictions(rest, names=names), MOST_TOLD + 1)
                # What stands in an entry that was left out has been told already.
                if not any(r.path == t[: len(r.path)] for t in told)
                and not (r.path[0] == "basis" and _has(data, _steps(str(r.path[-1]))))
            ]
        return None, found
    return room, list(islice(contradictions(room), MOST_TOLD + 1))


def _as_keyed(data: Any, path: Path) -> Path:
    """Path with octave bands as the data has them, where a model has them in order."""
    for i, step in enumerate(path):
        if not isinstance(data, dict | list):
            break
        if isinstance(data, dict) and str(step) not in data:
            ordered = isinstance(step, int) and step < len(OCTAVES)
            band = OCTAVES[int(step)] if ordered else step
            key = next((k for k in data if _is_band(k, band)), None)
            if key is None:
                break
            path = (*path[:i], key, *path[i + 1 :])
            step = key
        data = data[int(step)] if isinstance(data, list) else data[str(step)]
    return path


def _is_band(key: object, band: object) -> bool:
    try:
        return float(str(key)) == float(str(band))
    except ValueError:
        return False


def _of_another_kind(data: Mapping[str, Any]) -> Refusal | None:
    """What was not meant to be a room at all: a result of ours, or a text of another program."""
    version = data.get("wellheard")
    if isinstance(version, int) or not data:
        return None
    if "wellheard-products" in data:
        told = "a room document; a file of products lies beside it, or goes to wellheard catalog"
        return Refusal((), "this is a file of products", told)
    if any(str(key) in _FIELDS or str(key).startswith("x-") for key in data):
        return None
    named = [shown(key) for key in data if key != "wellheard"]
    if not named:
        return None
    some = ", ".join([*named[:3], "…"] if len(named) > 3 else named)
    return Refusal(
        (),
        f"none of its fields belongs to a room document ({some})",
        "a *.room.yaml, which has wellheard: 1, space and people",
    )


def _too_many(data: dict[str, Any]) -> Iterator[Refusal]:
    """Counts, before anything is done that takes longer the more there is."""
    yield from _long_below(
        (), {k: v for k, v in data.items() if not k.startswith("x-") and k not in KEPT}
    )


def _long_below(path: Path, thing: Any) -> Iterator[Refusal]:
    if not isinstance(thing, dict | list):
        return
    most, name = MOST_ENTRIES, "entries"
    if path == ("people", "seats"):
        most, name = MOST_SEATS, "seats"
    elif path[-1:] == ("outline",):
        most, name = MOST_WALLS, "walls" if path == ("space", "outline") else "corners"
    if len(thing) > most:
        yield Refusal(path, f"{len(thing)} {name}", f"at most {most}")
        return
    for step, inside in thing.items() if isinstance(thing, dict) else enumerate(thing):
        yield from _long_below((*path, step), inside)


def _without(
    data: dict[str, Any], paths: Sequence[Path]
) -> tuple[Room, dict[str, Sequence[str] | None]] | None:
    """Room of what is left when everything refused is left out, if that is a room.

    With it, the ids that the whole data has: a link to a device that could not be read is still a
    link to a device.
    """
    rest: dict[str, Any] = _copied(data)
    pending = list(paths)
    for _ in range(8):
        # What is missing cannot be dropped: the entry that lacks it can.
        pending = [p if _has(rest, p) else p[:-1] for p in pending]
        if any(not p or p == ("space",) for p in pending):
            return None
        for path in pending:
            _drop(rest, path)
        if not isinstance(rest.get("people"), dict):
            # Nobody in the room is a contradiction of its own, told only if it is the cause.
            rest["people"] = {}
        try:
            room = Room.model_validate(rest, by_name=False, by_alias=True)
        except ValidationError as error:
            pending = [r.path for r in FORM.refusals(error.errors(include_url=False))]
            continue
        names: dict[str, Sequence[str] | None] = names_of(room)
        names |= {
            kind: tuple(map(str, entries)) if isinstance(entries, dict) else None
            for kind in ("devices", "equipment", "partitions")
            for entries in (data.get(kind, {}),)
        }
        touched = any(p[:2] in (("space", "walls"), ("space", "outline")) for p in paths)
        names["walls"] = None if touched else room.space.walls
        if any(p[0] == "furniture" for p in paths):
            names["pictures"] = None
        return room, names
    return None


def _copied(value: Any) -> Any:
    if isinstance(value, dict):
        return {key: _copied(item) for key, item in value.items()}
    return list(value) if isinstance(value, list) else value


def _has(data: Any, path: Path) -> bool:
    for step in path:
        if isinstance(data, dict) and str(step) in data:
            data = data[str(step)]
        elif isinstance(data, list) and isinstance(step, int) and step < len(data):
            data = data[step]
        else:
            return False
    return True


def _drop(data: dict[str, Any], path: Path) -> None:
    """Leave out the field or entry that a path leads to or into."""
    *into, last = path
    here: Any = data
    for i, step in enumerate(into):
        if isinstance(here, list):  # a list with a hole is another list
            return _drop(data, path[:i])
        if not isinstance(here, dict) or str(step) not in here:
            return None
        here = here[str(step)]
    if isinstance(here, list):
        return _drop(data, tuple(into))
    if isinstance(here, dict):
        here.pop(str(last), None)
    return None


def dump(room: Room) -> str:
    """Text of a room, without what is a default, that reads back equal.

    Parameters
    ----------
    room : Room
        Its ``units`` decide how lengths are written: a number of feet only where it converts
        back exactly, else text in metres.

    Returns
    -------
    str
        YAML.

    Examples
    --------
    >>> room = Room.model_validate(
    ...     {
    ...         "wellheard": 1,
    ...         "units": "ft",
    ...         "space": {"outline": [[0, 0], ["4 m", 0], ["4 m", 12]], "height": 9},
    ...         "people": {"seats": {"s1": {"at": [8, 3]}}},
    ...     }
    ... )
    >>> print(dump(room), end="")
    wellheard: 1
    units: ft
    space:
      outline: [[0, 0], [4 m, 0], [4 m, 12]]
      height: 9
    people:
      seats: {s1: {at: [8, 3]}}
    """
    return written(room)


def parse_data(text: str) -> Room:
    """Room of a text that this tool has just written; it may still contradict itself."""
    source, problems = _read(text, name="<written>")
    if problems:
        raise DocumentError(problems)
    return Room.model_validate(source.data, by_name=False, by_alias=True)


def edit(document: Document, room: Room) -> str:
    """Text of a document after its room has changed.

    Only what differs is written anew: comments, order, quoting and spacing of all else stay as
    they are, to the byte.

    Parameters
    ----------
    document : Document
        As read.
    room : Room
        What its text is to say.

    Returns
    -------
    str
        Text that reads as ``room``.

    Raises
    ------
    InputError
        No such text was found; there is none known, and none is returned unchecked.
    """
    text = edited(document.source, document.room, room)
    # Nothing leaves here that was not read again.
    with contextlib.suppress(DocumentError, ValidationError):
        if parse_data(text) == room:
            return text
    raise InputError(
        f"{document.name}: this text cannot be changed in place; write the room to another file"
    )


def edit_document(document: Document, room: Room) -> Document:
    """Document after its room has changed, read again from the text that `edit` makes.

    Raises
    ------
    DocumentError
        The room contradicts itself; every problem, with its place in the new text.
    InputError
        As in `edit`.
    """
    with contextlib.suppress(DocumentError):
        fresh = parse_document(edited(document.source, document.room, room), name=document.name)
        if fresh.room == room:
            return fresh
    return parse_document(edit(document, room), name=document.name)


def save(
    path: str | os.PathLike[str],
    text: str,
    *,
    replace: bool = True,
    read_as: Document | None = None,
) -> None:
    """Write a text to a file whole or not at all, whatever happens meanwhile.

    Parameters
    ----------
    path : path
        Written through a symbolic link to the file it leads to. The mode of an existing file is
        kept.
    text : str
        Stored as UTF-8.
    replace : bool
        Whether a file that exists may be replaced.
    read_as : Document
        What was read from this file: it is not written if it says something else by now.

    Raises
    ------
    InputError
        The file cannot be written, may not be replaced, or was changed since it was read.
    """
    if read_as is not None:
        now = read_file(path, what="a room document").decode("utf-8-sig", "replace")
        if now != read_as.text:
            raise InputError(
                f"{os.fspath(path)}: changed since it was read, and is left as it is; run this "
                "again, or write to another file"
            )
    files.save(path, text.encode(), replace=replace)
