"""One voice path, stage by stage, every figure with its working."""

from __future__ import annotations

from nicegui.element import Element


class Strip(Element, component="strip.js"):
    """One voice path, stage by stage, every figure with its working.

    It talks to the server through the desk of its page.

    Parameters
    ----------
    room : str
        Key of the room, as addresses name it.
    """

    def __init__(self, room: str) -> None:
        super().__init__()
        self._props["room"] = room
