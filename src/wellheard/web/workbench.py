"""What all pages share: the rooms of a folder, predictions that are remembered, and workers."""

from __future__ import annotations

import asyncio
import threading
from collections import OrderedDict
from collections.abc import Callable, Mapping
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from typing import ParamSpec, TypeVar

from wellheard.units import Unit
from wellheard.web.jobs import Jobs
from wellheard.workflow.desk import Desk, State
from wellheard.workflow.dragged import Move
from wellheard.workflow.live import Live
from wellheard.workflow.shelf import Shelf

REMEMBERED = 24
"""Versions of rooms of which the prediction is kept at hand."""

P = ParamSpec("P")
T = TypeVar("T")


class Workbench:
    """One folder of rooms, open in any number of pages.

    Parameters
    ----------
    folder : path
        Where the rooms are.
    watch : bool
        Whether to look for changes made by others, twice a second.

    Raises
    ------
    InputError
        It is no folder, or cannot be written to.
    """

    def __init__(self, folder: Path, *, watch: bool = True) -> None:
        self.shelf = Shelf(folder, watch=watch)
        self.jobs = Jobs()
        # No long prediction is in the way of a drag, nor of what is to be saved.
        self._quick = ThreadPoolExecutor(2, thread_name_prefix="quick")
        self._sure = ThreadPoolExecutor(2, thread_name_prefix="sure")
        self._slow = ThreadPoolExecutor(2, thread_name_prefix="slow")
        self._lives: OrderedDict[tuple[Path, int], Live] = OrderedDict()
        self._lock = threading.Lock()
        self._asked = 0

    def desk(self, key: str) -> Desk:
        """The open document of a room.

        Raises
        ------
        KeyError
            No room of the folder has this key.
        """
        return self.shelf.desk(key)

    def live(self, desk: Desk, state: State | None = None) -> Live:
        """Predictions of the present version of a document, or of a given one."""
        shown = state or desk.state
        key = (desk.path, shown.version)
        with self._lock:
            found = self._lives.get(key)
            if found is None:
                found = self._lives[key] = Live(shown.loaded)
            self._lives.move_to_end(key)
            while len(self._lives) > REMEMBERED:
                self._lives.popitem(last=False)
        return found

    async def quickly(self, work: Callable[P, T], *args: P.args, **kwargs: P.kwargs) -> T:
        """Result of work that a moving hand waits for."""
        return await self._on(self._quick, work, *args, **kwargs)

    async def surely(self, work: Callable[P, T], *args: P.args, **kwargs: P.kwargs) -> T:
        """Result of work on what is kept: documents that are opened, read and saved."""
        return await self._on(self._sure, work, *args, **kwargs)

    async def slowly(self, work: Callable[P, T], *args: P.args, **kwargs: P.kwargs) -> T:
        """Result of work that may take a second and more."""
        return await self._on(self._slow, work, *args, **kwargs)

    def ahead(self, work: Callable[[], object]) -> None:
        """Begin work that somebody will wait for; what is wrong with it shows then."""
        self._slow.submit(work)

    def asked(self) -> None:
        """Somebody waits: nothing is worked out ahead meanwhile."""
        self._asked += 1

    def look_ahead(
        self, live: Live, moves: Mapping[str, Move], unit: Unit, quantity: str, worst: bool
    ) -> None:
        """Work out the next places of a moving microphone until anybody asks for anything."""
        now = self._asked
        self._quick.submit(
            live.look_ahead,
            moves,
            unit=unit,
            quantity=quantity,
            worst=worst,
            stop=lambda: self._asked != now,
        )

    async def _on(
        self, pool: ThreadPoolExecutor, work: Callable[P, T], *args: P.args, **kwargs: P.kwargs
    ) -> T:
        loop = asyncio.get_running_loop()
        return await loop.run_in_executor(pool, lambda: work(*args, **kwargs))

    def close(self) -> None:
        """Stop watching and computing; what was acknowledged is on the disk already."""
        self.jobs.close()
        self.shelf.close()
        for pool in (self._quick, self._sure, self._slow):
            pool.shutdown(wait=False, cancel_futures=True)
