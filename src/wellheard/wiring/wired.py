"""What wiring answers: links, devices, processing, price and proof."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from wellheard.room import edit
from wellheard.room.devices import Device
from wellheard.room.document import Room
from wellheard.room.equipment import Equipment
from wellheard.room.links import Link
from wellheard.room.processing import Processing
from wellheard.wiring.answer import ProofStatus


@dataclass(frozen=True)
class Part:
    """One line of the price: id in the document, what it is, without tax."""

    id: str
    what: str
    amount: float


@dataclass(frozen=True)
class Unwired:
    """A port that stays without a cable: why, and what would have to give."""

    port: str
    why: str
    gives: str


@dataclass(frozen=True)
class Proof:
    """How sure the answer is.

    Parameters
    ----------
    status : {"optimal", "infeasible", "gap"}
        Infeasible: proven that something stays unwired.
    scope : str
        What it ranges over, in words.
    bound : float
        Nothing that leaves as little unwired costs less. [currency]
    gap : float
        By how much the price may be off. [currency]
    """

    status: ProofStatus
    scope: str
    bound: float
    gap: float


@dataclass(frozen=True)
class Wired:
    """Wiring of one room.

    Parameters
    ----------
    links : mapping of str to Link
        All of the document: those that stay, those laid.
    devices, equipment, processing : mappings
        Added, or changed.
    dropped : tuple of str
        Devices of the document that nothing needs, neither owned nor locked.
    price : float
        Of everything that is added: electronics installed, cables with their work. What the
        document has is not in it. [currency]
    currency : str
    parts : tuple of Part
        What adds up to it.
    proof : Proof
    assumed : tuple of str
        What was taken to be so, as sentences.
    unwired : tuple of Unwired
    electronics : int
        Devices in use that the customer does not own.
    cable : float
        Length of all that is laid. [m]
    """

    links: Mapping[str, Link]
    devices: Mapping[str, Device]
    equipment: Mapping[str, Equipment]
    processing: Mapping[str, Processing]
    dropped: tuple[str, ...]
    price: float
    currency: str
    parts: tuple[Part, ...]
    proof: Proof
    assumed: tuple[str, ...]
    unwired: tuple[Unwired, ...]
    electronics: int = 0
    cable: float = 0.0
    basis: Mapping[str, str] = field(default_factory=dict)


def wired_room(room: Room, wired: Wired) -> Room:
    """Room with its wiring.

    Links that neither stay nor are laid again are gone; so are devices that nothing needs, with
    what is processed on them.
    """
    if room.links:
        room = room.model_copy(update={"links": {}})
    room = edit.without_devices(room, wired.dropped)
    room = edit.with_devices(room, wired.devices)
    update = {
        "links": dict(wired.links),
        "equipment": {**room.equipment, **wired.equipment},
        "processing": {**room.processing, **wired.processing},
        "basis": {**room.basis, **wired.basis},
    }
    # What the document does not have and nothing comes to is not written into it, empty.
    return room.model_copy(
        update={
            k: entries for k, entries in update.items() if entries or k in room.model_fields_set
        }
    )
