"""A DXF file to a document of the library, or a plain word on why it is none."""

from __future__ import annotations

import io
import logging
import re
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from wellheard.errors import InputError, visible
from wellheard.files import read_bytes

MOST_BYTES = 64_000_000
MOST_RECORDS = 250_000
"""Entities, corners of polylines and rows of tables in one file."""
NEXT = "save the plan as DXF again, R2000 or later, and only the floor that is meant"

VERSIONS = {
    "AC1002": "R2.5",
    "AC1003": "R2.6",
    "AC1004": "R9",
    "AC1006": "R10",
    "AC1009": "R12",
    "AC1012": "R13",
    "AC1014": "R14",
    "AC1015": "R2000",
    "AC1018": "R2004",
    "AC1021": "R2007",
    "AC1024": "R2010",
    "AC1027": "R2013",
    "AC1032": "R2018",
}
_BINARY = b"AutoCAD Binary DXF\r\n\x1a\x00"
_RECORD = re.compile(rb"^[ \t]*0[ \t]*\r?\n[ \t]*(?:[A-Z]|3D)", re.MULTILINE)
_VERSION = re.compile(rb"\$ACADVER\s+1\s+(AC10\d\d)")


@dataclass(frozen=True)
class Opened:
    """The library's document, its format in words, and what had to be mended."""

    document: Any
    format: str
    mended: int


def opened(path: Path) -> Opened:
    """Return the document in a DXF file of any version, text or binary.

    Raises
    ------
    InputError
        It is none, is cut off, is damaged beyond repair, or has more than is read. The message
        names the file, what was found, what is allowed and what to do next.
    """
    name = visible(path.name)
    data = read_bytes(path, most=MOST_BYTES, wanted="a DXF drawing is wanted")
    if len(data) > MOST_BYTES:
        raise InputError(
            f"{name}: larger than {MOST_BYTES // 1_000_000} MB, the most that is read; {NEXT}"
        )
    binary = data.startswith(_BINARY)
    _refuse_others(name, data, binary)
    records = len(data) // 40 if binary else sum(1 for _ in _RECORD.finditer(data))
    if records > MOST_RECORDS:
        raise InputError(
            f"{name}: about {records} entities and corners; at most {MOST_RECORDS} are read; {NEXT}"
        )
    from ezdxf.lldxf.const import DXFError

    try:
        with _quiet():
            document, mended = _loaded(data, binary)
    except (DXFError, ArithmeticError, ValueError, LookupError, TypeError, AttributeError) as error:
        # The library meets a torn structure with whatever its own code stumbles over.
        raise InputError(f"{name}: the DXF structure is damaged ({_said(error)}); {NEXT}") from None
    except RecursionError:
        raise InputError(f"{name}: blocks are nested without end; {NEXT}") from None
    version = VERSIONS.get(document.dxfversion, document.dxfversion)
    first = _VERSION.search(data[:4000])
    if first and not binary:
        version = VERSIONS.get(first[1].decode(), version)
    return Opened(document, f"DXF {version}{', binary' if binary else ''}", mended)


def _refuse_others(name: str, data: bytes, binary: bool) -> None:
    """Say of what is no whole DXF file what it is."""
    if not data.strip():
        raise InputError(f"{name}: the file is empty; a DXF drawing is read; {NEXT}")
    if data.startswith(b"PK"):
        raise InputError(f"{name}: this is a zip archive; unpack it and hand in the DXF in it")
    if re.match(rb"AC10\d\d", data):
        raise InputError(f"{name}: this is a DWG drawing; only DXF is read; {NEXT}")
    if data.startswith((b"ISO-10303-21", b"%PDF")):
        raise InputError(f"{name}: this is no DXF but {data[:12].decode('latin-1')!r}; {NEXT}")
    if binary:
        if not data.rstrip(b"\x00\r\n").endswith(b"EOF"):
            raise InputError(f"{name}: the binary DXF is cut off: it has no end; {NEXT}")
        return
    if b"SECTION" not in data or not _RECORD.search(data):
        raise InputError(f"{name}: this is no DXF drawing: it has no SECTION; {NEXT}")
    if not re.search(rb"^[ \t]*0[ \t]*\r?\n[ \t]*EOF", data, re.MULTILINE):
        raise InputError(f"{name}: the DXF is cut off: the EOF at its end is missing; {NEXT}")


def _loaded(data: bytes, binary: bool) -> tuple[Any, int]:
    """Read strictly first, which is twice as fast; with repairs where that fails."""
    from ezdxf import recover
    from ezdxf.filemanagement import read
    from ezdxf.lldxf.const import DXFError

    if binary:
        from ezdxf.document import Drawing
        from ezdxf.lldxf.tagger import binary_tags_loader

        return Drawing.load(binary_tags_loader(data)), 0
    try:
        return read(io.StringIO(_text(data))), 0
    except (DXFError, ArithmeticError, ValueError, LookupError, TypeError, AttributeError):
        document, auditor = recover.read(io.BytesIO(data))
        return document, max(1, len(auditor.fixes))


def _text(data: bytes) -> str:
    from ezdxf.filemanagement import dxf_stream_info

    plain = data.replace(b"\r\n", b"\n").replace(b"\r", b"\n")
    info = dxf_stream_info(io.StringIO(plain.decode("latin-1")))
    return plain.decode(info.encoding, "surrogateescape")


def _said(error: Exception) -> str:
    words = " ".join(str(error).split())
    return visible(words[:120]) or type(error).__name__


@contextmanager
def _quiet() -> Iterator[None]:
    """Keep the library's own log off the user's screen."""
    log = logging.getLogger("ezdxf")
    before = log.disabled
    log.disabled = True
    try:
        yield
    finally:
        log.disabled = before
