"""What is proven to be least is the least of all answers, counted one by one."""

from __future__ import annotations

import dataclasses
import random
from typing import Any

import pytest

from tests.wiring import counting
from tests.wiring.systems import crowd, system
from wellheard.catalog.catalogue import Catalogue
from wellheard.room.choices import Choices
from wellheard.room.devices import Device
from wellheard.room.document import Room
from wellheard.wiring.answering import answer
from wellheard.wiring.asking import task_of
from wellheard.wiring.task import Task

SHIPPED = Catalogue.shipped()
MIXED = tuple(range(32))
CROWDS = (0, 1, 2, 3, 5, 6, 8, 9, 11)
"""Of the crowds with two switches one: counting it takes as long as all the others together."""


def _agrees(room: Room) -> None:
    _agree(task_of(room, SHIPPED))


def _agree(task: Task) -> None:
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


@pytest.mark.parametrize("seed", range(16))
def test_least_is_found_whatever_switches_have(seed: int) -> None:
    """Ports, powered ports and power drawn at random, so that each of them is what is short."""
    rng = random.Random(seed)
    products = ("ceiling-array-16", "ceiling-array-48", "ceiling-head-3-network")
    devices = {
        f"m{k}": {"kind": "microphone", "product": rng.choice(products), "at": [1 + k, 2, 2.8]}
        for k in range(4)
    }
    room = crowd(2).model_copy(
        update={
            "devices": {n: Device.model_validate(d) for n, d in devices.items()},
            "choices": Choices(allow=("processor-4", "switch-8", "switch-24")),
        }
    )
    task = task_of(room, SHIPPED)
    figures: dict[str, dict[str, Any]] = {
        product: {
            "ports": rng.choice((3, 4, 5, 6)),
            "powered_ports": rng.choice((1, 2, 3, 4)),
            "budget_mw": 1000 * rng.choice((24, 30, 40, 60)),
            "power_class": rng.choice((2, 3, 4, 4)),
        }
        for product in ("switch-8", "switch-24")
    }
    switches = tuple(
        dataclasses.replace(one, **figures[one.site.product])
        for one in task.switches
        if one.site.place == "rack"
    )
    _agree(dataclasses.replace(task, switches=switches))


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


@pytest.mark.parametrize("seed", range(8))
def test_least_is_found_where_processors_live_on_the_power_of_switches(seed: int) -> None:
    """The processor of four ports as one that takes class 3 or 4 from the network."""
    rng = random.Random(500 + seed)
    number = rng.choice((3, 4))
    products = ("pendant-cardioid", "ceiling-array-16", "ceiling-head-3")
    devices = {
        f"m{k}": {"kind": "microphone", "product": rng.choice(products), "at": [1 + k, 2, 2.8]}
        for k in range(rng.choice((2, 4, 5)))
    }
    room = crowd(0).model_copy(
        update={
            "devices": {n: Device.model_validate(d) for n, d in devices.items()},
            "choices": Choices(allow=("processor-4", "switch-8")),
        }
    )
    task = task_of(room, _fed("processor-4", number, watts={3: 12.0, 4: 22.0}[number]))
    assert any(hub.power[0] == number for hub in task.hubs)
    budget = 1000 * rng.choice((15, 27, 40, 65))
    switches = tuple(
        dataclasses.replace(one, budget_mw=budget)
        for one in task.switches
        if one.site.place == "rack"
    )
    _agree(dataclasses.replace(task, switches=switches[:3]))


def _fed(product_id: str, number: int, *, watts: float) -> Catalogue:
    """Shipped catalogue whose processor takes its power from the network."""
    processors = tuple(
        dataclasses.replace(one, powered_from="network", poe_class=number, power_w=watts)
        if one.id == product_id
        else one
        for one in SHIPPED.processors
    )
    return dataclasses.replace(SHIPPED, processors=processors)


@pytest.mark.parametrize("seed", range(8))
def test_least_is_found_where_amplifiers_live_on_the_power_of_switches(seed: int) -> None:
    """The networked amplifier as one that takes class 3 or 4, fed by lines or over the network."""
    rng = random.Random(900 + seed)
    number = rng.choice((3, 4))
    devices: dict[str, dict[str, Any]] = {
        f"l{k}": {"kind": "loudspeaker", "product": "ceiling-6", "at": [1 + k, 2, 2.8]}
        for k in range(rng.choice((1, 2, 3)))
    }
    if rng.random() < 0.5:
        devices["m1"] = {
            "kind": "microphone",
            "product": rng.choice(("ceiling-array-16", "ceiling-head-3")),
            "at": [4, 2, 2.8],
        }
    processor = rng.choice(("bridge-2", "processor-4"))
    room = crowd(0).model_copy(
        update={
            "devices": {n: Device.model_validate(d) for n, d in devices.items()},
            "choices": Choices(allow=(processor, "amplifier-4x150", "switch-8")),
        }
    )
    watts = {3: 12.0, 4: 22.0}[number]
    fed = tuple(
        dataclasses.replace(
            one, powered_from="network", poe_class=number, power_w=watts, channels=2
        )
        if one.id == "amplifier-4x150"
        else one
        for one in SHIPPED.amplifiers
    )
    task = task_of(room, dataclasses.replace(SHIPPED, amplifiers=fed))
    assert any(one.power[0] == number for one in task.amplifiers)
    budget = 1000 * rng.choice((10, 15, 27, 65))
    switches = tuple(
        dataclasses.replace(one, budget_mw=budget)
        for one in task.switches
        if one.site.place == "rack"
    )
    _agree(dataclasses.replace(task, switches=switches[:3]))
