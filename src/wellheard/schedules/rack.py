"""Racks: what stands where in them, what they weigh, draw and give off as heat.

::

    U  6 │ switch-24   │      light, with cables to the room, near the top
       5 │ air         │      free above what has a fan or is hot
       4 │ amplifier   │
     3 2 │ shelf       │      electronics without a rack front
       1 │ processor   │      heavy below
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Literal, TypeAlias

from wellheard.catalog.catalogue import Catalogue
from wellheard.catalog.products import Amplifier, AnyProduct, Processor, Switch
from wellheard.electrics.heat import (
    RACK_UNIT,
    SUPPLY_LOSS,
    btu_per_hour,
    powering_heat,
)
from wellheard.room.document import Room
from wellheard.schedules.powering import supplied

HOT = 50.0
"""Heat from which a unit is left free above a device (common practice, no source). [W]"""
SHELF_PLATE = 0.002
"""Sheet of a shelf, under what stands on it. [m]"""

SlotKind: TypeAlias = Literal["device", "shelf", "air"]


@dataclass(frozen=True)
class Slot:
    """Something in a rack.

    Parameters
    ----------
    from_u : int
        Lowest unit that it takes, 1 at the bottom.
    height_u : int
    kind : {"device", "shelf", "air"}
        A shelf carries a device that has no rack front; air is left free.
    device : str
        Empty for air.
    product : str
        Name of the product.
    weight_kg, heat_w : float
        [kg], [W]
    owned : bool
        The customer has it.
    """

    from_u: int
    height_u: int
    kind: SlotKind
    device: str = ""
    product: str = ""
    weight_kg: float = 0.0
    heat_w: float = 0.0
    owned: bool = False

    @property
    def to_u(self) -> int:
        """Highest unit that it takes."""
        return self.from_u + self.height_u - 1


@dataclass(frozen=True)
class Rack:
    """One rack.

    Parameters
    ----------
    equipment : str
    slots : tuple of Slot
        From the bottom up.
    has_u : float or None
        Free height that the document states; None is unknown.
    weight_kg : float
        Of the devices; rack, shelves and cables come on top. [kg]
    power_w : float
        Drawn from the mains at most, with what goes out over network cables. [W]
    heat_w : float
        That stays in it. [W]
    notes : tuple of str
        What does not fit, or was given up.
    """

    equipment: str
    slots: tuple[Slot, ...]
    has_u: float | None
    weight_kg: float
    power_w: float
    heat_w: float
    notes: tuple[str, ...] = ()

    @property
    def used_u(self) -> int:
        """Units up to the highest that is taken."""
        return max((slot.to_u for slot in self.slots), default=0)

    @property
    def free_u(self) -> float | None:
        """Units left over; negative where they do not suffice, None where it is unknown."""
        return None if self.has_u is None else self.has_u - self.used_u

    @property
    def heat_btu_h(self) -> float:
        """Heat as air conditioning is ordered. [BTU/h]"""
        return btu_per_hour(self.heat_w)


def racks(room: Room, catalogue: Catalogue) -> tuple[Rack, ...]:
    """Return every rack of a document with what it houses.

    Parameters
    ----------
    room : Room
        With its equipment and devices.
    catalogue : Catalogue
        That has every product of the document.

    Notes
    -----
    Heavy devices go below, since a rack must not tip; a unit stays free above what has a fan or
    gives off 50 W or more; what has no rack front stands on a shelf of its own, as it is ordered
    (common practice, no source). Where the stated height does not take the air too, the air goes.
    What the customer has in the rack besides is not in the document.
    """
    sends = supplied(room, catalogue)
    found = []
    for name, item in room.equipment.items():
        if item.kind != "rack":
            continue
        inside = [
            _standing(key, catalogue.product(device.product), sends.get(key, 0.0), device.owned)
            for key, device in room.devices.items()
            if device.equipment == name
        ]
        found.append(_rack(name, inside, item.rack_units))
    return tuple(found)


def slot_height(product: AnyProduct) -> tuple[SlotKind, int]:
    """Return whether a product is screwed to the rack or stands on a shelf, and the units it takes.

    Examples
    --------
    >>> shipped = Catalogue.shipped()
    >>> slot_height(shipped.product("processor-12")), slot_height(shipped.product("switch-8"))
    (('device', 1), ('shelf', 2))
    """
    if isinstance(product, Amplifier | Processor | Switch) and product.rack_units > 0:
        return "device", math.ceil(product.rack_units)
    return "shelf", math.ceil((product.size[2] + SHELF_PLATE) / RACK_UNIT - 1e-9)


@dataclass(frozen=True)
class _Standing:
    """A device before it has a place."""

    slot: Slot
    air: bool
    mains_w: float


def _standing(name: str, product: AnyProduct, sends: float, owned: bool) -> _Standing:
    kind, units = slot_height(product)
    fan = isinstance(product, Switch) and product.fan
    heat = (
        powering_heat(product.power_w, supplied=sends)
        if isinstance(product, Switch)
        else product.power_w
    )
    mains = product.power_w + (1 + SUPPLY_LOSS) * sends if product.powered_from == "mains" else 0.0
    slot = Slot(1, units, kind, name, product.name, product.weight_kg, heat, owned)
    return _Standing(slot, fan or heat >= HOT, mains)


def _rack(name: str, inside: Sequence[_Standing], has_u: float | None) -> Rack:
    order = sorted(inside, key=lambda one: (-one.slot.weight_kg, one.slot.device))
    slots = _stacked(order, air=True)
    notes = []
    if has_u is not None and slots and slots[-1].to_u > has_u:
        tight = _stacked(order, air=False)
        if len(tight) < len(slots) and tight[-1].to_u <= has_u:
            notes.append("no height for free units above what is hot: ventilate it")
        elif tight[-1].to_u > has_u:
            notes.append(f"{tight[-1].to_u} U are needed, {has_u:g} U are free")
        slots = tight
    return Rack(
        equipment=name,
        slots=slots,
        has_u=has_u,
        weight_kg=math.fsum(one.slot.weight_kg for one in inside),
        power_w=math.fsum(one.mains_w for one in inside),
        heat_w=math.fsum(one.slot.heat_w for one in inside),
        notes=tuple(notes),
    )


def _stacked(order: Sequence[_Standing], *, air: bool) -> tuple[Slot, ...]:
    slots: list[Slot] = []
    at = 1
    for number, one in enumerate(order):
        slots.append(replace(one.slot, from_u=at))
        at += one.slot.height_u
        # The top of a stack has air above it anyway.
        if air and one.air and number < len(order) - 1:
            slots.append(Slot(at, 1, "air"))
            at += 1
    return tuple(slots)
