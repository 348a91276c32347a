"""One document on the disk: its entries in the journal, and its file, always brought together.

A change is a row of the journal first, then the file is saved. `Record.settle` brings the two
together, after a change as after a crash; it is also how edits from outside are noticed: whatever
the file holds that the journal does not expect was written by somebody else.
"""

from __future__ import annotations

import logging
import os
import stat
import time
from pathlib import Path

from wellheard import files
from wellheard.errors import DocumentError, InputError, Problem
from wellheard.forms.source import read_file
from wellheard.room import codec
from wellheard.room.codec import Document
from wellheard.store import trash
from wellheard.store.history import History
from wellheard.store.journal import Entry, Journal, Kind, digest_of
from wellheard.workflow.load import Loaded, load_text, resolved
from wellheard.workflow.merging import Conflict, brought_together

OUTSIDE = "edited outside"
MEND = "mend the file, or put the last valid text back"
TRIES = 5
"""Times that a file may change while it is read and written."""
_RACY = 1_000_000_000
"""Age of a change below which a second one may have left the same time stamp. [ns]"""
_log = logging.getLogger(__name__)


class Record:
    """A document's entries and its file. Not for several threads at once.

    Attributes
    ----------
    path : Path
        Of the file, links resolved.
    name : str
        Its place from the folder's top.
    journal : Journal
        Held (`Journal.writing`) wherever anything here is called.
    history : History
    loaded : Loaded or None
        The last valid document; none before there was any.
    problems : tuple of Problem
        Why the file cannot be read or written as it is.
    """

    def __init__(self, path: Path, name: str, journal: Journal) -> None:
        self.path, self.name, self.journal = path, name, journal
        self.loaded: Loaded | None = None
        self.problems: tuple[Problem, ...] = ()
        self._digest = ""
        self.forget()

    def forget(self) -> None:
        """Read everything again: rows may have been taken back."""
        self.history = History()
        self.document = 0
        self._seen: object = None
        self._sure = False

    # Reading -------------------------------------------------------------------------------------

    def read(self, entry: Entry) -> Document:
        """The document that an entry shows."""
        return codec.parse_document(self.journal.text(entry), name=str(self.path))

    def resolve(self, entry: Entry) -> Loaded:
        """The document that an entry shows, with its catalogue."""
        return load_text(self.journal.text(entry), self.path)

    def unsaved(self, entry: Entry) -> bool:
        """Whether an entry has not come into the file yet."""
        return entry.version > self.journal.saved(self.document)

    def changed(self) -> bool:
        """Whether the file or the journal may have been changed by others since `settle`."""
        return not self._sure or self._signature() != self._seen

    def _signature(self) -> object:
        try:
            found = os.lstat(self.path)
        except OSError:
            return (None, self.journal.seen())
        stamp = (found.st_mode, found.st_ino, found.st_size, found.st_mtime_ns, found.st_ctime_ns)
        return (*stamp, self.journal.seen())

    # Settling ------------------------------------------------------------------------------------

    def settle(self) -> None:
        """Bring journal and file together.

        The file holds what the newest entry shows: good. It holds what it last was known to hold,
        and the entry is newer: whoever made it was stopped before saving, so it is saved now.
        Anything else was written by somebody else, and becomes an entry if it can be read.
        """
        for _ in range(TRIES):
            if self._settle():
                return
        problem = "is changed again and again while it is read"
        self.problems = self._told(self._refused(problem, "wait for what changes it, or stop it"))
        self._sure = False

    def _settle(self) -> bool:
        """Whether there is no more to do."""
        self._seen = self._signature()
        try:
            found = self._found()
        except InputError as error:
            self._sure = True
            self._catch_up(there=False)
            self.problems = self._told(error)
            return True
        self._sure = self._settled_long_ago()
        self._catch_up(there=True)
        self.problems = ()
        digest, newest = digest_of(found), self.history.last
        held = self.history.entries.get(self.journal.saved(self.document))
        if newest is not None and digest == newest.digest:
            if self.unsaved(newest):
                self.journal.mark_saved(self.document, newest.version)
            return True
        if newest is not None and held and self.unsaved(newest) and digest == held.digest:
            return self._put(over=digest)
        try:
            fresh = load_text(found, self.path)
        except InputError as error:
            self.problems = self._told(error)
            return True
        return self._written_outside(fresh, found, held, newest)

    def _settled_long_ago(self) -> bool:
        try:
            return time.time_ns() - os.lstat(self.path).st_mtime_ns > _RACY
        except OSError:
            return False

    def _catch_up(self, *, there: bool) -> None:
        """Take in entries that other processes have made."""
        if there or not self.document:
            # What is there now may be another document than what was taken away.
            document = self.journal.document(self.name)
            if document is None:
                document = self.journal.new_document(self.name)
            if document != self.document:
                self.history, self.document = History(), document
        newest = self.history.last
        for entry in self.journal.entries(self.document, after=newest.version if newest else 0):
            self.history.add(entry)
        newest = self.history.last
        if newest is not None and newest.digest != self._digest:
            try:
                self.loaded, self._digest = self.resolve(newest), newest.digest
            except InputError as error:
                _log.warning("%s: version %s: %s", self.name, newest.version, error)

    def _found(self) -> bytes:
        """What the file holds.

        Raises
        ------
        InputError
            It is gone, leads elsewhere by now, or cannot be read.
        """
        real = os.path.realpath(self.path)
        if real != str(self.path):
            raise self._refused(f"leads to {real} by now", MEND)
        try:
            kind = os.lstat(self.path).st_mode
        except FileNotFoundError:
            allowed = "bring it back, or put the last valid text back"
            raise self._refused("is no longer there", allowed) from None
        except OSError as error:
            raise self._refused(files.reason(error), MEND) from None
        if not stat.S_ISREG(kind):
            raise self._refused("is no plain file by now", MEND)
        return read_file(self.path, what="a room document")

    def _refused(self, what: str, allowed: str) -> InputError:
        problem = Problem(str(self.path), 0, 0, "", what, allowed)
        return InputError(str(problem), [problem])

    def _told(self, error: InputError) -> tuple[Problem, ...]:
        if error.problems:
            return error.problems
        what, _, allowed = str(error).removeprefix(f"{self.path}: ").partition("; ")
        return (Problem(str(self.path), 0, 0, "", what, allowed or MEND),)

    def _written_outside(
        self, fresh: Loaded, text: bytes, held: Entry | None, newest: Entry | None
    ) -> bool:
        """Make an entry of what somebody else has written."""
        kind: Kind = "outside" if newest else "opened"
        both = fresh
        if newest and held and self.unsaved(newest):
            # An entry was on its way into the file; whoever wrote it did not know.
            before, ours = self.read(held).room, self.read(newest).room
            try:
                both = resolved(brought_together(before, ours, fresh, onto=fresh.document))
            except (Conflict, DocumentError):
                kind = "clashed"
        whole = text if both.room == fresh.room else both.document.text.encode()
        what = OUTSIDE if newest else "opened"
        entry = self.journal.append(self.document, kind, text=whole, what=what)
        self.added(entry, fresh if whole is text else both)
        if whole is not text:
            return self._put(over=digest_of(text))
        self.journal.mark_saved(self.document, entry.version)
        return True

    def take_up_products(self) -> None:
        """Look the products of the document up again; an entry of its own where they are others.

        Its figures may be others then, so it is another version, though its text is the same.
        """
        newest = self.history.last
        if newest is None or self.loaded is None:
            return
        try:
            fresh = self.resolve(newest)
        except InputError as error:  # it is said where they were changed, and at the next edit
            _log.warning("%s: %s", self.name, error)
            return
        if [one.digest for one in fresh.own] != [one.digest for one in self.loaded.own]:
            entry = self.journal.append(
                self.document, "same", shows=self.history.shown, what="products were changed"
            )
            self.added(entry, fresh)
            self.settle()

    # Writing -------------------------------------------------------------------------------------

    def added(self, entry: Entry, loaded: Loaded) -> None:
        """Go on to an entry that was just made."""
        self.history.add(entry)
        self.loaded, self._digest = loaded, entry.digest

    def demand_writable(self) -> None:
        """Refuse what could not be saved, before it is an entry.

        Raises
        ------
        InputError
            The file or its folder is write-protected.
        """
        for path, name in ((self.path, "the file"), (self.path.parent, "its folder")):
            if os.path.exists(path) and not os.access(path, os.W_OK):
                raise self._refused(
                    f"{name} is write-protected", "let it be written, or work on a copy"
                )

    def put_over(self) -> None:
        """Save what the newest entry shows over whatever is there, which is kept in the trash."""
        trash.keep_aside(self.journal.folder, self.path)
        self._put(over=None)

    def _put(self, *, over: str | None) -> bool:
        """Save what the newest entry shows, unless the file holds something else than is expected.

        What keeps it from being saved is a problem, and it is tried again.
        """
        newest = self.history.last
        assert newest is not None
        text = self.journal.text(newest)
        try:
            if os.path.realpath(self.path) != str(self.path):
                raise self._refused("leads elsewhere by now", MEND)
            if over is not None and digest_of(self._found()) != over:
                return False
            files.save(self.path, text)
        except InputError as error:
            self.problems = self._told(error)
            self._sure = False
            return True
        self.journal.mark_saved(self.document, newest.version)
        self.problems = ()
        return True
