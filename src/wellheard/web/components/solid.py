"""The room in space, read only when it is first shown."""

from __future__ import annotations

from nicegui.element import Element


class Solid(Element, component="solid.js"):
    """The room in space, read only when it is first shown.

    It talks to the server through the desk of its page.

    Parameters
    ----------
    room : str
        Key of the room, as addresses name it.
    """

    def __init__(self, room: str) -> None:
        super().__init__()
        self._props["room"] = room
