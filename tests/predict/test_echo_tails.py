"""Tails of several loudspeakers against the sum of their responses, cut off and weighed."""

from __future__ import annotations

import json
from collections.abc import Callable
from typing import Any

import numpy as np
import pytest

from wellheard.predict import echo, ledger
from wellheard.predict.echo_tails import Tails
from wellheard.predict.scene import Scene

DECAY = 6.0 * np.log(10.0)
"""Natural logarithm of the energy of a fall by 60 dB."""


def _left_db(tail: float, *, time: float, each: list[tuple[float, float, float]]) -> float:
    """Loss by weighing energies: (energy, direct over reflected, bulk delay) of each.

    An exponential decay with a direct sound in front, in slices of 20 µs.
    """
    t = np.arange(0.0, 4.0, 2e-5)
    whole = left = 0.0
    for energy, ratio, bulk in each:
        decay = np.where(t >= bulk, np.exp(-DECAY * (t - bulk) / time), 0.0)
        decay *= energy / (1.0 + ratio) / decay.sum()
        whole += energy
        left += float(decay[t >= tail].sum())
        left += energy * ratio / (1.0 + ratio) * (tail <= bulk)
    return -10.0 * float(np.log10(left / whole))


CASES = [
    [(1.0, 0.0, 0.01)],
    [(1.0, 1.0, 0.01), (1.0, 0.2, 0.02)],
    [(1.0, 1.0, 0.01), (0.5, 0.2, 0.11)],
    [(1.0, 3.0, 0.005), (1e-4, 0.0, 0.9)],
]


@pytest.mark.parametrize("tail", [0.1, 0.25])
@pytest.mark.parametrize("each", CASES)
def test_what_is_left_is_what_the_cut_responses_hold(
    each: list[tuple[float, float, float]], tail: float
) -> None:
    found = _tails(each, time=0.5).loss_db(tail)
    assert found[0] == pytest.approx(_left_db(tail, time=0.5, each=each), abs=0.02)


@pytest.mark.parametrize("loss_db", [0.0, 2.0, 15.0, 33.0])
@pytest.mark.parametrize("each", CASES)
def test_the_tail_that_is_needed_is_the_shortest_that_allows_the_loss(
    each: list[tuple[float, float, float]], loss_db: float
) -> None:
    tails = _tails(each, time=0.5)
    (needed,) = tails.needed(loss_db)
    assert tails.loss_db(needed)[0] >= loss_db - 1e-6
    first = min(bulk for _, _, bulk in each)
    assert needed >= first
    if needed > first + 1e-3:
        assert tails.loss_db(needed - 1e-3)[0] < loss_db


def _tails(each: list[tuple[float, float, float]], *, time: float) -> Tails:
    energy, ratio, bulk = (np.array(column) for column in zip(*each, strict=True))
    return Tails(energy[:, None], ratio[:, None], bulk, np.array([time]))


PLACES: dict[str, Any] = {
    "devices": {
        "m1": {"kind": "microphone", "product": "omni-reference", "at": [1, 1, 1.2]},
        "l1": {"kind": "loudspeaker", "product": "wall-8", "at": [3, 2, 1.5]},
        "l2": {"kind": "loudspeaker", "product": "wall-8", "at": [5, 4, 1.5]},
        "p1": {"kind": "processor", "product": "processor-4"},
    }
}


def test_a_softer_loudspeaker_that_comes_after_the_tail_is_not_cancelled(
    scene_of: Callable[..., Scene],
) -> None:
    """Delayed by 400 ms its echo lies beyond 256 ms, whoever else is the louder one."""
    late = {"processing": {"d": {"kind": "delay", "on": "l2.in", "delay_ms": 400}}}
    (plain,) = ledger.evidence(scene_of(PLACES), assumptions=False).echo
    (delayed,) = ledger.evidence(scene_of({**PLACES, **late}), assumptions=False).echo
    alone = dict(delayed.by_loudspeaker_db)
    assert alone["l1"] < alone["l2"]
    assert plain.bound_tail_db is not None
    assert plain.bound_tail_db > 20.0
    # All of its share is left: no more than that can be taken away, to within its spectrum.
    share_db = alone["l2"] - delayed.return_loss_db
    assert delayed.bound_tail_db == pytest.approx(share_db, abs=1.5)
    assert delayed.tail_needed > 0.4


def test_loudspeakers_that_do_not_distort_leave_no_infinity(scene_of: Callable[..., Scene]) -> None:
    """A sheet that states no distortion, and a document that relaxes what stands for it."""
    rule = {"loudspeaker-distortion": {"relaxed": True, "because": "measured: none to be found"}}
    silent = {name: one for name, one in PLACES["devices"].items() if name != "l1"}
    silent["l2"] = {"kind": "loudspeaker", "product": "column-6", "at": [5.8, 2, 1.5]}
    scene = scene_of({"devices": silent, "targets": {"house_rules": rule}})
    (found,) = ledger.evidence(scene, assumptions=False).echo
    assert found.bound_distortion_db == echo.NO_LIMIT_DB
    assert json.dumps(found.bound_distortion_db, allow_nan=False)
