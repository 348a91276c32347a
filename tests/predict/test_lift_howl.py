"""Where a lift in an ordinary room howls when it is run in time, against its margin.

The room's response is made of pressure image sources, the loop is closed block by block, and its
gain is raised until it grows. Nothing of that is used by the prediction, which knows mean energies
of octaves and how high peaks stand over them. Rooms are invented.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from tests.acoustics.test_howl import RATE, onset_db
from wellheard.acoustics.waveform import waveform
from wellheard.arrays import Array
from wellheard.predict import ledger
from wellheard.predict.coupling import coupling
from wellheard.predict.lift import lift
from wellheard.predict.scene import Scene
from wellheard.predict.wayback import Lift, Playback

ALOUD, LIFTED_DB = 66.0, -12.0

# Livelier at 1 and 2 kHz than elsewhere, so that the loop howls within what 8 kHz of rate holds.
SOFT = {"absorption": {125: 0.8, 250: 0.8, 500: 0.6, 1000: 0.25, 2000: 0.3, 4000: 0.8, 8000: 0.9}}
PLACES = [
    ([1.3, 1.1, 1.0], [4.4, 3.1, 2.2]),
    ([2.2, 3.2, 0.9], [5.1, 0.8, 1.7]),
    ([4.7, 3.6, 1.9], [0.9, 1.9, 1.4]),
    ([3.1, 0.9, 2.1], [2.4, 3.7, 0.8]),
    ([5.3, 2.4, 1.2], [1.7, 3.3, 2.0]),
    ([1.0, 3.4, 1.6], [3.9, 1.2, 1.1]),
]


@pytest.fixture(scope="module")
def lively(bare_of: Callable[..., Scene]) -> Callable[[list[float], list[float]], Scene]:
    """Give the function that makes a bare room with even loudspeakers, by two places in it."""

    def made(microphone: list[float], loudspeaker: list[float]) -> Scene:
        scene = bare_of(
            {
                "space": {
                    "scattering": 0.0,
                    "finishes": {"floor": SOFT, "ceiling": SOFT, "walls": SOFT},
                },
                "people": {"seats": {"s2": {"at": [4.2, 2.6], "facing": 180}}},
                "devices": {
                    "m1": {"kind": "microphone", "product": "omni-reference", "at": microphone},
                    "l1": {"kind": "loudspeaker", "product": "wall-8", "at": loudspeaker},
                },
                "processing": {
                    "lift": {
                        "kind": "lift",
                        "on": "l1.in",
                        "sources": ["m1.link"],
                        "gain_db": LIFTED_DB,
                    }
                },
            }
        )
        even = tuple(
            replace(one, angle_deg=360.0, polar=None, drops=())
            for one in scene.catalogue.loudspeakers
        )
        return replace(scene, catalogue=replace(scene.catalogue, loudspeakers=even))

    return made


def predicted(scene: Scene, playback: Playback) -> tuple[Lift, float]:
    """The lift, and the level at the capsule that lies at working level."""
    found = ledger.evidence(scene, assumptions=False)
    answer = lift(scene, found.microphones, found.outbound, found.paths, playback)
    assert answer is not None
    (coupled,) = coupling(scene, found.microphones, found.outbound, playback).microphones
    return answer, coupled.working_dba


def once_round(scene: Scene, microphone: Any, loudspeaker: Any, working_dba: float) -> Array:
    """Impulse response from loudspeaker to microphone, in units of what the lift sends."""
    heard = waveform(
        scene.propagation.enclosure,
        np.array(loudspeaker),
        np.array(microphone),
        order=34,
        rate=RATE,
        speed=scene.propagation.speed,
        air=scene.propagation.air,
    )
    return np.asarray(heard.samples * 10 ** ((ALOUD + LIFTED_DB - working_dba) / 20))


def test_margin_is_where_a_loop_in_time_howls_on_average(
    lively: Callable[[list[float], list[float]], Scene],
    playback_at: Callable[[Scene, float], Playback],
) -> None:
    off_db = []
    for microphone, loudspeaker in PLACES:
        scene = lively(microphone, loudspeaker)
        found, working_dba = predicted(scene, playback_at(scene, ALOUD))
        assert found.octave in (1000.0, 2000.0)
        onset = onset_db(once_round(scene, microphone, loudspeaker, working_dba))
        off_db.append(onset - found.margin_db)
    assert abs(float(np.mean(off_db))) < 1.0, off_db
    assert max(map(abs, off_db)) < 4.0, off_db
