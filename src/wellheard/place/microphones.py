"""Propose microphones for a room: fewest or cheapest, proven, and why."""

from __future__ import annotations

import time
from collections.abc import Sequence

from wellheard.acoustics.mixing import CLOSED_CHANNEL_DB
from wellheard.catalog.catalogue import Catalogue
from wellheard.catalog.products import Microphone
from wellheard.errors import InputError
from wellheard.geometry.polygons import TOUCH
from wellheard.place import shortfall
from wellheard.place.candidates import Candidate, Options
from wellheard.place.candidates import microphones as microphone_options
from wellheard.place.places import allowed_places
from wellheard.place.proposal import FewerDevices, PlacedAt, Proof, Proposal, Shortfall
from wellheard.place.reached import fewer, worst_and_mean
from wellheard.place.solve import Solution
from wellheard.place.spaces import Spaces
from wellheard.place.surroundings import GRID
from wellheard.place.task import Answer, Task
from wellheard.place.together import on_its_own
from wellheard.predict.parts import PartScene
from wellheard.predict.scene import Scene
from wellheard.room.document import Room
from wellheard.signal.mounted import held_by
from wellheard.units import format_length, plain_money

TIME_LIMIT = 60.0
"""Default time for one placement [s]."""
UNWEIGHED = "processors, switches, cables and finishes are not weighed"
"""What a room costs besides: wiring and treatment decide it, each with a proof of its own."""


def products_of_choice(scene: Scene) -> tuple[Microphone, ...]:
    """Products that the document's choices leave; see `products_left`."""
    return products_left(scene.room, scene.catalogue)


def products_left(room: Room, catalogue: Catalogue) -> tuple[Microphone, ...]:
    """Products that the document's choices leave, in order of preference.

    Without ``choices.allow`` they are the current ones that need no naming, and of those that
    take the place of a tile the ones for the room's tiles; named there, also those on last
    orders, and panels of another grid, which the rule ``grid-mixed`` then refuses where the
    document tells the tiles' size. Discontinued products are never left. What fits the tiles
    best goes first where nothing is preferred.

    Raises
    ------
    InputError
        Nothing is left to choose from.
    """
    choices = room.choices
    allowed = choices.allow or tuple(
        m.id for m in catalogue.microphones if m.chosen_unnamed and _for_these_tiles(room, m)
    )
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
    grid = room.space.ceiling.module
    return tuple(
        sorted(found, key=lambda p: (preferred.get(p.id, len(preferred)), p.tile_gap(grid)))
    )


def _for_these_tiles(room: Room, product: Microphone) -> bool:
    """Whether it fits the tiles, told or usual, or takes the place of none of them."""
    limit = room.targets.house_limit(GRID)
    replaces = room.space.ceiling.kind == "tiles" and held_by(room, product)[:1] == ("tile",)
    if not replaces or limit is None:
        return True
    return product.tile_gap(room.space.ceiling.module) <= limit + TOUCH


def place_microphones(
    scene: Scene, *, parts: Sequence[PartScene] = (), time_limit: float = TIME_LIMIT
) -> Proposal:
    """Propose microphones for ``scene`` without changing the room.

    One product: the fewest; several: the least installed price, then the fewest; then the best
    worst seat, the best mean, tidy lines. Same inputs, same proposal, with a proof whose scope
    it names. Targets that cannot be met are not an error: the proposal says how far it got and
    what would have to give.

    Parameters
    ----------
    scene : Scene
        The undivided room with its talkers, decay and noise.
    parts : sequence of PartScene
        Every space of every arrangement of a room that divides, as
        `wellheard.predict.parts.build_parts` gives them: the one set of devices serves each
        talker in each of them, from within the same space.
    time_limit : float
        For the whole search; when it strikes, the proof says ``gap``. [s]

    Raises
    ------
    InputError
        No product is left to choose from, or the rules leave no place for any.

    Notes
    -----
    Which of N microphones are open in a space that a partition closes off depends on the
    answer. Each row counts with the worst of 1 to N open ones, so what is proposed can only
    do better; the proof that fewer are impossible counts the best of them, where it can.
    """
    started = time.monotonic()
    products = products_of_choice(scene)
    spaces = Spaces.of(scene, parts)
    by_price = len(products) > 1 or scene.room.targets.price is not None
    task = task_of(spaces, products, parts, by_price=by_price)
    answer = task.answer(time_limit)
    return proposed(task, answer, products, time.monotonic() - started)


def task_of(
    spaces: Spaces,
    products: tuple[Microphone, ...],
    parts: Sequence[PartScene] = (),
    *,
    by_price: bool,
) -> Task:
    """The microphones of a room as the solver sees them.

    Raises
    ------
    InputError
        The rules leave no place for any product.
    """
    options = microphone_options(spaces.whole, products, parts)
    _demand_places(spaces, options, products)
    return Task.of(spaces, options, by_price=by_price)


def _demand_places(spaces: Spaces, options: Options, products: Sequence[Microphone]) -> None:
    """Refuse a room, or a space of it, that the rules leave no place in."""
    where, refused = "", options.refused
    if options.allowed:
        empty = [i for i, held in enumerate(options.holding) if not held.any()]
        if not empty:
            return
        where, refused = f" in {spaces.each[empty[0]].name}", options.refused_in[empty[0]]
    too_long = _hang_too_low(spaces.whole.room, products)
    if too_long and not refused:
        raise InputError(f"choices.max_drop: {too_long}; allow a longer drop or another product")
    counts = ", ".join(f"{k} {v}" for k, v in refused.items()) or "none"
    raise InputError(
        f"choices: the rules leave no place{where} for any allowed microphone (refused places by "
        f"rule: {counts}); allow another mounting or product, or relax a house rule with its "
        "reason under targets.house_rules"
    )


def _hang_too_low(room: Room, products: Sequence[Microphone]) -> str:
    """Which products hang lower than the document allows, by which drops; '' where none does."""
    most = room.choices.max_drop
    if most is None or "ceiling" not in room.choices.mounting:
        return ""
    said = [
        f"{one.id} hangs by {_either([format_length(d, unit=room.units) for d in one.drops])}"
        for one in products
        if one.drops and min(one.drops) > most + TOUCH and held_by(room, one)
    ]
    if not said:
        return ""
    allowed = f"at most {format_length(most, unit=room.units)} is" if most else "only flush is"
    return f"{'; '.join(said)}, and {allowed} allowed"


def _either(words: Sequence[str]) -> str:
    return " or ".join(filter(None, (", ".join(words[:-1]), words[-1])))


def proposed(
    task: Task, answer: Answer, products: tuple[Microphone, ...], seconds: float
) -> Proposal:
    """What a task's answer proposes, with its figures and its proof."""
    solution, tried = answer.solution, len(task.options.allowed)
    scene, options, prices = task.spaces.whole, task.options, task.costs
    chosen = [options.allowed[i] for i in solution.chosen]
    currency = chosen[0].product.currency if chosen else scene.room.project.currency
    missing = shortfall.shortfalls(task.rows, task.short(solution), count=solution.count)
    smaller = _fewer(task, solution)
    worst, mean = worst_and_mean(task.rows, solution.chosen) if chosen else ({}, {})
    price = round(sum(prices[i] for i in solution.chosen), 2)
    beyond = beyond_price(scene, price, currency)
    return Proposal(
        devices=tuple(_named(scene, options, solution, prices)),
        count=solution.count,
        price=price,
        currency=currency,
        worst=worst,
        mean=mean,
        proof=Proof(
            status="infeasible" if beyond and solution.status == "optimal" else solution.status,
            scope=_scope(task, products, tried, as_placed=answer.as_placed),
            fewer_is_impossible=solution.fewer_is_impossible,
            certificate=answer.certificate,
            gap=solution.gap,
            binding=(*_binding(smaller, missing), *(("price",) if beyond else ())),
            fewer=smaller,
        ),
        shortfalls=missing,
        would_have_to_give=(
            *_gives(task.spaces, missing, solution.count + 1),
            *(_alone(chosen) if missing else ()),
            *beyond,
        ),
        candidates=tried,
        rejected=options.refused,
        seconds=seconds,
    )


def _gives(spaces: Spaces, missing: tuple[Shortfall, ...], count: int) -> tuple[str, ...]:
    return tuple(
        sentence
        for space in spaces.each
        for sentence in shortfall.would_have_to_give(
            space.scene,
            tuple(s for s in missing if s.part == space.name),
            count=count,
            part=space.name,
        )
    )


def _alone(chosen: Sequence[Candidate]) -> tuple[str, ...]:
    """What a locked device keeps away that is a computer's own."""
    return tuple(
        f"{one.id} ({one.product.id}) is locked and connects to a computer by itself, so that no "
        "other microphone can work beside it: unlock it, and microphones at a processor can take "
        "its place."
        for one in chosen
        if one.id is not None and on_its_own(one)
    )


def beyond_price(scene: Scene, price: float, currency: str) -> tuple[str, ...]:
    """What would have to give where even the cheapest design costs more than is allowed.

    A limit in another currency than the catalogue's is not assessed here.
    """
    limit = scene.room.targets.price
    if limit is None or currency != scene.room.project.currency or price <= limit:
        return ()
    least = plain_money(price, currency)
    return (
        f"The price limit of {plain_money(limit, currency)} would have to be {least}: no design "
        "that keeps the targets costs less. Or allow cheaper products, or promise less.",
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


def _scope(task: Task, products: tuple[Microphone, ...], tried: int, *, as_placed: bool) -> str:
    room = task.spaces.whole.room
    names = ", ".join(p.id for p in products)
    chance = room.targets.chance
    wanted = "at their middle values"
    if chance is not None:
        wanted = f"at a chance of {100 * chance:.0f}\N{NO-BREAK SPACE}%"
    aim = "least installed price" if task.prices is not None else "fewest devices"
    places, seats = task.options.places, "at every seat and facing"
    if task.spaces.divided:
        places += "; of the undivided room and of each part of it, where every arrangement allows"
        seats += f" in every arrangement ({_arrangements(task.spaces)})"
    mixer = (
        f"with closed channels {-CLOSED_CHANNEL_DB:g} dB down"
        if task.spaces.whole.sharing == "gating"
        else "that shares its gain"
    )
    text = (
        f"{aim} among {allowed_places(tried)} of {names} ({places}); {UNWEIGHED}; every "
        f"target {wanted} {seats}; all house and product rules; automatic mixer "
        f"{mixer}; image sources and traced rays"
    )
    if any(on_its_own(c) for c in task.options.allowed):
        text += "; a combined device that connects to a computer by itself is alone in its space"
    if not task.rows.exact:
        text += "; a closed partition lets no voice through, and "
        text += (
            "those microphones count as open that are on the same side of it"
            if as_placed
            else "every microphone counts as open on both sides of it, so that each seat can "
            "only do better"
        )
    return text


def _arrangements(spaces: Spaces) -> str:
    """Each arrangement, with its spaces where there are several."""
    said = []
    for name, each in spaces.arrangements.items():
        parts = " and ".join(space.name for space in each)
        said.append(name if parts == name else f"{name}: {parts}")
    return "; ".join(said)
