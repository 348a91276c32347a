"""Examples with devices of every kind put into them, as building models of our own."""

from __future__ import annotations

from functools import cache
from typing import Any

from tests.conftest import EXAMPLES
from wellheard.catalog.catalogue import Catalogue
from wellheard.dossier.model import Identity
from wellheard.dossier.writers.ifc.write import write_ifc
from wellheard.room import codec
from wellheard.room.devices import Device
from wellheard.room.document import Room
from wellheard.workflow.load import document_hash, load

NAMES = sorted(folder.parent.name for folder in EXAMPLES.glob("*/*.room.yaml"))


@cache
def equipped(name: str) -> Room:
    """An example with devices of every kind put into it, where it has none of its own."""
    room = load(EXAMPLES / name / f"{name}.room.yaml").room
    (x0, y0), (x1, y1) = room.space.outline[:2]
    x, y, height = (x0 + x1) / 2 + 0.1234, (y0 + y1) / 2 + 0.8, room.space.height
    rack = next((k for k, one in room.equipment.items() if one.kind == "rack"), None)
    wanted: dict[str, dict[str, Any]] = {
        "t1": {"kind": "microphone", "product": "ceiling-head-3", "at": (x, y, height - 0.05)},
        "t2": {"kind": "microphone", "product": "pendant-cardioid", "at": (x + 0.3, y, 2.1)},
        "t3": {"kind": "loudspeaker", "product": LOUDSPEAKER, "at": (x, y + 0.4, height)},
        "t4": {"kind": "processor", "product": "processor-4", "equipment": rack},
    }
    put = {k: Device.model_construct(**{**_BLANK, **one}) for k, one in wanted.items()}
    return room.model_copy(update={"devices": {**room.devices, **put}})


LOUDSPEAKER = Catalogue.shipped().loudspeakers[0].id
_BLANK: dict[str, Any] = {name: f.get_default() for name, f in Device.model_fields.items()}


def identity_of(room: Room) -> Identity:
    return Identity(document_hash(codec.dump(room)), "1.2.3", "2026-11-25")


@cache
def written(name: str) -> bytes:
    room = equipped(name)
    return write_ifc(room, Catalogue.shipped(), identity_of(room))
