"""A DXF file as such: its version, units, layers, pens, line types and lettering, and its bytes.

R2010 is written: the oldest version with all that is used here and text in UTF-8, which programs of
the last fifteen years read.
"""

from __future__ import annotations

import datetime
import hashlib
import importlib
import io
import re
import threading
import uuid
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from types import MappingProxyType
from typing import Any

from wellheard.cad import LAYERS, Role
from wellheard.drawings.sheet import INCH
from wellheard.drawings.tokens import DASHES, Dash, Face, Pen, pen_mm
from wellheard.drawings.typesetting import time_stamp
from wellheard.drawings.view import Unit

VERSION = "R2010"
WINDOW_LAYER = "T-ANNO-NPLT"
"""Of the edge of the window in which a sheet shows the room; never plotted."""
FONTS: dict[Face, tuple[str, str]] = {
    "regular": ("SHEET", "arial.ttf"),
    "medium": ("SHEET", "arial.ttf"),
    "semibold": ("SHEET-BOLD", "arialbd.ttf"),
    "italic": ("SHEET-ITALIC", "ariali.ttf"),
}
"""Text style and font of a face: one that every program has, or has one of the same widths for."""
NARROWED = 0.92
"""Width of letters, so that lines are no longer than in the font of the sheets."""
LINE_TYPES: dict[Dash, str] = {"solid": "CONTINUOUS", "dashed": "DASHED", "chain": "CENTER"}

_COLOURS: MappingProxyType[Role, int] = MappingProxyType(
    {
        "room": 8,
        "wall": 7,
        "door": 34,
        "window": 150,
        "column": 7,
        "grid": 9,
        "table": 32,
        "seat": 8,
        "soft-seating": 32,
        "luminaire": 30,
        "air-outlet": 140,
        "air-return": 140,
        "sprinkler": 10,
        "projector": 190,
        "keep-out": 12,
        "treatment": 94,
        "microphone": 5,
        "loudspeaker": 190,
        "display": 7,
        "rack": 36,
        "equipment": 36,
        "cable": 94,
        "dimension": 7,
        "note": 7,
        "sheet": 7,
    }
)
"""Index colour of each layer: dark enough on white, light enough on black."""
_PENS: dict[Role, Pen] = {
    "room": "hair",
    "wall": "bold",
    "column": "mid",
    "grid": "hair",
    "seat": "fine",
    "table": "fine",
    "soft-seating": "fine",
    "keep-out": "thin",
    "luminaire": "thin",
    "treatment": "fine",
    "microphone": "fine",
    "loudspeaker": "fine",
    "cable": "mid",
    "dimension": "hair",
}
_TIMES = ("$TDCREATE", "$TDUCREATE", "$TDUPDATE", "$TDUUPDATE")
_IDS = ("$FINGERPRINTGUID", "$VERSIONGUID")
_WRITING = threading.Lock()


@dataclass(frozen=True, slots=True)
class Measure:
    """What a unit of the file is: millimetres for metres, inches for feet."""

    unit: Unit

    @property
    def per_metre(self) -> float:
        """Return how many units of the file a metre is."""
        return 1000.0 if self.unit == "m" else 1000.0 / INCH

    @property
    def per_mm(self) -> float:
        """Return how many units of the file a millimetre is, in the room as on paper."""
        return self.per_metre / 1000.0


def lineweight(pen: Pen) -> int:
    """Return the line weight of a pen, in hundredths of a millimetre.

    Examples
    --------
    >>> lineweight("hair"), lineweight("heavy")
    (13, 70)
    """
    return round(100 * pen_mm(pen))


def new_document(unit: Unit) -> Any:
    """Return an empty file of millimetres or of inches, with layers and styles.

    Its model space and its sheets count in the same unit.
    """
    metric = unit == "m"
    with _without_clock():
        document = _library().new(VERSION, setup=False, units=4 if metric else 1)
    header = document.header
    header["$INSUNITS"] = 4 if metric else 1
    header["$MEASUREMENT"] = int(metric)
    header["$LUNITS"] = 2 if metric else 4  # decimal; feet and inches with fractions
    header["$LUPREC"] = 0 if metric else 3  # whole millimetres; eighths of an inch
    header["$PSLTSCALE"] = 0  # dashes are sized by each entity
    header["$LWDISPLAY"] = 1
    header["$ATTMODE"] = 1
    per_mm = Measure(unit).per_mm
    for dash, name in LINE_TYPES.items():
        lengths = [per_mm * length for length in DASHES[dash]]
        if lengths:
            signed = [x if k % 2 == 0 else -x for k, x in enumerate(lengths)]
            document.linetypes.add(name, [sum(lengths), *signed], description=dash)
    for style, font in dict.fromkeys(FONTS.values()):
        document.styles.add(style, font=font, dxfattribs={"width": NARROWED})
    for role, layer in LAYERS.items():
        document.layers.add(
            layer, color=_COLOURS[role], lineweight=lineweight(_PENS.get(role, "thin"))
        ).description = role
    document.layers.add(WINDOW_LAYER, color=8, plot=False).description = "not plotted"
    return document


def as_bytes(document: Any, date: str) -> bytes:
    """Return a file's bytes: without clock and chance, dated as the document says.

    Its two ids are made from what is in it.
    """
    stream = io.StringIO()
    known = document.classes
    # the library adds the classes in use in the order of a set, which is another in every process
    known.add_required_classes(document.dxfversion)
    known.classes = {key: known.classes[key] for key in sorted(known.classes)}
    with _without_clock():
        document.write(stream)
    head, mark, rest = stream.getvalue().partition("ENDSEC")
    for name in _TIMES:
        head = _with(head, name, f"{_julian(time_stamp(date)):.8f}")
    digest = hashlib.sha256((head + rest).encode()).digest()
    for number, name in enumerate(_IDS):
        made = uuid.UUID(bytes=digest[16 * number : 16 * number + 16], version=5)
        head = _with(head, name, f"{{{made}}}".upper())
    return (head + mark + rest).encode("utf-8")


def _library() -> Any:
    return importlib.import_module("ezdxf")


@contextmanager
def _without_clock() -> Iterator[None]:
    """Let the library write fixed times and ids; the option is one of the whole process."""
    options = _library().options
    with _WRITING:
        usual = options.write_fixed_meta_data_for_testing
        options.write_fixed_meta_data_for_testing = True
        try:
            yield
        finally:
            options.write_fixed_meta_data_for_testing = usual


def _with(head: str, variable: str, value: str) -> str:
    """A header section with another value of one of its variables."""
    pattern = rf"(^ *9\r?\n{re.escape(variable)}\r?\n *\d+\r?\n)[^\r\n]*"
    return re.sub(pattern, lambda found: found.group(1) + value, head, count=1, flags=re.MULTILINE)


def _julian(moment: datetime.datetime) -> float:
    """Days since the beginning of the Julian calendar's count, as the format dates."""
    start = datetime.datetime(2000, 1, 1, 12, tzinfo=datetime.UTC)  # 2451545 by definition
    return 2451545.0 + (moment - start).total_seconds() / 86400.0
