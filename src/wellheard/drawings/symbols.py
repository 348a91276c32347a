"""The plan symbols: shapes read once from ``data/look/symbols.svg``, roles turned into pens."""

from __future__ import annotations

import functools
from dataclasses import dataclass
from importlib import resources
from xml.etree import ElementTree

UNITS = 24.0
"""A symbol's height in its own units: at 6 mm one unit is 0.25 mm."""

_ROLES: dict[str, tuple[str, str, float]] = {
    # role: fill token, stroke token, stroke width in symbol units
    "so": ("none", "ink", 1.0),
    "sp": ("paper", "ink", 1.0),
    "sf": ("ink", "none", 0.0),
    "sx": ("none", "paper", 2.2),
}
_WIDTHS = {"hair": 0.6, "bold": 2.0, "wall": 2.6}
_DASHES = {"dash": "3 1.6", "dot": "1.8 1.8", "chain": "5 1.4 1.2 1.4"}


@dataclass(frozen=True, slots=True)
class Shape:
    """One element of a symbol: SVG tag, geometry attributes, and how it is inked."""

    tag: str
    geometry: tuple[tuple[str, str], ...]
    fill: str
    stroke: str
    width: float
    dash: str


@dataclass(frozen=True, slots=True)
class Drawing:
    """A symbol: the word that stands beside it in the legend, and its shapes."""

    title: str
    shapes: tuple[Shape, ...]


@functools.cache
def library() -> dict[str, Drawing]:
    """Return every symbol by name.

    Examples
    --------
    >>> library()["mic-ceiling"].title
    'ceiling microphone'
    """
    text = resources.files("wellheard.data").joinpath("look/symbols.svg").read_text("utf-8")
    svg = "{http://www.w3.org/2000/svg}"
    found: dict[str, Drawing] = {}
    for symbol in ElementTree.fromstring(text).iter(f"{svg}symbol"):
        title = symbol.findtext(f"{svg}title", default="")
        shapes = tuple(_shape(part, svg) for part in symbol if part.tag != f"{svg}title")
        found[symbol.attrib["id"]] = Drawing(title, shapes)
    return found


def _shape(part: ElementTree.Element, namespace: str) -> Shape:
    role, *modifiers = part.attrib["class"].split()
    fill, stroke, width = _ROLES[role]
    dash = ""
    for modifier in modifiers:
        width = _WIDTHS.get(modifier, width)
        dash = _DASHES.get(modifier, dash)
    geometry = tuple((key, value) for key, value in part.attrib.items() if key != "class")
    return Shape(part.tag.removeprefix(namespace), geometry, fill, stroke, width, dash)
