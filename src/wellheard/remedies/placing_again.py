"""Microphones and loudspeakers placed anew for the whole room, or one more of what is there."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import replace

from wellheard.catalog.products import Microphone
from wellheard.checks.model import Finding
from wellheard.errors import InputError
from wellheard.place.candidates import set_out
from wellheard.place.devices import place_devices
from wellheard.place.places import places
from wellheard.place.proposal import Proposal
from wellheard.place.spaces import Spaces
from wellheard.place.writing import placed_room
from wellheard.predict.evidence import Talker
from wellheard.predict.scene import Scene
from wellheard.remedies.model import Change, Maker, Makers, Situation
from wellheard.remedies.rewrites import EXACT, length
from wellheard.room.devices import Device
from wellheard.room.document import Room
from wellheard.room.edit import free_id, with_devices

MISSED = frozenset(
    {
        "space-without-microphone",
        "talker-beyond-rated-distance",
        "target-missed-direct-to-reverberant",
        "target-missed-speech-to-noise",
        "target-missed-sti",
    }
)
"""What one more microphone may mend."""
MANY = 0.5
"""Where more of the people than this miss something, one more microphone is not the answer."""


def _one_more(situation: Situation, finding: Finding) -> Iterator[Change]:
    """One more microphone of the product that is there, nearest to those who are missed."""
    change = situation.once("one more", lambda: _added(situation))
    if change is not None:
        yield change


def _added(situation: Situation) -> Change | None:
    room, evidence = situation.room, situation.evidence
    if not evidence.microphones:
        return None
    missed = {f.at for f in situation.findings if f.code in MISSED and f.severity == "error"}
    missed = missed or {f.at for f in situation.findings if f.code in MISSED}
    people = [one for one in evidence.talkers if one.owner in missed]
    if not people or len(people) > MANY * len(evidence.talkers):
        return None
    serving = _serving(situation, people)
    if serving.combined or serving.id in room.choices.exclude or serving.status != "current":
        return None
    at = _nearest(situation, serving, people)
    if at is None:
        return None
    name = free_id(room, "m")
    kind = next(d.kind for d in room.devices.values() if d.product == serving.id)
    device = Device(kind=kind, product=serving.id, at=at)
    x, y, z = (length(room, v) for v in at)
    return Change(
        f"Add {name}, another {serving.id}, at {x}, {y} on the plan, {z} above the floor.",
        with_devices(room, {name: device}),
    )


def _serving(situation: Situation, people: list[Talker]) -> Microphone:
    """The product that serves most of them."""
    names = {one.id for one in people}
    rows = [row for row in situation.evidence.outbound if row.talker.id in names]
    products = {one.id: one.product for one in situation.evidence.microphones}
    serving = [row.path.microphone for row in rows] or list(products)
    return products[max(dict.fromkeys(serving), key=serving.count)]


def _nearest(
    situation: Situation, product: Microphone, people: list[Talker]
) -> tuple[float, float, float] | None:
    """Allowed place whose farthest of these people is nearest."""
    parts = tuple(replace(one, scene=_fixed(one.scene)) for one in situation.parts if one.part.name)
    spaces = Spaces.of(_fixed(situation.whole), parts)
    mountings = [m for m in situation.room.choices.mounting if m in product.mountings]
    found = [
        one
        for mounting in mountings[:1]
        for ground in spaces.grounds
        for raw in places(ground, product, mounting)
        if spaces.offer(raw)
        for one in set_out(spaces, raw)
    ]
    found.sort(key=lambda one: max(math.dist(one.at, p.at) for p in people))
    best = next((one for one in found if not spaces.refuses(one)), None)
    if best is None:
        return None
    x, y, z = (round(v, EXACT) for v in best.at)
    return x, y, z


def _fixed(scene: Scene) -> Scene:
    kept = {key: one.model_copy(update={"locked": True}) for key, one in scene.room.devices.items()}
    return replace(scene, room=scene.room.model_copy(update={"devices": kept}))


# All of them ------------------------------------------------------------------------------------


def _again(situation: Situation, _: Finding) -> Iterator[Change]:
    """What `place` proposes, once for all findings."""
    change = situation.once("placed", lambda: _placed(situation))
    if change is not None:
        yield change


def _placed(situation: Situation) -> Change | None:
    parts = situation.parts if situation.room.arrangements else ()
    try:
        found = place_devices(situation.whole, parts=parts, time_limit=situation.time_limit)
    except InputError:
        return None  # nothing is left to choose from, or no place: placement itself says why
    if not found.devices:
        return None
    room = placed_room(situation.room, situation.catalogue, found)
    return Change(_says(situation.room, room, found), room, _note(situation.room, found))


def _says(before: Room, after: Room, found: Proposal) -> str:
    kinds = ("microphone", "loudspeaker") if found.loudspeakers else ("microphone",)
    new: dict[str, int] = {}
    for name, device in after.devices.items():
        if before.devices.get(name) != device:
            new[device.product] = new.get(device.product, 0) + 1
    gone = [name for name in before.devices if name not in after.devices]
    bought = " and ".join(f"{count} {product}" for product, count in new.items())
    instead = f" instead of {', '.join(gone)}" if gone else ""
    return f"Place {' and '.join(f'{one}s' for one in kinds)} anew: {bought}{instead}."


def _note(before: Room, found: Proposal) -> str:
    said = {
        "optimal": "Proven: nothing cheaper, or fewer, keeps the promise.",
        "gap": "The best that was found in the time allowed.",
        "infeasible": "No placement keeps all of the promise; this comes nearest.",
    }[found.proof.status]
    wired = any(
        end.partition(".")[0] in before.devices
        for link in before.links.values()
        for end in (link.from_, link.to)
    )
    return f"{said} Wire it anew afterwards (wellheard wire)." if wired else said


MOVE_OR_ADD: tuple[Maker, ...] = (_one_more, _again)
MAKERS: Makers = {
    **dict.fromkeys(
        (
            "talker-beyond-rated-distance",
            "target-missed-direct-to-reverberant",
            "target-missed-speech-to-noise",
            "target-missed-sti",
        ),
        MOVE_OR_ADD,
    ),
    **dict.fromkeys(
        (
            "space-without-loudspeaker",
            "space-without-microphone",
            "target-missed-listening-level",
            "target-missed-sti-inbound",
            "target-missed-uniformity",
        ),
        (_again,),
    ),
}
