"""A microphone or a loudspeaker at the nearest place that is allowed; never one that is locked.

Allowed is what placement allows: the same places, by the same rules, in every arrangement of a
room that divides.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, replace
from itertools import islice
from statistics import median_low
from typing import TypeVar

from wellheard.catalog.products import Loudspeaker, Microphone
from wellheard.checks.model import Finding
from wellheard.place.candidates import set_out
from wellheard.place.places import Candidate, Standing, places
from wellheard.place.sounding import loudspeakers
from wellheard.place.spaces import Spaces
from wellheard.predict.devices import loudspeaker_places
from wellheard.predict.evidence import Outbound, Point
from wellheard.predict.scene import Scene
from wellheard.remedies.model import Change, Maker, Makers, Situation
from wellheard.remedies.rewrites import length, movable, moved, named
from wellheard.room.document import Room
from wellheard.room.edit import without_devices
from wellheard.signal.mounted import mounting_of

MOST_PLACES = 3
"""Places that are tried for one device, the nearest first."""
MOST_LOOKED_AT = 400
"""Places that the rules are asked about, the nearest first."""
APART = 0.05
"""A move by less than this is none. [m]"""

_Standing = TypeVar("_Standing", bound=Standing)
Wanted = Callable[[Point], bool]
"""Whether a place mends what the rules of placement do not know."""


@dataclass(frozen=True)
class Free:
    """A place that a device may have."""

    at: Point
    aim_deg: float | None
    drop: float | None


def anywhere(_: Point) -> bool:
    """Every allowed place will do."""
    return True


def moves(situation: Situation, name: str, wanted: Wanted = anywhere) -> Iterator[Change]:
    """A device moved to the nearest places that are allowed and wanted."""
    if not movable(situation.room, name):
        return
    here = situation.room.devices[name].at
    assert here is not None
    for free in islice(_apart(_free(situation, name, here, wanted)), MOST_PLACES):
        room, note = moved(situation.room, name, free.at, aim_deg=free.aim_deg)
        yield Change(_says(situation.room, name, here, free), room, note)


def _apart(found: Iterator[Free]) -> Iterator[Free]:
    """One place of each spot on the plan, so that those that are tried differ."""
    taken: list[Point] = []
    for one in found:
        if all(math.dist(one.at[:2], other[:2]) >= APART for other in taken):
            taken.append(one.at)
            yield one


def _says(room: Room, name: str, here: Point, free: Free) -> str:
    x, y, z = (length(room, v) for v in free.at)
    if free.drop is None:
        how = f", {z} above the floor"
    elif free.drop < APART:
        how = ", flush in the ceiling"
    else:
        how = f", hung {length(room, free.drop)} below the ceiling"
    by = length(room, math.dist(here, free.at))
    if math.dist(here[:2], free.at[:2]) < APART:
        return f"Move {name} by {by} straight {'up' if free.at[2] > here[2] else 'down'}{how}."
    return f"Move {name} by {by} to {x}, {y} on the plan{how}."


def _free(situation: Situation, name: str, here: Point, wanted: Wanted) -> Iterator[Free]:
    """Allowed places of one device, the nearest first."""
    product = situation.catalogue.product(situation.room.devices[name].product)
    spaces = situation.once(f"spaces without {name}", lambda: _spaces(situation, name))
    if isinstance(product, Microphone):
        yield from _microphone(spaces, product, here, wanted)
    elif isinstance(product, Loudspeaker):
        apart = situation.room.targets.house_limit("microphone-near-loudspeaker")
        microphones = [
            one.at for one in situation.evidence.microphones if one.id != name and apart is not None
        ]

        def clear(at: Point) -> bool:
            return wanted(at) and all(math.dist(at, m) >= (apart or 0.0) for m in microphones)

        yield from _loudspeaker(spaces, product, here, clear)


def _spaces(situation: Situation, name: str) -> Spaces:
    """The rooms as the rules of placement see them: without the device, the others staying."""
    parts = tuple(
        replace(one, scene=_fixed(one.scene, name))
        for one in situation.parts
        if one.part.name or len(situation.parts) > 1
    )
    return Spaces.of(_fixed(situation.whole, name), parts)


def _fixed(scene: Scene, name: str) -> Scene:
    room = without_devices(scene.room, [name]) if name in scene.room.devices else scene.room
    kept = {key: one.model_copy(update={"locked": True}) for key, one in room.devices.items()}
    return replace(scene, room=room.model_copy(update={"devices": kept}))


def _microphone(spaces: Spaces, product: Microphone, here: Point, wanted: Wanted) -> Iterator[Free]:
    mounting = mounting_of(spaces.whole.room, product, here)
    tried = [
        one
        for ground in spaces.grounds
        for one in places(ground, product, mounting)
        if spaces.offer(one)
    ]
    # Straight up or down is the gentlest move, wherever it hangs.
    if mounting == "ceiling" and tried:
        height = spaces.whole.room.space.height
        tried += [
            replace(tried[0], at=(here[0], here[1], height - drop), drop=drop)
            for drop in {one.drop for one in tried if one.drop is not None}
        ]
    for one in _nearest(tried, here):
        for rounded in set_out(spaces, one):
            if wanted(rounded.at) and _allowed(spaces, rounded):
                yield Free(rounded.at, rounded.aim_deg, rounded.drop)
                break


def _allowed(spaces: Spaces, one: Candidate) -> bool:
    # The length of its cable is judged with the whole document, which knows its links.
    return spaces.refuses(one) in ("", "cable-too-long")


def _loudspeaker(
    spaces: Spaces, product: Loudspeaker, here: Point, wanted: Wanted
) -> Iterator[Free]:
    mounting = mounting_of(spaces.whole.room, product, here)
    found = [
        one
        for one in loudspeakers(spaces, (product,)).allowed
        if one.id is None and one.mounting == mounting
    ]
    for one in _nearest(found, here):
        if wanted(one.at):
            yield Free(one.at, None, one.drop)


def _nearest(found: Iterable[_Standing], here: Point) -> Iterator[_Standing]:
    far = sorted(found, key=lambda one: round(math.dist(one.at, here), 6))
    for one in islice(far, MOST_LOOKED_AT):
        if math.dist(one.at, here) >= APART:
            yield one


# What is wanted of a place -----------------------------------------------------------------------


def _device(situation: Situation, finding: Finding) -> Iterator[Change]:
    """The device that a finding names, out of the way."""
    yield from moves(situation, named(finding, "devices"))


def _from_loudspeaker(situation: Situation, finding: Finding) -> Iterator[Change]:
    """The microphone, or else the loudspeaker that is too near to it."""
    name = named(finding, "devices")
    yield from moves(situation, name)
    microphone = situation.room.devices.get(name)
    if microphone is None or microphone.at is None:
        return
    for other, at in loudspeaker_places(situation.room, situation.catalogue).items():
        device = other.partition(".")[0]
        if device != name and math.dist(at, microphone.at) < (finding.limit or 0.0):
            yield from moves(situation, device)


def _served(situation: Situation, name: str) -> list[Outbound]:
    return [row for row in situation.evidence.outbound if row.path.microphone == name]


def _before_talker(situation: Situation, finding: Finding) -> Iterator[Change]:
    """The microphone that serves a place, over the front of those who talk there."""
    people = [one for one in situation.evidence.talkers if one.owner == finding.at]
    serving = [r.path.microphone for r in situation.evidence.outbound if r.talker in people]
    limit = finding.limit
    if not serving or limit is None:
        return

    def ahead(at: Point) -> bool:
        angles = []
        for one in people:
            way = math.radians(one.facings_deg[0])
            x, y = at[0] - one.at[0], at[1] - one.at[1]
            along = x * math.cos(way) + y * math.sin(way)
            away = math.dist(at, one.at)
            angles.append(math.degrees(math.acos(max(-1.0, min(1.0, along / max(away, 1e-9))))))
        return median_low(angles) <= limit

    yield from moves(situation, serving[0], ahead)


def _within_reach(situation: Situation, finding: Finding) -> Iterator[Change]:
    """The microphone that serves a place, within its rated distance of all whom it serves."""
    rows = [r for r in situation.evidence.outbound if r.talker.owner == finding.at]
    if not rows:
        return
    worst = max(rows, key=lambda row: row.path.distance)
    name = worst.path.microphone
    product = situation.catalogue.product(situation.room.devices[name].product)
    if not isinstance(product, Microphone):
        return
    mouths = [row.talker.at for row in _served(situation, name)]

    def near(at: Point) -> bool:
        return all(math.dist(at, mouth) <= product.usual_distance for mouth in mouths)

    yield from moves(situation, name, near)


def _at_table(situation: Situation, finding: Finding) -> Iterator[Change]:
    """A table microphone, neither too near to a mouth nor too far from it."""
    name = named(finding, "devices")
    house = situation.room.targets.house_limit
    device = situation.room.devices.get(name)
    if device is None or device.at is None:
        return
    lectern = finding.limit == house("lectern-microphone") and finding.limit is not None
    near = 0.0 if lectern else house("table-microphone-near") or 0.0
    far = (house("lectern-microphone") if lectern else house("table-microphone-far")) or math.inf
    mouths = [row.talker.at for row in _served(situation, name) if row.talker.kind == "seat"]

    def between(at: Point) -> bool:
        return all(near <= math.dist(at, mouth) <= far for mouth in mouths)

    yield from moves(situation, name, between)


def _nearer_than_loudspeaker(situation: Situation, finding: Finding) -> Iterator[Change]:
    """A microphone nearer to its talkers than to any loudspeaker."""
    name = named(finding, "devices")
    mouths = [row.talker.at for row in _served(situation, name)]
    sounding = _others(situation, name)

    def nearer(at: Point) -> bool:
        return max(math.dist(at, m) for m in mouths) <= min(math.dist(at, s) for s in sounding)

    if mouths and sounding:
        yield from moves(situation, name, nearer)
        yield from _loudspeaker_away(situation, name, finding.value or 0.0)


def _loudspeaker_away(situation: Situation, name: str, least: float) -> Iterator[Change]:
    """The nearest loudspeaker, so far from a microphone."""
    microphone = situation.room.devices[name].at
    if microphone is None:
        return
    sounding = loudspeaker_places(situation.room, situation.catalogue)
    near = {
        other.partition(".")[0]: math.dist(at, microphone)
        for other, at in sounding.items()
        if other.partition(".")[0] != name
    }
    if near:
        loud = min(near, key=lambda one: near[one])
        yield from moves(situation, loud, lambda at: math.dist(at, microphone) > least)


def _others(situation: Situation, name: str) -> list[Point]:
    """Loudspeakers in other housings than a microphone's."""
    sounding = loudspeaker_places(situation.room, situation.catalogue)
    return [at for other, at in sounding.items() if other.partition(".")[0] != name]


def _below_loudspeaker(situation: Situation, finding: Finding) -> Iterator[Change]:
    """A microphone where its talkers gain what is lacking against the loudest loudspeaker."""
    name = named(finding, "devices")
    device = situation.room.devices.get(name)
    sounding = _others(situation, name)
    mouths = [row.talker.at for row in _served(situation, name)]
    if device is None or device.at is None or not sounding or not mouths:
        return
    if finding.value is None or finding.limit is None:
        return
    step = 10 ** (abs(finding.value - finding.limit) / 20)

    def ratio(at: Point) -> float:
        return min(math.dist(at, s) for s in sounding) / max(math.dist(at, m) for m in mouths)

    now = ratio(device.at)
    yield from moves(situation, name, lambda at: ratio(at) >= now * step)


def _from_noise(situation: Situation, finding: Finding) -> Iterator[Change]:
    """A microphone so far from every located source that the nearest is no longer too loud."""
    name = named(finding, "devices")
    device = situation.room.devices.get(name)
    sources = [one.at for one in situation.room.noise.sources.values()]
    if device is None or device.at is None or not sources:
        return
    step = 10 ** (abs((finding.value or 0.0) - (finding.limit or 0.0)) / 20)
    here = device.at
    nearest = min(math.dist(here, one) for one in sources)
    yield from moves(
        situation, name, lambda at: min(math.dist(at, one) for one in sources) >= nearest * step
    )


OUT_OF_THE_WAY: tuple[Maker, ...] = (_device,)
MAKERS: Makers = {
    **dict.fromkeys(
        (
            "device-overlaps",
            "head-height-under-pendant",
            "loudspeaker-in-keep-out",
            "microphone-in-keep-out",
            "microphone-near-air-outlet",
            "microphone-near-fan",
            "microphone-near-papers",
            "microphone-near-wall",
            "pendant-in-camera-view",
            "pendant-in-projector-beam",
            "sight-line-crossed",
        ),
        OUT_OF_THE_WAY,
    ),
    "loudspeaker-nearer-than-talkers": (_nearer_than_loudspeaker,),
    "loudspeaker-over-talker": (_below_loudspeaker,),
    "microphone-behind-talker": (_before_talker,),
    "microphone-near-loudspeaker": (_from_loudspeaker,),
    "noise-at-microphone": (_from_noise,),
    "table-microphone-distance": (_at_table,),
    "talker-beyond-rated-distance": (_within_reach,),
}
