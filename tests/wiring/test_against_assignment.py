"""Many microphones on processors: every set of processors counted, cables by the Hungarian method.

Larger than what can be counted answer by answer: for each number of each processor, and each root,
the cheapest cables are those of ``linear_sum_assignment`` of scipy (after H. W. Kuhn, 1955).
"""

from __future__ import annotations

import itertools
import random
from collections.abc import Iterator, Sequence
from typing import Any

import numpy as np
import pytest
from scipy.optimize import linear_sum_assignment

from wellheard.catalog.catalogue import Catalogue
from wellheard.room.document import Room
from wellheard.wiring.answering import answer
from wellheard.wiring.asking import task_of
from wellheard.wiring.task import Hub, MicrophoneNeed, Task, Way

SHIPPED = Catalogue.shipped()
Score = tuple[int, int, int, int]
"""Unwired, cents, electronics, millimetres."""
NEVER, UNWIRED = 1e13, 1e12


def _room(seed: int) -> Room:
    rng = random.Random(seed)
    long = rng.choice((9.0, 16.0, 26.0))
    devices: dict[str, Any] = {
        f"m{k}": {
            "kind": "microphone",
            "product": rng.choice(("ceiling-head-3", "pendant-cardioid", "ceiling-head-2")),
            "at": [round(rng.uniform(0.6, long - 0.6), 2), round(rng.uniform(0.6, 7.4), 2), 2.8],
        }
        for k in range(rng.randint(6, 15))
    }
    equipment: dict[str, Any] = {
        "rack": {"kind": "rack", "at": [long - 0.4, 0.4, 0.5]},
        "pc": {"kind": "computer", "at": [long - 0.9, 0.4, 0.5]},
    }
    if rng.random() < 0.6:
        equipment["other"] = {"kind": "rack", "at": [0.4, 7.6, 0.5]}
    hubs = rng.sample(("processor-4", "processor-12", "bridge-2"), rng.choice((1, 2, 3)))
    return Room.model_validate(
        {
            "wellheard": 1,
            "space": {
                "outline": [[0, 0], [long, 0], [long, 8], [0, 8]],
                "height": 2.8,
                "ceiling": {"void_depth": 0.5},
            },
            "people": {"seats": {"s": {"at": [2, 2], "facing": 0}}},
            "equipment": equipment,
            "devices": devices,
            "choices": {"allow": hubs},
        }
    )


def _plus(*scores: Score) -> Score:
    a, b, c, d = (sum(each) for each in zip(*scores, strict=True))
    return a, b, c, d


def _way(way: Way) -> Score:
    return 0, way.cents, way.electronics, way.millimetres


def _best(task: Task) -> Score:
    most = len(task.microphones)
    numbers = [range(min(hub.site.most, most) + 1) for hub in task.hubs]
    found: list[Score] = []
    for counts in itertools.product(*numbers):
        boxes = [hub for hub, n in zip(task.hubs, counts, strict=True) for _ in range(n)]
        for fixed in _joined(task, boxes):
            bought = [(0, box.site.cents, int(box.site.counts), 0) for box in boxes]
            found.append(_plus(fixed, *bought, _assigned(task.microphones, boxes)))
    return min(found)


def _joined(task: Task, boxes: Sequence[Hub]) -> Iterator[Score]:
    """The computer's cable, and both of each box that hangs on the root, for each root."""
    if not boxes:
        yield 0, 0, 0, 0
    for i, root in enumerate(boxes):
        others = [box for k, box in enumerate(boxes) if k != i]
        pairs = [task.between_hubs.get((box.site.key, root.site.key)) for box in others]
        if root.computer is None or len(others) > min(root.line_inputs, root.outputs):
            continue
        if all(box.line_inputs and box.outputs for box in others):
            ways = [way for pair in pairs if pair is not None for way in pair]
            if len(ways) == 2 * len(others):
                yield _plus(_way(root.computer), *map(_way, ways))


def _assigned(needs: Sequence[MicrophoneNeed], boxes: Sequence[Hub]) -> Score:
    """A port for each microphone, or none: whole numbers in floats, below 2 to the 53rd."""
    ports = [box for box in boxes for _ in range(box.microphones)]
    cost = np.full((len(needs), len(ports) + len(needs)), NEVER)
    cost[:, len(ports) :] = UNWIRED
    for i, need in enumerate(needs):
        for j, box in enumerate(ports):
            way = need.ways.get(box.site.key)
            if way is not None:
                cost[i, j] = (8 * way.cents + way.electronics) * 4e5 + way.millimetres
    rows, columns = linear_sum_assignment(cost)
    chosen = [
        (1, 0, 0, 0) if j >= len(ports) else _way(needs[i].ways[ports[j].site.key])
        for i, j in zip(rows.tolist(), columns.tolist(), strict=True)
    ]
    return _plus(*chosen)


@pytest.mark.parametrize("seed", range(16))
def test_of_many_microphones_none_is_wired_cheaper_by_the_hungarian_method(seed: int) -> None:
    task = task_of(_room(seed), SHIPPED)
    found = answer(task)
    score = (len(found.missed), found.cents, found.electronics, found.millimetres)
    assert score == _best(task)
    assert found.status == ("infeasible" if found.missed else "optimal")
