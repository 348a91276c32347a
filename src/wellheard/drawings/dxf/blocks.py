"""Devices, seats and fittings as blocks with attributes, inserted at their true places."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, TypeAlias

from wellheard.cad import BLOCKS, HEIGHT_MM, ID, KIND, LABEL, LAYERS, NAME, PRODUCT, Role
from wellheard.drawings.canvas import Canvas, Text
from wellheard.drawings.devices import WALL_SYMBOLS
from wellheard.drawings.dxf.document import FONTS
from wellheard.drawings.dxf.ink import Ink, alignment, symbol_block
from wellheard.drawings.lettering import CAP_HEIGHT
from wellheard.drawings.symbols import UNITS

Point3: TypeAlias = tuple[float, float, float]
PROMPTS = {
    ID: "id in the room document",
    LABEL: "label on the sheet",
    PRODUCT: "product, by its id in the catalogue",
    NAME: "name",
    HEIGHT_MM: "height above the floor, in mm",
    KIND: "kind",
}


@dataclass(frozen=True, slots=True)
class Insertion:
    """A block reference: where it stands, how it is turned, and what it says.

    Parameters
    ----------
    role : Role
        Decides block and layer.
    symbol : str
        Plan symbol that the block shows; "" for none.
    at : (float, float, float)
        In units of the file.
    size : float
        Of the symbol's 24 units, in units of the file.
    turn_deg : float
        Anticlockwise.
    values : mapping of str to str
        Attributes.
    shown : mapping of str to Text
        Those that are read on the drawing, as the sheet writes them; all others are invisible.
    """

    role: Role
    symbol: str
    at: Point3
    size: float
    turn_deg: float
    values: Mapping[str, str]
    shown: Mapping[str, Text]


def insert(ink: Ink, what: Insertion) -> Any:
    """Insert a block with its attributes; return the reference."""
    name = block_of(ink, what)
    attributes = {"layer": LAYERS[what.role], "rotation": what.turn_deg}
    reference = ink.layout.add_blockref(name, what.at, dxfattribs=attributes)
    hidden = {**_hidden(ink), "layer": LAYERS[what.role]}
    for tag, value in what.values.items():
        text = what.shown.get(tag)
        if text is None:
            attribute = reference.add_attrib(tag, value, what.at, dxfattribs=hidden)
            attribute.is_invisible = True
            continue
        attribute = reference.add_attrib(
            tag, value, dxfattribs=ink.lettering(text, what.role) | {"layer": LAYERS["note"]}
        )
        attribute.set_placement((*ink.frame(text.at), what.at[2]), align=alignment(text))
    return reference


def block_of(ink: Ink, what: Insertion) -> str:
    """Return the block of an insertion, its symbol in true size; made where it is not there yet."""
    stem = BLOCKS[what.role]
    simple = what.symbol in ("", what.role)
    name = stem if simple else f"{stem}-{what.symbol.upper()}"
    blocks = ink.document.blocks
    if name in blocks:
        return name
    block = blocks.new(name)
    if what.symbol:
        scale = {"xscale": what.size, "yscale": what.size, "zscale": what.size}
        # The origin of what stands on a wall is at its back, where the wall is.
        forward = WALL_SYMBOLS.get(what.symbol, 0.0) / UNITS * what.size
        block.add_blockref(
            symbol_block(ink.document, what.symbol),
            (0, forward),
            dxfattribs={"layer": "0", **scale},
        )
    for tag in what.values:
        _define(block, tag, _hidden(ink), invisible=tag not in what.shown)
    return name


def title_block(ink: Ink, canvas: Canvas, corner: tuple[float, float]) -> Any:
    """Insert a recording as the title block: its tagged texts are attributes."""
    document = ink.document
    role: Role = "sheet"
    block = document.blocks.new(BLOCKS[role], base_point=(*ink.frame(corner), 0.0))
    plain = Canvas([c for c in canvas.commands if not (isinstance(c, Text) and c.tag)])
    inside = Ink(document, block, ink.frame)
    inside.draw(plain, role)
    fields = [text for text in canvas.texts() if text.tag]
    reference = ink.layout.add_blockref(
        block.name, ink.frame(corner), dxfattribs={"layer": LAYERS[role]}
    )
    for text in fields:
        attributes = ink.lettering(text, role)
        definition = block.add_attdef(text.tag, text="", dxfattribs=dict(attributes))
        definition.dxf.prompt = text.tag.replace("_", " ").lower()
        definition.set_placement(ink.frame(text.at), align=alignment(text))
        attribute = reference.add_attrib(text.tag, text.text, dxfattribs=dict(attributes))
        attribute.set_placement(ink.frame(text.at), align=alignment(text))
    return reference


def room_block(document: Any, layout: Any, name: str, height: float, *, size: float) -> Any:
    """Insert the room's own block at the origin of its document, with name and height.

    Parameters
    ----------
    document : ezdxf Drawing
        Gets the block.
    layout : ezdxf layout
        The model space.
    name : str
        Title of the room.
    height : float
        Of its ceiling. [m]
    size : float
        Of the cross that marks the origin, in units of the file.
    """
    block = document.blocks.new(BLOCKS["room"])
    for run in (((-size, 0), (size, 0)), ((0, -size), (0, size))):
        block.add_line(*run, dxfattribs={"layer": "0", "lineweight": 13})
    hidden = {"style": FONTS["regular"][0], "height": size, "layer": "0"}
    for tag in (NAME, HEIGHT_MM):
        _define(block, tag, hidden, invisible=True)
    reference = layout.add_blockref(block.name, (0, 0), dxfattribs={"layer": LAYERS["room"]})
    for tag, value in ((NAME, name), (HEIGHT_MM, millimetres(height))):
        attribute = reference.add_attrib(tag, value, (0, 0), dxfattribs=hidden)
        attribute.is_invisible = True
    return reference


def millimetres(metres: float) -> str:
    """Return a length in millimetres as an attribute has it, to a tenth where that is needed.

    Examples
    --------
    >>> millimetres(2.4), millimetres(2.3876)
    ('2400', '2387.6')
    """
    return f"{round(1000 * metres, 1):g}"


def _define(block: Any, tag: str, attributes: Mapping[str, Any], *, invisible: bool) -> None:
    definition = block.add_attdef(tag, (0, 0), text="", dxfattribs=dict(attributes))
    definition.dxf.prompt = PROMPTS[tag]
    definition.is_invisible = invisible


def _hidden(ink: Ink) -> dict[str, Any]:
    height = round(CAP_HEIGHT * 2.57 * ink.frame.scale, 6)
    return {"style": FONTS["regular"][0], "height": height, "layer": "0"}
