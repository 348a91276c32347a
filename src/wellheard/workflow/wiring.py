"""Wire a document: from a room to its links, electronics and their price, with proof."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from wellheard.room import codec
from wellheard.room.document import Room
from wellheard.wiring.asking import task_of
from wellheard.wiring.solve import TIME_LIMIT, solve
from wellheard.wiring.wired import Wired, wired_room
from wellheard.workflow.load import Loaded


@dataclass(frozen=True)
class WiredRoom:
    """Wiring, the room with it, and the document's text saying so."""

    wired: Wired
    room: Room
    text: str


def wire(loaded: Loaded, *, time_limit: float = TIME_LIMIT) -> WiredRoom:
    """Wire a document and write that into its text; no file is touched.

    Parameters
    ----------
    loaded : Loaded
        The document with its catalogue.
    time_limit : float
        For the search; when it is over, the answer says by how far it may be off. [s]

    Returns
    -------
    WiredRoom
        Also where something stays unwired: `Wired.unwired` says what, and why.

    Raises
    ------
    InputError
        The text cannot be changed in place.
    """
    return wire_room(loaded, loaded.room, time_limit=time_limit)


def wire_room(loaded: Loaded, room: Room, *, time_limit: float = TIME_LIMIT) -> WiredRoom:
    """Wire what has become of a document's room, and write all of it into the document's text."""
    wired = solve(task_of(room, loaded.catalogue), time_limit)
    done = wired_room(room, wired)
    return WiredRoom(wired, done, codec.edit(loaded.document, done))


def as_json(wired: Wired) -> dict[str, Any]:
    """What ``wire --format json`` prints, and what a design keeps of its wiring."""
    return {
        "links": _plain(wired.links),
        "devices": _plain(wired.devices),
        "equipment": _plain(wired.equipment),
        "processing": _plain(wired.processing),
        "dropped": list(wired.dropped),
        "price": wired.price,
        "currency": wired.currency,
        "electronics": wired.electronics,
        "cable": round(wired.cable, 3),
        "parts": [
            {"id": part.id, "what": part.what, "amount": part.amount} for part in wired.parts
        ],
        "proof": {
            "status": wired.proof.status,
            "scope": wired.proof.scope,
            "bound": wired.proof.bound,
            "gap": wired.proof.gap,
        },
        "assumed": list(wired.assumed),
        "unwired": [
            {"port": one.port, "why": one.why, "gives": one.gives} for one in wired.unwired
        ],
    }


def _plain(entries: Mapping[str, Any]) -> dict[str, Any]:
    return {
        name: entry.model_dump(mode="json", by_alias=True, exclude_defaults=True)
        for name, entry in entries.items()
    }
