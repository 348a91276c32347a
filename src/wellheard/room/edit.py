"""Changes to a room: functions from a room to another one.

Lengths are metres, as everywhere inside; nothing is checked against the rest of the document
until its text is read again.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping

from wellheard.room.devices import Device
from wellheard.room.document import Room
from wellheard.room.links import Link
from wellheard.room.processing import keeping
from wellheard.room.targets import Targets


def with_devices(room: Room, devices: Mapping[str, Device]) -> Room:
    """Room with these devices added, or in place of those of the same id.

    Examples
    --------
    >>> room = Room.model_validate(
    ...     {
    ...         "wellheard": 1,
    ...         "space": {"outline": [[0, 0], [4, 0], [4, 3], [0, 3]], "height": 2.7},
    ...         "people": {"seats": {"s1": {"at": [1, 1]}}},
    ...     }
    ... )
    >>> m1 = Device(kind="microphone", product="ceiling-head-3", at=(2.0, 1.5, 2.7))
    >>> list(with_devices(room, {"m1": m1}).devices)
    ['m1']
    """
    return room.model_copy(update={"devices": {**room.devices, **devices}})


def without_ends(room: Room, ids: Collection[str]) -> Room:
    """Room without the links and the processing of these devices or pieces of equipment."""

    def touches(*ports: str | None) -> bool:
        return any(port is not None and port.partition(".")[0] in ids for port in ports)

    links = {k: v for k, v in room.links.items() if not touches(v.from_, v.to)}
    processing = keeping(room.processing, lambda device: device not in ids)
    update: dict[str, object] = {}
    if len(links) < len(room.links):
        update["links"] = links
    if processing != room.processing:
        update["processing"] = processing
    return room.model_copy(update=update) if update else room


def without_devices(room: Room, ids: Collection[str]) -> Room:
    """Room without these devices, their links, and the processing on or for them.

    Raises
    ------
    KeyError
        There is no such device.
    """
    for name in ids:
        if name not in room.devices:
            raise KeyError(f"no device {name!r}; devices are {', '.join(room.devices) or 'none'}")

    room = without_ends(room, ids)
    update: dict[str, object] = {"devices": {k: v for k, v in room.devices.items() if k not in ids}}
    # A basis of what has gone would point nowhere.
    basis = {
        path: word
        for path, word in room.basis.items()
        if not any(path == f"devices.{i}" or path.startswith(f"devices.{i}.") for i in ids)
    }
    if len(basis) < len(room.basis):
        update["basis"] = basis
    return room.model_copy(update=update)


def replacing_devices(room: Room, kinds: Collection[str], devices: Mapping[str, Device]) -> Room:
    """Room whose unlocked devices of these kinds give way to others.

    Locked devices stay; ``devices`` come after them. Links and processing of what goes, go too.
    """
    going = [
        name
        for name, device in room.devices.items()
        if device.kind in kinds and not device.locked and name not in devices
    ]
    return with_devices(without_devices(room, going), devices)


def with_links(room: Room, links: Mapping[str, Link]) -> Room:
    """Room with these links added, or in place of those of the same id."""
    return room.model_copy(update={"links": {**room.links, **links}})


def with_targets(room: Room, **targets: object) -> Room:
    """Room with other targets, checked as those of a document are.

    Examples
    --------
    >>> room = Room.model_validate(
    ...     {
    ...         "wellheard": 1,
    ...         "space": {"outline": [[0, 0], [4, 0], [4, 3], [0, 3]], "height": 2.7},
    ...         "people": {"seats": {"s1": {"at": [1, 1]}}},
    ...     }
    ... )
    >>> with_targets(room, sti_outbound=0.7).targets.sti_outbound
    0.7
    """
    fresh = Targets.model_validate({**room.targets.model_dump(exclude_unset=True), **targets})
    return room.model_copy(update={"targets": fresh})


def free_id(room: Room, stem: str) -> str:
    """First of ``stem1``, ``stem2``, … that no device has.

    Examples
    --------
    >>> room = Room.model_validate(
    ...     {
    ...         "wellheard": 1,
    ...         "space": {"outline": [[0, 0], [4, 0], [4, 3], [0, 3]], "height": 2.7},
    ...         "people": {"seats": {"s1": {"at": [1, 1]}}},
    ...     }
    ... )
    >>> free_id(room, "m")
    'm1'
    """
    number = 1
    while f"{stem}{number}" in room.devices:
        number += 1
    return f"{stem}{number}"
