"""What is proven to be least is the least of all answers, counted one by one."""

from __future__ import annotations

import pytest

from tests.wiring import counting
from tests.wiring.systems import crowd, system
from wellheard.catalog.catalogue import Catalogue
from wellheard.room.document import Room
from wellheard.wiring.answering import answer
from wellheard.wiring.asking import task_of

SHIPPED = Catalogue.shipped()
MIXED = tuple(range(32))
CROWDS = (0, 1, 2, 3, 5, 6, 8, 9, 11)
"""Of the crowds with two switches one: counting it takes as long as all the others together."""


def _agrees(room: Room) -> None:
    task = task_of(room, SHIPPED)
    found = answer(task)
    score = (len(found.missed), found.cents, found.electronics, found.millimetres)
    assert score == counting.best(task)
    assert found.status == ("infeasible" if found.missed else "optimal")
    assert (found.bound, found.fewest_missed) == (found.cents, len(found.missed))


@pytest.mark.parametrize("seed", MIXED)
def test_least_of_all_answers_is_found(seed: int) -> None:
    _agrees(system(seed))


@pytest.mark.parametrize("seed", CROWDS)
def test_least_is_found_where_one_device_of_a_sort_is_not_enough(seed: int) -> None:
    _agrees(crowd(seed))


def test_systems_have_all_that_is_to_be_decided() -> None:
    """Branches, second switches, extenders, locked links, what cannot be wired: each is there."""
    kinds: set[str] = set()
    missed = extended = kept = 0
    for room in (*map(system, MIXED), *map(crowd, CROWDS)):
        task = task_of(room, SHIPPED)
        found = answer(task)
        kinds |= {name[0] for name in found.counts}
        missed += bool(found.missed)
        extended += found.electronics > sum(
            n for name, n in found.counts.items() if name[0] in ("hub", "amplifier", "switch")
        )
        kept += any(link.locked for link in room.links.values())
    assert {"branch", "behind", "plays", "plays-network", "lined", "hangs", "joins"} <= kinds
    assert min(missed, extended, kept) >= 2
