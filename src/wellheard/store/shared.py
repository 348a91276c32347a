"""What several in a process share: one thing for each key, and word of what has changed."""

from __future__ import annotations

import logging
import threading
from collections.abc import Callable, Hashable
from typing import Generic, ParamSpec, TypeVar

K = TypeVar("K", bound=Hashable)
V = TypeVar("V")
P = ParamSpec("P")
_log = logging.getLogger(__name__)


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


class Listeners(Generic[P]):
    """Who wants to be told, from any thread; one that fails keeps nothing from the others.

    Work on what is told holds up nobody who begins to listen, or stops.

    Examples
    --------
    >>> listeners = Listeners()
    >>> stop = listeners.add(print)
    >>> listeners.tell("saved")
    saved
    >>> stop()
    >>> listeners.tell("saved again")
    >>> bool(listeners)
    False
    """

    def __init__(self) -> None:
        self._lock = threading.Lock()
        self._told: dict[object, Callable[P, object]] = {}

    def __bool__(self) -> bool:
        return bool(self._told)

    def add(self, told: Callable[P, object]) -> Callable[[], None]:
        """Have ``told`` called; returns how to stop that."""
        token = object()
        with self._lock:
            self._told[token] = told

        def stop() -> None:
            with self._lock:
                self._told.pop(token, None)

        return stop

    def tell(self, *args: P.args, **kwargs: P.kwargs) -> None:
        """Call everybody."""
        with self._lock:
            everybody = tuple(self._told.values())
        for told in everybody:
            try:
                told(*args, **kwargs)
            except Exception:
                _log.exception("a listener failed")
