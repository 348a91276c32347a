"""What is wrong, what to do about it, and where."""

from __future__ import annotations

from nicegui.element import Element


class FindingList(Element, component="findings.js"):
    """What is wrong, what to do about it, and where.

    It talks to the server through the desk of its page.

    Parameters
    ----------
    room : str
        Key of the room, as addresses name it.
    """

    def __init__(self, room: str) -> None:
        super().__init__()
        self._props["room"] = room
