"""Small changes of a document that remedies are made of; what is locked stays as it is."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from wellheard.checks.model import Finding
from wellheard.predict.evidence import Point
from wellheard.room.devices import Device
from wellheard.room.document import Room
from wellheard.room.links import Link
from wellheard.room.processing import Processing
from wellheard.units import format_length

EXACT = 6
"""Places of a coordinate. [m]"""


def named(finding: Finding, collection: str) -> str:
    """Id of the entry of a collection that a finding points at; empty where it is none.

    Examples
    --------
    >>> found = Finding(
    ...     *("cable-too-thin", "warning", "fail", "house", "links.l1.cable"),
    ...     *("", None, None, "", "", ""),
    ... )
    >>> named(found, "links"), named(found, "devices")
    ('l1', '')
    """
    head, _, rest = finding.at.partition(".")
    return rest.partition(".")[0] if head == collection else ""


def with_device(room: Room, name: str, device: Device) -> Room:
    """Room with another device in place of the one of this id."""
    return room.model_copy(update={"devices": {**room.devices, name: device}})


def with_link(room: Room, name: str, link: Link) -> Room:
    """Room with another link in place of the one of this id."""
    return room.model_copy(update={"links": {**room.links, name: link}})


def with_processing(room: Room, stages: Mapping[str, Processing | None]) -> Room:
    """Room with these stages of processing, in place of those of the same ids; None takes away."""
    kept = {**room.processing, **stages}
    return room.model_copy(
        update={"processing": {name: one for name, one in kept.items() if one is not None}}
    )


def free_stage(room: Room, stem: str) -> str:
    """The stem, or the first of ``stem-2``, ``stem-3``, … that no stage has."""
    number, name = 1, stem
    while name in room.processing:
        number += 1
        name = f"{stem}-{number}"
    return name


def movable(room: Room, name: str) -> bool:
    """Whether a device has a place of its own, and is not locked to it."""
    device = room.devices.get(name)
    return device is not None and device.at is not None and not device.locked


def links_of(room: Room, device: str) -> Iterator[tuple[str, Link]]:
    """Cables of a device, by their ids."""
    for name, link in room.links.items():
        if device in (link.from_.partition(".")[0], link.to.partition(".")[0]):
            yield name, link


def moved(room: Room, name: str, at: Point, *, aim_deg: float | None = None) -> tuple[Room, str]:
    """Room with a device at another place, and what to know of its cables.

    The runs of its cables are laid anew: neither a stated length nor a stated route is that of
    the new place. A locked cable is left alone, and so is an aim that nobody stated.
    """
    device = room.devices[name]
    change: dict[str, object] = {"at": tuple(round(v, EXACT) for v in at)}
    if device.aim_deg is not None and aim_deg is not None:
        change["aim_deg"] = round(aim_deg, 3)
    room = with_device(room, name, device.model_copy(update=change))
    anew, kept = [], []
    for link_name, link in links_of(room, name):
        if link.length is None and link.route is None:
            continue
        if link.locked:
            kept.append(link_name)
            continue
        anew.append(link_name)
        room = with_link(room, link_name, without(link, "length", "route"))
    said = []
    if anew:
        said.append(f"The run of {' and '.join(anew)} is estimated anew.")
    if kept:
        said.append(f"{' and '.join(kept)} is locked and keeps what is stated: measure it again.")
    if device.owned and device.installed is not None:
        said.append(
            f"{name} is up already and has to be moved: work at height, on rated fixings, as local "
            "code asks."
        )
    return room, " ".join(said)


def without(link: Link, *fields: str) -> Link:
    """Link without these optional fields, as if they had never been written."""
    kept = {
        name: value
        for name, value in link.model_dump(by_alias=True, exclude_unset=True).items()
        if name not in fields
    }
    return Link.model_validate(kept)


def length(room: Room, metres: float) -> str:
    """Length as the reader of the document expects it."""
    return format_length(metres, unit=room.units)
