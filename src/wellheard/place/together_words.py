"""What is said of loudspeakers in a proposal: ids, channels, figures, scope, what would give."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np

from wellheard.catalog.products import Amplifier
from wellheard.place.audience import LEAST_APART_SIGMA_DB, Verdict
from wellheard.place.places import allowed_places
from wellheard.place.proposal import FedChannel, PlacedAmplifier, PlacedAt
from wellheard.predict.scene import Scene
from wellheard.predict.tolerances import deviations_for
from wellheard.units import format_length, plain_money

APART = "microphone-near-loudspeaker"

if TYPE_CHECKING:
    from wellheard.place.joint import Pair


def loudspeakers_of(scene: Scene, pair: Pair) -> tuple[dict[int, str], tuple[PlacedAt, ...]]:
    """Ids of the chosen candidates, and the loudspeakers as placed; from west to east."""
    choice, options = pair.played.choice, pair.options
    if choice is None:
        return {}, ()
    prices = pair.loudspeakers.asked.prices
    kept = [i for i in choice.chosen if options.allowed[i].id is not None]
    new = sorted(
        (i for i in choice.chosen if options.allowed[i].id is None),
        key=lambda i: options.allowed[i].at,
    )
    fresh = _free(scene, "l", len(new))
    names = {
        **{i: options.allowed[i].id or "" for i in kept},
        **dict(zip(new, fresh, strict=True)),
    }
    placed = tuple(
        PlacedAt(
            id=names[i],
            product=options.allowed[i].product.id,
            at=options.allowed[i].at,
            aim_deg=0.0,
            mounting=options.allowed[i].mounting,
            drop=options.allowed[i].drop,
            locked=options.allowed[i].id is not None,
            price=float(prices[i]) / 100,
            kind="loudspeaker",
        )
        for i in (*kept, *new)
    )
    return names, placed


def _free(scene: Scene, stem: str, count: int) -> list[str]:
    found: list[str] = []
    number = 0
    while len(found) < count:
        number += 1
        if f"{stem}{number}" not in scene.room.devices:
            found.append(f"{stem}{number}")
    return found


def amplifiers_of(scene: Scene, pair: Pair, names: dict[int, str]) -> tuple[PlacedAmplifier, ...]:
    """Amplifiers that stay and that are bought, and what each of their channels feeds."""
    choice, asked = pair.played.choice, pair.loudspeakers.asked
    if choice is None:
        return ()
    waiting: dict[str, list[str]] = {}
    for i in names:
        product = pair.options.allowed[i].product
        ids = [names[i]] if product.units == 1 else [f"{names[i]}.left", f"{names[i]}.right"]
        waiting.setdefault(product.id, []).extend(ids)
    loads: dict[int, list[tuple[tuple[str, ...], float | None]]] = {}
    for one in choice.channels:
        units = one.loudspeakers * one.feed.loudspeaker.units
        fed = [waiting[one.feed.loudspeaker.id].pop(0) for _ in range(units)]
        for start in range(0, units, one.feed.per_channel):
            part = tuple(fed[start : start + one.feed.per_channel])
            loads.setdefault(one.feed.supply, []).append((part, one.feed.tap_w))
    rack = next((k for k, e in scene.room.equipment.items() if e.kind == "rack"), None)
    fresh = iter(_free(scene, "a", sum(choice.amplifiers)))
    found = []
    for index, supply in enumerate(asked.supplies):
        rest = loads.get(index, [])
        for number in range(choice.amplifiers[index]):
            there = number < len(supply.there)
            name = supply.there[number] if there else next(fresh)
            mine, rest = rest[: supply.product.channels], rest[supply.product.channels :]
            found.append(
                PlacedAmplifier(
                    id=name,
                    product=supply.product.id,
                    equipment=scene.room.devices[name].equipment if there else rack,
                    locked=there,
                    price=_price(scene, supply.product, supply.mounting, name if there else None),
                    channels=tuple(
                        FedChannel(i, ids, tap) for i, (ids, tap) in enumerate(mine, start=1)
                    ),
                )
            )
    return tuple(found)


def _price(scene: Scene, product: Amplifier, mounting: str, there: str | None) -> float:
    if there is not None and scene.room.devices[there].owned:
        return 0.0
    return scene.catalogue.installed_price(product, mounting).amount


def figures(verdicts: Sequence[Verdict]) -> tuple[dict[str, float], dict[str, float]]:
    """Worst and mean of what the ears hear, over all spaces."""
    if not verdicts:
        return {}, {}
    worst = {
        "sti_inbound": min(one.worst_sti for one in verdicts),
        "listening_level_dba": min(one.lowest_dba for one in verdicts),
        "uniformity_db": max(one.uniformity_db for one in verdicts),
    }
    return worst, {"sti_inbound": float(np.mean([one.mean_sti for one in verdicts]))}


def scope(base: str, pair: Pair) -> str:
    """What the proof ranges over, loudspeakers included."""
    names = ", ".join(one.id for one in pair.options.products)
    text = (
        f"{base}; with {allowed_places(len(pair.options.allowed))} of {names} "
        f"({pair.options.places}) and their amplifiers, all loudspeakers at one level 1 m before "
        "them; levels at the ears as linear rows, speech transmission by a bound that no choice "
        "passes, and what is chosen judged by the full prediction"
    )
    if pair.played.refused:
        text += f", which refused {pair.played.refused} others on the way"
    return text


def why_together(pair: Pair, currency: str) -> str:
    """Why no design of both costs less."""
    if pair.played.status != "optimal" or pair.how == "open":
        return ""
    cost = plain_money(pair.played.cents / 100, currency)
    if pair.how == "bounds":
        return (
            f"Loudspeakers with their amplifiers cost at least {cost} wherever microphones stand, "
            "and these stand beside the cheapest microphones: no design of both costs less."
        )
    few = " and that none at this price has fewer devices" if pair.fewest else ""
    return (
        "The cheapest microphones and the cheapest loudspeakers cannot stand together; one program "
        f"over both shows that no design costs less{few}. Beyond that the microphones are the best "
        "beside these loudspeakers: others at the same price might let them do better."
    )


def would_have_to_give(scene: Scene, pair: Pair) -> tuple[str, ...]:
    """Sentences: what would make loudspeakers possible that keep the promise."""
    played, targets = pair.played, scene.room.targets
    if pair.apart:
        return (_cannot_stand_together(scene),)
    if played.status != "infeasible":
        return ()
    beyond = 0.0 if targets.chance is None else max(0.0, deviations_for(targets.chance))
    found = []
    if played.least_apart_db is not None and targets.uniformity_db is not None:
        needed = played.least_apart_db + beyond * LEAST_APART_SIGMA_DB
        if needed > targets.uniformity_db:
            needed = math.ceil(10 * needed) / 10
            found.append(
                f"The uniformity of {targets.uniformity_db:g} dB would have to be {needed:.1f} dB: "
                "no choice of these loudspeakers is more even. Or allow other loudspeakers or "
                "mountings, or treat the room."
            )
    if played.level_off_db and targets.listening_level_dba is not None:
        low, high = targets.listening_level_dba
        off = math.ceil(10 * played.level_off_db) / 10
        found.append(
            f"The range of {low:g} to {high:g} dBA would have to be {low - off:g} to "
            f"{high + off:g} dBA, or the playback level nearer to its middle."
        )
    spaces = pair.loudspeakers.audiences
    for space, ear, best in played.deaf[:3]:
        name = spaces[space].scene.talkers[ear].id
        found.append(
            f"At {name} no choice of these loudspeakers reaches an STI of more than {best:.2f}: "
            "the decay time or the noise would have to be lower."
        )
    if not found:
        found.append(
            "No choice of these loudspeakers keeps all that is promised of the far end: allow "
            "other loudspeakers or mountings, or promise less."
        )
    return tuple(found)


def _cannot_stand_together(scene: Scene) -> str:
    room = scene.room
    least = room.targets.house_limit(APART)
    away = "" if least is None else f" keep {format_length(least, unit=room.units)} and"
    return (
        "Microphones and loudspeakers each keep the promise alone, but not together: every "
        f"microphone has to{away} be nearer to whom it serves than to any loudspeaker. Allow "
        "other mountings, such as loudspeakers at the picture or at the walls, or microphones "
        "nearer to the people, or relax the rule with its reason."
    )
