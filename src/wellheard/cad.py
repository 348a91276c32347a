"""Names in our drawing files: layers, blocks and the attributes that blocks carry.

Drawings write them, the importers read them back. Layers are named as the National CAD Standard
of the United States has them (discipline, major group, minor group; from memory), so that an
architect's program files them where she looks.
"""

from __future__ import annotations

from types import MappingProxyType
from typing import Any, Literal, TypeAlias

from wellheard.errors import InputError

Role: TypeAlias = Literal[
    "room",
    "wall",
    "door",
    "window",
    "column",
    "grid",
    "table",
    "seat",
    "soft-seating",
    "luminaire",
    "air-outlet",
    "air-return",
    "sprinkler",
    "projector",
    "keep-out",
    "treatment",
    "microphone",
    "loudspeaker",
    "display",
    "rack",
    "equipment",
    "cable",
    "dimension",
    "note",
    "sheet",
]
"""What something in a drawing is, for us."""

LAYERS: MappingProxyType[Role, str] = MappingProxyType(
    {
        "room": "A-AREA",
        "wall": "A-WALL",
        "door": "A-DOOR",
        "window": "A-GLAZ",
        "column": "A-COLS",
        "grid": "A-CLNG-GRID",
        "table": "A-FURN",
        "seat": "A-FURN-CHAR",
        "soft-seating": "A-FURN-SOFT",
        "luminaire": "E-LITE-CLNG",
        "air-outlet": "M-HVAC-SDFF",
        "air-return": "M-HVAC-RDFF",
        "sprinkler": "F-SPRN-CLNG",
        "projector": "T-AVID-PROJ",
        "keep-out": "A-CLNG-OPNG",
        "treatment": "A-CLNG-ACPN",
        "microphone": "T-SOUN-MICR",
        "loudspeaker": "T-SOUN-SPKR",
        "display": "T-AVID-DISP",
        "rack": "T-EQPM-RACK",
        "equipment": "T-EQPM",
        "cable": "T-SOUN-CABL",
        "dimension": "T-ANNO-DIMS",
        "note": "T-ANNO-TEXT",
        "sheet": "T-ANNO-TTLB",
    }
)
"""Layer of each role in the files we write."""

BLOCKS: MappingProxyType[Role, str] = MappingProxyType(
    {
        "room": "WELLHEARD-ROOM",
        "seat": "WELLHEARD-SEAT",
        "microphone": "WELLHEARD-MICROPHONE",
        "loudspeaker": "WELLHEARD-LOUDSPEAKER",
        "display": "WELLHEARD-DISPLAY",
        "rack": "WELLHEARD-RACK",
        "equipment": "WELLHEARD-EQUIPMENT",
        "air-outlet": "WELLHEARD-AIR-OUTLET",
        "air-return": "WELLHEARD-AIR-RETURN",
        "projector": "WELLHEARD-PROJECTOR",
        "sheet": "WELLHEARD-TITLE-BLOCK",
    }
)
"""Stem of the block of each role; one role may have several blocks, ``STEM-SYMBOL``.

A block is inserted at the true place of its device, height included.
"""

ID, LABEL, PRODUCT, NAME, HEIGHT_MM, KIND = (
    "ID",
    "LABEL",
    "PRODUCT",
    "NAME",
    "HEIGHT_MM",
    "KIND",
)
"""Attributes: the id in the document, the label on the sheet, the catalogue id of a product, a
free title, a height above the floor (of the room's block: of its ceiling) and a kind."""

ROOM_PROPERTIES, DEVICE_PROPERTIES, THING_PROPERTIES = (
    "Wellheard_Room",
    "Wellheard_Device",
    "Wellheard_Thing",
)
"""Property sets of our building models: of a space, of a device, and of everything else in it.

Their properties are named in capitals run together, as those of the standard's own sets are:
``Id``, ``Product``, ``Kind``, ``Role``, ``FacingDeg``, ``AimDeg``, ``RotationDeg``, ``Drop`` …
"""


def building_model_library() -> Any:
    """Return the library that reads and writes building models, which not everybody has.

    Raises
    ------
    InputError
        It is not installed; the message names what to type.
    """
    try:
        import ifcopenshell
    except ImportError:
        raise InputError(
            "building models (IFC) need a library that is not installed; "
            "pip install 'wellheard[ifc]'"
        ) from None
    return ifcopenshell
