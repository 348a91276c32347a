"""When sounds of several loudspeakers arrive, and what becomes of what they say together.

References: full method of IEC 60268-16:2020 [L]; law of the first wavefront [C]. Rooms and
devices are invented.
"""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np
import pytest

from tests.predict.test_inbound import MODULATIONS, SceneOf, loudspeaker
from wellheard.catalog.catalogue import Catalogue
from wellheard.predict import inbound, listening
from wellheard.predict.inbound import playback
from wellheard.predict.loudspeakers import Played, placed_loudspeakers
from wellheard.predict.scene import build
from wellheard.predict.wayback import Arrival
from wellheard.room.document import Room


def exponential(split: float, *, time: float, lag: float) -> tuple[float, float]:
    """Energy of a decay that starts at ``lag``, before and after ``split``, by a sum."""
    step = 1e-5
    at = np.arange(0.0, 3.0, step)
    decays = 13.8155 / time * np.exp(-13.8155 * at / time) * step
    return float(decays[at + lag < split].sum()), float(decays[at + lag >= split].sum())


@pytest.mark.parametrize("lag", [0.0, 0.012, 0.031, 0.070])
def test_clarity_of_two_decays_is_that_of_their_sum(lag: float, bare_of: SceneOf) -> None:
    # Two loudspeakers, each a direct sound 0.4 and a decay 0.6 (T 0.5 s), the second later by lag.
    scene = bare_of({"devices": {"a": loudspeaker(1, 1, 1.2), "b": loudspeaker(1, 3, 1.2)}})
    placed = placed_loudspeakers(scene.room, scene.catalogue, scene.talkers)
    early, late = exponential(0.05, time=0.5, lag=0.0)
    whole = np.ones((2, 1, 7))
    heard = Played(
        distance=np.full((2, 1), 2.0),
        direct=0.4 * whole,
        early=0.6 * early * whole,
        late=0.6 * late * whole,
        modulation=np.zeros((2, 1, 14, 7), np.complex64),
        screened=np.zeros((2, 1), dtype=np.bool_),
    )
    later = np.array([0.0, lag])
    found = listening.clarity_db(listening.together(scene, placed, heard, delay=later))
    before, after = exponential(0.05, time=0.5, lag=lag)
    direct = 0.4 if lag < 0.05 else 0.0
    wanted = 10 * math.log10(
        (0.4 + 0.6 * early + direct + 0.6 * before) / (0.6 * late + 0.6 * after + 0.4 - direct)
    )
    np.testing.assert_allclose(found, wanted, atol=0.02)


def arrival(name: str, time: float, level_dba: float) -> Arrival:
    return Arrival(name, 1.0, time, level_dba, level_dba)


@pytest.mark.practice
@pytest.mark.parametrize(
    ("louder_db", "source"), [(0.0, "first"), (6.0, "first"), (9.9, "first"), (10.5, "later")]
)
def test_the_voice_comes_from_the_first_unless_another_is_far_louder(
    louder_db: float, source: str
) -> None:
    # law of the first wavefront: a reflection may be 10 dB louder and is not heard as a source
    both = [arrival("first", 0.005, 60.0), arrival("later", 0.020, 60.0 + louder_db)]
    assert inbound.heard_from(both) == source


def synthetic(direct: list[float], late: list[float], delay: float) -> Played:
    """Two loudspeakers: direct sounds, and single reflections ``delay`` after each [s]."""
    turn = np.exp(-2j * np.pi * np.array(MODULATIONS) * delay)[:, None] * np.ones(7)
    energies = np.array(late)[:, None, None] * np.ones((2, 1, 7))
    return Played(
        distance=np.full((2, 1), 2.0),
        direct=np.array(direct)[:, None, None] * np.ones((2, 1, 7)),
        early=np.zeros((2, 1, 7)),
        late=energies,
        modulation=(energies[:, :, None, :] * turn).astype(np.complex64),
        screened=np.zeros((2, 1), dtype=np.bool_),
    )


def test_reflections_of_a_later_loudspeaker_come_after_its_own_delay(bare_of: SceneOf) -> None:
    # 1 at once; 0.8 reflected 80 ms after a loudspeaker that is 30 ms late: 110 ms.
    scene = bare_of({"devices": {"a": loudspeaker(1, 1, 1.2), "b": loudspeaker(1, 3, 1.2)}})
    both = placed_loudspeakers(scene.room, scene.catalogue, scene.talkers)
    heard = listening.together(
        scene,
        both,
        synthetic([1.0, 1e-9], [1e-9, 0.8], 0.080),
        delay=np.array([0.0, 0.030]),
    )
    loud = np.full((1, 7), 80.0)
    found = listening.middle(heard, speech_1m_db=loud[0], noise_db=loud - 80.0)
    wanted = [abs(1 + 0.8 * np.exp(-2j * np.pi * rate * 0.110)) / 1.8 for rate in MODULATIONS]
    kept = np.abs(heard.modulation[0, :, 3]) / heard.total[0, 3]
    np.testing.assert_allclose(kept, wanted, atol=1e-5)
    assert found.modulation_transfer_index.shape == (1, 7)


def test_delays_on_the_way_to_a_loudspeaker_count_wherever_they_are(
    room_of: Callable[..., Room], catalogue: Catalogue
) -> None:
    # 20 ms on the output that feeds b, nothing on a's: b comes 20 ms later from the same distance
    devices = {
        "a": loudspeaker(1.0, 2.0, 1.2, product="wall-5-active"),
        "b": loudspeaker(3.0, 2.0, 1.2, product="wall-5-active"),
        "mixer": {"kind": "processor", "product": "processor-12", "at": [5.5, 4.0, 0.5]},
    }
    links = {
        "k1": {"from": "mixer.line-out-1", "to": "a.in"},
        "k2": {"from": "mixer.line-out-2", "to": "b.in"},
    }
    stage = {"hold": {"kind": "delay", "on": "mixer.line-out-2", "delay_ms": 20.0}}
    room = room_of({"devices": devices, "links": links, "processing": stage})
    found = playback(build(room, catalogue))
    assert found is not None
    first, second = found.row("s1").arrivals  # s1 sits at (2, 2), between them
    assert (first.loudspeaker, second.loudspeaker) == ("a", "b")
    assert second.time - first.time == pytest.approx(0.020, abs=1e-6)


def test_a_delay_that_is_switched_off_delays_nothing(bare_of: SceneOf) -> None:
    off = {"kind": "delay", "on": "l1.in", "delay_ms": 30, "bypassed": True}
    scene = bare_of({"devices": {"l1": loudspeaker(4, 2, 1.2)}, "processing": {"d": off}})
    (one,) = placed_loudspeakers(scene.room, scene.catalogue, scene.talkers)
    assert one.delay == 0.0


def test_a_sound_arrives_when_the_delays_of_its_way_say(bare_of: SceneOf) -> None:
    """Two at one place, one of them over the network: 3 ms of its sheet and a hop of 1 ms more.

    A hop of networked audio takes 0.25 to 5 ms, 1 ms is common practice, no source [C].
    """
    scene = bare_of(
        {
            "equipment": {"rack": {"kind": "rack", "at": [5.5, 4, 0.5]}},
            "devices": {
                "p": {"kind": "processor", "product": "processor-4", "equipment": "rack"},
                "a": {"kind": "amplifier", "product": "amplifier-2x40", "equipment": "rack"},
                "l1": loudspeaker(3, 2, 2.7, product="ceiling-6"),
                "l2": loudspeaker(3, 2, 2.7, product="ceiling-6-network"),
            },
        }
    )
    found = playback(scene)
    assert found is not None
    first, second = found.rows[0].arrivals
    assert (first.loudspeaker, second.loudspeaker) == ("l1", "l2")
    assert second.time - first.time == pytest.approx(0.004, abs=1e-9)
