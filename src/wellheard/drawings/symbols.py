"""The plan symbols: shapes read once from ``data/look/symbols.svg``, roles turned into pens."""

from __future__ import annotations

import functools
from dataclasses import dataclass
from importlib import resources
from xml.etree import ElementTree
from xml.sax.saxutils import quoteattr

UNITS = 24.0
"""A symbol's height in its own units: at 6 mm one unit is 0.25 mm."""

_ROLES: dict[str, tuple[str, str, float]] = {
    # role: fill token, stroke token, stroke width in symbol units
    "so": ("none", "ink", 1.0),
    "sp": ("paper", "ink", 1.0),
    "sf": ("ink", "none", 0.0),
    "sx": ("none", "paper", 2.2),
}
_SVG = "{http://www.w3.org/2000/svg}"
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
    found: dict[str, Drawing] = {}
    for name, symbol in _read().items():
        shapes = tuple(_shape(part, _SVG) for part in symbol if part.tag != f"{_SVG}title")
        found[name] = Drawing(symbol.findtext(f"{_SVG}title", default=""), shapes)
    return found


@functools.cache
def with_classes(name: str) -> str:
    """Return the shapes of a symbol as SVG whose roles are left to a page's style sheet.

    Examples
    --------
    >>> with_classes("state-kept").startswith('<rect class="sp"')
    True
    """
    parts = [part for part in _read()[name] if part.tag != f"{_SVG}title"]
    return "".join(
        f"<{part.tag.removeprefix(_SVG)} "
        + " ".join(f"{key}={quoteattr(value)}" for key, value in part.attrib.items())
        + "/>"
        for part in parts
    )


@functools.cache
def _read() -> dict[str, ElementTree.Element]:
    text = resources.files("wellheard.data").joinpath("look/symbols.svg").read_text("utf-8")
    found = ElementTree.fromstring(text).iter(f"{_SVG}symbol")
    return {symbol.attrib["id"]: symbol for symbol in found}


def _shape(part: ElementTree.Element, namespace: str) -> Shape:
    role, *modifiers = part.attrib["class"].split()
    fill, stroke, width = _ROLES[role]
    dash = ""
    for modifier in modifiers:
        width = _WIDTHS.get(modifier, width)
        dash = _DASHES.get(modifier, dash)
    geometry = tuple((key, value) for key, value in part.attrib.items() if key != "class")
    return Shape(part.tag.removeprefix(namespace), geometry, fill, stroke, width, dash)
