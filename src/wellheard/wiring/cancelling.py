"""What each canceller listens to, once everything is wired.

A branch hears the far end through its line input, and the root cancels nothing of what a branch
sends: each microphone's echo is cancelled once, at its own port.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from wellheard.catalog.products import Microphone
from wellheard.room import edit
from wellheard.room.devices import Device
from wellheard.room.equipment import Equipment
from wellheard.room.links import Link
from wellheard.room.processing import Processing
from wellheard.signal.graph import Graph, graph
from wellheard.signal.model import PROGRAMME
from wellheard.signal.ports import split
from wellheard.wiring.asking import Stage
from wellheard.wiring.electronics import is_hub

BEHIND = ("volume", "mute", "leveller", "limiter")
"""Stages that a reference should be behind."""


def processing(
    stage: Stage,
    links: Mapping[str, Link],
    devices: Mapping[str, Device],
    equipment: Mapping[str, Equipment],
    dropped: Sequence[str],
    *,
    root: str,
) -> dict[str, Processing]:
    """Cancellers with their references, and those that are switched off.

    Stated stages are left alone. A microphone with a canceller of its own has the one of its hub's
    port switched off. References are written where loudspeakers play: of a branch its line input,
    of the root what arrives from the far end, or, where that lacks a programme or a volume, the
    output that plays both.
    """
    room = edit.without_devices(stage.stated.model_copy(update={"links": {}}), dropped)
    room = edit.with_devices(room, devices).model_copy(
        update={"links": dict(links), "equipment": {**room.equipment, **equipment}}
    )
    wired = graph(room, stage.catalogue)
    if not root:
        return {}
    found: dict[str, Processing] = {}
    told = {one.on for one in room.processing.values() if one.kind == "canceller"}
    sends = {split(port)[0] for port in told if not split(port)[1].startswith("mic")}
    for microphone in wired.microphones:
        end = wired.ends.get(microphone, "")
        hub = split(end)[0]
        if not end or not is_hub(wired.product(hub)) or end in told or hub in sends:
            continue
        product = wired.product(microphone)
        inside = product.built_in if isinstance(product, Microphone) else None
        if inside is not None and inside.canceller:
            found[_id(room.processing, found, end)] = Processing(
                kind="canceller", on=end, bypassed=True
            )
        elif wired.playing() and any(end in (link.from_, link.to) for link in links.values()):
            reference = _reference(wired, links, hub, root)
            found[_id(room.processing, found, end)] = Processing(
                kind="canceller", on=end, reference=reference
            )
    return found


def _reference(wired: Graph, links: Mapping[str, Link], hub: str, root: str) -> str:
    if hub != root:
        for link in links.values():
            for here, there in ((link.from_, link.to), (link.to, link.from_)):
                device, port = split(here)
                if (device, split(there)[0]) == (hub, root) and port.startswith("line-in"):
                    return here
        return f"{hub}.far-end"
    far_end = f"{hub}.far-end"
    outs = [
        port
        for one in wired.playing()
        for path in one.paths
        for port in path.ports
        if split(port)[0] == hub and split(port)[1].startswith("line-out")
    ]
    stages = [stage for one in wired.playing() for path in one.paths for stage in path.stages]
    programme = any(path.source == PROGRAMME for one in wired.playing() for path in one.paths)
    behind = any(s.kind in BEHIND and s.at in outs for s in stages)
    lifted = bool(wired.lifts())
    if (programme or behind) and not lifted and len(set(outs)) == 1:
        return outs[0]
    return far_end


def _id(stated: Mapping[str, Processing], found: Mapping[str, Processing], port: str) -> str:
    stem = f"aec-{port.replace('.', '-')}"[:40]
    name, number = stem, 1
    while name in stated or name in found:
        number += 1
        name = f"{stem}-{number}"
    return name
