"""How late sound is: in the room, through it and back into it, and against the picture.

::

    mouth ~air~ microphone ─ processor ─ computer                              outbound
    computer ─ processor ─ amplifier ─ loudspeaker ~air~ ear                   inbound
    mouth ~air~ microphone ─ processor ─ amplifier ─ loudspeaker ~air~ ear     lift
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from itertools import pairwise

from wellheard.catalog.products import (
    Amplifier,
    AnyProduct,
    Extender,
    Loudspeaker,
    Microphone,
    Processor,
)
from wellheard.predict.evidence import Outbound, PlacedMicrophone, Point, Talker
from wellheard.predict.scene import Scene
from wellheard.predict.stages import PRACTICE
from wellheard.predict.wayback import DelayPart, Delays, PlacedLoudspeaker, Playback
from wellheard.signal.graph import Graph
from wellheard.signal.model import Path
from wellheard.signal.ports import split

NETWORK_HOP_MS = 1.0
"""One hop of networked audio (common practice, no source [C]; 0.25 to 5 ms). [ms]"""

LOUDSPEAKER = "loudspeaker"
"""Name of the part that a loudspeaker itself adds."""

SHEET = "data sheet"
GEOMETRY = "distance over the speed of sound"
STATED = "stated in the document"


def delays(
    scene: Scene,
    microphones: Sequence[PlacedMicrophone],
    rows: Sequence[Outbound],
    playback: Playback | None,
) -> Delays:
    """Longest delay of each kind of path, part by part.

    Parameters
    ----------
    scene : Scene
        The room.
    microphones : sequence of PlacedMicrophone
        M of them.
    rows : sequence of Outbound
        The ledger: who is heard by what, from how far.
    playback : Playback or None
        The loudspeakers as they are set.

    Notes
    -----
    An ear hears what arrives there first: of several loudspeakers that one counts, and of all ears
    the last one. Devices count with the delay of their sheets; what has no cable or stage in the
    document goes the way that the signal graph takes it to go. The call's delay, mouth to ear, is
    what the document states: the parts in the room are inside it.
    """
    speakers = () if playback is None else playback.loudspeakers
    far_end = scene.room.far_end
    picture = far_end.picture_delay_ms
    return Delays(
        outbound=_longest(_outbound(scene, microphones, rows)),
        inbound=_latest(scene, [(one, inbound_parts(scene.signal, one)) for one in speakers]),
        lift=_longest(_lifted(scene, microphones, rows, speakers)),
        one_way_ms=far_end.one_way_delay_ms,
        lip_sync_ms=None if picture is None else far_end.one_way_delay_ms - picture,
    )


def _longest(ways: Iterator[tuple[DelayPart, ...]]) -> tuple[DelayPart, ...]:
    return max(ways, key=_total, default=())


def _total(parts: tuple[DelayPart, ...]) -> float:
    return round(sum(part.ms for part in parts), 9)


def _outbound(
    scene: Scene,
    microphones: Sequence[PlacedMicrophone],
    rows: Sequence[Outbound],
) -> Iterator[tuple[DelayPart, ...]]:
    for placed in microphones:
        mine = [row for row in rows if row.path.microphone == placed.id]
        if not mine:
            continue
        farthest = max(mine, key=lambda row: row.path.distance)
        yield (
            _air(scene, farthest.talker.at, placed.at, f"{farthest.talker.id} to {placed.id}"),
            *outbound_parts(scene.signal, placed),
        )


def outbound_parts(signal: Graph, microphone: PlacedMicrophone) -> tuple[DelayPart, ...]:
    """From the capsule of a microphone to the computer, by the longest of its ways."""
    ways = signal.paths_of(microphone.id)
    along = (_electronics(signal, way, ends=(microphone.id,)) for way in ways)
    return (*_microphone(microphone), *max(along, key=_total, default=()))


def inbound_parts(signal: Graph, loudspeaker: PlacedLoudspeaker) -> tuple[DelayPart, ...]:
    """From the computer to the air in front of a loudspeaker."""
    way = _far_end_way(signal, loudspeaker)
    if way is None:
        return (*_own_delay(loudspeaker), *_loudspeaker(loudspeaker))
    along = _electronics(signal, way, ends=(loudspeaker.device,))
    return (*along, *_loudspeaker(loudspeaker))


def after_reference(signal: Graph, loudspeaker: PlacedLoudspeaker) -> tuple[DelayPart, ...]:
    """The same from the last processor on: what a canceller in there has to wait for.

    Parameters
    ----------
    signal : Graph
        Signals of the room.
    loudspeaker : PlacedLoudspeaker
        Whose echo it is.
    """
    way = _far_end_way(signal, loudspeaker)
    if way is None:
        return (*_own_delay(loudspeaker), *_loudspeaker(loudspeaker))
    processors = [d for d in way.devices if isinstance(signal.product(d), Processor)]
    before = way.devices[: way.devices.index(processors[-1]) + 1] if processors else ()
    along = _electronics(signal, way, ends=(loudspeaker.device,), before=before)
    return (*along, *_loudspeaker(loudspeaker))


def _far_end_way(signal: Graph, loudspeaker: PlacedLoudspeaker) -> Path | None:
    for playing in signal.playing():
        if playing.loudspeaker == loudspeaker.device:
            return playing.far_end
    return None


def _latest(
    scene: Scene, ways: Sequence[tuple[PlacedLoudspeaker, tuple[DelayPart, ...]]]
) -> tuple[DelayPart, ...]:
    """Of every ear the first that arrives; of these the last."""
    if not ways:
        return ()
    return _longest(iter(_first(scene, ear, ways) for ear in scene.talkers))


def _first(
    scene: Scene, ear: Talker, ways: Sequence[tuple[PlacedLoudspeaker, tuple[DelayPart, ...]]]
) -> tuple[DelayPart, ...]:
    return min(
        ((*parts, _air(scene, one.at, ear.at, f"{one.id} to {ear.id}")) for one, parts in ways),
        key=_total,
    )


def _lifted(
    scene: Scene,
    microphones: Sequence[PlacedMicrophone],
    rows: Sequence[Outbound],
    loudspeakers: Sequence[PlacedLoudspeaker],
) -> Iterator[tuple[DelayPart, ...]]:
    placed = {one.id: one for one in microphones}
    for name in dict.fromkeys(lift.microphone for lift in scene.signal.lifts()):
        mine = [row for row in rows if row.path.microphone == name]
        if name not in placed or not mine:
            continue
        ways = [
            (one, lift_parts(scene.signal, placed[name], one, way=lift.path))
            for lift in scene.signal.lifts()
            for one in loudspeakers
            if lift.microphone == name and lift.loudspeaker == one.device
        ]
        if not ways:
            continue
        farthest = max(mine, key=lambda row: row.path.distance).talker
        spoken = _air(scene, farthest.at, placed[name].at, f"{farthest.id} to {name}")
        for ear in scene.talkers:
            if ear.id != farthest.id:
                yield (spoken, *_first(scene, ear, ways))


def lift_parts(
    signal: Graph,
    microphone: PlacedMicrophone,
    loudspeaker: PlacedLoudspeaker,
    *,
    way: Path | None = None,
) -> tuple[DelayPart, ...]:
    """From a microphone to the air in front of a loudspeaker in the same room.

    Parameters
    ----------
    signal : Graph
        Signals of the room.
    microphone : PlacedMicrophone
        Where it begins.
    loudspeaker : PlacedLoudspeaker
        Where it ends.
    way : Path, optional
        Of the lift. Without one: what the microphone passes on its way to the far end, and what
        the far end passes on its way to the loudspeaker, each device once.
    """
    own = tuple(_microphone(microphone))
    if way is not None:
        along = _electronics(signal, way, ends=(microphone.id, loudspeaker.device))
        return (*own, *along, *_loudspeaker(loudspeaker))
    out = signal.paths_of(microphone.id)[:1]
    there = [part for path in out for part in _electronics(signal, path, ends=(microphone.id,))]
    back = inbound_parts(signal, loudspeaker)
    return tuple({(part.name, part.at): part for part in (*own, *there, *back)}.values())


def _air(scene: Scene, start: Point, end: Point, at: str) -> DelayPart:
    late = math.dist(start, end) / scene.propagation.speed
    return DelayPart(name="air", at=at, ms=1000.0 * late, source=GEOMETRY)


def _microphone(placed: PlacedMicrophone) -> Iterator[DelayPart]:
    if placed.product.latency_ms:
        yield DelayPart("microphone", f"devices.{placed.id}", placed.product.latency_ms, SHEET)


def _loudspeaker(one: PlacedLoudspeaker) -> Iterator[DelayPart]:
    if isinstance(one.product, Microphone):
        late = 0.0 if one.product.built_in is None else one.product.built_in.latency_ms
    else:
        late = one.product.latency_ms
    if late:
        yield DelayPart(LOUDSPEAKER, f"devices.{one.device}", late, SHEET)


def _own_delay(one: PlacedLoudspeaker) -> Iterator[DelayPart]:
    if one.delay:
        yield DelayPart("delay stage", f"devices.{one.device}", 1000.0 * one.delay, STATED)


def _electronics(
    signal: Graph, way: Path, *, ends: Sequence[str], before: Sequence[str] = ()
) -> tuple[DelayPart, ...]:
    """Devices, delay stages and network hops along a way.

    Devices at its ``ends`` have delays of their own that are counted elsewhere; of those
    ``before`` where it is picked up nothing counts.
    """
    found: list[DelayPart] = []
    for name in way.devices:
        product = signal.product(name)
        late = 0.0 if name in (*ends, *before) else _latency_ms(product)
        if product is not None and late:
            found.append(DelayPart(product.kind, f"devices.{name}", late, SHEET))
    for stage in way.stages:
        if stage.delay_ms and stage.kind == "delay" and split(stage.at)[0] not in before:
            found.append(DelayPart("delay stage", stage.place, stage.delay_ms, STATED))
    for here, there in pairwise(way.ports):
        if split(here)[0] == split(there)[0] or split(there)[0] in before:
            continue
        if _on_network(signal, here) or _on_network(signal, there):
            found.append(DelayPart("network audio", f"{here} to {there}", NETWORK_HOP_MS, PRACTICE))
    return tuple(found)


def _latency_ms(product: AnyProduct | None) -> float:
    if isinstance(product, Processor | Amplifier | Extender | Loudspeaker | Microphone):
        return product.latency_ms
    return 0.0


def _on_network(signal: Graph, port: str) -> bool:
    """Whether a port of a device takes networked audio and nothing else."""
    device, name = split(port)
    product = signal.product(device)
    return product is not None and any(
        name in one.names and one.kinds == ("network",) for one in product.ports
    )
