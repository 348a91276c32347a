"""Things of which a process has one for each key, however many ask for it."""

from __future__ import annotations

import threading
from collections.abc import Callable, Hashable
from typing import Generic, TypeVar

K = TypeVar("K", bound=Hashable)
V = TypeVar("V")


class Shared(Generic[K, V]):
    """Things by key, each made for the first who takes it and closed when the last gives it back.

    Examples
    --------
    >>> shared = Shared()
    >>> one, same = shared.take("a", list), shared.take("a", list)
    >>> one is same
    True
    >>> shared.give_back("a", lambda thing: print("closed"))
    >>> shared.give_back("a", lambda thing: print("closed"))
    closed
    """

    def __init__(self) -> None:
        self._lock = threading.RLock()
        self._things: dict[K, tuple[V, int]] = {}

    def take(self, key: K, make: Callable[[], V]) -> V:
        """The thing of a key."""
        with self._lock:
            if key in self._things:
                thing, takers = self._things[key]
            else:
                thing, takers = make(), 0
            self._things[key] = (thing, takers + 1)
            return thing

    def give_back(self, key: K, close: Callable[[V], None]) -> None:
        """Do without the thing of a key.

        Raises
        ------
        KeyError
            Nobody has it.
        """
        with self._lock:
            thing, takers = self._things.pop(key)
            if takers > 1:
                self._things[key] = (thing, takers - 1)
            else:
                close(thing)
