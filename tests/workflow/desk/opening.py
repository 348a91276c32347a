"""A document, its desk opened and opened again, and a change of it."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from wellheard.workflow.desk import Desk, State

TEXT = """\
# A box, invented, with a remark that must stay.
wellheard: 1
title: Tide Room
units: m
space:
  outline: [[0, 0], [6, 0], [6, 4.5], [0, 4.5]]     # measured by nobody
  height: 2.7
people:
  seats:
    s1: {at: [2, 2], facing: 0}     # the chair
    s2: {at: [3, 2], facing: 0}
"""


class Opener:
    """Opens the desk of a file; again is after a restart."""

    def __init__(self, path: Path) -> None:
        self.path = path
        self.desks: list[Desk] = []

    def __call__(self) -> Desk:
        self.close()
        self.desks.append(Desk.opened(self.path, folder=self.path.parent, key="tide"))
        return self.desks[0]

    def close(self) -> None:
        while self.desks:
            self.desks.pop().close()


def put(field: str, value: Any) -> list[dict[str, Any]]:
    return [{"path": field, "set": value}]


def change(desk: Desk, field: str, value: Any, key: str, base: int | None = None) -> State:
    version = desk.state.version if base is None else base
    return desk.commit(put(field, value), base=version, key=key, what=key, unit="m").state
