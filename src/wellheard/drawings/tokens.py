"""Pens, lettering heights and colours: the values of the look, read from ``data/look``."""

from __future__ import annotations

import functools
import json
from importlib import resources
from typing import Any, Literal, TypeAlias

Pen: TypeAlias = Literal["hair", "thin", "fine", "mid", "bold", "heavy"]
Face: TypeAlias = Literal["regular", "medium", "semibold", "italic"]
Dash: TypeAlias = Literal["solid", "dashed", "chain"]
ThemeName: TypeAlias = Literal["white", "slate"]

DASHES: dict[str, tuple[float, ...]] = {
    "solid": (),
    "dashed": (2.4, 1.2),
    "chain": (6.0, 1.0, 1.0, 1.0),
}
TINTS = 11
"""Steps of the tint scale, ``tint-0`` (lowest) to ``tint-10``."""


@functools.cache
def load() -> dict[str, Any]:
    """Return every token as it stands in ``tokens.json``.

    Examples
    --------
    >>> load()["font"]["family"]
    'Barlow'
    """
    text = resources.files("wellheard.data").joinpath("look/tokens.json").read_text("utf-8")
    tokens: dict[str, Any] = json.loads(text)
    return tokens


def pen_mm(pen: Pen) -> float:
    """Return the width of a pen. [mm]

    Examples
    --------
    >>> pen_mm("heavy")
    0.7
    """
    return float(load()["pen_mm"][pen])


def size_mm(cap_height: float | str) -> float:
    """Return the type size whose capitals are ``cap_height`` high. [mm]

    Parameters
    ----------
    cap_height : float or str
        Height of capitals [mm], or the name of a lettering height: note, body, head, title,
        display.

    Examples
    --------
    >>> round(size_mm("body"), 2), round(size_mm(1.8), 2)
    (3.57, 2.57)
    """
    tokens = load()
    height = tokens["cap_height_mm"][cap_height] if isinstance(cap_height, str) else cap_height
    return float(height) / float(tokens["font"]["cap_height_ratio"])


def colour(name: str, theme: ThemeName = "white") -> str:
    """Return the hexadecimal colour that ``name`` has in ``theme``.

    Examples
    --------
    >>> colour("accent")
    '#9c1a5c'
    """
    return str(load()["themes"][theme][name])
