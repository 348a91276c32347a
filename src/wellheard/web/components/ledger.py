"""One row a place with its state, its figures and its range; worst first."""

from __future__ import annotations

from nicegui.element import Element


class Ledger(Element, component="ledger.js"):
    """One row a place with its state, its figures and its range; worst first.

    It talks to the server through the desk of its page.

    Parameters
    ----------
    room : str
        Key of the room, as addresses name it.
    """

    def __init__(self, room: str) -> None:
        super().__init__()
        self._props["room"] = room
