"""First reflections of a box by hand: which surfaces, how much later, how strong."""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import Any

import numpy as np
import pytest

from wellheard.predict import ledger, working
from wellheard.predict.scene import Scene
from wellheard.predict.stages import Working

SIDES = (6.0, 4.5, 2.7)
MOUTH = (2.0, 2.0, 1.2)
MICROPHONE = (3.5, 1.0, 1.6)
SPEED = 343.2  # 20 °C, ISO 9613-1 [L]
ALPHA = {"floor": 0.3, "ceiling": 0.5, "walls": 0.1}
SCATTERING = 0.2


def opened(scene_of: Callable[..., Scene], **device: Any) -> list[Working]:
    """The reflections that the working tells one by one."""
    octaves = ("125", "250", "500", "1000", "2000", "4000", "8000")
    finishes = {
        name: {"absorption": dict.fromkeys(octaves, alpha)} for name, alpha in ALPHA.items()
    }
    microphone = {"kind": "microphone", "product": "omni-reference", "at": list(MICROPHONE)}
    scene = scene_of(
        {
            "space": {"finishes": finishes, "scattering": SCATTERING},
            "people": {"directivity": "omni"},
            "devices": {"m1": {**microphone, **device}},
        }
    )
    found = ledger.evidence(scene, assumptions=False)
    stages = working.outbound_stages(scene, found, found.outbound[0])
    (early,) = [s for s in stages if s.name == "Early"]
    return [row for row in early.rows if row.quantity.startswith("reflection")]


def by_hand() -> list[tuple[str, float]]:
    """Mirrored once in each surface: its name and how far the sound goes."""
    names = (("wall west", "wall east"), ("wall south", "wall north"), ("floor", "ceiling"))
    found = []
    for axis, pair in enumerate(names):
        for name, plane in zip(pair, (0.0, SIDES[axis]), strict=True):
            image = list(MOUTH)
            image[axis] = 2 * plane - MOUTH[axis]
            found.append((name, math.dist(image, MICROPHONE)))
    return found


def level_db(name: str, length: float, m: list[float]) -> list[float]:
    alpha = ALPHA.get(name, ALPHA["walls"])
    straight = math.dist(MOUTH, MICROPHONE)
    return [
        10 * math.log10((1 - alpha) * (1 - SCATTERING) * (straight / length) ** 2)
        - 10 * math.log10(math.e) * mk * (length - straight)
        for mk in m
    ]


def test_the_strongest_reflections_are_those_found_by_hand(
    scene_of: Callable[..., Scene], oracle: Any
) -> None:
    """Of six mirrored once, and some mirrored twice behind them, the strongest are told."""
    rows = opened(scene_of)
    air = oracle.air()
    once = sorted(by_hand(), key=lambda one: -sum(level_db(one[0], one[1], air)[2:6]))
    straight = math.dist(MOUTH, MICROPHONE)
    told = [row.quantity.split(": ")[1] for row in rows]
    assert told[:4] == [name for name, _ in once[:4]]
    for row, (name, length) in zip(rows, once[:4], strict=False):
        assert np.asarray(row.value) == pytest.approx(level_db(name, length, air), abs=0.01)
        inputs = dict(row.inputs)
        assert inputs["its way"] == f"{length:.2f} m"
        later = float(inputs["later by"].removesuffix(" ms"))
        assert later == pytest.approx(1000 * (length - straight) / SPEED, abs=0.051)


def test_a_capsule_in_the_table_is_told_nothing_from_below(
    scene_of: Callable[..., Scene],
) -> None:
    told = {row.quantity.split(": ")[1] for row in opened(scene_of)}
    assert "floor" in told
    half = opened(scene_of, product="table-boundary")
    assert all(row.quantity.split(": ")[1] != "floor" for row in half)


def test_under_a_ceiling_its_reflection_belongs_to_the_direct_sound(
    scene_of: Callable[..., Scene],
) -> None:
    at = [MICROPHONE[0], MICROPHONE[1], 2.69]
    told = [row.quantity.split(": ")[1] for row in opened(scene_of, at=at)]
    assert "ceiling" not in told
    assert len(told) == 5
