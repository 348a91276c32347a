"""An SVG of a user's, read against a list of what is allowed and written again from it.

Nothing of the file's own text is passed on: elements, attributes and values that are known to be
inert are written out anew, and everything that could run, load, animate or grow is refused.
"""

from __future__ import annotations

import base64
import binascii
import math
import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from xml.parsers import expat
from xml.sax.saxutils import quoteattr

from wellheard.forms.rasters import Unfit, read_png

MOST_BYTES = 500_000
MOST_ELEMENTS = 5_000
DEEPEST = 24
MOST_LETTERS = 100_000
"""Of one attribute."""
LEAST_SIDE, MOST_SIDE = 1.0, 20_000.0
"""Of the picture, in its own units."""
SLIMMEST = 20.0
"""Longer side over the shorter."""
MOST_PICTURES = 4

SVG = "http://www.w3.org/2000/svg"
LINK = "http://www.w3.org/1999/xlink"
XML = "http://www.w3.org/XML/1998/namespace"

SHAPES = frozenset(
    {"path", "rect", "circle", "ellipse", "line", "polyline", "polygon", "g", "svg", "defs"}
)
PAINTS = frozenset({"linearGradient", "radialGradient", "stop", "clipPath"})
DRAWN: Mapping[str, tuple[str, ...]] = {
    "path": ("d",),
    "rect": ("width", "height"),
    "circle": ("r",),
    "ellipse": (),  # one radius stands for both
    "line": (),
    "polyline": ("points",),
    "polygon": ("points",),
    "image": ("href",),  # as large as it is, where nothing is stated
}
"""What is seen of itself, and what of it must be stated for that."""
UNSEEN = frozenset({"title", "desc", "metadata"})
"""Left out with all that is in them: nobody sees them."""
ELEMENTS = SHAPES | PAINTS | {"image", "style"}

GEOMETRY = frozenset(
    {
        *("d", "x", "y", "x1", "y1", "x2", "y2", "cx", "cy", "r", "rx", "ry", "fx", "fy", "fr"),
        *("width", "height", "points", "viewBox", "preserveAspectRatio", "transform", "offset"),
        *("gradientUnits", "gradientTransform", "spreadMethod", "clipPathUnits", "id", "class"),
    }
)
PROPERTIES = frozenset(
    {
        *("fill", "fill-opacity", "fill-rule", "stroke", "stroke-width", "stroke-opacity"),
        *("stroke-linecap", "stroke-linejoin", "stroke-miterlimit", "opacity"),
        *("stop-color", "stop-opacity", "color", "clip-path"),
        *("clip-rule", "display", "visibility", "paint-order"),
    }
)
"""What an attribute or a style may set."""
HARMLESS = frozenset({"version", "baseProfile", "enable-background", "overflow"})
"""Left out without a word, as is whatever belongs to a drawing program."""

REFUSED = frozenset(
    {"filter", "mask", "cursor", "stroke-dasharray", "marker-start", "marker-mid", "marker-end"}
)
"""What would change the picture or cost without end, and so is not left out."""

_LOCAL = re.compile(r"#[A-Za-z_][\w.-]*")
_URL = re.compile(r"url\(\s*(['\"]?)(#[A-Za-z_][\w.-]*)\1\s*\)")
_SAFE = re.compile(r"[\w\s.,#%()+\-*/'\"]*")
_NAME = re.compile(r"[A-Za-z_][\w.-]*")
_CLASSES = re.compile(r"[\w\s.-]*")
_RULE = re.compile(r"\s*([\w.#,\s-]+?)\s*\{([^{}]*)\}")
_COMMENT = re.compile(r"/\*.*?\*/|<!--|-->", re.S)
_LENGTH = re.compile(r"\s*([0-9.]+(?:[eE][+-]?[0-9]+)?)\s*(?:px|pt|mm|cm|in|pc|q|Q|em)?\s*")
_PICTURE = re.compile(r"data:image/png;base64,([A-Za-z0-9+/=\s]+)")


@dataclass(frozen=True, slots=True)
class Vector:
    """A picture of lines: its text, and its sides in its own units."""

    svg: str
    width: float
    height: float


@dataclass(slots=True)
class _Element:
    name: str
    attributes: dict[str, str]
    children: list[_Element] = field(default_factory=list)
    text: str = ""


def read_svg(raw: bytes) -> Vector:
    """Return an SVG with nothing in it but shapes, their colours and small pictures.

    Parameters
    ----------
    raw : bytes
        The file, in UTF-8.

    Raises
    ------
    Unfit
        It is no SVG, or has something in it that is not allowed, with line and column.
    """
    if len(raw) > MOST_BYTES:
        raise Unfit("the file is too large", f"at most {MOST_BYTES / 1e6:g} MB")
    try:
        raw.decode("utf-8-sig")
    except UnicodeDecodeError:
        raise Unfit("the SVG is not UTF-8", "save it as UTF-8") from None
    root = _Reader().read(raw.removeprefix(b"\xef\xbb\xbf"))
    left, top, width, height = _box(root)
    if not _shows(root):
        raise Unfit("nothing to see in it", f"at least one of {', '.join(DRAWN)}, outside <defs>")
    root.attributes = {
        **{k: v for k, v in root.attributes.items() if k in PROPERTIES},
        "viewBox": f"{left:g} {top:g} {width:g} {height:g}",
        "width": f"{width:g}",
        "height": f"{height:g}",
    }
    return Vector(_written(root, top=True), width, height)


def wrapped(png: bytes, width: int, height: int) -> Vector:
    """Return a checked PNG as an SVG that holds it."""
    held = base64.b64encode(png).decode()
    return Vector(
        f'<svg xmlns="{SVG}" width="{width}" height="{height}" viewBox="0 0 {width} {height}">'
        f'<image width="{width}" height="{height}" href="data:image/png;base64,{held}"/></svg>',
        float(width),
        float(height),
    )


class _Reader:
    """Builds the tree of what is allowed, and refuses the rest where it stands."""

    def __init__(self) -> None:
        self.parser = expat.ParserCreate("utf-8", namespace_separator=" ")
        self.parser.buffer_text = True
        # No entity is ever replaced: neither the file's own nor one from outside.
        self.parser.SetParamEntityParsing(expat.XML_PARAM_ENTITY_PARSING_NEVER)
        self.parser.StartDoctypeDeclHandler = self._doctype
        self.parser.EntityDeclHandler = self._entity
        self.parser.ExternalEntityRefHandler = self._entity
        self.parser.ProcessingInstructionHandler = self._instruction
        self.parser.StartElementHandler = self._start
        self.parser.EndElementHandler = self._end
        self.parser.CharacterDataHandler = self._text
        self.open: list[_Element] = []
        self.root: _Element | None = None
        self.unseen = 0
        self.count = 0
        self.pictures = 0

    def read(self, raw: bytes) -> _Element:
        try:
            self.parser.Parse(raw, True)
        except expat.ExpatError as error:
            what = expat.ErrorString(error.code)
            raise Unfit(
                f"no valid XML: {what}", "a plain SVG", error.lineno, error.offset + 1
            ) from None
        if self.root is None:
            raise self._unfit("no picture in it", "a plain SVG")
        return self.root

    def _unfit(self, what: str, allowed: str) -> Unfit:
        line, column = self.parser.CurrentLineNumber, self.parser.CurrentColumnNumber + 1
        return Unfit(what, allowed, line, column)

    def _doctype(self, *_: object) -> None:
        raise self._unfit("a DOCTYPE", "none: save it as plain SVG, without a document type")

    def _entity(self, *_: object) -> int:
        raise self._unfit("an entity", "none: save it as plain SVG")

    def _instruction(self, target: str, _: str) -> None:
        raise self._unfit(f"an instruction <?{target}", "none but the one of XML itself")

    def _start(self, full: str, attributes: Mapping[str, str]) -> None:
        self.count += 1
        if self.count > MOST_ELEMENTS:
            raise self._unfit(f"more than {MOST_ELEMENTS} elements", "a simpler picture")
        space, _, name = full.rpartition(" ")
        if self.unseen or name in UNSEEN or space != SVG:
            if not self.open and not self.unseen:
                raise self._unfit(f"this is <{name}>, no SVG", f'<svg xmlns="{SVG}">')
            self.unseen += 1
            if self.unseen > DEEPEST:
                raise self._unfit("nested too deep", f"at most {DEEPEST} levels")
            return
        if name not in ELEMENTS:
            raise self._unfit(f"an element <{name}>", _instead(name))
        if not self.open and name != "svg":
            raise self._unfit(f"this is <{name}>, no picture", f'<svg xmlns="{SVG}">')
        if len(self.open) >= DEEPEST:
            raise self._unfit("nested too deep", f"at most {DEEPEST} levels")
        element = _Element(name, self._attributes(name, attributes))
        if self.open:
            self.open[-1].children.append(element)
        else:
            self.root = element
        self.open.append(element)

    def _end(self, _: str) -> None:
        if self.unseen:
            self.unseen -= 1
            return
        element = self.open.pop()
        if element.name == "style":
            element.text = self._rules(element.text)

    def _text(self, text: str) -> None:
        if not self.unseen and self.open and self.open[-1].name == "style":
            self.open[-1].text += text

    def _attributes(self, element: str, found: Mapping[str, str]) -> dict[str, str]:
        kept: dict[str, str] = {}
        for full, value in found.items():
            space, _, name = full.rpartition(" ")
            if len(value) > MOST_LETTERS and name != "href":
                raise self._unfit(f"{name} of {len(value)} letters", f"at most {MOST_LETTERS}")
            if name.lower().startswith("on"):
                raise self._unfit(f"an attribute {name}", "none that runs anything")
            if name == "href" and space in ("", LINK):
                kept["href"] = self._reference(element, value)
            elif space:
                continue  # of a drawing program
            elif name == "style":
                kept["style"] = self._declarations(value)
            elif name in GEOMETRY or name in PROPERTIES:
                kept[name] = self._value(name, value)
            elif name not in HARMLESS and not name.startswith(("data-", "aria-")):
                self._unknown(name, value)
        return kept

    def _unknown(self, name: str, value: str) -> None:
        """Refuse what changes the picture; what sets type or belongs to nobody is left out."""
        if name in REFUSED or "url(" in value.lower():
            raise self._unfit(f"an attribute {name}", "plain shapes: no filters, masks or dashes")

    def _reference(self, element: str, value: str) -> str:
        if element == "image":
            return self._picture(value)
        if _LOCAL.fullmatch(value) and element in ("linearGradient", "radialGradient"):
            return value
        raise self._unfit("a reference to something else", "nothing from outside the picture")

    def _picture(self, value: str) -> str:
        self.pictures += 1
        if self.pictures > MOST_PICTURES:
            raise self._unfit("too many pictures", f"at most {MOST_PICTURES}")
        held = _PICTURE.fullmatch(value.strip())
        if held is None:
            raise self._unfit("a picture that is no PNG in the file itself", "data:image/png")
        try:
            png = read_png(base64.b64decode("".join(held[1].split()), validate=True)).data
        except binascii.Error:
            raise self._unfit("a picture that is damaged", "a PNG in base64") from None
        except Unfit as unfit:
            raise self._unfit(f"a picture: {unfit.what}", unfit.allowed) from None
        return f"data:image/png;base64,{base64.b64encode(png).decode()}"

    def _value(self, name: str, value: str) -> str:
        checked = _URL.sub(r"\2", value)
        fits = {"id": _NAME, "class": _CLASSES}.get(name, _SAFE)
        if not fits.fullmatch(checked.strip()) or _loads(checked):
            raise self._unfit(f"{name} with something else in it", "a plain value")
        return value.strip()

    def _declarations(self, text: str) -> str:
        kept = []
        for one in _COMMENT.sub("", text).split(";"):
            name, colon, value = (part.strip() for part in one.partition(":"))
            if not name and not colon:
                continue
            if name in PROPERTIES:
                kept.append(f"{name}:{self._value(name, value)}")
            else:
                self._unknown(name, value)
                if _loads(value):
                    raise self._unfit(f"{name} in a style", "colours and lines alone")
        return ";".join(kept)

    def _rules(self, text: str) -> str:
        """Rules of a style sheet: simple selectors, and declarations that are allowed."""
        text = _COMMENT.sub("", text)
        kept = []
        at = 0
        for rule in _RULE.finditer(text):
            if text[at : rule.start()].strip():
                break
            kept.append(f"{rule[1]}{{{self._declarations(rule[2])}}}")
            at = rule.end()
        if text[at:].strip():
            raise self._unfit("a style sheet with more than simple rules", ".name{fill:#1a2b3c}")
        return "".join(kept)


def _loads(value: str) -> bool:
    """Whether a value could bring in something from elsewhere, or run it."""
    low = value.lower()
    return any(word in low for word in ("url(", "expression", "javascript", "import", "\\", "@"))


def _instead(name: str) -> str:
    return {
        "text": "words drawn as outlines: other computers lack the typeface",
        "tspan": "words drawn as outlines: other computers lack the typeface",
        "use": "every shape written out where it stands",
        "symbol": "every shape written out where it stands",
        "pattern": "plain colours or gradients",
        "filter": "plain shapes, without filters and masks",
        "mask": "plain shapes, without filters and masks",
    }.get(name, f"shapes and gradients alone: {', '.join(sorted(ELEMENTS))}")


def _shows(element: _Element) -> bool:
    """Whether anything is drawn: what only waits to be used by something else is not."""
    if element.name in ("defs", "clipPath"):
        return False
    needs = DRAWN.get(element.name)
    if needs is not None:
        return all(element.attributes.get(name, "").strip() for name in needs)
    return any(map(_shows, element.children))


def _box(root: _Element) -> tuple[float, float, float, float]:
    """Left, top, width and height in the picture's own units."""
    stated = root.attributes.get("viewBox")
    try:
        if stated is not None:
            left, top, width, height = (float(n) for n in re.split(r"[\s,]+", stated.strip()))
        else:
            sizes = [_LENGTH.fullmatch(root.attributes.get(n, "")) for n in ("width", "height")]
            left = top = 0.0
            width, height = (float(size[1]) if size else math.nan for size in sizes)
    except ValueError:
        left = top = width = height = math.nan
    if not all(map(math.isfinite, (left, top, width, height))):
        raise Unfit("no size", 'a viewBox, as in viewBox="0 0 120 40"', 1, 1)
    if not (min(width, height) >= LEAST_SIDE and max(width, height) <= MOST_SIDE):
        allowed = f"{LEAST_SIDE:g} to {MOST_SIDE:g} along each side"
        raise Unfit(f"a size of {width:g} × {height:g}", allowed, 1, 1)
    if max(width, height) > SLIMMEST * min(width, height) or max(abs(left), abs(top)) > 1e6:
        allowed = f"a shape of at most {SLIMMEST:g} to 1, near the origin"
        raise Unfit(f"a size of {width:g} × {height:g}", allowed, 1, 1)
    return left, top, width, height


def _written(element: _Element, *, top: bool = False) -> str:
    space = f' xmlns="{SVG}"' if top else ""
    attributes = "".join(f" {name}={quoteattr(v)}" for name, v in element.attributes.items())
    inside = element.text + "".join(map(_written, element.children))
    return f"<{element.name}{space}{attributes}>{inside}</{element.name}>"
