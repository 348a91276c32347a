"""Which text a document shows, and where undo and redo lead, by its entries one after the other."""

from __future__ import annotations

from collections.abc import Iterable

from wellheard.store.journal import Entry


class History:
    """Where a document stands after its entries.

    An edit after an undo drops what could have been done again. Entries that change nothing leave
    everything as it is.

    Parameters
    ----------
    entries : iterable of Entry
        All of the document, in order.
    """

    def __init__(self, entries: Iterable[Entry] = ()) -> None:
        self.entries: dict[int, Entry] = {}
        self._past: list[int] = []
        self._future: list[int] = []
        self._shown = 0
        for entry in entries:
            self.add(entry)

    def add(self, entry: Entry) -> None:
        """Go on to the next entry."""
        self.entries[entry.version] = entry
        if entry.kind == "opened":
            self._shown = entry.version
        elif entry.kind in ("edited", "outside", "clashed"):
            self._past.append(self._shown)
            self._future.clear()
            self._shown = entry.version
        elif entry.kind == "undone":
            self._future.append(self._shown)
            self._shown = self._past.pop()
        elif entry.kind == "redone":
            self._past.append(self._shown)
            self._shown = self._future.pop()

    @property
    def last(self) -> Entry | None:
        """The newest entry."""
        return next(reversed(self.entries.values()), None)

    @property
    def shown(self) -> Entry:
        """The entry whose text is shown."""
        return self.entries[self._shown]

    @property
    def before(self) -> Entry | None:
        """What an undo would show."""
        return self.entries[self._past[-1]] if self._past else None

    @property
    def again(self) -> Entry | None:
        """What a redo would show."""
        return self.entries[self._future[-1]] if self._future else None

    @property
    def undo(self) -> str:
        """What an undo would take back; empty for nothing."""
        return self.shown.what if self._past else ""

    @property
    def redo(self) -> str:
        """What a redo would do again; empty for nothing."""
        return self.again.what if self.again else ""
