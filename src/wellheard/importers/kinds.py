"""Which reader a file needs, by what is in it; its name only breaks ties."""

from __future__ import annotations

from pathlib import Path
from typing import Literal, TypeAlias

from wellheard.errors import InputError
from wellheard.files import reason
from wellheard.importers.found import Asked, FoundPlan

Kind: TypeAlias = Literal["dxf", "ifc"]

LARGEST_BYTES = 96 * 2**20
"""Of a file. A plan of one storey is seldom past a tenth of it. [byte]"""
_HEAD_BYTES = 4096
_WANTED = "a floor plan as DXF (R12 or newer), or a building model as IFC (IFC2X3 or newer)"
_FOREIGN = {
    b"AC10": "a drawing in the native format of a drawing program; save it as DXF",
    b"%PDF": "a PDF; ask for the plan as DXF or IFC, or type the room's sides in",
    b"PK\x03\x04": "a ZIP archive (IFCZIP and packed drawings too); unpack it first",
    b"\x1f\x8b": "packed with gzip; unpack it first",
    b"\x89PNG": "a picture; ask for the plan as DXF or IFC",
    b"\xff\xd8\xff": "a picture; ask for the plan as DXF or IFC",
    b"<?xml": "XML; of IFC only the STEP form (.ifc) is read",
}
"""First bytes of what people hand over as a plan, and what to do with it."""


def kind_of(path: Path) -> Kind:
    """Return which format a file has.

    Raises
    ------
    InputError
        It cannot be read, is empty or too large, or is neither.
    """
    try:
        size = path.stat().st_size
        if not path.is_file():
            raise InputError(f"{path}: no file; {_WANTED} is read")
        with path.open("rb") as file:
            head = file.read(_HEAD_BYTES)
    except (OSError, ValueError) as error:
        raise InputError(f"{path}: {reason(error)}; {_WANTED} is read") from None
    if not size:
        raise InputError(f"{path}: the file is empty; {_WANTED} is read")
    if size > LARGEST_BYTES:
        raise InputError(
            f"{path}: {size / 2**20:.0f} MB; up to {LARGEST_BYTES // 2**20} MB is read: save only "
            "the storey or the layers that are wanted"
        )
    start = head.lstrip(b"\xef\xbb\xbf \t\r\n")
    if start.upper().startswith(b"ISO-10303-21"):
        return "ifc"
    if head.startswith(b"AutoCAD Binary DXF") or _tags(start):
        return "dxf"
    for mark, what in _FOREIGN.items():
        if start.startswith(mark):
            raise InputError(f"{path}: this is {what}")
    raise InputError(f"{path}: neither DXF nor IFC; {_WANTED} is read")


def _tags(start: bytes) -> bool:
    """Whether text begins as DXF does: a group code, alone on its line, then a value."""
    code = start.split(b"\n", 1)[0].strip()
    return code.isdigit() and len(code) <= 4 and b"SECTION" in start[:2048].upper()


def read_plan(path: Path, asked: Asked) -> FoundPlan:
    """Return what is in a plan, by the reader of its format, in this process.

    Raises
    ------
    UnitUnstated
        It does not say its unit, and nobody else did.
    InputError
        It cannot be read; the message says what to do.
    """
    if kind_of(path) == "dxf":
        from wellheard.importers.dxf.read import read_dxf

        return read_dxf(path, asked)
    from wellheard.importers.ifc.read import read_ifc

    return read_ifc(path, asked)
