"""Placement in real rooms against every subset of the same places.

Two hundred small rooms: two to four people, tiles of 1.2 m, one product or two, flush; some with
keep-outs, loudspeakers, locked microphones. Number or price, worst margin and mean must be those
of the best subset, to the solver's step.
"""

from __future__ import annotations

import itertools
import math
from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass, field

import numpy as np
import pytest

from tests.effort import rooms
from wellheard.arrays import Array
from wellheard.catalog.catalogue import Catalogue
from wellheard.errors import InputError
from wellheard.place import candidates
from wellheard.place.candidates import Options
from wellheard.place.microphones import place_microphones, products_of_choice
from wellheard.place.objective import Objective
from wellheard.place.proposal import Proposal
from wellheard.place.task import STEP
from wellheard.predict import scene as scenes
from wellheard.room.document import Room

pytestmark = pytest.mark.usefixtures("few_rays")

ROOMS = 200
BLOCKS = 10
OWN_ROOMS = 36
MOST = 5

COMPUTERS_OWN = {"front-bar", "table-unit"}


@dataclass(frozen=True)
class Every:
    """All subsets of one room's places, by size."""

    options: Options
    objective: Objective
    prices: Array
    by_price: bool
    tables: dict[int, Array] = field(default_factory=dict)
    """Careful steps of every row at every place, by number of microphones, once asked for."""

    def subsets(self, size: int) -> np.ndarray[tuple[int, ...], np.dtype[np.intp]]:
        """Those with every locked device and without a clash, shape (subsets, size)."""
        locked = self.options.locked
        free = [i for i in range(len(self.options.allowed)) if i not in set(locked)]
        if size < len(locked):
            return np.zeros((0, size), dtype=np.intp)
        clash = np.zeros((len(self.options.allowed),) * 2, dtype=bool)
        at = np.array([c.at[:2] for c in self.options.allowed])
        near = np.linalg.norm(at[:, None] - at[None], axis=-1) < 0.5 - 1e-9
        lonely = np.array([self.alone(i) for i in range(len(at))], dtype=bool)
        clash |= near | lonely[:, None] | lonely[None]
        clash[np.ix_(locked, locked)] = False
        chosen = list(itertools.combinations(free, size - len(locked)))
        found = np.array([(*locked, *c) for c in chosen], dtype=np.intp).reshape(-1, size)
        pairs = list(itertools.combinations(range(size), 2))
        if pairs:
            bad = np.any([clash[found[:, a], found[:, b]] for a, b in pairs], axis=0)
            found = found[~bad]
        return found

    def alone(self, place: int) -> bool:
        """Whether a computer takes sound from it and, by that, from nothing else."""
        return self.options.allowed[place].product.id in COMPUTERS_OWN

    def levels(self, subsets: np.ndarray[tuple[int, ...], np.dtype[np.intp]]) -> Array:
        """Best step of each row in each subset, shape (rows, subsets)."""
        size = subsets.shape[1]
        if size not in self.tables:
            self.tables[size] = np.floor(self.objective.margins(size) / STEP + 1e-9)
        return self.tables[size][:, subsets].max(axis=-1)

    def best(self, sizes: range) -> tuple[float, int, float, float] | None:
        """Price, number, worst and mean step of the best subset that serves everybody."""
        found: list[tuple[float, int, float, float]] = []
        for size in sizes:
            subsets = self.subsets(size)
            if not len(subsets):
                continue
            levels = self.levels(subsets)
            serves = (levels >= 0).all(axis=0)
            if not serves.any():
                continue
            price = self.prices[subsets].sum(axis=1) if self.by_price else np.zeros(len(subsets))
            keys = zip(
                np.round(price[serves], 2).tolist(),
                (-levels.min(axis=0)[serves]).tolist(),
                (-levels.sum(axis=0)[serves]).tolist(),
                strict=True,
            )
            least = min(keys)
            found.append((least[0], size, least[1], least[2]))
            if not self.by_price:
                break
        return min(found, default=None)


def enumerated(room: Room, catalogue: Catalogue) -> tuple[Every, Proposal] | None:
    scene = scenes.build(room, catalogue)
    products = products_of_choice(scene)
    options = candidates.microphones(scene, products)
    if not options.allowed:
        with pytest.raises(InputError, match="leave no place"):
            place_microphones(scene)
        return None
    prices = [
        0.0
        if c.id is not None and room.devices[c.id].owned
        else catalogue.installed_price(c.product.id, c.mounting, c.drop, fit=c.fit).amount
        for c in options.allowed
    ]
    every = Every(options, Objective(scene, options.allowed), np.array(prices), len(products) > 1)
    return every, place_microphones(scene)


def chosen(every: Every, proposal: Proposal) -> np.ndarray[tuple[int, ...], np.dtype[np.intp]]:
    places = {(c.product.id, c.at): i for i, c in enumerate(every.options.allowed)}
    return np.array([[places[d.product, d.at] for d in proposal.devices]], dtype=np.intp)


def compared(rooms: dict[int, Room], catalogue: Catalogue) -> Counter[str]:
    """Hold the proposal of every room against all subsets; rooms by the kind of their answer."""
    counts: Counter[str] = Counter()
    for seed, room in rooms.items():
        made = enumerated(room, catalogue)
        if made is None:
            continue
        every, proposal = made
        own = chosen(every, proposal)
        assert len(set(own[0].tolist())) == proposal.count, seed
        mine = every.levels(own)[:, 0]
        most = MOST
        if every.by_price and proposal.proof.status == "optimal":
            free = [p for i, p in enumerate(every.prices) if i not in every.options.locked]
            most = max(proposal.count, int(proposal.price / min(free))) if free else proposal.count
        best = every.best(range(max(1, len(every.options.locked)), most + 1))
        if proposal.proof.status == "infeasible":
            assert best is None, seed
            assert proposal.shortfalls, seed
            served = (mine >= 0).sum()
            for size in range(1, 4):
                subsets = every.subsets(size)
                if len(subsets):
                    assert (every.levels(subsets) >= 0).sum(axis=0).max() <= served, seed
            counts["impossible"] += 1
            continue
        counts["alone" if any(every.alone(int(i)) for i in own[0]) else "together"] += 1
        assert proposal.proof.status == "optimal", seed
        assert best is not None, seed
        price = round(float(every.prices[own].sum()), 2)
        assert proposal.price == pytest.approx(price), seed
        found = (price if every.by_price else 0.0, proposal.count, -mine.min(), -mine.sum())
        assert found == pytest.approx(best), seed
        fewer = every.best(range(max(1, len(every.options.locked)), proposal.count))
        if not every.by_price:
            assert fewer is None, seed
        smaller = map(every.subsets, range(max(1, len(every.options.locked)), proposal.count))
        possible = [
            len(subsets)
            for subsets in smaller
            if len(subsets) and (every.levels(subsets) >= 0).all(axis=0).any()
        ]
        assert proposal.proof.fewer_is_impossible is not bool(possible), seed
    return counts


def with_computers_own(room: Room, seed: int) -> Room:
    """The same room with a table, a picture and a computer, where combined devices may be taken.

    Every third has a table unit that stays.
    """
    x, y = (max(corner) for corner in zip(*room.space.outline, strict=True))
    plan = room.model_dump(mode="json", by_alias=True, exclude_unset=True)
    middle = [x / 2, y / 2]
    corners = [[-0.6, -0.5], [0.6, -0.5], [0.6, 0.5], [-0.6, 0.5]]
    plan["space"]["walls"] = ["south", "east", "north", "west"]
    plan["furniture"] = {
        "table": {"kind": "table", "outline": (np.array(corners) + middle).tolist()},
        "picture": {"kind": "display", "wall": "west", "centre": [y / 2, 1.3], "size": [1.2, 0.7]},
    }
    if seed % 4 < 3:  # near enough for a unit in the middle
        for i, seat in enumerate(plan["people"]["seats"].values()):
            angle = 0.3 + 2 * math.pi * i / len(plan["people"]["seats"])
            seat["at"] = [x / 2 + 0.9 * math.cos(angle), y / 2 + 0.9 * math.sin(angle)]
            seat["facing"] = "across"
    plan["equipment"] = {"pc": {"kind": "computer", "at": [x / 2, y / 2, 0.1]}}
    plan["choices"] = {
        **plan["choices"],
        "allow": [*plan["choices"]["allow"], "table-unit", *(["front-bar"] if seed % 2 else [])],
        "mounting": ["ceiling", "table", "front"],
    }
    plan["targets"]["house_rules"] = {
        "microphone-near-papers": {"relaxed": True, "because": "a small table"},
        "microphone-near-loudspeaker": {"relaxed": True, "because": "only the computer counts"},
        "service-loop": {"limit": 0, "because": "the computer stands below"},
    }
    if seed % 3 == 0:
        unit = {
            "kind": "microphone",
            "product": "table-unit",
            "at": [*middle, 0.76],
            "locked": True,
        }
        plan["devices"]["unit"] = unit
    return Room.model_validate(plan)


@pytest.mark.parametrize("block", range(rooms(5, thorough=BLOCKS)))
def test_the_proposal_is_the_best_of_all_subsets(
    block: int, small_room: Callable[[int], Room], catalogue: Catalogue
) -> None:
    share = ROOMS // BLOCKS
    rooms = {seed: small_room(seed) for seed in range(block * share, (block + 1) * share)}
    # Most of a block is possible, so the comparison is one.
    counts = compared(rooms, catalogue)
    assert counts.total() - counts["impossible"] >= 5


def test_so_it_is_where_devices_exclude_all_others(
    small_room: Callable[[int], Room], catalogue: Catalogue
) -> None:
    rooms = {seed: with_computers_own(small_room(seed), seed) for seed in range(OWN_ROOMS)}
    counts = compared(rooms, catalogue)
    assert counts["alone"] >= 5
    assert counts["together"] >= 5
    assert counts["impossible"] >= 3


def test_the_rooms_hold_every_kind_of_difficulty(small_room: Callable[[int], Room]) -> None:
    rooms = [small_room(seed) for seed in range(ROOMS)]
    assert sum(bool(r.overhead) for r in rooms) > 40
    assert sum("ls" in r.devices for r in rooms) > 30
    assert sum("old" in r.devices for r in rooms) > 30
    assert {len(r.choices.allow) for r in rooms} == {1, 2}
    assert {len(r.people.seats) for r in rooms} == {2, 3, 4}
