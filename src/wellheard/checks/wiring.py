"""Which microphone ends at which processor, and how long the run is."""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import pairwise

from wellheard.catalog.products import Processor
from wellheard.predict.evidence import Evidence, PlacedDevice, PlacedMicrophone, Point
from wellheard.signal.matching import ends_microphones, needs_port, stated_link


@dataclass(frozen=True)
class Run:
    """A cable run: its length [m], None where it cannot be told, and how it was found."""

    length: float | None
    to: str
    how: str


def processors(evidence: Evidence) -> tuple[tuple[PlacedDevice, Processor], ...]:
    """Devices that microphones can end at: those that mix or cancel."""
    return tuple(
        (device, device.product)
        for device in evidence.others
        if isinstance(device.product, Processor) and ends_microphones(device.product)
    )


def run(evidence: Evidence, microphone: PlacedMicrophone) -> Run:
    """The run of a microphone: as stated, along its stated route, or estimated.

    A cord of fixed length runs where it likes. An estimate goes straight up into the void (from a
    table or lectern down to the floor), along x and y, and straight to its end. Without a link it
    ends at the nearest processor with a matching port, a USB device at the nearest computer or
    codec.
    """
    loop = evidence.room.targets.house_limit("service-loop") or 0.0
    stated = stated_link(evidence.room.links, microphone.id)
    if stated is not None:
        _, link, port = stated
        end = port.partition(".")[0]
        if link.length is not None:
            return Run(link.length, end, "as stated")
        if link.route:
            along = sum(math.dist(a, b) for a, b in pairwise(link.route))
            return Run(along + loop, end, "along its stated route, service loop included")
        place = _place(evidence, end)
        cord = None if link.cable is None else evidence.catalogue.cable(link.cable).length
        if cord is not None:
            straight = 0.0 if place is None else math.dist(microphone.at, place)
            return Run(max(cord, straight), end, "as long as its cord, or the way it has to span")
        if place is None:
            return Run(None, end, f"{end} has no place")
        return _estimate(evidence, microphone, end, place, loop)
    ends = _possible_ends(evidence, microphone)
    if not ends:
        wanted = microphone.product.link.kind
        return Run(None, "", f"nothing with a place takes its {wanted} link")
    return min(
        (_estimate(evidence, microphone, name, at, loop) for name, at in ends.items()),
        key=lambda one: (one.length or 0.0, one.to),
    )


def _possible_ends(evidence: Evidence, microphone: PlacedMicrophone) -> dict[str, Point]:
    kind = microphone.product.link.kind
    if not needs_port(microphone.product):
        return {
            name: item.at
            for name, item in evidence.room.equipment.items()
            if item.kind in ("computer", "codec")
        }
    return {
        device.id: device.at
        for device, product in processors(evidence)
        if device.at is not None and kind in product.port_kinds
    }


def _place(evidence: Evidence, name: str) -> Point | None:
    if name in evidence.room.equipment:
        return evidence.room.equipment[name].at
    device = evidence.room.devices.get(name)
    if device is None:
        return None
    if device.at is not None:
        return device.at
    housed = evidence.room.equipment.get(device.equipment or "")
    return None if housed is None else housed.at


def _estimate(
    evidence: Evidence, microphone: PlacedMicrophone, end: str, place: Point, loop: float
) -> Run:
    space = evidence.room.space
    start = microphone.at
    along = abs(start[0] - place[0]) + abs(start[1] - place[1])
    if microphone.mounting in ("table", "lectern"):
        return Run(
            start[2] + along + place[2] + loop,
            end,
            "estimated: under the floor, along x and y, service loop included",
        )
    void = space.ceiling.void_depth
    level = space.height + (void or 0.0)
    unknown = " (its depth is unknown)" if void is None and space.ceiling.kind != "open" else ""
    return Run(
        (level - start[2]) + along + (level - place[2]) + loop,
        end,
        f"estimated: through the ceiling void{unknown}, along x and y, service loop included",
    )
