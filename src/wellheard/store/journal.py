"""What became of the documents of a folder, entry by entry, for ever.

One file, ``FOLDER/.wellheard/journal.sqlite3``, has every text that a document of the folder ever
had. Rows are added and never changed; triggers in the file itself refuse anything else. A row is on
the disk when the block that wrote it ends. Undo and redo are rows too: they name the entry whose
text they show, so that the way back survives any restart.

Who writes holds the journal alone, in this process and among processes. That is also how those who
write the documents themselves keep out of each other's way.
"""

from __future__ import annotations

import contextlib
import hashlib
import os
import sqlite3
import stat
import threading
import time
import zlib
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Any, Literal, get_args

from wellheard.errors import InputError
from wellheard.files import reason, sync_folder
from wellheard.store.shared import Shared

HIDDEN = ".wellheard"
"""Folder beside the documents that the journal and the trash are in."""
NAME = "journal.sqlite3"
PATIENCE = 20.0
"""How long another process may hold the journal before it is given up. [s]"""
LARGEST = 4_000_000
"""Bytes of a text that the journal takes, and gives back."""
FORM = 1
"""Version of the tables below."""

Kind = Literal["opened", "edited", "outside", "clashed", "undone", "redone", "restored", "same"]
"""What an entry is. ``clashed`` is an edit from outside that came between an entry and its saving
and said something else; ``same`` an edit that changed nothing."""

_TABLES = """
CREATE TABLE documents (id INTEGER PRIMARY KEY AUTOINCREMENT, at REAL NOT NULL);
CREATE TABLE places (
    id INTEGER PRIMARY KEY AUTOINCREMENT,
    document INTEGER NOT NULL REFERENCES documents,
    place TEXT NOT NULL
);
CREATE INDEX by_place ON places (place);
CREATE TABLE entries (
    version INTEGER PRIMARY KEY AUTOINCREMENT,
    document INTEGER NOT NULL REFERENCES documents,
    kind TEXT NOT NULL,
    shows INTEGER NOT NULL,
    key TEXT NOT NULL,
    what TEXT NOT NULL,
    answer TEXT NOT NULL,
    at REAL NOT NULL,
    digest TEXT NOT NULL,
    text BLOB
);
CREATE UNIQUE INDEX once ON entries (document, key) WHERE key <> '';
CREATE INDEX in_order ON entries (document, version);
CREATE TABLE saved (
    id INTEGER PRIMARY KEY AUTOINCREMENT,
    document INTEGER NOT NULL REFERENCES documents,
    version INTEGER NOT NULL
);
CREATE INDEX last_saved ON saved (document, id);
"""
_FOR_EVER = "".join(
    f"CREATE TRIGGER {table}_{event.lower()} BEFORE {event} ON {table} "
    "BEGIN SELECT RAISE(ABORT, 'rows are added and never changed'); END;\n"
    for table in ("documents", "places", "entries", "saved")
    for event in ("UPDATE", "DELETE")
)


@dataclass(frozen=True, slots=True)
class Entry:
    """One row of the journal.

    Attributes
    ----------
    version : int
        Grows with every entry of the folder.
    kind : str
    shows : int
        Version of the entry whose text this one shows: its own, or that which an undo went back to.
    key : str
        Given by whoever asked for it; empty for what nobody asked for.
    what : str
        What it did, in words.
    answer : str
        What was answered, as its maker wrote it down.
    at : datetime
        In the time zone of the machine.
    digest : str
        SHA-256 of the text it shows.
    """

    version: int
    kind: Kind
    shows: int
    key: str
    what: str
    answer: str
    at: datetime
    digest: str


def digest_of(text: bytes) -> str:
    """SHA-256 of a text, as the journal has it."""
    return hashlib.sha256(text).hexdigest()


def place_of(folder: Path) -> Path:
    """Where the journal of a folder is, whether it is there or not."""
    return folder / HIDDEN / NAME


class Journal:
    """The journal of one folder; get one with `opened`, give it back with `close`.

    Raises
    ------
    InputError
        From any method: the journal cannot be read or written. What was written before stays.
    """

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.path = place_of(folder)
        self._lock = threading.RLock()
        self._depth = 0
        with self._refused():
            _make_hidden(folder)
            self._base = sqlite3.connect(
                self.path, timeout=PATIENCE, isolation_level=None, check_same_thread=False
            )
        try:
            with self._refused():
                self._prepare()
        except BaseException:
            self._base.close()
            raise

    @classmethod
    def opened(cls, folder: Path) -> Journal:
        """The journal of a folder: one object in this process, whoever asks.

        Parameters
        ----------
        folder : Path
            That can be written to.

        Raises
        ------
        InputError
            It cannot be opened or made, is damaged, or of a newer version.
        """
        real = folder.resolve()
        return _OPEN.take(real, lambda: cls(real))

    def close(self) -> None:
        """Give it back; the last one to do so closes the file."""
        _OPEN.give_back(self.folder, lambda journal: journal._base.close())

    def _prepare(self) -> None:
        for pragma in (
            "journal_mode = WAL",
            "synchronous = FULL",
            "foreign_keys = ON",
            "trusted_schema = OFF",  # a folder that came by mail may bring a journal of anybody's
        ):
            self._base.execute(f"PRAGMA {pragma}").fetchall()
        with self.writing():
            (form,) = self._base.execute("PRAGMA user_version").fetchone()
            if form > FORM:
                raise InputError(
                    f"{self.path}: of version {form}, newer than this tool knows; a newer "
                    "Wellheard opens this folder"
                )
            if form == 0:
                for statement in _statements(_TABLES + _FOR_EVER):
                    self._base.execute(statement)
                self._base.execute(f"PRAGMA user_version = {FORM}")
        sync_folder(self.path.parent)

    # Writing -------------------------------------------------------------------------------------

    @contextlib.contextmanager
    def writing(self) -> Iterator[None]:
        """Hold the journal alone; what was added is on the disk when this ends well.

        Blocks within blocks are part of the outermost.
        """
        with self._lock:
            if self._depth:
                yield
                return
            with self._refused():
                self._base.execute("BEGIN IMMEDIATE")
            self._depth = 1
            try:
                yield
            except BaseException:
                with contextlib.suppress(sqlite3.Error):
                    self._base.execute("ROLLBACK")
                raise
            else:
                self._commit()
            finally:
                self._depth = 0

    def _commit(self) -> None:
        try:
            with self._refused():
                self._base.execute("COMMIT")
        except InputError:
            with contextlib.suppress(sqlite3.Error):
                self._base.execute("ROLLBACK")
            raise

    def append(
        self,
        document: int,
        kind: Kind,
        *,
        text: bytes | None = None,
        shows: Entry | None = None,
        key: str = "",
        what: str = "",
        answer: str = "",
    ) -> Entry:
        """Add an entry with a text of its own, or one that shows that of another.

        Parameters
        ----------
        document : int
            Whose entry it is.
        kind : str
            One of `Kind`.
        text : bytes, optional
            What it shows, or
        shows : Entry, optional
            the entry whose text it shows.
        key, what, answer : str
            See `Entry`.
        """
        at = time.time()
        if text is not None and len(text) > LARGEST:
            raise InputError(f"{self.path}: a text of {len(text)} bytes; at most {LARGEST}")
        packed = None if text is None else zlib.compress(text)
        digest = digest_of(text) if text is not None else _given(shows).digest
        with self.writing(), self._refused():
            (last,) = self._base.execute("SELECT coalesce(max(version), 0) FROM entries").fetchone()
            version = last + 1
            self._base.execute(
                "INSERT INTO entries VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?)",
                (
                    version,
                    document,
                    kind,
                    version if text is not None else _given(shows).shows,
                    key,
                    what,
                    answer,
                    at,
                    digest,
                    packed,
                ),
            )
            return self._entries("version = ?", version)[0]

    def mark_saved(self, document: int, version: int) -> None:
        """Note that the document's file holds the text that an entry shows."""
        with self.writing(), self._refused():
            self._base.execute(
                "INSERT INTO saved (document, version) VALUES (?, ?)", (document, version)
            )

    # Reading -------------------------------------------------------------------------------------

    def entries(self, document: int, *, after: int = 0) -> list[Entry]:
        """Entries of a document past a version, in order."""
        return self._entries("document = ? AND version > ? ORDER BY version", document, after)

    def by_key(self, document: int, key: str) -> Entry | None:
        """The entry that somebody asked for under a key."""
        found = self._entries("document = ? AND key = ?", document, key) if key else []
        return found[0] if found else None

    def _entries(self, where: str, *values: Any) -> list[Entry]:
        columns = "version, kind, shows, key, what, answer, at, digest"
        with self._lock, self._refused():
            rows = self._base.execute(
                f"SELECT {columns} FROM entries WHERE {where}", values
            ).fetchall()
        for row in rows:
            if row[1] not in get_args(Kind):
                raise self._damaged(f"an entry of the kind {row[1]!r}")
        return [
            Entry(
                v, kind, shows, key, what, answer, datetime.fromtimestamp(at).astimezone(), digest
            )
            for v, kind, shows, key, what, answer, at, digest in rows
        ]

    def text(self, entry: Entry) -> bytes:
        """The text that an entry shows."""
        with self._lock, self._refused():
            row = self._base.execute(
                "SELECT text FROM entries WHERE version = ?", (entry.shows,)
            ).fetchone()
        if row is None or row[0] is None:
            raise self._damaged(f"no text of version {entry.shows}")
        try:
            # Few bytes can unpack to very many.
            text = zlib.decompressobj().decompress(row[0], LARGEST)
        except zlib.error:
            text = b""
        if digest_of(text) != entry.digest:
            raise self._damaged(f"the text of version {entry.shows} is not what was written")
        return text

    def saved(self, document: int) -> int:
        """Version that the document's file was last known to hold; 0 for none."""
        with self._lock, self._refused():
            row = self._base.execute(
                "SELECT version FROM saved WHERE document = ? ORDER BY id DESC LIMIT 1", (document,)
            ).fetchone()
        return int(row[0]) if row else 0

    def seen(self) -> int:
        """A number that changes when another process has added anything."""
        with self._lock, self._refused():
            return int(self._base.execute("PRAGMA data_version").fetchone()[0])

    # Places --------------------------------------------------------------------------------------

    def document(self, place: str) -> int | None:
        """The document that is, or was last, at a place in the folder.

        One that was about to leave a place is still there if it never arrived elsewhere.
        """
        with self._lock, self._refused():
            rows = self._base.execute(
                "SELECT id, document FROM places WHERE place = ? ORDER BY id DESC", (place,)
            ).fetchall()
            for number, document in rows:
                later = self._base.execute(
                    "SELECT place FROM places WHERE document = ? AND id > ?", (document, number)
                ).fetchall()
                if not any(os.path.lexists(self.folder / row[0]) for row in later):
                    return int(document)
        return None

    def new_document(self, place: str) -> int:
        """Begin a document at a place."""
        with self.writing(), self._refused():
            added = self._base.execute("INSERT INTO documents (at) VALUES (?)", (time.time(),))
            document = added.lastrowid
            assert document is not None
            self.move(document, place)
        return document

    def move(self, document: int, place: str) -> None:
        """Note that a document is about to be somewhere else."""
        with self.writing(), self._refused():
            self._base.execute(
                "INSERT INTO places (document, place) VALUES (?, ?)", (document, place)
            )

    def moved_into(self, top: str) -> list[tuple[int, str, str]]:
        """Documents that went to places that begin so, and are nowhere else since; newest first.

        Returns
        -------
        list of (document, place, place before that was another kind of place)
            Whether anything is at the place is for the caller to see.
        """
        with self._lock, self._refused():
            rows = self._base.execute(
                "SELECT id, document, place FROM places WHERE substr(place, 1, ?) = ? "
                "ORDER BY id DESC",
                (len(top), top),
            ).fetchall()
            found = []
            for number, document, place in rows:
                others = self._base.execute(
                    "SELECT id, place FROM places WHERE document = ? ORDER BY id", (document,)
                ).fetchall()
                before = [p for n, p in others if n < number and not p.startswith(top)]
                later = [p for n, p in others if n > number]
                if before and not any(os.path.lexists(self.folder / p) for p in later):
                    found.append((int(document), str(place), str(before[-1])))
        return found

    # Refusals ------------------------------------------------------------------------------------

    @contextlib.contextmanager
    def _refused(self) -> Iterator[None]:
        try:
            yield
        except sqlite3.OperationalError as error:
            if "locked" in str(error) or "busy" in str(error):
                raise InputError(
                    f"{self.path}: held by another process for {PATIENCE:g} s; close what else "
                    "has this folder open, or try again"
                ) from None
            raise InputError(
                f"{self.path}: {error}; a folder that can be written to, with room on its disk"
            ) from None
        except sqlite3.DatabaseError as error:
            raise self._damaged(str(error)) from None
        except OSError as error:
            raise InputError(
                f"{self.path}: {reason(error)}; a folder that can be written to"
            ) from None

    def _damaged(self, what: str) -> InputError:
        return InputError(
            f"{self.path}: damaged ({what}); the rooms beside it are whole: move this file away "
            "and open the folder again, then the way back before today is in the moved file only"
        )


_OPEN: Shared[Path, Journal] = Shared()


def _given(shows: Entry | None) -> Entry:
    if shows is None:
        raise ValueError("an entry has a text or shows that of another")
    return shows


def _make_hidden(folder: Path) -> None:
    """Make the folder for what is not the user's; never through a link that leads elsewhere."""
    hidden = folder / HIDDEN
    try:
        hidden.mkdir()
        sync_folder(folder)
    except FileExistsError:
        pass
    for path, wanted, kind in (
        (hidden, stat.S_ISDIR, "folder"),
        (hidden / NAME, stat.S_ISREG, "file"),
    ):
        with contextlib.suppress(FileNotFoundError):
            if not wanted(path.lstat().st_mode):
                raise InputError(
                    f"{path}: is no plain {kind}; move it away, and a {kind} of that name is made"
                )


def _statements(script: str) -> Iterator[str]:
    """Statements one by one: a whole script would end the transaction that it is part of."""
    statement = ""
    for line in script.splitlines(keepends=True):
        statement += line
        if sqlite3.complete_statement(statement):
            yield statement
            statement = ""
