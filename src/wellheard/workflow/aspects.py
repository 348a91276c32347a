"""One product beside another, aspect by aspect: how it is mounted, connected, powered, bought."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Literal

from wellheard.catalog import connections
from wellheard.catalog.products import (
    AnyProduct,
    Loudspeaker,
    Microphone,
    Mounting,
    Port,
    Processor,
)
from wellheard.geometry.polygons import TOUCH
from wellheard.room.document import Room
from wellheard.signal.mounted import held_by, mounting_of, told_module
from wellheard.units import Unit, format_length
from wellheard.workflow.load import Loaded

Answer = Literal["yes", "with changes", "no", "not assessed"]

HOLE = 0.003
"""A hole may be this much wider than the new device wants. [m]"""


FLUSH = 0.005
"""What hangs by less sits in the ceiling itself, and drops nearer than this are the same. [m]"""

DEEPER = 0.02
"""A body may be this much deeper before somebody has to look above the ceiling. [m]"""


@dataclass(frozen=True)
class Aspect:
    """One respect in which two products are compared.

    Parameters
    ----------
    name : str
    answer : {"yes", "with changes", "no", "not assessed"}
    old, new : str
        What each of them is or has, as it is printed.
    why : str
        What follows; empty where nothing does.
    """

    name: str
    answer: Answer
    old: str
    new: str
    why: str = ""


def nearest_drop(product: Microphone | Loudspeaker, drop: float) -> float:
    return min(product.drops, key=lambda one: (abs(one - drop), one))


def mounting(
    loaded: Loaded, devices: Sequence[str], before: AnyProduct, after: AnyProduct
) -> Iterator[Aspect]:
    room = loaded.room
    ways = set(before.mountings) & set(after.mountings)
    yield _mounting(room, devices, before, after)
    if before.fits or after.fits:
        if after.module is None and _any_flush(room, devices):
            yield _hole(room, before, after)
        yield _tile(room, before, after)
        yield from _void(room, devices, before, after)
        yield from _plenum(room, devices, before, after)
    lighter = after.weight_kg <= before.weight_kg + 1e-9
    yield Aspect(
        "weight",
        "yes" if lighter else "with changes",
        f"{before.weight_kg:g} kg",
        f"{after.weight_kg:g} kg",
        "" if lighter else "check the fixing and the safety bond for the greater weight",
    )
    if isinstance(after, Microphone | Loudspeaker):
        yield from _drops(room, devices, before, after)
    missing = _parts(loaded, after, ways) - _parts(loaded, before, ways)
    if missing:
        yield Aspect("accessories", "with changes", "–", ", ".join(sorted(missing)), "to be added")
    if isinstance(before, Loudspeaker) and isinstance(after, Loudspeaker):
        same = before.active == after.active and (
            before.active or math.isclose(before.impedance, after.impedance, rel_tol=0.1)
        )
        yield Aspect(
            "load",
            "yes" if same else "with changes",
            "active" if before.active else f"{before.impedance:g} Ω",
            "active" if after.active else f"{after.impedance:g} Ω",
            "" if same else "check the amplifier's smallest load and its power",
        )


def _mounting(room: Room, devices: Sequence[str], before: AnyProduct, after: AnyProduct) -> Aspect:
    """By the way each device is mounted; where the document does not tell, by all it might be."""
    answer: Answer = "yes"
    why = ""
    now = [_mounted(room, name, before) for name in devices]
    if any(not ways & set(after.mountings) for ways in now):
        answer, why = "no", "it cannot be mounted where the old one is"
    elif any(ways - set(after.mountings) for ways in now):
        answer, why = "not assessed", "look how the old one is mounted"
    used = set[Mounting]().union(*now)
    return Aspect(
        "mounting",
        answer,
        ", ".join(m for m in before.mountings if m in used),
        ", ".join(after.mountings),
        why,
    )


def _mounted(room: Room, name: str, product: AnyProduct) -> set[Mounting]:
    """How a device is mounted, of the ways its product allows."""
    device = room.devices[name]
    if isinstance(product, Microphone) and device.at is not None:
        return {m for m in product.mountings if m == mounting_of(room, product, device.at)}
    place = room.equipment.get(device.equipment or "")
    told: set[Mounting] = {m for m in product.mountings if place is not None and m == place.kind}
    return told or set(product.mountings)


def _parts(loaded: Loaded, product: AnyProduct, ways: set[Mounting]) -> set[str]:
    """Accessories that these mountings of a product take on a ceiling such as the room's."""
    fits = held_by(loaded.room, product)
    return {
        part
        for way in ways
        for part in product.accessories[way]
        if loaded.catalogue.accessory(part).is_needed(fit=fits[0] if fits else None, drop=0.0)
    }


def _any_flush(room: Room, devices: Sequence[str]) -> bool:
    """Whether one of them sits in the ceiling itself: what hangs needs no hole of its size."""
    places = (room.devices[name].at for name in devices)
    return any(at is not None and room.space.height - at[2] < FLUSH for at in places)


def _let_in(room: Room, devices: Sequence[str], before: AnyProduct, after: AnyProduct) -> bool:
    """Whether a new one would sit in the ceiling itself, at the nearest drop that it has."""
    drops = getattr(after, "drops", ()) or (0.0,)
    places = [at for name in devices if (at := room.devices[name].at) is not None]
    now = [drop for at in places if (drop := hung(room, before, at)) is not None]
    return any(min(drops, key=lambda one: (abs(one - drop), one)) < FLUSH for drop in now)


def _hole(room: Room, before: AnyProduct, after: AnyProduct) -> Aspect:
    unit = room.units

    def said(cutout: float | None) -> str:
        return "none" if cutout is None else format_length(cutout, unit=unit, places=3)

    answer: Answer = "yes"
    why = ""
    if after.cutout is None:
        if before.cutout is not None:
            answer, why = "with changes", "the old hole stays open: a new tile or a patch"
    elif before.cutout is None:
        answer, why = "with changes", "a hole has to be cut"
        if not room.choices.new_holes:
            answer, why = "no", "a hole has to be cut, which choices.new_holes does not allow"
    elif after.cutout > before.cutout + 1e-9:
        answer, why = "with changes", "the hole has to be widened"
    elif after.cutout < before.cutout - HOLE:
        answer, why = "with changes", "the hole is too wide: a trim plate or a new tile"
    return Aspect("hole", answer, said(before.cutout), said(after.cutout), why)


def _tile(room: Room, before: AnyProduct, after: AnyProduct) -> Aspect:
    kind = room.space.ceiling.kind
    held = held_by(room, after)

    def said(product: AnyProduct) -> str:
        if product.module is None:
            return ", ".join(product.fits) or "none"
        return "in place of a tile of " + " × ".join(
            format_length(side, unit=room.units) for side in product.module
        )

    answer: Answer = "yes" if held else "no"
    why = "" if held else f"it holds to no ceiling of kind {kind}"
    if held and before.module != after.module:
        answer = "with changes"
        why = "the tile has to be changed"
        if after.module is not None and held[0] == "tile":
            grid, limit = told_module(room), room.targets.house_limit("grid-mixed")
            if grid is None:
                answer, why = (
                    "not assessed",
                    "space.ceiling.module does not say how large tiles are",
                )
            elif limit is not None and after.tile_gap(grid) > limit + TOUCH:
                answer, why = "no", "its size is not that of the grid"
    return Aspect("tile", answer, said(before), said(after), why)


def _void(
    room: Room, devices: Sequence[str], before: AnyProduct, after: AnyProduct
) -> Iterator[Aspect]:
    """Room above the ceiling for what is let into it; told where the new body is the deeper."""
    ceiling, unit = room.space.ceiling, room.units
    deeper = after.size[2] > before.size[2] + DEEPER
    if ceiling.kind == "open" or not deeper or not _let_in(room, devices, before, after):
        return
    answer: Answer = "with changes"
    why = f"look what lies in the void: it is {_deep(ceiling.void_depth, unit)}"
    if ceiling.void_depth is None:
        answer, why = "not assessed", "the depth of the void is unknown"
    elif after.size[2] > ceiling.void_depth:
        answer, why = "no", f"the void is {_deep(ceiling.void_depth, unit)}"
    yield Aspect("void", answer, _deep(before.size[2], unit), _deep(after.size[2], unit), why)


def _plenum(
    room: Room, devices: Sequence[str], before: AnyProduct, after: AnyProduct
) -> Iterator[Aspect]:
    """Rating for a void that carries return air, or may; told where the old one has more of it."""
    ceiling = room.space.ceiling
    if (
        ceiling.kind == "open"
        or ceiling.air_return is False
        or not _let_in(room, devices, before, after)
    ):
        return
    words = {True: "rated for return air", False: "not rated", None: "unknown"}
    if before.plenum and not after.plenum:
        known = ceiling.air_return and after.plenum is not None
        yield Aspect(
            "plenum",
            "no" if known else "not assessed",
            words[before.plenum],
            words[after.plenum],
            "the void carries return air: local code decides"
            if ceiling.air_return
            else "whether the void carries return air is unknown",
        )


def _deep(depth: float | None, unit: Unit) -> str:
    return "unknown" if depth is None else f"{format_length(depth, unit=unit, places=3)} deep"


def hung(room: Room, product: AnyProduct, at: tuple[float, float, float]) -> float | None:
    """How far a device of a product hangs below the ceiling [m]; None if it is not mounted there.

    What is flush hangs by 0.
    """
    if isinstance(product, Microphone):
        there = mounting_of(room, product, at) == "ceiling"
    else:
        there = isinstance(product, Loudspeaker) and bool(product.drops)
    return room.space.height - at[2] if there else None


def _drops(
    room: Room, devices: Sequence[str], before: AnyProduct, after: Microphone | Loudspeaker
) -> Iterator[Aspect]:
    places = [at for name in devices if (at := room.devices[name].at) is not None]
    now = [drop for at in places if (drop := hung(room, before, at)) is not None]
    if not now or not after.drops:
        return
    nearest = [nearest_drop(after, drop) for drop in now]
    same = all(abs(a - b) < FLUSH for a, b in zip(now, nearest, strict=True))
    yield Aspect(
        "drop",
        "yes" if same else "with changes",
        _lengths(now, room),
        _lengths(nearest, room),
        "" if same else "it has no such length: the nearest it has is taken",
    )


def _lengths(drops: Sequence[float], room: Room) -> str:
    said = ("flush" if d < FLUSH else format_length(d, unit=room.units) for d in drops)
    return ", ".join(dict.fromkeys(said))


def connection(
    loaded: Loaded, devices: Sequence[str], before: AnyProduct, after: AnyProduct
) -> Iterator[Aspect]:
    if isinstance(before, Microphone) and isinstance(after, Microphone):
        yield _link(loaded, before, after)
        yield _link_length(loaded, devices, before, after)
        return
    yield from _ports(before, after)
    if isinstance(before, Processor) and isinstance(after, Processor):
        worse = before.canceller and not after.canceller
        yield Aspect(
            "canceller",
            "no" if worse else "yes",
            _canceller(before),
            _canceller(after),
            "nothing cancels the echo any more" if worse else "",
        )
        used = _microphone_ports_used(loaded, devices)
        if used > after.microphone_ports:
            yield Aspect(
                "ports in use",
                "no",
                f"{used} microphones",
                f"{after.microphone_ports} ports",
                "some microphones would have no port",
            )


def _link(loaded: Loaded, before: Microphone, after: Microphone) -> Aspect:
    same = before.link.kind == after.link.kind
    answer: Answer = "yes" if same else "no"
    why = ""
    if not same:
        takes = [
            one
            for one in loaded.room.devices.values()
            if isinstance(product := loaded.catalogue.product(one.product), Processor)
            and connections.connections(after, product)
        ]
        processors = [
            one
            for one in loaded.room.devices.values()
            if isinstance(loaded.catalogue.product(one.product), Processor)
        ]
        if not processors:
            answer, why = "not assessed", "no processor is in the document to take either"
        elif takes:
            answer, why = "with changes", "another cable, to another port of the processor"
        else:
            why = "no device of the room takes such a link: another processor"
    return Aspect("link", answer, before.link.kind, after.link.kind, why)


def _link_length(
    loaded: Loaded, devices: Sequence[str], before: Microphone, after: Microphone
) -> Aspect:
    unit = loaded.room.units
    runs = [
        link
        for link in loaded.room.links.values()
        if {link.from_.partition(".")[0], link.to.partition(".")[0]} & set(devices)
    ]
    stated = [link.length for link in runs if link.length is not None]
    open_runs = len(stated) < max(len(devices), len(runs))
    old, new = before.link.max_length, after.link.max_length
    limit = f"to {format_length(new, unit=unit)}"
    longest = max(stated, default=0.0)
    fits = longest <= new + 1e-9
    if fits and open_runs:
        answer: Answer = "yes" if new >= old else "not assessed"
        none = "no link states its length" if not stated else "not every link states its length"
        why = "" if new >= old else f"{none}, and the new limit is shorter"
        return Aspect("link length", answer, f"to {format_length(old, unit=unit)}", limit, why)
    return Aspect(
        "link length",
        "yes" if fits else "no",
        format_length(longest, unit=unit),
        limit,
        "" if fits else "the run is too long: an extender, or the processor nearer",
    )


def _ports(before: AnyProduct, after: AnyProduct) -> Iterator[Aspect]:
    for port in before.ports:
        same = [p for p in after.ports if p.name == port.name]
        lost = not same or same[0].count < port.count
        kinds = set(port.kinds) - set(same[0].kinds) if same else set(port.kinds)
        answer: Answer = "yes"
        why = ""
        if lost:
            answer, why = "with changes", "fewer of them: only if those in use are left"
        elif kinds:
            answer, why = "with changes", f"takes no {', '.join(sorted(kinds))} any more"
        if not same:
            why = "there is none: only if it is not in use"
        yield Aspect(f"port {port.name}", answer, _counted(port), _counted(*same), why)


def _counted(*ports: Port) -> str:
    return ", ".join(f"{p.count} × {' / '.join(p.kinds)}" for p in ports) or "none"


def _canceller(product: Processor) -> str:
    return f"{1000 * product.canceller_tail:.0f} ms" if product.canceller else "none"


def _microphone_ports_used(loaded: Loaded, devices: Sequence[str]) -> int:
    ends = {
        end.partition(".")[0]
        for link in loaded.room.links.values()
        for end, other in ((link.from_, link.to), (link.to, link.from_))
        if other.partition(".")[0] in devices
    }
    return sum(
        isinstance(loaded.catalogue.product(device.product), Microphone)
        for name, device in loaded.room.devices.items()
        if name in ends
    )


def power(before: AnyProduct, after: AnyProduct) -> Iterator[Aspect]:
    def said(product: AnyProduct) -> str:
        of_class = f" class {product.poe_class}" if product.poe_class is not None else ""
        source = "" if product.powered_from == "none" else f" from {product.powered_from}"
        return f"{product.power_w:g} W{source}{of_class}"

    answer: Answer = "yes"
    why = ""
    if before.powered_from != after.powered_from:
        answer, why = "with changes", f"power comes from {after.powered_from} instead"
    elif (after.poe_class or 0) > (before.poe_class or 0):
        answer, why = "with changes", "a port of a higher power class"
    elif after.power_w > before.power_w + 1e-9:
        answer, why = "with changes", "check what supplies it for the greater power"
    yield Aspect("power", answer, said(before), said(after), why)


def firmware(before: AnyProduct, after: AnyProduct) -> Iterator[Aspect]:
    if before.minimum_firmware == after.minimum_firmware:
        same = before.minimum_firmware or "none"
        yield Aspect("firmware", "yes", same, same)
    elif after.minimum_firmware:
        yield Aspect(
            "firmware",
            "with changes",
            before.minimum_firmware or "none",
            f"{after.minimum_firmware} or newer",
            "bring what it connects to up to date first",
        )
    else:
        yield Aspect("firmware", "yes", before.minimum_firmware, "none")


def availability(before: AnyProduct, after: AnyProduct) -> Iterator[Aspect]:
    answer: Answer = "yes"
    why = ""
    if after.status == "discontinued":
        answer = "no"
        why = "it is no longer made" + (f"; {after.successor} follows" if after.successor else "")
    elif after.status == "last orders":
        answer, why = "with changes", "order in time: these are the last"
    weeks = after.lead_time_weeks
    wait = f", {weeks:g} week{'' if weeks == 1 else 's'}" if after.status == "current" else ""
    said = f"{after.status}{wait}"
    yield Aspect("availability", answer, before.status, said, why)
