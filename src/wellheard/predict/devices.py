"""Devices of a document with their products, and how each is mounted."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from wellheard.arrays import Array
from wellheard.catalog.catalogue import Catalogue
from wellheard.catalog.products import Loudspeaker, Microphone, Processor
from wellheard.predict.evidence import PlacedDevice, PlacedMicrophone, Point, Talker
from wellheard.predict.pairs import pair_places
from wellheard.room.devices import Device
from wellheard.room.document import Room
from wellheard.signal.mounted import mounting_of


def placed_microphones(
    room: Room, catalogue: Catalogue, talkers: tuple[Talker, ...]
) -> tuple[PlacedMicrophone, ...]:
    """Microphones of the document that have a place, in its order."""
    found = []
    for name, device in room.devices.items():
        product = catalogue.product(device.product)
        if isinstance(product, Microphone) and device.at is not None:
            mounting = mounting_of(room, product, device.at)
            found.append(
                PlacedMicrophone(
                    id=name,
                    product=product,
                    at=device.at,
                    aim_deg=aim_of(room, device, mounting, talkers),
                    mounting=mounting,
                    drop=room.space.height - device.at[2] if mounting == "ceiling" else None,
                    locked=device.locked,
                )
            )
    return tuple(found)


def other_devices(room: Room, catalogue: Catalogue) -> tuple[PlacedDevice, ...]:
    """Loudspeakers and processors of the document, in its order.

    A device in a piece of equipment stands where that stands.
    """
    found = []
    for name, device in room.devices.items():
        product = catalogue.product(device.product)
        if isinstance(product, (Loudspeaker, Processor)):
            housed = room.equipment.get(device.equipment) if device.equipment else None
            found.append(
                PlacedDevice(
                    id=name,
                    kind=product.kind,
                    product=product,
                    at=device.at if device.at is not None else housed.at if housed else None,
                    equipment=device.equipment,
                )
            )
    return tuple(found)


def loudspeaker_places(
    room: Room, catalogue: Catalogue, *, locked_only: bool = False
) -> dict[str, Point]:
    """Places of all that plays the far end: loudspeakers and combined microphones, by device.

    A pair is two places, ``l1.left`` and ``l1.right``.
    ``locked_only`` leaves out combined microphones that placement may take away.
    """
    found: dict[str, Point] = {}
    for name, device in room.devices.items():
        product = catalogue.product(device.product)
        plays = isinstance(product, Loudspeaker) or (
            isinstance(product, Microphone)
            and product.combined
            and (device.locked or not locked_only)
        )
        if not plays or device.at is None:
            continue
        if isinstance(product, Loudspeaker) and product.units == 2:
            found |= {f"{name}.{side}": at for side, at in pair_places(room, device.at)}
        else:
            found[name] = device.at
    return found


def nearest_loudspeaker(at: Array, ids: Sequence[str | None], places: dict[str, Point]) -> Array:
    """Distance of each place from the nearest loudspeaker in another housing [m].

    Parameters
    ----------
    at : ndarray, shape (n, 3)
        [m]
    ids : sequence of str or None
        Device that stands at each place, if any.
    places : dict of str to Point
        Of :func:`loudspeaker_places`.

    Returns
    -------
    ndarray, shape (n,)
        Infinite where there is none.
    """
    nearest = np.full(len(at), np.inf)
    for name, place in places.items():
        distance = np.linalg.norm(at - np.asarray(place), axis=1)
        distance[[one == name for one in ids]] = np.inf
        nearest = np.minimum(nearest, distance)
    return nearest


def aim_of(room: Room, device: Device, mounting: str, talkers: tuple[Talker, ...]) -> float:
    """Azimuth of a microphone's aim: the stated one, else the usual one of its mounting.

    A microphone at a wall or in front looks at the middle of the talkers, one on a table or
    lectern at the nearest talker, one at the ceiling along +x turned by its rotation.
    """
    assert device.at is not None
    if device.aim_deg is not None:
        return float(device.aim_deg)
    return float(device.rotation_deg) + default_aim_deg(device.at, mounting, talkers)


def default_aim_deg(at: Point, mounting: str, talkers: tuple[Talker, ...]) -> float:
    """Usual azimuth of a microphone's aim by its mounting [°]."""
    if mounting == "ceiling" or not talkers:
        return 0.0
    if mounting in ("wall", "front"):
        target = (
            sum(t.at[0] for t in talkers) / len(talkers),
            sum(t.at[1] for t in talkers) / len(talkers),
        )
    else:
        target = min((t.at[:2] for t in talkers), key=lambda p: math.dist(p, at[:2]))
    return math.degrees(math.atan2(target[1] - at[1], target[0] - at[0])) % 360.0
