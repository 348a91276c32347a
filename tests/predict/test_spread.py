"""What a range is made of: parts by name that make the whole, each from its named constant."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import fields
from typing import Any

import numpy as np
import pytest

from wellheard.catalog.products import Microphone
from wellheard.predict import ledger, outbound, spread, tolerances
from wellheard.predict.outbound import Transfer
from wellheard.predict.scene import Scene
from wellheard.predict.spread import Part

OCTAVES = ("125", "250", "500", "1000", "2000", "4000", "8000")
HEADS = np.array([[2.7, 2.4, 2.7], [4.5, 1.2, 2.7], [1.0, 3.6, 2.2]])
SEATS = {"s1": {"at": [2, 2], "facing": [0, 90]}, "s2": {"at": [4.2, 3.1], "facing": 180}}
TIMES = dict(zip(OCTAVES, (0.8, 0.7, 0.6, 0.55, 0.5, 0.45, 0.4), strict=True))
MODEL = "the model itself"

ROOMS: dict[str, dict[str, Any]] = {
    "predicted": {},
    "measured": {"space": {"measured_reverberation": TIMES}},
    "loud": {"noise": {"background": {"nc": 45}}, "people": {"effort": "raised"}},
}


@pytest.fixture(scope="module", params=ROOMS)
def asked(request: pytest.FixtureRequest, scene_of: Callable[..., Scene]) -> tuple[Scene, Transfer]:
    over = ROOMS[request.param]
    scene = scene_of({**over, "people": {**over.get("people", {}), "seats": SEATS}})
    head = scene.catalogue.product("ceiling-head-3")
    assert isinstance(head, Microphone)
    return scene, outbound.transfer(scene, head, HEADS, np.zeros(3))


WHOLES = {
    "sti": "sti_sigma",
    "direct_to_reverberant_db": "direct_to_reverberant_sigma_db",
    "speech_to_noise_db": "speech_to_noise_sigma_db",
    "c50_db": "c50_sigma_db",
    "speech_level_db": "speech_level_sigma_db",
}


def test_the_squares_of_the_parts_add_up_to_that_of_the_whole(
    asked: tuple[Scene, Transfer],
) -> None:
    scene, paths = asked
    whole = spread.quantities(scene, paths, microphones=3)
    parts = spread.budget(scene, paths, microphones=3)
    assert set(WHOLES) == {field.name for field in fields(Part)}
    for name, sigma in WHOLES.items():
        squares = sum(np.square(getattr(part, name)) for part in parts.values())
        np.testing.assert_allclose(np.sqrt(squares), getattr(whole, sigma), rtol=0, atol=1e-9)


def test_every_cause_is_named_once(asked: tuple[Scene, Transfer]) -> None:
    scene, paths = asked
    decay = "measured decay" if scene.reverberation.measured else "absorption of the finishes"
    others = {
        "scattering of the surfaces",
        "turn and place of the talker",
        "vocal effort",
        "noise",
        MODEL,
    }
    assert set(spread.budget(scene, paths, microphones=3)) == {decay} | others


def test_each_cause_moves_what_it_can_and_nothing_else(asked: tuple[Scene, Transfer]) -> None:
    scene, paths = asked
    parts = spread.budget(scene, paths, microphones=3)
    for name in ("vocal effort", "noise"):
        assert np.all(parts[name].direct_to_reverberant_db == 0)
        assert np.all(parts[name].c50_db == 0)
    assert np.all(parts["noise"].speech_level_db == 0)
    assert np.all(parts[MODEL].speech_to_noise_db == 0)
    assert np.all(parts["turn and place of the talker"].direct_to_reverberant_db > 1.0)


def test_effort_and_noise_are_their_constants(asked: tuple[Scene, Transfer]) -> None:
    """3 dB between people, 2 dB of a background that was told (common practice [C])."""
    scene, paths = asked
    parts = spread.budget(scene, paths, microphones=3)
    assert parts["vocal effort"].speech_level_db == pytest.approx(3.0)
    assert parts["vocal effort"].speech_to_noise_db == pytest.approx(3.0)
    assert parts["noise"].speech_to_noise_db == pytest.approx(2.0)


def test_the_model_is_its_systematic_error_and_chance_from_place_to_place(
    asked: tuple[Scene, Transfer],
) -> None:
    """0.6 dB and .015 with a known decay; 4.34·√((12 + 6.9/T)/B) dB per octave and .007 by chance.

    Residuals of two measured rooms; chance of four octaves adds as a mean of independent ones.
    """
    scene, paths = asked
    part = spread.budget(scene, paths, microphones=3)[MODEL]
    mid = (501.19, 1000.0, 1995.26, 3981.07)  # IEC 61260-1, exact to base ten [L]
    each = [
        4.34 * math.sqrt((12 + 6.9 / t) / (0.707 * f))
        for t, f in zip(scene.time[2:6], mid, strict=True)
    ]
    chance = math.sqrt(sum(e * e for e in each)) / 4
    assert part.c50_db == pytest.approx(math.hypot(0.6, chance), rel=1e-4)
    assert part.sti == pytest.approx(math.hypot(0.015, 0.007))


@pytest.mark.parametrize(
    ("time", "by_hand"),
    [(0.5, 0.401), (1.0, 0.343), (2.0, 0.310)],
)
def test_chance_interference_by_hand(time: float, by_hand: float) -> None:
    """T 1 s at 1 kHz: B 707 Hz, 4.34·√(18.9/707) = 0.71 dB; 500 Hz 1.00, 2 and 4 kHz 0.50, 0.36.

    √(1.00² + 0.71² + 0.50² + 0.36²)/4 = 0.343 dB of the mean of the four.
    """
    found = tolerances.random_clarity_sigma_db(np.full(7, time))
    assert found == pytest.approx(by_hand, abs=0.002)


def test_scattering_adds_to_the_spread_of_what_is_not_measured(
    asked: tuple[Scene, Transfer],
) -> None:
    """Absorption and scattering are independent: σ² of ln T is the sum of both squares.

    Two ends of scattering, .1 and .5, are 10 and 90 % points: 2.563 σ apart.
    """
    scene, _ = asked
    decay = scene.reverberation
    blind = (0.5, 0.25, 0.2, 0.2, 0.2, 0.25, 0.5)
    if decay.measured:
        assert decay.log_sigma == pytest.approx((0.1, 0.06, 0.04, 0.04, 0.04, 0.04, 0.06))
        # The level is no surer than decay and finishes together, and no less than the decay.
        assert np.all(np.asarray(decay.level_log_sigma) > decay.log_sigma)
        assert np.all(decay.level_log_sigma < np.hypot(decay.log_sigma, blind))
        return
    for k in range(7):
        scattered = math.log(decay.smooth[k] / decay.rough[k]) / (2 * 1.2815516)
        assert decay.log_sigma[k] == pytest.approx(math.hypot(blind[k], scattered), rel=1e-6)


ORDINARY: dict[str, dict[str, Any]] = {
    "plasterboard": {},
    "one glass wall": {
        "space": {
            "finishes": {
                "walls": {
                    "south": "glass-front",
                    "east": "plasterboard",
                    "north": "plasterboard",
                    "west": "fabric-panel",
                }
            }
        }
    },
    "larger": {
        "space": {"outline": [[0, 0], [9, 0], [9, 6], [0, 6]], "height": 3.0},
        "furniture": {
            "table": {"kind": "table", "outline": [[2.5, 2.5], [6, 2.5], [6, 3.5], [2.5, 3.5]]}
        },
    },
}


@pytest.mark.parametrize("room", ORDINARY)
def test_rooms_that_scatter_little_and_much_lie_within_the_range(
    scene_of: Callable[..., Scene], room: str
) -> None:
    """Of ordinary rooms, whose scattering nobody knows: .1 and .5 about the .3 that is taken."""

    def ledger_at(scattering: float) -> Any:
        over = ORDINARY[room]
        devices = {"m1": {"kind": "microphone", "product": "ceiling-head-3", "at": [3, 2.6, 2.7]}}
        space = {**over.get("space", {}), "scattering": scattering}
        scene = scene_of({**over, "space": space, "devices": devices, "people": {"seats": SEATS}})
        return ledger.evidence(scene, assumptions=False).outbound

    for taken, smooth, rough in zip(ledger_at(0.3), ledger_at(0.1), ledger_at(0.5), strict=True):
        for other in (smooth, rough):
            for known, tried in zip(taken.quantities, other.quantities, strict=True):
                assert known.low <= tried.value <= known.high, known.name
