"""Our own drawings read back: the room's block says where the document's origin is."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Literal

from wellheard.cad import BLOCKS, HEIGHT_MM, ID, KIND, NAME, PRODUCT, Role
from wellheard.importers.dxf.pieces import Flattened, Placed
from wellheard.importers.found import FoundDevice
from wellheard.importers.names import OURS

DEVICES: dict[Role, Literal["microphone", "loudspeaker"]] = {
    "microphone": "microphone",
    "loudspeaker": "loudspeaker",
}


def room_blocks(flat: Flattened) -> Iterator[Placed]:
    """Yield the blocks that mark the origins of rooms in a drawing of ours."""
    for placed in flat.placed:
        if ours(placed, "room"):
            yield placed


def ours(placed: Placed, role: Role) -> bool:
    """Whether a block is one of ours for a role."""
    name, stem = placed.block.upper(), BLOCKS[role]
    return name == stem or name.startswith(f"{stem}-")


def is_ours(placed: Placed) -> bool:
    """Whether a block is one of ours at all."""
    return placed.block.upper().startswith(OURS)


def height_of(placed: Placed) -> float | None:
    """Height in the attribute of a block of ours, None where it has none. [m]"""
    text = attribute(placed, HEIGHT_MM).replace("−", "-")
    try:
        return float(text) / 1000.0
    except ValueError:
        return None


def attribute(placed: Placed, tag: str) -> str:
    """Text of an attribute of a block, empty where it has none."""
    return placed.attributes.get(tag, "").strip()


def devices_in(flat: Flattened, floor: float) -> Iterator[tuple[Placed, FoundDevice]]:
    """Yield microphones and loudspeakers of ours, their heights above a floor of the file. [m]"""
    for placed in flat.placed:
        for role, device in DEVICES.items():
            if ours(placed, role):
                x, y, z = placed.at
                yield (
                    placed,
                    FoundDevice(
                        device,
                        (x, y, z - floor),
                        id=attribute(placed, ID),
                        product=attribute(placed, PRODUCT),
                        name=attribute(placed, NAME),
                        kind=attribute(placed, KIND),
                    ),
                )
