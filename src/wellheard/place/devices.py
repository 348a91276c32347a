"""Propose microphones and loudspeakers for a room, together: cheapest, proven, and why."""

from __future__ import annotations

import time
from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from wellheard.catalog.catalogue import Catalogue
from wellheard.catalog.products import Amplifier, Loudspeaker, Microphone
from wellheard.errors import InputError
from wellheard.geometry.points import contains_points
from wellheard.place.bars import Bars
from wellheard.place.joint import Joint, Pair
from wellheard.place.loudspeakers import Loudspeakers, question
from wellheard.place.microphones import (
    TIME_LIMIT,
    beyond_price,
    place_microphones,
    products_of_choice,
    proposed,
    task_of,
)
from wellheard.place.proposal import ProofStatus, Proposal
from wellheard.place.sounding import loudspeakers, loudspeakers_left
from wellheard.place.spaces import Spaces
from wellheard.place.task import Task
from wellheard.place.together_words import (
    amplifiers_of,
    figures,
    loudspeakers_of,
    scope,
    why_together,
    would_have_to_give,
)
from wellheard.predict.parts import PartScene
from wellheard.predict.scene import Scene
from wellheard.room.devices import Device
from wellheard.room.document import Room
from wellheard.room.edit import with_devices, without_devices

INBOUND = ("sti_inbound", "listening_level_dba", "uniformity_db")
"""Targets that ask for loudspeakers."""


def place_devices(
    scene: Scene, *, parts: Sequence[PartScene] = (), time_limit: float = TIME_LIMIT
) -> Proposal:
    """Propose microphones, and loudspeakers where the promise asks for them.

    Loudspeakers are proposed where a target of the far end in the room is promised and
    ``choices`` leave a loudspeaker: all of them, or one that is named. Else the proposal is that of
    `wellheard.place.microphones.place_microphones`, and its scope says so.

    Of both together: the least installed price, amplifiers with it; the fewest devices; the
    microphones' best worst seat, best mean and tidy lines; the most even loudspeakers. What is one
    housing with both in it is weighed as a design of its own.

    Parameters
    ----------
    scene : Scene
        The undivided room.
    parts : sequence of PartScene
        Every space of every arrangement of a room that divides.
    time_limit : float
        For each of the searches; when it strikes, the proof says ``gap``. [s]

    Raises
    ------
    InputError
        No product is left to choose from, or the rules leave no place for any.

    Notes
    -----
    What is solved for microphones alone and for loudspeakers alone are lower bounds: where the
    two stand together at these prices, no design of both costs less. Where they do not, both are
    solved in one program.
    """
    started = time.monotonic()
    reason = why_no_loudspeakers(scene.room, scene.catalogue)
    if reason is not None:
        found = place_microphones(scene, parts=parts, time_limit=time_limit)
        if not reason:
            return found
        return replace(found, proof=replace(found.proof, scope=f"{found.proof.scope}; {reason}"))
    scene = _stripped(scene)
    parts = tuple(replace(one, scene=_stripped(one.scene)) for one in parts)
    spaces = Spaces.of(scene, parts)
    products = products_of_choice(scene)
    bars = tuple(one for one in products if one.combined)
    plain = tuple(one for one in products if not one.combined)
    if not plain:
        single = Bars.of(spaces, bars, parts).best(time_limit)
        if single is not None:
            return single
    found = _separate(spaces, plain or products, parts, time_limit)
    if plain and bars and not _dearer(bars, found):
        single = Bars.of(spaces, bars, parts).best(time_limit)
        if single is not None and not _goes_before(found, single):
            found = single
    return replace(found, seconds=time.monotonic() - started)


def why_no_loudspeakers(room: Room, catalogue: Catalogue) -> str | None:
    """Why none are proposed, for the scope; empty where nothing asks for any, None where some are.

    A combined device that is locked and a computer's own sounds alone in its space.
    """
    if all(getattr(room.targets, name) is None for name in INBOUND) or not (
        room.people.seats or room.people.standing
    ):
        return ""
    locked = [
        catalogue.product(device.product) for device in room.devices.values() if device.locked
    ]
    if any(
        isinstance(one, Microphone) and one.built_in is not None and one.built_in.usb
        for one in locked
    ):
        return "no loudspeakers beside a locked combined device, which is a computer's own"
    if loudspeakers_left(room, catalogue):
        return None
    if room.choices.allow and not any(
        isinstance(catalogue.product(name), Loudspeaker) for name in room.choices.allow
    ):
        return "microphones only: choices.allow names no loudspeaker"
    return (
        "microphones only: choices leave no loudspeaker that is sold, not excluded and of a "
        f"mounting among {', '.join(room.choices.mounting) or 'none'}"
    )


def _stripped(scene: Scene) -> Scene:
    """The scene without what placement may take away."""
    going = [
        name
        for name, device in scene.room.devices.items()
        if not device.locked
        and isinstance(
            scene.catalogue.product(device.product), Microphone | Loudspeaker | Amplifier
        )
    ]
    return replace(scene, room=without_devices(scene.room, going)) if going else scene


def _separate(
    spaces: Spaces, products: tuple[Microphone, ...], parts: Sequence[PartScene], time_limit: float
) -> Proposal:
    """Microphones, and loudspeakers in other housings."""
    started = time.monotonic()
    task = task_of(spaces, products, parts, by_price=True)
    options = loudspeakers(spaces, loudspeakers_left(spaces.whole.room, spaces.whole.catalogue))
    if not options.allowed:
        refused = ", ".join(f"{k} {v}" for k, v in options.refused.items()) or "none"
        raise InputError(
            "choices: the rules leave no place for any allowed loudspeaker (refused places by "
            f"rule: {refused}); allow another mounting or product, or relax a house rule with its "
            "reason under targets.house_rules"
        )
    asked = question(spaces, options, time_limit)

    def again(devices: dict[str, Device]) -> Task:
        beside = Spaces.of(
            _with(spaces.whole, devices),
            tuple(replace(one, scene=_with(one.scene, _inside(one, devices))) for one in parts),
        )
        return task_of(beside, products, _parts_of(beside, parts), by_price=True)

    pair = Joint(task, Loudspeakers(asked), again, time_limit).best()
    base = proposed(pair.task, pair.answer, products, time.monotonic() - started)
    return _with_loudspeakers(base, spaces, pair)


def _with(scene: Scene, devices: dict[str, Device]) -> Scene:
    return replace(scene, room=with_devices(scene.room, devices))


def _inside(part: PartScene, devices: dict[str, Device]) -> dict[str, Device]:
    """Devices that stand in a space."""
    outline = np.asarray(part.scene.room.space.outline, dtype=np.float64)
    return {
        name: one
        for name, one in devices.items()
        if one.at is not None and contains_points(outline, np.asarray([one.at[:2]]))[0]
    }


def _parts_of(spaces: Spaces, parts: Sequence[PartScene]) -> tuple[PartScene, ...]:
    """The parts with the scenes of the spaces made of them."""
    if not spaces.divided:
        return tuple(parts)
    return tuple(
        replace(part, scene=space.scene) for part, space in zip(parts, spaces.each, strict=True)
    )


def _with_loudspeakers(base: Proposal, spaces: Spaces, pair: Pair) -> Proposal:
    scene = spaces.whole
    played = pair.played
    names, placed = loudspeakers_of(scene, pair)
    amplifiers = amplifiers_of(scene, pair, names)
    price = round((base.price or 0.0) + sum(d.price or 0.0 for d in placed), 2)
    price = round(price + sum(one.price for one in amplifiers), 2)
    status = max(base.proof.status, played.status, pair.status, key=_RANK.__getitem__)
    worst, mean = figures(played.verdicts)
    missed = tuple(dict.fromkeys(t for one in played.verdicts for t in one.targets))
    beyond = beyond_price(scene, price, base.currency)
    binding = [t for t in base.proof.binding if t != "price" or base.proof.fewer is not None]
    gives = [g for g in base.would_have_to_give if not g.startswith("The price limit")]
    if status == "optimal" and beyond:
        status = "infeasible"
    return replace(
        base,
        devices=(*base.devices, *placed),
        amplifiers=amplifiers,
        price=price,
        worst={**base.worst, **worst},
        mean={**base.mean, **mean},
        proof=replace(
            base.proof,
            status=status,
            scope=scope(base.proof.scope, pair),
            together=why_together(pair, base.currency),
            gap=max(base.proof.gap, pair.gap),
            binding=tuple(dict.fromkeys([*binding, *missed, *(("price",) if beyond else ())])),
        ),
        would_have_to_give=(*gives, *would_have_to_give(scene, pair), *beyond),
        candidates=base.candidates + len(pair.options.allowed),
        rejected=_summed(base.rejected, pair.options.refused),
    )


def _summed(one: dict[str, int], other: dict[str, int]) -> dict[str, int]:
    return {k: one.get(k, 0) + other.get(k, 0) for k in sorted({*one, *other})}


_RANK: dict[ProofStatus, int] = {"optimal": 0, "gap": 1, "infeasible": 2}


def _dearer(bars: Sequence[Microphone], than: Proposal) -> bool:
    """Whether each of them costs more, before it is mounted, than a design that holds."""
    holds = than.proof.status == "optimal" and not than.shortfalls
    return holds and min(one.price for one in bars) > (than.price or 0.0)


def _goes_before(one: Proposal, other: Proposal) -> bool:
    """Whether a design is to be proposed rather than another: it holds, costs less, is fewer."""

    def rank(of: Proposal) -> tuple[int, float, int]:
        holds = _RANK[of.proof.status] if not of.shortfalls else _RANK["infeasible"]
        return holds == _RANK["infeasible"], of.price or 0.0, len(of.devices) + len(of.amplifiers)

    return rank(one) <= rank(other)
