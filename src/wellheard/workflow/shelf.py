"""A folder of rooms: what is in it, and rooms made, named, taken away and brought back."""

from __future__ import annotations

import contextlib
import logging
import os
import threading
import time
import uuid
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path

from wellheard.errors import InputError, Problem, visible
from wellheard.forms.fields import printable
from wellheard.forms.source import read_file
from wellheard.room import codec
from wellheard.room.new import starting_document
from wellheard.store import trash
from wellheard.store.journal import Journal
from wellheard.store.listing import (
    ENDING,
    MOST_ROOMS,
    Found,
    Listing,
    key_of,
    listing,
    names,
    slug,
)
from wellheard.store.shared import Listeners
from wellheard.units import Unit, parse_length
from wellheard.workflow import examples
from wellheard.workflow.desk import Desk
from wellheard.workflow.load import Loaded, load_text
from wellheard.workflow.products import stamp_of_files

EVERY = 0.5
"""Time between two looks at the folder; more where a look takes long. [s]"""
SHARE = 0.05
"""Share of the time that is spent looking."""
AT_ONCE = 0.5
"""Time that is spent reading rooms before the rest is left to the watcher. [s]"""
LONGEST_TITLE = 200
_log = logging.getLogger(__name__)


@dataclass(frozen=True)
class Card:
    """One room of a folder.

    Attributes
    ----------
    key : str
        How an address names it.
    path : Path
        Of the file.
    name : str
        Its place from the folder's top.
    title, subtitle : str
        What the room is called; whose it is, and where. The title of what cannot be read is the
        file's name.
    problems : tuple of Problem
        Why it cannot be opened; `State.problems` has those of a room that is open.
    read : bool
        Whether it has been read yet. Of very many rooms some are read later, and told then.
    """

    key: str
    path: Path
    name: str
    title: str
    subtitle: str
    problems: tuple[Problem, ...] = ()
    read: bool = True


class Shelf:
    """A folder of rooms, open.

    Parameters
    ----------
    folder : path
        Where they are; everything that Wellheard keeps beside them is in a hidden folder there.
    watch : bool
        Whether to look for what others do in the folder, twice a second.

    Raises
    ------
    InputError
        It is no folder, or cannot be written to.
    """

    def __init__(self, folder: Path, *, watch: bool = True) -> None:
        self.folder = _writable(Path(folder))
        self._journal = Journal.opened(self.folder)
        self._lock = threading.RLock()
        self._desks: dict[Path, Desk] = {}
        self._cards: dict[str, tuple[tuple[object, ...], Card]] = {}
        self._listeners: Listeners[()] = Listeners()
        self._listing = Listing((), complete=True)
        self._products = stamp_of_files([self.folder])
        self._pause = EVERY
        self._open = True
        self._stop = threading.Event()
        self._watch: threading.Thread | None = None
        try:
            self._list()
        except BaseException:
            self._journal.close()
            raise
        if watch:
            self._watch = threading.Thread(target=self._watching, name="shelf", daemon=True)
            self._watch.start()

    # What is there -------------------------------------------------------------------------------

    def rooms(self) -> tuple[Card, ...]:
        """Every room of the folder, by its place; nothing is predicted."""
        until = time.monotonic() + AT_ONCE if self._watch else None
        return tuple(self._card(found, until) for found in self._list().rooms)

    @property
    def note(self) -> str:
        """What is not shown, in words; empty if everything is."""
        if self._listing.complete:
            return ""
        return f"Only the first {MOST_ROOMS:,} rooms are shown; open a folder that has fewer."

    def desk(self, key: str) -> Desk:
        """The open document of a room.

        Parameters
        ----------
        key : str
            Looked up among the rooms of the folder; never part of a path.

        Raises
        ------
        KeyError
            There is no such room.
        InputError
            It cannot be read, and never could.
        """
        with self._lock:
            found = self._find(key)
            if found.problem:
                raise InputError(str(_problem(found)), [_problem(found)])
            desk = self._desks.get(found.real)
            if desk is None:
                desk = Desk.opened(found.real, folder=self.folder, key=key)
                self._desks[found.real] = desk
            return desk

    def _find(self, key: str) -> Found:
        for seen in (self._listing, None):
            for found in (seen or self._list()).rooms:
                if found.key == key:
                    return found
        raise KeyError(key)

    def _list(self) -> Listing:
        found = listing(self.folder)
        with self._lock:
            self._listing = found
            there = {room.key for room in found.rooms}
            self._cards = {key: card for key, card in self._cards.items() if key in there}
        return found

    def _card(self, found: Found, until: float | None) -> Card:
        stamp = (found.real, *found.stamp)
        with self._lock:
            known = self._cards.get(found.key)
        if known is not None and known[0] == stamp:
            return known[1]
        if until is not None and time.monotonic() > until:
            return Card(found.key, found.path, found.place, _stem(found), "", read=False)
        card = _read(found)
        with self._lock:
            self._cards[found.key] = (stamp, card)
        return card

    # Rooms made, named, taken away ---------------------------------------------------------------

    def new(self, *, size: tuple[str, str, str], seats: int, unit: Unit, title: str) -> str:
        """Make a room; returns its key.

        Parameters
        ----------
        size : (str, str, str)
            Length, width and height as typed; bare numbers are in ``unit``.
        seats : int
            Round one table.
        unit : {"m", "ft"}
            What its document is written in.
        title : str
            What it is called.

        Raises
        ------
        InputError, UsageError
            A length is none, such a table does not fit, the title is no short text, or the file
            cannot be written.
        """
        title = _title(title)
        names = ("length", "width", "height")
        long, wide, high = (_length(*one, unit) for one in zip(names, size, strict=True))
        return self._put(starting_document((long, wide, high), seats, unit, title=title), title)

    def examples(self) -> tuple[str, ...]:
        """Names of the rooms that come with the program."""
        return examples.examples()

    def from_example(self, name: str) -> str:
        """Make a room that is a copy of an example; returns its key.

        Raises
        ------
        KeyError
            There is no such example.
        InputError
            It cannot be written.
        """
        return self._put(examples.example_text(name), name)

    def from_text(self, text: str, title: str) -> str:
        """Make a room of a document's text; returns its key.

        Raises
        ------
        DocumentError, InputError
            It is no room document, the title is no short text, or it cannot be written.
        """
        return self._put(text, _title(title))

    def duplicate(self, key: str) -> str:
        """Make a copy of a room beside it; returns its key.

        Raises
        ------
        KeyError
            There is no such room.
        InputError
            It cannot be read, or the copy not written.
        """
        loaded = self.desk(key).state.loaded
        was = loaded.room.title or _stem(self._find(key))
        title = f"{was[: LONGEST_TITLE - 7]} (copy)"
        room = loaded.room.model_copy(update={"title": title})
        text = codec.edit_document(loaded.document, room).text
        return self._put(text, title, beside=Path(loaded.document.name).parent)

    def _put(self, text: str, title: str, *, beside: Path | None = None) -> str:
        """Save a room under a name that nothing has."""
        folder = beside or self.folder
        load_text(text, folder / f"new{ENDING}")
        for name in names(slug(title)):
            if os.path.lexists(folder / name):
                continue
            try:
                codec.save(folder / name, text, replace=False)
            except InputError:
                if os.path.lexists(folder / name):
                    continue  # somebody was faster
                raise
            return self._arrived(folder / name)
        raise AssertionError

    def _arrived(self, path: Path) -> str:
        self._list()
        self._listeners.tell()
        return key_of(path.relative_to(self.folder).as_posix())

    def rename(self, key: str, title: str) -> None:
        """Give a room another title; its file keeps its name, and undo takes it back.

        Raises
        ------
        KeyError
            There is no such room.
        InputError
            The title is no short text, or the document cannot be changed.
        """
        title, desk = _title(title), self.desk(key)
        operations = [{"path": "title", "set": title}]
        base, name = desk.state.version, f"rename-{uuid.uuid4()}"
        desk.commit(operations, base=base, key=name, what="rename the room", unit="m")
        self._listeners.tell()

    def delete(self, key: str) -> None:
        """Take a room away, into the trash; `undo_delete` brings it back with its history.

        Raises
        ------
        KeyError
            There is no such room.
        InputError
            It cannot be moved; it is where it was.
        """
        with self._lock:
            found = self._find(key)
            place = trash.new_place(found.path.name)
            with self._journal.writing():
                document = self._journal.document(found.place)
                if document is None:
                    document = self._journal.new_document(found.place)
                self._journal.move(document, place)
            with self._journal.writing():  # nobody saves into it meanwhile
                trash.into_trash(self.folder, found.path, place)
        self.look()

    def undo_delete(self) -> str | None:
        """Bring the room back that was deleted last; returns its key, None if there is none.

        It gets its name back, or one like it where that is taken by now.

        Raises
        ------
        InputError
            It cannot be moved; it is where it was.
        """
        with self._lock:
            last = self._last_deleted()
            if last is None:
                return None
            document, place, was = last
            folder = (self.folder / was).parent
            if os.path.realpath(folder) != str(folder) or not folder.is_dir():
                folder = self.folder
            for name in names(Path(was).name.removesuffix(ENDING)):
                target = folder / name
                if self._brought_back(document, place, target):
                    break
        self.look()
        return self._arrived(target)

    def _brought_back(self, document: int, place: str, target: Path) -> bool:
        if os.path.lexists(target):
            return False
        with self._journal.writing():
            self._journal.move(document, target.relative_to(self.folder).as_posix())
        with self._journal.writing():
            return trash.out_of_trash(self.folder, place, target)

    def last_deleted(self) -> str:
        """What the room is called that `undo_delete` would bring back; empty for none."""
        last = self._last_deleted()
        if last is None:
            return ""
        _, place, before = last
        path = self.folder / place
        return _read(Found("", before, path, path, "", ())).title

    def _last_deleted(self) -> tuple[int, str, str] | None:
        """Document, place in the trash, and place before that."""
        for document, place, before in self._journal.moved_into(f"{trash.TRASH}/"):
            if os.path.lexists(self.folder / place):
                return document, place, before
        return None

    # Others --------------------------------------------------------------------------------------

    def subscribe(self, told: Callable[[], None]) -> Callable[[], None]:
        """Be told, from any thread, that `rooms` may have changed; returns how to stop that."""
        return self._listeners.add(told)

    def look(self) -> None:
        """Notice what others have done in the folder; the watcher does so by itself."""
        with self._lock:
            desks, before = tuple(self._desks.values()), self._listing
        stamp = stamp_of_files([self.folder, *(desk.path.parent for desk in desks)])
        others = stamp != self._products
        self._products = stamp
        if others:
            with self._lock:
                self._cards.clear()  # what could not be read may be whole now
        for desk in desks:
            desk.look(products=others)
        begun = time.monotonic()
        after = self._list()
        self._pause = max(EVERY, (time.monotonic() - begun) / SHARE)
        unread = self._unread(after)
        for found in unread:
            self._card(found, None)
            if self._stop.is_set() or time.monotonic() > begun + AT_ONCE:
                break
        if after != before or unread or others:
            self._listeners.tell()

    def _unread(self, rooms: Listing) -> list[Found]:
        """Rooms that somebody waits for."""
        with self._lock:
            return [r for r in rooms.rooms if r.key not in self._cards] if self._listeners else []

    def _watching(self) -> None:
        while not self._stop.wait(self._pause):
            try:
                self.look()
            except InputError as error:  # the folder may be back in a moment
                _log.warning("%s", error)
            except Exception:
                _log.exception("%s: the folder could not be looked at", self.folder)

    def close(self) -> None:
        """Stop watching; what was answered is on the disk already. Once is enough."""
        self._stop.set()
        if self._watch is not None and self._watch is not threading.current_thread():
            self._watch.join()
        with self._lock:
            desks, self._desks = self._desks, {}
            open_, self._open = self._open, False
        for desk in desks.values():
            desk.close()
        if open_:
            self._journal.close()


def _writable(folder: Path) -> Path:
    """The folder with its links resolved, if rooms can be kept in it."""
    real = Path(os.path.realpath(folder))
    if not real.exists():
        raise InputError(f"{folder}: is not there; name a folder, or make this one first")
    if not real.is_dir():
        raise InputError(f"{folder}: is no folder; name the folder that the room is in")
    if not os.access(real, os.R_OK | os.W_OK | os.X_OK):
        raise InputError(
            f"{folder}: cannot be written to; let it be written, or copy the rooms to a folder of "
            "your own"
        )
    return real


def _read(found: Found) -> Card:
    """Card of a room, from its file."""
    if found.problem:
        return _card_of(found, None, [_problem(found)])
    try:
        raw = read_file(found.real, what="a room document")
        return _card_of(found, load_text(raw, found.real), [])
    except InputError as error:
        said = str(error).removeprefix(f"{found.real}: ").partition("; ")
        return _card_of(
            found, None, error.problems or [Problem(found.place, 0, 0, "", said[0], said[2])]
        )


def _card_of(found: Found, loaded: Loaded | None, problems: Sequence[Problem]) -> Card:
    title, subtitle = "", ""
    if loaded is not None:
        title, project = loaded.room.title, loaded.room.project
        whose = ", ".join(part for part in (project.client, project.site) if part)
        subtitle = " · ".join(part for part in (whose, project.number) if part)
    return Card(
        found.key, found.path, found.place, title or _stem(found), subtitle, tuple(problems)
    )


def _stem(found: Found) -> str:
    return visible(found.place.rpartition("/")[2].removesuffix(ENDING))


def _problem(found: Found) -> Problem:
    return Problem(found.place, 0, 0, "", found.problem, "a room document inside this folder")


def _title(text: str) -> str:
    """A title that can be printed on one line."""
    if len(text) > LONGEST_TITLE:
        raise InputError(f"title: {len(text)} characters; at most {LONGEST_TITLE}")
    if not printable(text):
        raise InputError(
            f"title: {visible(text)!r} has characters that are not seen; printable text"
        )
    title = " ".join(text.split())
    if not title:
        raise InputError("title: nothing; what the room is called, in a few words")
    return title


def _length(name: str, text: str, unit: Unit) -> float:
    """Metres of a typed length; a bare number is in ``unit``."""
    bare: str | float = text.strip()
    with contextlib.suppress(ValueError):
        bare = float(bare)
    try:
        return parse_length(bare, unit=unit)
    except ValueError as error:
        raise InputError(f"{name}: {error}") from None
