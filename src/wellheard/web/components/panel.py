"""The properties of one item, or of the room, to read and to change."""

from __future__ import annotations

from nicegui.element import Element


class Panel(Element, component="panel.js"):
    """The properties of one item, or of the room, to read and to change.

    It talks to the server through the desk of its page.

    Parameters
    ----------
    room : str
        Key of the room, as addresses name it.
    """

    def __init__(self, room: str) -> None:
        super().__init__()
        self._props["room"] = room
