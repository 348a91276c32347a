"""Rooms at the edge of what a document may say: every figure finite, ties always the same way."""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import Any

import numpy as np
import pytest

from wellheard.catalog.catalogue import Catalogue
from wellheard.predict import alternative_noise, ledger, noise, outbound
from wellheard.predict import reverberation as decays
from wellheard.predict.evidence import Evidence, Reverberation
from wellheard.predict.scene import Scene
from wellheard.room.document import Room
from wellheard.room.noise import Background

BANDS = (125, 250, 500, 1000, 2000, 4000, 8000)
HEAD = {"m1": {"kind": "microphone", "product": "ceiling-head-3", "at": [3, 2.25, 2.7]}}


def absorbing(alpha: float) -> dict[str, Any]:
    return {"absorption": dict.fromkeys(BANDS, alpha)}


@pytest.fixture(scope="module")
def decay_of(
    room_of: Callable[..., Room], catalogue: Catalogue
) -> Callable[[dict[str, Any]], Reverberation]:
    def made(finishes: dict[str, Any]) -> Reverberation:
        return decays.predict(room_of({"space": {"finishes": finishes}}), catalogue)

    return made


@pytest.fixture(scope="module")
def evidence_of(scene_of: Callable[..., Scene]) -> Callable[..., Evidence]:
    def made(**over: Any) -> Evidence:
        return ledger.evidence(scene_of({"devices": HEAD, **over}))

    return made


@pytest.mark.parametrize("told", [0.0, 10.0, 14.9, 70.1, 75.0])
def test_a_background_beyond_the_curves_is_the_last_one_shifted(told: float) -> None:
    """ANSI/ASA S12.2-2019 Table 1 [L]: NC-15 is 36 dB at 125 Hz, 11 at 8 kHz; NC-70 79 and 68."""
    found = noise.background_db(Background(nc=told))
    last, low, high = (15.0, 36.0, 11.0) if told < 15 else (70.0, 79.0, 68.0)
    assert found[125] == pytest.approx(low + told - last)
    assert found[8000] == pytest.approx(high + told - last)


@pytest.mark.parametrize("told", [0.0, 75.0])
def test_noise_beyond_the_curves_is_predicted_here_and_at_the_far_end(
    evidence_of: Callable[..., Evidence], told: float
) -> None:
    here = evidence_of(noise={"background": {"nc": told}})
    there = evidence_of(far_end={"noise": {"nc": told}})
    assert here.noise.nc is None
    assert here.noise.label.startswith("below NC-15" if told == 0 else "above NC-70")
    for found in (here, there):
        assert (found.outbound[0].sti.value > 0.6) is (told == 0)


@pytest.mark.parametrize(
    ("loud", "most"),
    [
        (Background(nc=73), Background(nc=75)),
        (Background(dba=98), Background(dba=100)),
        (
            Background(levels_db=dict.fromkeys(BANDS, 128.0)),
            Background(levels_db=dict.fromkeys(BANDS, 130.0)),
        ),
    ],
)
def test_an_assumed_background_is_tried_no_louder_than_a_document_may_say(
    loud: Background, most: Background
) -> None:
    assert alternative_noise.shifted(loud, 5.0) == most


@pytest.mark.parametrize("alpha", [1.0, 1.2])
def test_a_room_that_absorbs_everything_still_has_a_decay(
    evidence_of: Callable[..., Evidence], alpha: float
) -> None:
    """Taken as 0.99. Eyring: 0.161 V/(S·ln 100) = 0.023 s, for free paths that are all alike.

    One along the diagonal takes 8.0 m, 23 ms, and what has been twice round is 40 dB down: no
    fall by 20 dB takes longer than that, so T20 is below 70 ms.
    """
    everything = {"floor": absorbing(alpha), "ceiling": absorbing(alpha), "walls": absorbing(alpha)}
    found = evidence_of(space={"finishes": everything}, people={"occupancy": 0})
    volume, surface = 72.9, 110.7
    eyring = 24 * math.log(10) / 343.2 * volume / (surface * math.log(100))
    assert found.reverberation.eyring[2] == pytest.approx(eyring, rel=0.02)  # people, air
    assert eyring < found.reverberation.time[2] < 0.07
    row = found.outbound[0]
    assert math.isfinite(row.sti.sigma)
    assert row.direct_to_reverberant.value > 15


def test_one_pair_of_perfect_absorbers_does_not_end_all_sound(
    decay_of: Callable[[dict[str, Any]], Reverberation],
) -> None:
    """Between the pair at 0.98 and a dead room; Arau-Puchades has a zero at 1."""
    perfect, nearly = (
        decay_of({"walls": {"east": absorbing(a), "west": absorbing(a)}}) for a in (1.0, 0.98)
    )
    assert all(0.8 * n < p < n for p, n in zip(perfect.time, nearly.time, strict=True))
    assert all(math.isfinite(s) for s in perfect.log_sigma)


def test_absorption_above_one_counts_for_sabine_only(
    decay_of: Callable[[dict[str, Any]], Reverberation],
) -> None:
    """T ∝ 1/A: 12.15 m² of wall from 1.0 to 1.2 is 2.43 m² more (Sabine)."""
    one, more = (decay_of({"walls": {"east": absorbing(a)}}) for a in (1.0, 1.2))
    constant = 24 * math.log(10) / one.speed_of_sound * one.volume
    for k in range(7):
        assert constant / more.sabine[k] - constant / one.sabine[k] == pytest.approx(2.43, rel=1e-6)
    assert more.eyring == one.eyring
    assert more.time == one.time


def test_of_two_elements_that_hear_a_talker_alike_the_first_is_used(
    scene_of: Callable[..., Scene], catalogue: Catalogue
) -> None:
    """Three capsules at 0°, 120° and 240°; seen from 180° the last two are alike, from 60° the
    first two. A source of noise beside one of them must not change sides with a rounding error."""
    head = catalogue.product("ceiling-head-3")
    rng = np.random.default_rng(4)
    for x, y in rng.uniform(2.0, 3.0, size=(8, 2)).tolist():
        east, north = 1.3 * math.cos(math.radians(60)), 1.3 * math.sin(math.radians(60))
        scene = scene_of(
            {
                "people": {
                    "seats": {
                        "s1": "absent",
                        "west": {"at": [x - 1.1, y], "facing": 0},
                        "northeast": {"at": [x + east, y + north], "facing": 0},
                    }
                }
            }
        )
        found = outbound.transfer(scene, head, np.array([[x, y, 2.7]]), np.array([0.0]))  # type: ignore[arg-type]
        assert found.element[:, 0].tolist() == [1, 0]
