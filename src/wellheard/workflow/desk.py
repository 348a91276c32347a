"""One open document: every change durable before it is answered, and nobody's lost."""

from __future__ import annotations

import contextlib
import json
import os
import threading
from collections import deque
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from pathlib import Path
from typing import Any

from wellheard.errors import InputError, Problem, UsageError, WellheardError, visible
from wellheard.room import codec
from wellheard.room.operations import apply
from wellheard.store.history import History
from wellheard.store.journal import Entry, Journal, Kind, digest_of
from wellheard.store.shared import Listeners, Shared
from wellheard.units import Unit
from wellheard.workflow.load import Loaded, load_text, resolved
from wellheard.workflow.merging import Clash, Conflict, brought_together, clashes
from wellheard.workflow.mounting import mounts
from wellheard.workflow.record import MEND, Record

__all__ = ["Clash", "Committed", "Conflict", "Desk", "State", "Version"]

LONGEST_KEY = 200
LONGEST_WHAT = 200
"""Characters of a key, and of what a change is called."""
OVERTAKEN = "the room has changed since this was tried; it is tried anew"


@dataclass(frozen=True)
class State:
    """What a document is at one moment.

    Attributes
    ----------
    version : int
        Number of the journal's entry that is shown; grows with every entry.
    loaded : Loaded
        Last valid document.
    saved_at : datetime
        When that entry was made.
    undo, redo : str
        What would be taken back or done again; empty for nothing.
    problems : tuple of Problem
        Why the file cannot be read or written as it is; nothing can be changed before that is
        mended.
    """

    version: int
    loaded: Loaded
    saved_at: datetime
    undo: str
    redo: str
    problems: tuple[Problem, ...] = ()


@dataclass(frozen=True)
class Committed:
    """Answer to a change that is on the disk.

    Attributes
    ----------
    state : State
        As it was right after the change.
    created : tuple of str
        Item paths of what was added.
    merged : bool
        Whether others had changed something else meanwhile.
    notes : tuple of str
        What came of it otherwise than asked, as seats that found no place.
    """

    state: State
    created: tuple[str, ...]
    merged: bool
    notes: tuple[str, ...] = ()


@dataclass(frozen=True)
class Version:
    """One version that a document had: its number, when it came, and what made it."""

    version: int
    at: datetime
    what: str


@dataclass(frozen=True)
class _Change:
    """What is about to become an entry."""

    kind: Kind
    loaded: Loaded
    what: str
    shows: Entry | None = None
    created: tuple[str, ...] = ()
    merged: bool = False
    notes: tuple[str, ...] = ()


class Desk:
    """One open document; one object for each file and process, used from any thread.

    Get one with `opened`, give it back with `close`.

    Attributes
    ----------
    key : str
        How an address names it.
    name : str
        Place of the file from its folder's top.
    path : Path
        Of the file itself, links resolved.
    """

    def __init__(self, path: Path, folder: Path, key: str) -> None:
        self.path, self.key = path, key
        self.name = path.relative_to(folder).as_posix()
        self._lock = threading.RLock()
        self._listeners: Listeners[State] = Listeners()
        self._untold: deque[State] = deque()
        self._telling = threading.Lock()
        self._journal = Journal.opened(folder)
        self._record = Record(path, self.name, self._journal)
        try:
            with self._journal.writing():
                self._record.settle()
            self._state = self._present()
        except BaseException:
            self._journal.close()
            raise

    @classmethod
    def opened(cls, path: Path, *, folder: Path, key: str) -> Desk:
        """The desk of a file, whoever asks and whatever links lead to it.

        Parameters
        ----------
        path : Path
            A room document in ``folder``, or below it.
        folder : Path
            Whose journal it is in.
        key : str
            How an address names it.

        Raises
        ------
        InputError
            The file cannot be read and never could, or the journal cannot be written.
        """
        real = Path(os.path.realpath(path))
        top = Path(os.path.realpath(folder))
        return _OPEN.take(real, lambda: cls(real, top, key))

    def close(self) -> None:
        """Give it back; what was answered is on the disk already."""
        _OPEN.give_back(self.path, lambda desk: desk._journal.close())

    @property
    def state(self) -> State:
        """What the document is now."""
        return self._state

    def versions(self) -> tuple[Version, ...]:
        """Every version that there was, newest first."""
        with self._lock:
            entries = tuple(self._history.entries.values())
        return tuple(Version(e.version, e.at, e.what) for e in reversed(entries))

    def text(self, version: int) -> str:
        """What the document said at a version.

        Raises
        ------
        KeyError
            There was no such version.
        """
        with self._lock:
            return self._record.read(self._history.entries[version]).text

    # Changes -------------------------------------------------------------------------------------

    def commit(
        self,
        operations: Sequence[Mapping[str, Any]],
        *,
        base: int,
        key: str,
        what: str,
        unit: Unit,
        exact: bool = False,
    ) -> Committed:
        """Change the document; on the disk when this returns.

        Parameters
        ----------
        operations : sequence of mappings
            See `wellheard.room.operations`.
        base : int
            Version that they were thought of for. If others have changed something else since,
            both hold.
        key : str
            A name for this change that no other has. Seen before, the answer is that of the first
            time, and nothing is done.
        what : str
            What it does, in a few words, for undo.
        unit : {"m", "ft"}
            Of bare lengths in the operations, and of those in messages.
        exact : bool
            Refuse it where others have changed anything since: what it does was tried then.

        Raises
        ------
        Conflict
            Others have changed the same meanwhile.
        DocumentError
            The result would be no valid document.
        InputError
            An operation makes no sense, or the file was edited outside and cannot be read.
        """

        def change() -> _Change:
            before, now = self._base(base), self._loaded
            apart = before.digest != self._history.shown.digest
            if apart and exact:
                raise InputError(OVERTAKEN)
            if apart:
                old = self._record.read(before).room
                thought = apply(old, operations, unit=unit, mounts=mounts(now.catalogue))
                found = clashes(
                    old,
                    thought.room,
                    now.room,
                    now.catalogue,
                    unit=unit,
                    apart_from=thought.created,
                )
                if found:
                    raise Conflict(found)
            done = apply(now.room, operations, unit=unit, mounts=mounts(now.catalogue))
            fresh = resolved(codec.edit_document(now.document, done.room))
            return _Change(
                "edited", fresh, what, created=tuple(done.created), merged=apart, notes=done.notes
            )

        return self._change(key, change)

    def commit_text(self, text: str, *, base: int, key: str, what: str) -> Committed:
        """Put a whole document in place of what is there; see `commit`.

        Raises
        ------
        Conflict, DocumentError, InputError
            As there.
        """

        def change() -> _Change:
            before, now = self._base(base), self._loaded
            fresh = load_text(text, self.path)
            apart = before.digest != self._history.shown.digest
            if apart:
                old = self._record.read(before).room
                fresh = resolved(brought_together(old, fresh.room, now, onto=now.document))
            return _Change("edited", fresh, what, merged=apart)

        return self._change(key, change)

    def undo(self, *, key: str) -> Committed:
        """Take the last change back, whoever made it and whenever.

        Raises
        ------
        UsageError
            There is nothing to take back.
        DocumentError
            What was there is no valid document any more, as when the catalogue has changed.
        InputError
            As in `commit`.
        """

        def change() -> _Change:
            entry, what = self._history.before, self._history.undo
            if entry is None:
                raise UsageError(f"{self.name}: nothing to take back; this is how it was opened")
            return _Change("undone", self._record.resolve(entry), f"undo: {what}", shows=entry)

        return self._change(key, change)

    def redo(self, *, key: str) -> Committed:
        """Do again what was taken back last; see `undo`."""

        def change() -> _Change:
            entry, what = self._history.again, self._history.redo
            if entry is None:
                raise UsageError(f"{self.name}: nothing to do again; nothing was taken back")
            return _Change("redone", self._record.resolve(entry), f"redo: {what}", shows=entry)

        return self._change(key, change)

    def restore(self, *, key: str) -> Committed:
        """Put the last valid text back where the file cannot be read, or is gone.

        What is there instead is kept in the trash.

        Raises
        ------
        InputError
            It cannot be kept or written.
        """

        def change() -> _Change:
            what = "put the last valid text back"
            return _Change("restored", self._loaded, what, shows=self._history.shown)

        return self._change(key, change, over=True)

    def _change(self, key: str, change: Callable[[], _Change], *, over: bool = False) -> Committed:
        """Make an entry of a change, and save it."""
        if not (isinstance(key, str) and 0 < len(key) <= LONGEST_KEY):
            raise UsageError(f"a key of a change is a text of 1 to {LONGEST_KEY} characters")
        try:
            with self._lock:
                with self._in_step():
                    made = self._entry_of(key, change, over=over)
                    if isinstance(made, Entry):
                        with self._journal.writing():
                            if over and self._record.problems and self._record.unsaved(made):
                                self._record.put_over()
                            self._record.settle()
                if isinstance(made, WellheardError):
                    raise made
                return self._answer(made)
        finally:
            self._tell()

    def _entry_of(
        self, key: str, change: Callable[[], _Change], *, over: bool
    ) -> Entry | WellheardError:
        """The entry of a change, which is on the disk, or why there is none."""
        with self._journal.writing():
            self._record.settle()
            known = self._journal.by_key(self._record.document, key)
            if known is not None:
                return known
            try:
                if not over:
                    self._demand_whole()
                return self._append(change(), key)
            except WellheardError as error:
                return error  # not raised yet: what was noticed on the way stays

    def _append(self, change: _Change, key: str) -> Entry:
        self._record.demand_writable()
        text = change.loaded.document.text.encode()
        kind, shows = change.kind, change.shows
        if kind == "edited" and digest_of(text) == self._history.shown.digest:
            kind, shows = "same", self._history.shown
        what = " ".join(visible(str(change.what)[:LONGEST_WHAT]).split())
        entry = self._journal.append(
            self._record.document,
            kind,
            text=None if shows else text,
            shows=shows,
            key=key,
            what=what or "edit",
            answer=json.dumps(
                {"created": change.created, "merged": change.merged, "notes": change.notes}
            ),
        )
        self._record.added(entry, change.loaded)
        return entry

    def _answer(self, entry: Entry) -> Committed:
        """What is answered to a change, the first time and every other."""
        versions = list(self._history.entries)
        at = versions.index(entry.version)
        after = self._history.entries[versions[at + 1]] if at + 1 < len(versions) else None
        if after is not None and after.kind == "clashed":
            raise Conflict(self._overtaken(self._history.entries[versions[at - 1]], entry, after))
        if self._record.unsaved(entry) and self._record.problems:
            problems = self._record.problems
            raise InputError(
                f"{problems[0]}. The change is kept, and is saved as soon as that can be", problems
            )
        given = json.loads(entry.answer)
        state = self._state if after is None else self._state_after(versions[: at + 1])
        return Committed(
            state, tuple(given["created"]), bool(given["merged"]), tuple(given.get("notes", ()))
        )

    def _overtaken(self, before: Entry, entry: Entry, after: Entry) -> tuple[Clash, ...]:
        """What an edit from outside says differently that came before a change was saved."""
        base, yours, theirs = (self._record.read(e).room for e in (before, entry, after))
        catalogue = self._loaded.catalogue
        found = clashes(base, yours, theirs, catalogue, unit=yours.units)
        together = "edited outside; both together make no valid document"
        return found or (Clash("", entry.what, together, "The document"),)

    def _state_after(self, versions: Sequence[int]) -> State:
        history = History(self._history.entries[v] for v in versions)
        last = history.entries[versions[-1]]
        return State(last.version, self._record.resolve(last), last.at, history.undo, history.redo)

    # What there is -------------------------------------------------------------------------------

    @property
    def _history(self) -> History:
        return self._record.history

    @property
    def _loaded(self) -> Loaded:
        assert self._record.loaded is not None
        return self._record.loaded

    def _base(self, version: int) -> Entry:
        entry = self._history.entries.get(version) if isinstance(version, int) else None
        if entry is None:
            raise InputError(f"{self.name}: has no version {version!r}; load the room again")
        return entry

    def _demand_whole(self) -> None:
        """Refuse to change what cannot be read or written as it is."""
        problems = self._record.problems
        if problems:
            more = f" (and {len(problems) - 1} more)" if len(problems) > 1 else ""
            raise InputError(f"{problems[0]}{more}. Nothing was changed: {MEND}", problems)

    def _present(self) -> State:
        record, newest = self._record, self._history.last
        if record.loaded is None or newest is None:
            raise InputError("\n".join(map(str, record.problems)), record.problems)
        undo, redo = self._history.undo, self._history.redo
        return State(newest.version, record.loaded, newest.at, undo, redo, record.problems)

    @contextlib.contextmanager
    def _in_step(self) -> Iterator[None]:
        """Keep the state in step with the journal, whether the block ends well or not."""
        try:
            yield
        except BaseException:
            self._record.forget()
            raise
        self._show(self._present())

    def _show(self, fresh: State) -> None:
        if fresh != self._state:
            self._state = fresh
            self._untold.append(fresh)

    # Others --------------------------------------------------------------------------------------

    def look(self, *, products: bool = False) -> None:
        """Notice what others have done to the file or in the journal.

        Nothing is raised for it: the state says what is wrong.

        Parameters
        ----------
        products : bool
            Whether the user's own products may be others by now.
        """
        with self._lock:
            try:
                if not products and not self._record.changed():
                    return
                with self._in_step(), self._journal.writing():
                    self._record.settle()
                    if products:
                        self._record.take_up_products()
            except InputError as error:
                problem = Problem(self.name, 0, 0, "", str(error), MEND)
                self._show(replace(self._state, problems=(problem,)))
        self._tell()

    def subscribe(self, told: Callable[[State], None]) -> Callable[[], None]:
        """Be told every new state, from any thread, in order; returns how to stop that."""
        return self._listeners.add(told)

    def _tell(self) -> None:
        # Whoever tells already tells this too: nobody waits, and nobody is told out of order.
        while self._untold and self._telling.acquire(blocking=False):
            try:
                while self._untold:
                    self._listeners.tell(self._untold.popleft())
            finally:
                self._telling.release()


_OPEN: Shared[Path, Desk] = Shared()
