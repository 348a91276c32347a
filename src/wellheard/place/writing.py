"""A proposal written into its document: devices that stay, and new ones."""

from __future__ import annotations

from wellheard.catalog.catalogue import Catalogue
from wellheard.place.devices import why_no_loudspeakers
from wellheard.place.proposal import PlacedAmplifier, PlacedAt, Proposal
from wellheard.room import edit
from wellheard.room.devices import Device
from wellheard.room.document import Room


def placed_room(room: Room, catalogue: Catalogue, proposal: Proposal) -> Room:
    """Room with the devices of a proposal; unlocked ones of the same kinds give way."""
    devices = {d.id: _device(room, d) for d in proposal.devices}
    devices |= {a.id: _amplifier(room, a) for a in proposal.amplifiers}
    both = why_no_loudspeakers(room, catalogue) is None
    kinds = {"microphone", "combined"} | ({"loudspeaker", "amplifier"} if both else set())
    return edit.replacing_devices(room, kinds, devices)


def _device(room: Room, placed: PlacedAt) -> Device:
    before = room.devices.get(placed.id)
    if before is not None and placed.locked:
        return before
    # What no azimuth is stated of faces the middle of the people: so loudspeakers do.
    aimed = placed.mounting != "ceiling" and placed.kind == "microphone"
    return Device(
        kind=placed.kind,
        product=placed.product,
        at=(round(placed.at[0], 9), round(placed.at[1], 9), round(placed.at[2], 9)),
        aim_deg=round(placed.aim_deg, 3) if aimed else None,
    )


def _amplifier(room: Room, placed: PlacedAmplifier) -> Device:
    before = room.devices.get(placed.id)
    if before is not None and placed.locked:
        return before
    return Device(kind="amplifier", product=placed.product, equipment=placed.equipment)
