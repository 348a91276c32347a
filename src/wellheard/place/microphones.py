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


@dataclass(frozen=True)
class _Task:
    scene: Scene
    options: Options
    objective: Objective
    costs: list[float]
    by_price: bool
    members: tuple[int, ...]
    """Candidates that the search looks at; the locked ones come first, here as there."""

    @classmethod
    def of(cls, scene: Scene, options: Options, *, by_price: bool) -> _Task:
        every = tuple(range(len(options.allowed)))
        costs = _prices(scene, options.allowed)
        task = cls(scene, options, Objective(scene, options.allowed), costs, by_price, every)
        most = solve.most_devices(
            task.margins,
            prices=task.prices,
            forced=options.locked,
            conflicts=task.conflicts,
            step=STEP,
        )
        counts = tuple(range(max(1, len(options.locked)), most + 1))
        return replace(task, members=tuple(task.worth_keeping(counts)))

    def margins(self, count: int) -> Array:
        return self.objective.margins(count)[:, self.members]

    @property
    def prices(self) -> list[float] | None:
        return [self.costs[i] for i in self.members] if self.by_price else None

    @cached_property
    def conflicts(self) -> list[tuple[int, int]]:
        return self.kept.conflicts()

    @property
    def kept(self) -> Options:
        return replace(self.options, allowed=tuple(self.options.allowed[i] for i in self.members))

    def worth_keeping(self, counts: tuple[int, ...]) -> list[int]:
        """Candidates that nothing else at their own place betters.

        One at the same place on the plan that serves every row at least as well, at every
        number of ``counts``, and costs no more, can take its part in any answer: the same
        neighbours are in its way. Of equal ones the first stays.
        """
        levels = np.concatenate([np.floor(self.objective.margins(n) / STEP + 1e-9) for n in counts])
        cost = np.asarray(self.costs) if self.by_price else np.zeros(len(self.costs))
        places: dict[tuple[int, int], list[int]] = {}
        for index, c in enumerate(self.options.allowed):
            places.setdefault((round(1e3 * c.at[0]), round(1e3 * c.at[1])), []).append(index)
        locked = set(self.options.locked)
        kept: list[int] = []
        for members in places.values():
            for one in members:
                if one in locked or not any(
                    other != one
                    and cost[other] <= cost[one]
                    and bool(np.all(levels[:, other] >= levels[:, one]))
                    and (
                        other < one
                        or cost[other] < cost[one]
                        or bool(np.any(levels[:, other] > levels[:, one]))
                    )
                    for other in members
                ):
                    kept.append(one)
        return sorted(kept)

    def solve(self, time_limit: float) -> Solution:
        return self._of_all(
            solve.fewest_then_best(
                self.margins,
                prices=self.prices,
                forced=self.options.locked,
                conflicts=self.conflicts,
                lines=self.kept.positions(),
                step=STEP,
                time_limit=time_limit,
            )
        )

    def best_of(self, count: int, time_limit: float) -> Solution:
        """The best that exactly ``count`` devices can do, whatever they cost."""
        return self._of_all(
            solve.best_with_count(
                self.margins,
                count,
                forced=self.options.locked,
                conflicts=self.conflicts,
                lines=self.kept.positions(),
                step=STEP,
                time_limit=time_limit,
            )
        )

    def _of_all(self, solution: Solution) -> Solution:
        """The same, with candidates counted among all of the task."""
        return replace(solution, chosen=tuple(self.members[i] for i in solution.chosen))

    def alone(self, solution: Solution) -> Objective:
        """The objective of the chosen devices only."""
        return Objective(self.scene, [self.options.allowed[i] for i in solution.chosen])

    def row_name(self, row: int) -> str:
        talker = self.scene.talkers[self.scene.row_talker[row]]
        if len(talker.facings_deg) == 1:
            return talker.id
        return f"{talker.id} facing {self.scene.row_facing_deg[row]:.0f}°"


def _prices(scene: Scene, candidates: tuple[Candidate, ...]) -> list[float]:
    known: dict[tuple[str, str, float | None, str | None], float] = {}
    found = []
    for c in candidates:
        if c.id is not None and scene.room.devices[c.id].owned:
            found.append(0.0)
            continue
        key = (c.product.id, c.mounting, c.drop, c.fit)
        if key not in known:
            known[key] = scene.catalogue.installed_price(
                c.product.id, c.mounting, c.drop, fit=c.fit
            ).amount
        found.append(known[key])
    return found


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


def _best_rows(alone: Objective) -> tuple[Array, Array, Array]:
    """For each row the best of these devices, as the ledger takes it, and the margin there.

    The margin with the rules of reach, and without them.
    """
    margins = alone.margins(len(alone.candidates))
    each = alone.by_target(len(alone.candidates))
    plain = np.min(np.stack(list(each.values())), axis=0) if each else margins
    best = np.argmax(np.where(margins > UNREACHED / 2, margins, plain + UNREACHED), axis=1)
    rows = np.arange(len(best))
    return best, margins[rows, best], plain[rows, best]


def _reached(task: _Task, solution: Solution) -> tuple[dict[str, float], dict[str, float]]:
    if not solution.chosen:
        return {}, {}
    alone = task.alone(solution)
    best, _, margin = _best_rows(alone)
    rows = np.arange(len(best))
    found = alone.quantities(solution.count)
    owner = np.asarray(task.scene.row_talker)
    # Of several facings the worst counts, as in the ledger.
    worst_rows = np.array(
        [
            rows[owner == t][int(np.argmin(margin[owner == t]))]
            for t in range(len(task.scene.talkers))
        ]
    )
    values = {
        "sti_outbound": found.sti[rows, best][worst_rows],
        "direct_to_reverberant_db": found.direct_to_reverberant_db[rows, best][worst_rows],
        "speech_to_noise_db": found.speech_to_noise_db[rows, best][worst_rows],
    }
    return (
        {name: float(v.min()) for name, v in values.items()},
        {name: float(v.mean()) for name, v in values.items()},
    )


def _fewer(task: _Task, solution: Solution) -> FewerDevices | None:
    count = solution.count - 1
    if count < max(1, len(task.options.locked)) or solution.status == "infeasible":
        return None
    alone = task.alone(task.best_of(count, 10.0))
    best, margin, _ = _best_rows(alone)
    rows = np.arange(len(best))
    found = alone.quantities(count)
    each = alone.by_target(count)
    worst = int(np.argmin(margin))
    if margin[worst] <= UNREACHED / 2:
        target = shortfall.REACH
    else:
        target = min(each, key=lambda name: float(each[name][worst, best[worst]]), default="")
    short = [r for r in rows if margin[r] < 0]
    missed = dict.fromkeys(task.scene.talkers[task.scene.row_talker[r]].id for r in short)
    wanted = task.scene.room.targets.chance
    beyond = deviations_for(wanted) if wanted is not None else 0.0
    return FewerDevices(
        count=count,
        missed=tuple(missed),
        target=target,
        worst_sti=float(found.sti[rows, best].min()),
        worst_direct_to_reverberant_db=float(found.direct_to_reverberant_db[rows, best].min()),
        worst_speech_to_noise_db=float(found.speech_to_noise_db[rows, best].min()),
        worst_chance=chance_of(float(margin[worst]) + beyond, 1.0),
    )


def _certificate(task: _Task, solution: Solution) -> Certificate | None:
    """Why nothing is cheaper, where price leads; else why nothing is fewer."""
    names = [task.row_name(r) for r in range(len(task.scene.row_talker))]
    if solution.status != "optimal":
        return None
    if task.prices is not None and solution.price is not None:
        return certify.cheaper_is_impossible(
            task.margins,
            task.prices,
            solution.price,
            names=names,
            forced=task.options.locked,
            conflicts=task.conflicts,
        )
    return certify.fewer_is_impossible(
        task.margins,
        solution.count,
        names=names,
        forced=task.options.locked,
        conflicts=task.conflicts,
    )


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
