"""How wide text is, measured with the advance widths of the shipped font."""

from __future__ import annotations

import functools

from wellheard import tables
from wellheard.drawings.tokens import Face

CAP_HEIGHT = 0.7
"""Of the type size."""
DESCENT = 0.19
"""Depth of g, p, q below the base line, of the type size."""

_UNKNOWN = 0.6  # a character the font lacks: about an en wide, on the generous side


@functools.cache
def _advances(face: Face) -> dict[str, float]:
    table = tables.load("barlow-advances")
    widths = zip(table.strings("codepoint"), table.floats(face), strict=True)
    return {chr(int(code, 16)): width / 1000 for code, width in widths}


@functools.lru_cache(maxsize=4096)
def text_width(text: str, size: float, *, face: Face = "regular") -> float:
    """Return the printed length of one line of text, in the unit of ``size``.

    Kerning is left out, which errs towards wide.

    Examples
    --------
    >>> text_width("2300", 10.0)
    21.08
    """
    advances = _advances(face)
    return round(size * sum(advances.get(character, _UNKNOWN) for character in text), 6)


def wrap(text: str, width: float, size: float, *, face: Face = "regular") -> list[str]:
    """Break text at spaces into lines no wider than ``width``; a longer word stands alone.

    Examples
    --------
    >>> wrap("rated fixing and safety bond", 20.0, 2.5)
    ['rated fixing and', 'safety bond']
    """
    lines: list[str] = []
    for word in text.split(" "):
        trial = f"{lines[-1]} {word}" if lines else word
        if lines and text_width(trial, size, face=face) <= width:
            lines[-1] = trial
        else:
            lines.append(word)
    return lines


def wrap_evenly(text: str, width: float, size: float, *, face: Face = "regular") -> list[str]:
    """Break text into as few lines as `wrap` does, but of like length.

    Examples
    --------
    >>> wrap("one two three four five six", 26.0, 2.5)
    ['one two three four five', 'six']
    >>> wrap_evenly("one two three four five six", 26.0, 2.5)
    ['one two three', 'four five six']
    """
    lines = wrap(text, width, size, face=face)
    narrow = width
    while narrow > width / 3:
        narrow -= 0.02 * width
        tighter = wrap(text, narrow, size, face=face)
        if len(tighter) > len(lines) or any(
            text_width(line, size, face=face) > narrow for line in tighter
        ):
            break
        lines = tighter
    return lines


def shorten(text: str, width: float, size: float, *, face: Face = "regular") -> str:
    """Return ``text``, cut with an ellipsis if it is wider than ``width``.

    Examples
    --------
    >>> shorten("ceiling-head-3", 12.0, 2.5)
    'ceiling-h…'
    """
    if text_width(text, size, face=face) <= width:
        return text
    while text and text_width(text + "…", size, face=face) > width:
        text = text[:-1]
    return text.rstrip() + "…"
