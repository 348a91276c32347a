"""Stages of a document on their ports, and the ways inside devices."""

from __future__ import annotations

from collections.abc import Mapping

from wellheard.catalog.ports import SILENT
from wellheard.catalog.products import Amplifier, Extender, Loudspeaker, Microphone, Processor
from wellheard.room.processing import Processing
from wellheard.signal.model import FAR_END, PROGRAMME, Stage
from wellheard.signal.ports import FAR_END_PORT, SEND_PORT, Unit, passes_on, split
from wellheard.signal.wires import PLAY, SINK, Chain, Side, Sort, Wires

TO_ROOM: tuple[Sort, ...] = (FAR_END, PROGRAMME)
TO_FAR_END: tuple[Sort, ...] = ("microphone",)


def chain_of(units: Mapping[str, Unit], port: str, side: Side) -> Chain | None:
    """Chain of a port that a document names; None where there is no such port.

    ``side`` decides on a port that goes both ways.
    """
    device, name = split(port)
    unit = units.get(device)
    if unit is None or not unit.knows(name):
        return None
    if name in (FAR_END_PORT, SEND_PORT) and name in unit.virtual:
        return Chain(port)
    there = unit.ports.get(name)
    if there is not None and there.flow == "both":
        if isinstance(unit.product, Loudspeaker):
            return Chain(port, "down")
        return Chain(port, side)
    return Chain(port)


def side_of(kind: str) -> Side:
    """Which way a stage works on a port that goes both ways."""
    return "down" if kind in ("volume", "lift") else "up"


def put_stages(wires: Wires, units: Mapping[str, Unit], stages: Mapping[str, Processing]) -> None:
    """Put the stages of the document, then those that devices have by themselves."""
    described: dict[str, list[str]] = {}
    for name, stage in stages.items():
        chain = chain_of(units, stage.on, side_of(stage.kind))
        if chain is None:
            continue
        described.setdefault(stage.kind, []).append(stage.on)
        if not stage.bypassed:
            wires.chains.setdefault(chain, []).append(
                Stage(
                    kind=stage.kind,
                    at=stage.on,
                    id=name,
                    gain_db=stage.gain_db,
                    delay_ms=stage.delay_ms,
                    reference=stage.reference,
                    sources=stage.sources,
                )
            )
    for unit in units.values():
        _put_cancellers(wires, unit, described.get("canceller", []))
        _put_mixer(wires, unit, described.get("mixer", []))


def _put_cancellers(wires: Wires, unit: Unit, described: list[str]) -> None:
    product = unit.product
    if isinstance(product, Processor) and product.canceller:
        places = unit.named("mic")
        said = f"{unit.id} cancels echo by itself: one canceller behind each microphone port"
    elif isinstance(product, Microphone) and product.built_in and product.built_in.canceller:
        places = ("microphone",)
        said = f"{unit.id} cancels the echo of its own loudspeaker"
    else:
        return
    mine = {name for device, name in map(split, described) if device == unit.id}
    if any(name in unit.named("line-out") or name in (SEND_PORT, *_two_way(unit)) for name in mine):
        return  # the document says where it cancels: behind all of them
    for place in places:
        if place not in mine:
            chain = wires.chains.setdefault(Chain(f"{unit.id}.{place}"), [])
            # Behind the gain of the port and in front of all else: the usual order.
            k = next((i for i, s in enumerate(chain) if s.kind != "gain"), len(chain))
            stage = Stage("canceller", f"{unit.id}.{place}", assumed=True, because=f"{said}.")
            chain.insert(k, stage)


def _put_mixer(wires: Wires, unit: Unit, described: list[str]) -> None:
    product = unit.product
    if not (isinstance(product, Processor) and product.automatic_mixer):
        return
    ends = (SEND_PORT, *_two_way(unit), *unit.named("line-out"))
    if any(device == unit.id and name in ends for device, name in map(split, described)):
        return
    because = f"{unit.id} mixes its microphones by itself, behind their ports."
    stage = Stage("mixer", f"{unit.id}.{SEND_PORT}", automatic=True, assumed=True, because=because)
    wires.chains.setdefault(Chain(f"{unit.id}.{SEND_PORT}"), []).insert(0, stage)


def _two_way(unit: Unit) -> tuple[str, ...]:
    return tuple(name for name, port in unit.ports.items() if port.flow == "both")


def lay_inside(wires: Wires, unit: Unit, *, sends: frozenset[str], has_far_end: bool) -> None:
    """Lay the ways inside a device.

    Parameters
    ----------
    wires : Wires
        They are added to.
    unit : Unit
        The device.
    sends : frozenset of str
        Its line outputs that carry its microphones towards the far end; the others play.
    has_far_end : bool
        Its USB port goes to a computer; what comes over the network is then no far end.
    """
    product = unit.product
    if isinstance(product, Processor):
        _inside_processor(wires, unit, sends=sends, has_far_end=has_far_end)
    elif isinstance(product, Microphone):
        _inside_combined(wires, unit)
    elif isinstance(product, Extender):
        for side in ("", "up", "down"):
            near, far = (Chain(f"{unit.id}.{end}", side) for end in ("near", "far"))
            wires.lay(near, far)
            wires.lay(far, near)
    elif isinstance(product, Amplifier):
        for into, out in zip(unit.named("in"), unit.named("out"), strict=True):
            wires.lay(Chain(f"{unit.id}.{into}"), Chain(f"{unit.id}.{out}"))
    elif unit.has_far_end:
        _inside_computer(wires, unit)


def _inside_processor(
    wires: Wires, unit: Unit, *, sends: frozenset[str], has_far_end: bool
) -> None:
    assert isinstance(unit.product, Processor)
    if passes_on(unit.product):
        for out in unit.named("line-out"):
            for into in unit.named("mic"):
                wires.lay(Chain(f"{unit.id}.{into}"), Chain(f"{unit.id}.{out}"))
        return
    far_end, send, play = (Chain(f"{unit.id}.{name}") for name in (FAR_END_PORT, SEND_PORT, PLAY))
    for into in unit.named("mic"):
        wires.lay(Chain(f"{unit.id}.{into}"), send, only=TO_FAR_END)
    for into in unit.named("line-in"):
        # A film is played, the far end is heard, microphones of another mixer go out.
        wires.lay(Chain(f"{unit.id}.{into}"), send, only=TO_FAR_END)
        wires.lay(Chain(f"{unit.id}.{into}"), far_end, only=(FAR_END,))
        wires.lay(Chain(f"{unit.id}.{into}"), play, only=(PROGRAMME,))
    wires.lay(far_end, play)
    for out in unit.named("line-out"):
        wires.lay(send if out in sends else play, Chain(f"{unit.id}.{out}"))
    if "usb" in unit.ports:
        wires.lay(send, Chain(f"{unit.id}.usb", "up"))
        wires.lay(Chain(f"{unit.id}.usb", "down"), far_end)
    if "network" in unit.ports:
        up, down = (Chain(f"{unit.id}.network", side) for side in ("up", "down"))
        if has_far_end:
            wires.lay(up, send, only=TO_FAR_END)
            wires.lay(play, down)
        else:
            wires.lay(send, up)
            wires.lay(down, far_end)
            wires.lay(play, down)


def _inside_combined(wires: Wires, unit: Unit) -> None:
    assert isinstance(unit.product, Microphone)
    if unit.product.built_in is None:
        return
    here = unit.id
    (out,) = unit.ports
    two_way = unit.ports[out].flow == "both"
    wires.lay(Chain(f"{here}.microphone"), Chain(f"{here}.{SEND_PORT}"))
    wires.lay(Chain(f"{here}.{SEND_PORT}"), Chain(f"{here}.{out}", "up" if two_way else ""))
    wires.lay(Chain(f"{here}.{FAR_END_PORT}"), Chain(f"{here}.loudspeaker"))
    if two_way:
        wires.lay(Chain(f"{here}.{out}", "down"), Chain(f"{here}.{FAR_END_PORT}"))


def _inside_computer(wires: Wires, unit: Unit) -> None:
    far_end, send = (Chain(f"{unit.id}.{name}") for name in (FAR_END_PORT, SEND_PORT))
    for name, port in unit.ports.items():
        if port.signal in SILENT:
            continue
        if port.flow == "both":
            wires.lay(Chain(f"{unit.id}.{name}", "up"), send)
            wires.lay(far_end, Chain(f"{unit.id}.{name}", "down"))
        elif port.flow == "in":
            wires.lay(Chain(f"{unit.id}.{name}"), send)
        elif unit.equipment == "codec":
            wires.lay(far_end, Chain(f"{unit.id}.{name}"))
    wires.lay(send, SINK)
