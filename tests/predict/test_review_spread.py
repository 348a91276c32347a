"""The spread of the index against a simulation of what the stated spreads mean."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np
import pytest

from wellheard.acoustics import intelligibility, levels
from wellheard.predict import ledger, tolerances
from wellheard.predict.evidence import Evidence
from wellheard.predict.scene import Scene

HEAD = {"m1": {"kind": "microphone", "product": "ceiling-head-3", "at": [3, 2.25, 2.7]}}


@pytest.fixture(scope="module")
def scene(scene_of: Callable[..., Scene]) -> Scene:
    return scene_of({"devices": HEAD, "basis": {"noise.background": "told"}})


def test_noise_here_leaves_the_far_ends_own_room_alone(scene_of: Callable[..., Scene]) -> None:
    """What is sent lies some 30 dB under NC-60 there: how well it is known cannot matter."""

    def sigma(basis: str) -> float:
        over: dict[str, Any] = {
            "devices": HEAD,
            "noise": {"background": {"nc": 15}},
            "far_end": {"noise": {"nc": 60}},
            "basis": {"noise.background": basis},
        }
        found: Evidence = ledger.evidence(scene_of(over), assumptions=False)
        return found.outbound[0].sti.sigma

    assert sigma("assumed") == pytest.approx(sigma("measured"), abs=5e-4)


def test_spreads_are_those_of_a_simulation(scene: Scene) -> None:
    """Every input drawn from its stated spread at once, 4,000 times, nothing linearized.

    The ratios agree within sampling (2 %). One-sided differences towards the worse side may
    overstate the spread of the index, by no more than 30 %, and must not understate it. The
    simulation is of a direct sound and an exponential decay with the energies of the path.
    """
    found = ledger.evidence(scene, assumptions=False)
    row = found.outbound[0]
    path, decay = row.path, found.reverberation
    rng = np.random.default_rng(7)
    count = 4000

    def drawn(sigma: float) -> Any:
        return sigma * rng.normal(size=(count, 1))

    time, level = np.asarray(decay.time), np.asarray(decay.level_time)
    longer = drawn(1.0)
    each = time * np.exp(longer * np.asarray(decay.log_sigma))
    louder = np.exp(longer * np.asarray(decay.level_log_sigma))
    reverberant = levels.energy(path.reverberant_db) * louder
    reverberant = reverberant * np.exp(-0.04 * path.distance / level * (1 / louder - 1))
    nearer = 1 + drawn(scene.position_sigma()) / path.distance
    turned = drawn(tolerances.TALKER_TURN_SIGMA_DB) - 20 * np.log10(nearer)
    direct = levels.energy(np.asarray(path.direct_db) + turned)
    speech = scene.speech_db + levels.energy_level_db(direct + reverberant)
    speech = speech + drawn(tolerances.EFFORT_SIGMA_DB)
    noise = np.asarray(path.noise_db) + drawn(scene.noise_sigma_db())
    chance = tolerances.random_clarity_sigma_db(time)
    model_db = drawn(float(np.hypot(tolerances.MODEL_CLARITY_SIGMA_DB, chance)))
    ratio = direct / reverberant
    gain = scene.room.far_end.listening_level_dba - levels.a_weighted_level_db(speech)[:, None]
    heard = levels.energy(noise + gain) + levels.energy(scene.far_end_noise_db)
    index = intelligibility.speech_transmission_index_of_path(
        ratio,
        reverberation_time=each,
        speech_db=speech + gain,
        noise_db=levels.energy_level_db(heard),
    )
    # The model's own error has an STI of its own, which is not made of that of the ratio.
    index = index + drawn(np.hypot(tolerances.MODEL_STI_SIGMA, tolerances.RANDOM_STI_SIGMA))[:, 0]
    ratio_db = levels.energy_level_db(ratio)[:, 2:6].mean(axis=1) + model_db[:, 0]
    importance = np.array([0.0617, 0.1671, 0.2373, 0.2648, 0.2142])  # ANSI S3.5-1997 [L]
    signal_db = (speech - noise)[:, 1:6] @ importance / importance.sum()
    assert row.direct_to_reverberant.sigma == pytest.approx(ratio_db.std(), rel=0.05)
    assert row.speech_to_noise.sigma == pytest.approx(signal_db.std(), rel=0.05)
    assert 0.98 < row.sti.sigma / index.std() < 1.3
