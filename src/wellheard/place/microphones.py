"""Propose microphones for a room: fewest or cheapest, proven, and why."""

from __future__ import annotations

import time
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from wellheard.arrays import Array
from wellheard.catalog.products import Microphone
from wellheard.errors import InputError
from wellheard.place import certify, shortfall, solve
from wellheard.place.candidates import Candidate, Options
from wellheard.place.candidates import microphones as microphone_options
from wellheard.place.certificate import Certificate
from wellheard.place.objective import UNREACHED, Objective
from wellheard.place.proposal import FewerDevices, PlacedAt, Proof, Proposal, Shortfall
from wellheard.place.solve import Solution
from wellheard.predict.outbound import CLOSED_CHANNEL_DB
from wellheard.predict.scene import Scene
from wellheard.predict.tolerances import chance_of, deviations_for

STEP = 0.05
"""Margins are compared in steps of this many standard deviations."""

TIME_LIMIT = 60.0
"""Default time for one placement [s]."""


def products_of_choice(scene: Scene) -> tuple[Microphone, ...]:
    """Products that the document's choices leave, in order of preference.

    Without ``choices.allow`` they are the current ones that need no naming; named there, also
    those on last orders. Discontinued products are never left.

    Raises
    ------
    InputError
        Nothing is left to choose from.
    """
    choices = scene.room.choices
    catalogue = scene.catalogue
    allowed = choices.allow or tuple(m.id for m in catalogue.microphones if m.chosen_unnamed)
    found = []
    for name in allowed:
        product = catalogue.product(name)
        if (
            isinstance(product, Microphone)
            and product.chosen_by_name
            and name not in choices.exclude
            and any(m in choices.mounting for m in product.mountings)
        ):
            found.append(product)
    if not found:
        raise InputError(
            "choices: no microphone is left to choose from; allow a selectable microphone of the "
            "catalogue that is not discontinued and whose mounting is among choices.mounting (see "
            "wellheard catalog list)"
        )
    preferred = {name: i for i, name in enumerate(choices.prefer)}
    return tuple(sorted(found, key=lambda p: preferred.get(p.id, len(preferred))))


def place_microphones(scene: Scene, *, time_limit: float = TIME_LIMIT) -> Proposal:
    """Propose microphones for ``scene`` without changing the room.

    One product: the fewest; several: the least installed price, then the fewest; then the best
    worst seat, the best mean, tidy lines. Same inputs, same proposal, with a proof whose scope
    it names. Targets that cannot be met are not an error: the proposal says how far it got and
    what would have to give.

    Parameters
    ----------
    scene : Scene
        The room with its talkers, decay and noise.
    time_limit : float
        For the whole search; when it strikes, the proof says ``gap``. [s]

    Raises
    ------
    InputError
        No product is left to choose from, or the rules leave no place for any.
    """
    started = time.monotonic()
    products = products_of_choice(scene)
    options = microphone_options(scene, products)
    if not options.allowed:
        refused = ", ".join(f"{k} {v}" for k, v in options.refused.items()) or "none"
        raise InputError(
            "choices: the rules leave no place for any allowed microphone (refused places by "
            f"rule: {refused}); allow another mounting or product, or relax a house rule with its "
            "reason under targets.house_rules"
        )
    by_price = len(products) > 1 or scene.room.targets.price is not None
    task = _Task.of(scene, options, by_price=by_price)
    solution = task.solve(time_limit)
    return _proposal(task, solution, products, len(options.allowed), time.monotonic() - started)


def _proposal(
    task: _Task,
    solution: Solution,
    products: tuple[Microphone, ...],
    tried: int,
    seconds: float,
) -> Proposal:
    scene, options, prices = task.scene, task.options, task.costs
    chosen = [options.allowed[i] for i in solution.chosen]
    currency = chosen[0].product.currency if chosen else scene.room.project.currency
    fewer = _fewer(task, solution)
    missing = shortfall.shortfalls(scene, options, task.objective, solution)
    worst, mean = _reached(task, solution)
    price = round(sum(prices[i] for i in solution.chosen), 2)
    beyond = _beyond_price(task, price, currency)
    return Proposal(
        devices=tuple(_named(scene, options, solution, prices)),
        count=solution.count,
        price=price,
        currency=currency,
        worst=worst,
        mean=mean,
        proof=Proof(
            status="infeasible" if beyond and solution.status == "optimal" else solution.status,
            scope=_scope(task, products, tried),
            fewer_is_impossible=solution.fewer_is_impossible,
            certificate=_certificate(task, solution),
            gap=solution.gap,
            binding=(*_binding(fewer, missing), *(("price",) if beyond else ())),
            fewer=fewer,
        ),
        shortfalls=missing,
        would_have_to_give=(
            *shortfall.would_have_to_give(scene, missing, count=solution.count + 1),
            *beyond,
        ),
        candidates=tried,
        rejected=options.refused,
        seconds=seconds,
    )


def _beyond_price(task: _Task, price: float, currency: str) -> tuple[str, ...]:
    """What would have to give where even the cheapest design costs more than is allowed.

    A limit in another currency than the catalogue's is not assessed here.
    """
    limit = task.scene.room.targets.price
    if limit is None or currency != task.scene.room.project.currency or price <= limit:
        return ()
    return (
        f"The price limit of {limit:,.2f} {currency} would have to be {price:,.2f} {currency}: no "
        "design that keeps the targets costs less. Or allow cheaper products, or promise less.",
    )


def _named(
    scene: Scene, options: Options, solution: Solution, prices: list[float]
) -> list[PlacedAt]:
    taken = {name for name in scene.room.devices if _stays(scene, name)}
    new = sorted(
        (i for i in solution.chosen if options.allowed[i].id is None),
        key=lambda i: (
            options.allowed[i].at[0],
            options.allowed[i].at[1],
            options.allowed[i].at[2],
        ),
    )
    names: dict[int, str] = {}
    number = 0
    for index in new:
        number += 1
        while f"m{number}" in taken:
            number += 1
        names[index] = f"m{number}"
    ordered = [i for i in solution.chosen if options.allowed[i].id is not None] + new
    return [
        PlacedAt(
            id=options.allowed[i].id or names[i],
            product=options.allowed[i].product.id,
            at=options.allowed[i].at,
            aim_deg=options.allowed[i].aim_deg,
            mounting=options.allowed[i].mounting,
            drop=options.allowed[i].drop,
            locked=options.allowed[i].id is not None,
            price=prices[i],
        )
        for i in ordered
    ]


def _stays(scene: Scene, name: str) -> bool:
    device = scene.room.devices[name]
    return device.locked or not isinstance(scene.catalogue.product(device.product), Microphone)


def _fewer(task: Task, solution: Solution) -> FewerDevices | None:
    count = solution.count - 1
    if count < max(1, len(task.options.locked)) or solution.status == "infeasible":
        return None
    best = task.best_of(count, 10.0)
    return fewer(task.rows, best.chosen, chance=task.spaces.whole.room.targets.chance)


def _binding(fewer: FewerDevices | None, missing: tuple[Shortfall, ...]) -> tuple[str, ...]:
    if missing:
        return tuple(dict.fromkeys(s.target for s in missing))
    if fewer is None:
        return ()
    # Fewer would do, but at a higher price.
    return (fewer.target,) if fewer.missed else ("price",)


def _scope(task: _Task, products: tuple[Microphone, ...], tried: int) -> str:
    room = task.scene.room
    names = ", ".join(p.id for p in products)
    chance = room.targets.chance
    wanted = f"at a chance of {chance:.0%}" if chance is not None else "at their middle values"
    aim = "least installed price" if task.prices is not None else "fewest devices"
    return (
        f"{aim} among {tried} allowed places of {names} ({task.options.places}); every "
        f"target {wanted} at every seat and facing; all house and product rules; automatic mixer "
        f"with closed channels {-CLOSED_CHANNEL_DB:g} dB down; direct sound plus diffuse field"
    )
