"""Documents of a folder of rooms, and what waits for it."""

from __future__ import annotations

import time
from collections.abc import Callable

from wellheard.workflow.shelf import Shelf

TEXT = """\
wellheard: 1
title: Tide Room
project: {number: "7", client: Saltmarsh Library, site: Quay House}
space: {outline: [[0, 0], [6, 0], [6, 4.5], [0, 4.5]], height: 2.7}
people: {seats: {s1: {at: [2, 2]}}}
"""


def keys(shelf: Shelf) -> dict[str, str]:
    return {card.name: card.key for card in shelf.rooms()}


def until(true: Callable[[], bool]) -> None:
    """Wait for what another thread does; a wait that is too long fails."""
    end = time.monotonic() + 30
    while not true():
        assert time.monotonic() < end
        time.sleep(0.01)
