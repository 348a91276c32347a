"""Placement in rooms that divide against every subset of the same places.

Forty-eight small rooms of `small_room`, less ambitious by 4 dB, cut by a partition along a row of
tiles; who is on which side of it, and what each of them hears, is worked out here from the
coordinates and from each space alone.
"""

from __future__ import annotations

import itertools
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
import pytest

from tests.effort import rooms
from wellheard.arrays import Array, Mask
from wellheard.catalog.catalogue import Catalogue
from wellheard.errors import InputError
from wellheard.place import candidates
from wellheard.place.candidates import Candidate
from wellheard.place.microphones import place_microphones, products_of_choice
from wellheard.place.objective import Index, Objective
from wellheard.place.proposal import Proposal
from wellheard.place.task import STEP
from wellheard.predict import ledger
from wellheard.predict import scene as scenes
from wellheard.predict.parts import PartScene, build_parts
from wellheard.room import divide, edit
from wellheard.room.devices import Device
from wellheard.room.document import Room

pytestmark = pytest.mark.usefixtures("few_rays")

ROOMS = 48
BLOCKS = 6
"""Of the rooms, as many in each."""
MOST = 4
TILE = 1.2
FAR = -1e3


def cut(room: Room, seed: int) -> tuple[Room, float]:
    """The room with a partition between two rows of tiles, and where it stands."""
    width = max(x for x, _ in room.space.outline)
    depth = max(y for _, y in room.space.outline)
    rows = round(width / TILE)
    fold = TILE * (1 + seed % (rows - 1))
    plan = room.model_dump(mode="json", by_alias=True, exclude_unset=True)
    plan["partitions"] = {"fold": {"from": [fold, 0], "to": [fold, depth], "finish": "glass-front"}}
    plan["arrangements"] = {"joined": {"open": ["fold"]}, "split": {"closed": ["fold"]}}
    plan["targets"]["direct_to_reverberant_db"] -= 4
    if seed % 3 == 2:
        del plan["arrangements"]["joined"]
    return Room.model_validate(plan), fold


def side(part: PartScene, fold: float, at: Array) -> Mask:
    """Which of the places are in a part, by the coordinates alone."""
    if part.part.name == "joined":
        return np.ones(len(at), dtype=np.bool_)
    west = min(x for x, _ in part.scene.room.space.outline) < fold - 1e-6
    return at[:, 0] < fold if west else at[:, 0] > fold


@dataclass(frozen=True)
class Every:
    """All subsets of one room's places."""

    allowed: tuple[Candidate, ...]
    locked: int
    tables: dict[int, Array]
    """Careful steps of every row at every place, by number of microphones."""
    spaces: tuple[tuple[Mask, dict[int, Array]], ...]
    """For each part what is in it, and steps there by number of open microphones."""
    prices: Array
    by_price: bool

    def subsets(self, size: int) -> Index:
        """Those with every locked device and without a clash, shape (subsets, size)."""
        if size < self.locked:
            return np.zeros((0, size), dtype=np.intp)
        free = range(self.locked, len(self.allowed))
        at = np.array([c.at[:2] for c in self.allowed])
        # Half a metre apart, if ever in one space.
        shared = np.any([np.logical_and.outer(held, held) for held, _ in self.spaces], axis=0)
        clash = (np.linalg.norm(at[:, None] - at[None], axis=-1) < 0.5 - 1e-9) & shared
        clash[: self.locked, : self.locked] = False
        kept = tuple(range(self.locked))
        chosen = [(*kept, *c) for c in itertools.combinations(free, size - self.locked)]
        found = np.array(chosen, dtype=np.intp).reshape(-1, size)
        for a, b in itertools.combinations(range(size), 2):
            found = found[~clash[found[:, a], found[:, b]]]
        return found

    def careful(self, subsets: Index) -> Array:
        """Best step of each row with every microphone open everywhere, shape (rows, subsets)."""
        return self.tables[subsets.shape[1]][:, subsets].max(axis=-1)

    def real(self, subsets: Index) -> Array:
        """Worst step with those open that are in the same space, shape (subsets,)."""
        worst = np.full(len(subsets), np.inf)
        for held, steps in self.spaces:
            open_there = held[subsets].sum(axis=1)
            worst[open_there == 0] = FAR
            for number in np.unique(open_there[open_there > 0]):
                those = np.flatnonzero(open_there == number)
                # Places beyond the partition are FAR, so the best is one in this space.
                here = steps[int(number)][:, subsets[those]].max(axis=-1).min(axis=0)
                worst[those] = np.minimum(worst[those], here)
        return worst

    def best(self, sizes: range) -> tuple[float, int, float, float] | None:
        """Price, number, worst and mean step of the best subset that serves everybody."""
        found: list[tuple[float, int, float, float]] = []
        for size in sizes:
            subsets = self.subsets(size)
            if not len(subsets):
                continue
            levels = self.careful(subsets)
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


def enumerated(room: Room, fold: float, catalogue: Catalogue) -> tuple[Every, Proposal] | None:
    scene = scenes.build(room, catalogue)
    parts = build_parts(room, catalogue)
    products = products_of_choice(scene)
    options = candidates.microphones(scene, products, parts)
    at = np.array([c.at[:2] for c in options.allowed]).reshape(-1, 2)
    inside = [side(part, fold, at) for part in parts]
    if not all(held.any() for held in inside):
        with pytest.raises(InputError, match="leave no place"):
            place_microphones(scene, parts=parts)
        return None
    spaces = []
    for part, held in zip(parts, inside, strict=True):
        own = Objective(
            part.scene, [c for c, here in zip(options.allowed, held, strict=True) if here]
        )
        steps = {}
        for n in range(1, MOST + 1):
            steps[n] = np.full((len(part.scene.row_talker), len(at)), FAR)
            steps[n][:, held] = np.floor(own.margins(n) / STEP + 1e-9)
        spaces.append((held, steps))
    tables = {
        n: np.concatenate(
            [
                steps[n] if held.all() else np.min([steps[k] for k in range(1, n + 1)], axis=0)
                for held, steps in spaces
            ]
        )
        for n in range(1, MOST + 1)
    }
    prices = [
        0.0
        if c.id is not None and room.devices[c.id].owned
        else catalogue.installed_price(c.product.id, c.mounting, c.drop, fit=c.fit).amount
        for c in options.allowed
    ]
    every = Every(
        options.allowed,
        len(options.locked),
        tables,
        tuple(spaces),
        np.array(prices),
        len(products) > 1,
    )
    return every, place_microphones(scene, parts=parts)


def states(room: Room, proposal: Proposal, catalogue: Catalogue) -> set[str]:
    """States of all talkers in all arrangements, by the ledger, as placed."""
    devices = {
        d.id: room.devices[d.id]
        if d.locked
        else Device(kind="microphone", product=d.product, at=d.at)
        for d in proposal.devices
    }
    placed = edit.replacing_devices(room, {"microphone"}, devices)
    return {
        row.state
        for part in build_parts(placed, catalogue)
        for row in ledger.evidence(part.scene, assumptions=False).outbound
    }


@pytest.mark.parametrize("block", range(rooms(3, thorough=BLOCKS)))
def test_the_proposal_is_the_best_of_all_subsets(
    block: int, small_room: Callable[[int], Room], catalogue: Catalogue
) -> None:
    share = ROOMS // BLOCKS
    met = undecided = 0
    for seed in range(block * share, (block + 1) * share):
        room, fold = cut(small_room(seed), seed)
        made = enumerated(room, fold, catalogue)
        if made is None:
            continue
        every, proposal = made
        places = {(c.product.id, c.at): i for i, c in enumerate(every.allowed)}
        own = np.array([[places[d.product, d.at] for d in proposal.devices]], dtype=np.intp)
        if proposal.count > MOST:
            continue
        first = max(1, every.locked)
        if proposal.proof.status == "infeasible":
            # Neither with all microphones open everywhere, nor with those that are there.
            assert proposal.shortfalls, seed
            assert every.best(range(first, MOST + 1)) is None, seed
            for size in range(first, MOST + 1):
                assert np.all(every.real(every.subsets(size)) < 0), seed
            continue
        if proposal.proof.status == "gap":
            # Ruled out with all open, not with one open alone, and it says so.
            assert every.best(range(first, MOST + 1)) is None, seed
            assert not proposal.proof.fewer_is_impossible, seed
            undecided += 1
            continue
        met += 1
        assert proposal.proof.status == "optimal", seed
        assert states(room, proposal, catalogue) == {"kept"}, seed
        assert every.real(own)[0] >= 0, seed
        mine = every.careful(own)[:, 0]
        price = round(float(every.prices[own].sum()), 2)
        assert proposal.price == pytest.approx(price), seed
        if mine.min() >= 0:
            best = every.best(range(first, MOST + 1))
            found = (price if every.by_price else 0.0, proposal.count, -mine.min(), -mine.sum())
            assert found == pytest.approx(best), seed
        smaller = [every.subsets(n) for n in range(first, proposal.count)]
        possible = any(np.any(every.real(subsets) >= 0) for subsets in smaller)
        if proposal.proof.fewer_is_impossible:
            assert not possible, seed
        if every.by_price:
            for size in range(first, MOST + 1):
                subsets = every.subsets(size)
                cheaper = subsets[np.round(every.prices[subsets].sum(axis=1), 2) < price]
                assert np.all(every.real(cheaper) < 0), seed
    assert undecided <= 1
    assert met >= 4  # enough of a block is possible, so the comparison is one


def test_the_rooms_hold_every_kind_of_division(small_room: Callable[[int], Room]) -> None:
    names = []
    for seed in range(ROOMS):
        room, _ = cut(small_room(seed), seed)
        names.append({part.name for part in divide.parts(room)})
    assert sum({"joined", "split.a", "split.b"} == n for n in names) > 10
    assert sum({"split.a", "split.b"} == n for n in names) > 4
    assert sum({"joined", "split"} == n for n in names) > 4  # nobody beyond the partition
