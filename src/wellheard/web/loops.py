"""Word from other threads to a page, which lives in the loop of the server."""

from __future__ import annotations

import asyncio
import contextlib
from collections.abc import Callable
from typing import ParamSpec

P = ParamSpec("P")


def in_loop(act: Callable[P, object]) -> Callable[P, None]:
    """The same, to be called from any thread: it is done in the loop that runs now.

    Nothing happens once that loop is closed: whoever waited for it is gone.
    """
    loop = asyncio.get_running_loop()

    def told(*args: P.args, **kwargs: P.kwargs) -> None:
        with contextlib.suppress(RuntimeError):
            loop.call_soon_threadsafe(lambda: act(*args, **kwargs))

    return told
