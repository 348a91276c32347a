"""Recorded drawing to SVG with plain attributes: no style sheet decides how it looks.

Only the font faces stand in a ``<style>`` element, so that a browser can show the file on its
own. Renderers without CSS find family, weight, colours and widths on every element.
"""

from __future__ import annotations

import base64
import functools
from collections.abc import Iterable
from importlib import resources
from itertools import pairwise
from xml.sax.saxutils import escape, quoteattr

from wellheard.drawings import symbols, tokens
from wellheard.drawings.canvas import (
    Area,
    Canvas,
    Circle,
    Command,
    Line,
    Picture,
    Point,
    Symbol,
    Text,
)
from wellheard.drawings.tokens import DASHES, Face, ThemeName

# a viewer without the font should fall back on a narrow one, or figures would run together
_FAMILIES = "Barlow, Arial Narrow, Liberation Sans Narrow, DejaVu Sans Condensed, sans-serif"
_FACES: dict[Face, tuple[str, int, str]] = {
    "regular": ("Barlow-Regular", 400, "normal"),
    "medium": ("Barlow-Medium", 500, "normal"),
    "semibold": ("Barlow-SemiBold", 600, "normal"),
    "italic": ("Barlow-Italic", 400, "italic"),
}


def render(
    canvas: Canvas,
    width: float,
    height: float,
    *,
    title: str,
    theme: ThemeName = "white",
    embed_fonts: bool = True,
    background: bool = True,
) -> str:
    """Return the drawing as the text of an SVG file.

    Parameters
    ----------
    canvas : Canvas
        What to render.
    width, height : float
        Size of the paper. [mm]
    title : str
        Accessible name.
    theme : {"white", "slate"}
        Slate is for screens; print is always white.
    embed_fonts : bool
        Put the font faces that occur into the file. A PDF compiler brings its own.
    background : bool
        Paint the paper.

    Returns
    -------
    str
        The same drawing gives the same bytes.
    """
    faces = sorted({text.face for text in canvas.texts()})
    parts = [
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{_n(width)}mm" height="{_n(height)}mm" '
        f'viewBox="0 0 {_n(width)} {_n(height)}" role="img">',
        f"<title>{escape(title)}</title>",
    ]
    if embed_fonts and faces:
        parts.append(f"<style>{''.join(_font_face(face) for face in faces)}</style>")
    if background:
        paper = tokens.colour("paper", theme)
        parts.append(f'<rect width="{_n(width)}" height="{_n(height)}" fill="{paper}"/>')
    parts.append(
        f'<g font-family="{_FAMILIES}" font-weight="400" stroke-linecap="butt" '
        'stroke-linejoin="miter" style="font-variant-numeric:tabular-nums lining-nums">'
    )
    parts.extend(_element(command, theme) for command in canvas.commands)
    parts.append("</g></svg>\n")
    return "\n".join(parts)


@functools.cache
def _font_face(face: Face) -> str:
    file, weight, style = _FACES[face]
    data = resources.files("wellheard.data").joinpath(f"fonts/{file}.woff2").read_bytes()
    return (
        f"@font-face{{font-family:Barlow;font-weight:{weight};font-style:{style};"
        f"src:url(data:font/woff2;base64,{base64.b64encode(data).decode('ascii')}) "
        "format('woff2')}"
    )


def _n(value: float) -> str:
    """Return a number with at most two decimals (a hundredth of a millimetre is enough)."""
    text = f"{value:.2f}".rstrip("0").rstrip(".")
    return "0" if text in ("-0", "") else text


def _element(command: Command, theme: ThemeName) -> str:
    match command:
        case Line():
            return _line(command, theme)
        case Area():
            fill = f'fill="{tokens.colour(command.fill, theme)}" fill-rule="evenodd"'
            path = _path(command.rings, closed=True)
            return f'<path d="{path}" {fill}{_outline(command, theme)}/>'
        case Circle():
            x, y = command.centre
            fill = tokens.colour(command.fill, theme)
            return (
                f'<circle cx="{_n(x)}" cy="{_n(y)}" r="{_n(command.radius)}" '
                f'fill="{fill}"{_outline(command, theme)}/>'
            )
        case Text():
            return _text(command, theme)
        case Symbol():
            return _symbol(command, theme)
        case Picture():
            return _picture(command)


def _picture(picture: Picture) -> str:
    """As an image of its own: nothing in it can reach into the drawing."""
    data = base64.b64encode(picture.svg.encode()).decode("ascii")
    x, y = picture.at
    return (
        f'<image x="{_n(x)}" y="{_n(y)}" width="{_n(picture.width)}" '
        f'height="{_n(picture.height)}" href="data:image/svg+xml;base64,{data}"/>'
    )


def _line(line: Line, theme: ThemeName) -> str:
    opacity = f' opacity="{_n(line.opacity)}"' if line.opacity < 1 else ""
    return (
        f'<path d="{_path(line.runs, closed=line.closed)}" fill="none" '
        f'stroke="{tokens.colour(line.colour, theme)}" '
        f'stroke-width="{_n(tokens.pen_mm(line.pen))}"{_dash(DASHES[line.dash])}{opacity}/>'
    )


def _outline(shape: Area | Circle, theme: ThemeName) -> str:
    if shape.pen is None:
        return ""
    dash = _dash(DASHES[shape.dash]) if isinstance(shape, Area) else ""
    stroke = tokens.colour(shape.colour, theme)
    return f' stroke="{stroke}" stroke-width="{_n(tokens.pen_mm(shape.pen))}"{dash}'


def _dash(lengths: tuple[float, ...]) -> str:
    return f' stroke-dasharray="{" ".join(_n(length) for length in lengths)}"' if lengths else ""


def _path(runs: Iterable[tuple[Point, ...]], *, closed: bool) -> str:
    """Return path data: a start, then steps in hundredths that cannot add up rounding."""
    pieces = []
    for run in runs:
        fixed = [(round(100 * x), round(100 * y)) for x, y in run]
        pieces.append(f"M{_short(fixed[0][0])} {_short(fixed[0][1])}")
        letter = "l"
        for (x0, y0), (x1, y1) in pairwise(fixed):
            if (x0, y0) == (x1, y1):
                continue
            dy = _short(y1 - y0)
            pieces.append(f"{letter}{_short(x1 - x0)}{dy if dy[0] == '-' else ' ' + dy}")
            letter = " "
        if closed:
            pieces.append("Z")
    return "".join(pieces)


@functools.lru_cache(maxsize=4096)
def _short(hundredths: int) -> str:
    """Return hundredths as the shortest decimal, as path data allows."""
    sign, whole = ("-" if hundredths < 0 else ""), abs(hundredths)
    text = f"{whole // 100}.{whole % 100:02d}".rstrip("0").rstrip(".")
    return sign + (text.removeprefix("0") if text.startswith("0.") else text)


def _text(text: Text, theme: ThemeName) -> str:
    x, y = text.at
    _, weight, style = _FACES[text.face]
    extra = f' font-weight="{weight}"' if weight != 400 else ""
    extra += f' font-style="{style}"' if style != "normal" else ""
    extra += f' text-anchor="{text.anchor}"' if text.anchor != "start" else ""
    if text.angle_deg:
        extra += f' transform="rotate({_n(text.angle_deg)} {_n(x)} {_n(y)})"'
    return (
        f'<text x="{_n(x)}" y="{_n(y)}" font-size="{_n(text.size)}" '
        f'fill="{tokens.colour(text.colour, theme)}"{extra}>{escape(text.text)}</text>'
    )


def _symbol(symbol: Symbol, theme: ThemeName) -> str:
    x, y = symbol.at
    turn = f" rotate({_n(symbol.turn_deg)})" if symbol.turn_deg else ""
    scale = f"{symbol.size / symbols.UNITS:.4f}"
    inner = []
    for shape in symbols.library()[symbol.name].shapes:
        geometry = " ".join(f"{key}={quoteattr(value)}" for key, value in shape.geometry)
        fill = "none" if shape.fill == "none" else tokens.colour(shape.fill, theme)
        ink = f' fill="{fill}"'
        if shape.stroke != "none":
            ink += f' stroke="{tokens.colour(shape.stroke, theme)}"'
            ink += f' stroke-width="{_n(shape.width * symbol.weight)}"'
        if shape.dash:
            ink += f' stroke-dasharray="{shape.dash}"'
        inner.append(f"<{shape.tag} {geometry}{ink}/>")
    body = "".join(inner)
    return f'<g transform="translate({_n(x)} {_n(y)}){turn} scale({scale})">{body}</g>'
