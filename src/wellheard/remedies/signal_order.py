"""Stages of processing in another place or order, cancellers switched off, references set."""

from __future__ import annotations

import difflib
from collections.abc import Iterator
from itertools import pairwise

from wellheard.catalog.products import Microphone
from wellheard.checks.cancelling import at, in_front
from wellheard.checks.model import Finding
from wellheard.remedies.model import Change, Makers, Situation
from wellheard.remedies.rewrites import free_stage, named, with_processing
from wellheard.room.document import Room
from wellheard.room.processing import Processing
from wellheard.signal.graph import Graph, graph
from wellheard.signal.model import Canceller, Stage
from wellheard.signal.ports import FAR_END_PORT, split

GAIN_CHANGES = ("leveller", "limiter", "noise-reduction", "volume", "mute")


def _one_canceller(situation: Situation, finding: Finding) -> Iterator[Change]:
    """One of two cancellers in series switched off, each in turn."""
    known = situation.evidence.signal
    pairs = dict.fromkeys(
        pair
        for microphone in known.microphones
        for path in known.paths_of(microphone)
        for pair in pairwise(path.cancellers)
        if at(pair[1]) == finding.at
    )
    # The computer's own goes first, then what the document does not state.
    for stage in sorted(
        dict.fromkeys(stage for pair in pairs for stage in pair[::-1]),
        key=lambda one: (not known.units[split(one.at)[0]].has_far_end, bool(one.id)),
    ):
        yield _switched_off(situation.room, stage)


def _switched_off(room: Room, stage: Stage) -> Change:
    if stage.id:
        off = room.processing[stage.id].model_copy(update={"bypassed": True})
        return Change(
            f"Switch canceller {stage.id} on {stage.at} off.",
            with_processing(room, {stage.id: off}),
        )
    name = free_stage(room, f"{split(stage.at)[0]}-canceller-off"[:36])
    off = Processing(kind="canceller", on=stage.at, bypassed=True)
    return Change(
        f"Switch the canceller of {split(stage.at)[0]} on {stage.at} off.",
        with_processing(room, {name: off}),
        "Set it so on the device: the document only says how it is meant to be.",
    )


def _switched_on(situation: Situation, finding: Finding) -> Iterator[Change]:
    """Cancellers that are switched off on a way that has none, switched on."""
    room, known = situation.room, situation.evidence.signal
    bare = {
        device
        for microphone in known.microphones
        for path in known.paths_of(microphone)
        if not path.cancellers
        for device in path.devices
    }
    off = {
        name: stage.model_copy(update={"bypassed": False})
        for name, stage in room.processing.items()
        if stage.kind == "canceller" and stage.bypassed and split(stage.on)[0] in bare
    }
    if off:
        what = f"Switch canceller{'s' if len(off) > 1 else ''} {' and '.join(off)} on."
        yield Change(what, with_processing(room, off))


def _nearest_port(situation: Situation, finding: Finding) -> Iterator[Change]:
    """A port that is not there, read as the one of that device that is written most like it."""
    room = situation.room
    name = named(finding, "processing")
    stage = room.processing.get(name)
    if stage is None:
        return
    sources = tuple(_written_like(situation, port) for port in stage.sources)
    put = stage.model_copy(
        update={
            "on": _written_like(situation, stage.on),
            **({"sources": sources} if stage.sources else {}),
            **(
                {"reference": _written_like(situation, stage.reference)}
                if stage.reference is not None
                else {}
            ),
        }
    )
    changed = [
        f"{new} for {old}"
        for old, new in zip(
            (stage.on, stage.reference, *stage.sources),
            (put.on, put.reference, *put.sources),
            strict=True,
        )
        if old != new
    ]
    if changed:
        yield Change(
            f"Read {' and '.join(changed)} in {name}.",
            with_processing(room, {name: put}),
            "The nearest name there is: see that it is the one that was meant.",
        )


def _written_like(situation: Situation, port: str) -> str:
    device, name = split(port)
    unit = situation.evidence.signal.units.get(device)
    if unit is None or unit.knows(name):
        return port
    near = difflib.get_close_matches(name, unit.names, n=1, cutoff=0.6)
    return f"{device}.{near[0]}" if near else port


def _behind_canceller(situation: Situation, finding: Finding) -> Iterator[Change]:
    """A stage put behind the canceller that it stands in front of."""
    room = situation.room
    name = named(finding, "processing")
    stage = room.processing.get(name)
    found = next(
        (one for one in in_front(situation.evidence.signal, GAIN_CHANGES) if one.stage.id == name),
        None,
    )
    if stage is None or found is None:
        return
    kind = stage.kind.replace("-", " ")
    behind = found.canceller.at
    if behind != stage.on:
        put = stage.model_copy(update={"on": behind})
        yield Change(
            f"Put {kind} {name} on {behind}, behind the canceller there.",
            with_processing(room, {name: put}),
        )
    else:
        # Stages of one port work in the document's order: behind means after.
        later = free_stage(room, name)
        yield Change(
            f"Put {kind} {name} behind the canceller on {behind}; it is {later} then.",
            with_processing(room, {name: None, later: stage}),
        )
    send = f"{split(behind)[0]}.send"
    if len(found.microphones) == len(situation.evidence.signal.microphones):
        yield Change(
            f"Put {kind} {name} on {send}: what is sent, behind canceller and mixer.",
            with_processing(room, {name: stage.model_copy(update={"on": send})}),
        )


def _cancel_at_ports(situation: Situation, finding: Finding) -> Iterator[Change]:
    """A canceller behind a mixer, taken away where the ports in front of it cancel as well."""
    room, name = situation.room, named(finding, "processing")
    stage = room.processing.get(name)
    if stage is None:
        return
    without = with_processing(room, {name: None})
    cancelled = graph(without, situation.catalogue)
    if all(path.cancellers for m in cancelled.microphones for path in cancelled.paths_of(m)):
        yield Change(
            f"Cancel on each microphone port instead of {name} on {stage.on}.",
            without,
            "Each port then listens to what arrives from the far end.",
        )


def _reference(situation: Situation, finding: Finding) -> Iterator[Change]:
    """A canceller's reference taken where the far end and the programme are, and no voices."""
    known = situation.evidence.signal
    cancellers = [one for one in known.all_cancellers() if at(one.stage) == finding.at]
    if not cancellers:
        return
    for port in _ports_that_play(known, cancellers):
        changed = with_references(situation.room, cancellers, port)
        yield Change(f"Take the reference of {_names(cancellers)} at {port}.", changed)


def _names(cancellers: list[Canceller]) -> str:
    named_ = [one.stage.id or f"the canceller on {one.stage.at}" for one in cancellers]
    return " and ".join(dict.fromkeys(named_))


def with_references(room: Room, cancellers: list[Canceller], port: str) -> Room:
    """Room in which these cancellers listen to a port; those of devices themselves are stated."""
    for one in cancellers:
        name = one.stage.id or free_stage(room, f"{split(one.stage.at)[0]}-canceller"[:36])
        stage = room.processing.get(name) or Processing(kind="canceller", on=one.stage.at)
        room = with_processing(room, {name: stage.model_copy(update={"reference": port})})
    return room


def _ports_that_play(known: Graph, cancellers: list[Canceller]) -> Iterator[str]:
    """Ports that may be a reference: what arrives from the far end, then outputs that play.

    Of the device that cancels alone: it hears no other without a cable. A microphone that cancels
    is told over its link by the processor that it ends at.
    """
    devices: list[str] = []
    for one in cancellers:
        inside = isinstance(known.product(one.device), Microphone)
        ways = known.paths_of(one.device) if inside else ()
        devices += [one.device, *(d for way in ways for d in way.devices[1:])]
    ports = [
        f"{device}.{FAR_END_PORT}"
        for device in dict.fromkeys(devices)
        if FAR_END_PORT in known.units[device].virtual and not known.units[device].has_far_end
    ]
    ports += [
        port
        for one in known.playing()
        for path in one.paths
        for port in path.ports[::-1]
        if split(port)[0] in devices and split(port)[1].startswith("line-out")
    ]
    now = {one.reference for one in cancellers}
    yield from (port for port in dict.fromkeys(ports) if port not in now)


def _volume_in_front(situation: Situation, finding: Finding) -> Iterator[Change]:
    """A volume in front of the place where the reference is picked off, or that place behind it."""
    room, known = situation.room, situation.evidence.signal
    name = named(finding, "processing")
    stage = room.processing.get(name)
    if stage is None:
        return
    listening = [
        one
        for one in known.all_cancellers()
        if one.reference is not None and known.reference(one).far_end
    ]
    for port in dict.fromkeys(one.reference for one in listening if one.reference is not None):
        yield Change(
            f"Put {stage.kind} {name} on {port}, where the reference is picked off behind it.",
            with_processing(room, {name: stage.model_copy(update={"on": port})}),
            "It then works on everything that is played from there.",
        )
    if split(stage.on)[1].startswith("line-out") and listening:
        yield Change(
            f"Take the reference of {_names(listening)} at {stage.on}, behind {name}.",
            with_references(room, listening, stage.on),
        )


MAKERS: Makers = {
    "canceller-missing": (_switched_on,),
    "port-unknown": (_nearest_port,),
    "canceller-twice": (_one_canceller,),
    "gain-changes-before-canceller": (_behind_canceller,),
    "mixer-before-canceller": (_cancel_at_ports,),
    "mute-before-canceller": (_behind_canceller,),
    "reference-holds-microphone": (_reference,),
    "reference-lacks-far-end": (_reference,),
    "reference-lacks-programme": (_reference,),
    "volume-after-reference": (_volume_in_front,),
}
