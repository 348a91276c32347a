"""The plan of a room, drawn and changed in the browser."""

from __future__ import annotations

from typing import Literal

from nicegui.element import Element

Layer = Literal["lines", "tint", "tiles", "dimensions", "findings"]


class Plan(Element, component="plan.js"):
    """A sheet on which a room is drawn; it talks to the server through the desk of its page.

    Parameters
    ----------
    room : str
        Key of the room, as addresses name it.
    """

    def __init__(self, room: str) -> None:
        super().__init__()
        self._props["room"] = room

    def arrived(self, version: int) -> None:
        """Tell the page that the document has become another version."""
        self.run_method("arrived", version)

    def start_placing(self, kind: str, product: str = "", symbol: str = "") -> None:
        """Let the next press on the sheet add something.

        Parameters
        ----------
        kind : str
            As the operation ``add`` names it.
        product : str
            Catalogue id, for devices.
        symbol : str
            Plan symbol that is shown under the pointer; that of the kind unless given.
        """
        self.run_method("startPlacing", kind, product or None, symbol or None)

    def outline(self, on: bool) -> None:
        """Begin or end editing the outline."""
        self.run_method("outline", on)

    def layer(self, name: Layer, *, on: bool) -> None:
        """Show or hide a layer."""
        self.run_method("layers", {name: on})

    def fit(self) -> None:
        """Show the whole room."""
        self.run_method("fit")
