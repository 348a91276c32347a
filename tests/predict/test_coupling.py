"""How loudly microphones hear loudspeakers, against the inverse square law and a diffuse field."""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import Any

import numpy as np
import pytest

from wellheard.acoustics.levels import a_weighted_level_db
from wellheard.predict import ledger
from wellheard.predict.coupling import Coupled, coupling
from wellheard.predict.loudspeakers import radiated
from wellheard.predict.scene import Scene
from wellheard.predict.wayback import Playback

Levels = Callable[[Scene, float], Playback]
Rooms = Callable[[dict[str, Any]], Scene]

OMNI = {"kind": "microphone", "product": "omni-reference"}
BOX = {"kind": "loudspeaker", "product": "wall-8"}
NORMAL_DBA = 59.47
"""Normal effort at 1 m, ANSI S3.5-1997 octaves with 49 dB at 125 Hz, A-weighted by hand [L]."""

PLACES: dict[str, Any] = {
    "people": {"seats": {"s1": {"at": [6, 8], "facing": 0}}},
    "devices": {"m1": {**OMNI, "at": [8, 8, 1.2]}, "l1": {**BOX, "at": [10.4, 8, 1.2]}},
}


def _only(scene: Scene, playback: Playback, microphone: str = "m1") -> Coupled:
    found = ledger.evidence(scene, assumptions=False)
    return coupling(scene, found.microphones, found.outbound, playback).of(microphone)


def _laid(**over: Any) -> dict[str, Any]:
    return {**PLACES, **over}


def test_a_pair_in_the_free_field_is_the_worked_example(
    dead_room_of: Rooms, playback_at: Levels
) -> None:
    """Loudspeaker 70 dBA at 1.5 m, microphone 2.4 m from it: 65.9; talker 60 dBA, 2 m: 54.0.

    By hand: 70 − 20 lg(2.4/1.5) = 65.9, 60 − 20 lg 2 = 54.0; the echo is 11.9 dB louder [L].
    """
    scene = dead_room_of(_laid())
    found = _only(scene, playback_at(scene, 70.0 + 20 * math.log10(1.5)))
    assert float(a_weighted_level_db(found.echo_db[0, 0])) == pytest.approx(65.9, abs=0.1)
    assert found.speech_dba[0] == pytest.approx(54.0 + NORMAL_DBA - 60.0, abs=0.1)
    assert found.gains_db[0, 0, 3] == pytest.approx(11.9 + 60.0 - NORMAL_DBA, abs=0.1)
    assert found.arrival[0, 0] == pytest.approx(2.4)


def test_the_a_weighted_return_loss_is_speech_minus_echo_at_the_capsule(
    dead_room_of: Rooms, playback_at: Levels
) -> None:
    scene = dead_room_of(_laid())
    playback = playback_at(scene, 68.0)
    found = _only(scene, playback)
    echo_dba = float(a_weighted_level_db(found.echo_db[0, 0]))
    at_zero_dba = np.asarray(playback.speech_1m_db) - 68.0
    loss = -float(a_weighted_level_db(at_zero_dba + found.gain_bands_db[0]))
    assert loss == pytest.approx(float(found.speech_dba[0]) - echo_dba)


def test_two_equally_far_loudspeakers_return_three_decibels_more(
    dead_room_of: Rooms, playback_at: Levels
) -> None:
    two = {**PLACES["devices"], "l2": {**BOX, "at": [8, 10.4, 1.2]}}
    scene = dead_room_of(_laid(devices=two))
    found = _only(scene, playback_at(scene, 70.0))
    assert found.gain_bands_db - found.gains_db[:, 0] == pytest.approx(10 * math.log10(2), abs=0.1)


@pytest.mark.parametrize(("on", "kind", "by_db"), [("l1.in", "gain", 6.0), ("l1.in", "volume", -4)])
def test_a_trim_of_a_loudspeaker_moves_its_return_gain(
    on: str, kind: str, by_db: float, dead_room_of: Rooms, playback_at: Levels
) -> None:
    stage = {"trim": {"kind": kind, "on": on, "gain_db": by_db}}
    plain, trimmed = dead_room_of(_laid()), dead_room_of(_laid(processing=stage))
    moved = _only(trimmed, playback_at(trimmed, 70.0)).gains_db
    assert moved - _only(plain, playback_at(plain, 70.0)).gains_db == pytest.approx(by_db)


def test_the_gain_is_set_for_the_mean_talker_that_is_served(
    dead_room_of: Rooms, playback_at: Levels
) -> None:
    """Talkers at 1 and 4 m: 0 and −12.04 dB re 1 m, whose mean is −6.02 dB."""
    seats = {"s1": {"at": [7, 8], "facing": 0}, "s2": {"at": [4, 8], "facing": 0}}
    scene = dead_room_of(_laid(people={"seats": seats}))
    found = _only(scene, playback_at(scene, 70.0))
    assert found.talkers == ("s1", "s2")
    assert found.working_dba == pytest.approx(NORMAL_DBA - 6.02, abs=0.1)


def test_a_microphone_that_serves_nobody_is_set_for_everybody(
    dead_room_of: Rooms, playback_at: Levels
) -> None:
    devices = {**PLACES["devices"], "m2": {**OMNI, "at": [8, 12, 1.2]}}
    scene = dead_room_of(_laid(devices=devices))
    found = _only(scene, playback_at(scene, 70.0), "m2")
    assert not found.serves
    assert found.talkers == ("s1",)
    assert found.working_dba == pytest.approx(NORMAL_DBA - 10 * math.log10(20), abs=0.1)


def test_in_a_reverberant_room_the_return_is_that_of_a_diffuse_field(
    oracle: Any, scene_of: Callable[..., Scene], playback_at: Levels
) -> None:
    """16π/A of a diffuse field, A from the decay (Kuttruff, with Barron's term)."""
    hard = {"absorption": dict.fromkeys((125, 250, 500, 1000, 2000, 4000, 8000), 0.08)}
    scene = scene_of(
        {
            "space": {
                "scattering": 0.5,
                "finishes": dict.fromkeys(("floor", "ceiling"), hard) | {"walls": hard},
            },
            "people": {"directivity": "omni"},
            "devices": {"m1": {**OMNI, "at": [1, 1, 1.2]}, "l1": {**BOX, "at": [5.5, 4, 1.2]}},
        }
    )
    playback = playback_at(scene, 70.0)
    found = _only(scene, playback)
    one = playback.loudspeakers[0]
    taken = 10 * np.log10(radiated(one.product, one.flush)[1])
    whole = oracle.diffuse(
        math.dist((1, 1), (5.5, 4)), time=list(scene.reverberation.time), volume=6 * 4.5 * 2.7
    )
    expected = np.asarray(playback.speech_1m_db) + 10 * np.log10(whole) + taken
    heard = found.echo_db[0, 0] - 10 * np.log10(1 + found.direct_ratio[0, 0])
    assert heard[1:6] == pytest.approx(expected[1:6], abs=1.5)


def test_a_bar_hears_its_own_loudspeaker_as_its_sheet_rates_it(
    dead_room_of: Rooms, playback_at: Levels
) -> None:
    """Rated −14 dB re its level at 1 m; 70 dBA at 1 m are 56 dBA at its own microphone."""
    bar = {"bar": {"kind": "combined", "product": "front-bar", "at": [8, 0.1, 1.2]}}
    scene = dead_room_of(
        {"people": {"seats": {"s1": {"at": [8, 3], "facing": 270}}}, "devices": bar}
    )
    found = _only(scene, playback_at(scene, 70.0), "bar")
    assert float(a_weighted_level_db(found.echo_db[0, 0])) == pytest.approx(56.0, abs=0.1)
