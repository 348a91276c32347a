"""The loop of several microphones and loudspeakers, against 10 lg NOM and loops worked by hand."""

from __future__ import annotations

import math

import numpy as np
import pytest

from wellheard.acoustics.mixing import Sharing
from wellheard.arrays import Array
from wellheard.predict.lift_loop import Loop, channels, verdict

CLOSED = 10 ** (-15 / 10)
"""Power gain of a gating mixer's closed channel, the middle of 12 to 20 dB: common practice [C]."""


def loop(room: Array, *, sharing: Sharing | None = "gating") -> Loop:
    """Reverberant ways alike in all octaves; without a mixer all microphones are open."""
    count = len(room)
    lifted = np.ones(count, dtype=np.bool_)
    return Loop(
        room=np.repeat(room[..., None], 7, axis=-1),
        ratio=np.zeros((*room.shape, 7)),
        time=np.full(7, 0.5),
        channels=np.ones((1, count)) if sharing is None else channels(lifted, sharing=sharing),
    )


# 10 lg NOM: 2, 4, 8, 16 open microphones, arithmetic by hand.
@pytest.mark.parametrize(("nom", "more_db"), [(2, 3.01), (4, 6.02), (8, 9.03), (16, 12.04)])
def test_open_microphones_add_ten_times_the_logarithm_of_their_number(
    nom: int, more_db: float
) -> None:
    one = verdict(loop(np.full((1, 1), 0.01)), np.ones((1, 1)))
    many = verdict(loop(np.full((nom, 1), 0.01), sharing=None), np.ones((1, nom)))
    assert one.loop_gain_db == pytest.approx(-20.0)
    assert many.loop_gain_db - one.loop_gain_db == pytest.approx(more_db, abs=0.005)
    assert many.margin_db == pytest.approx(one.margin_db - more_db, abs=0.005)


def test_a_gating_mixer_leaves_little_of_that_and_sharing_none() -> None:
    room = np.full((4, 1), 0.01)
    gating = verdict(loop(room), np.ones((1, 4)))
    shared = verdict(loop(room, sharing="gain-sharing"), np.ones((1, 4)))
    assert gating.loop_gain_db == pytest.approx(-20.0 + 10 * math.log10(1 + 3 * CLOSED))
    assert shared.loop_gain_db == pytest.approx(-20.0)


def test_the_same_mix_everywhere_adds_all_pairs() -> None:
    room = np.array([[0.02, 0.005], [0.01, 0.004], [0.03, 0.001]])
    found = verdict(loop(room, sharing=None), np.ones((2, 3)))
    assert found.loop_gain_db == pytest.approx(10 * math.log10(room.sum()))
    assert (found.microphone, found.loudspeaker) == (2, 0)


def test_two_zones_close_one_loop_through_both() -> None:
    # Each microphone is played by the other's loudspeaker and hears its own zone's: once round is
    # twice through the room, so that in the mean one turn has the geometric mean of both.
    room = np.array([[0.04, 0.001], [0.001, 0.01]])
    fed = np.array([[0.0, 1.0], [1.0, 0.0]])
    # Eigenvalues of [[a, b], [c, d]] by hand; microphone 0 open, the other held down.
    a, b, c, d = 0.001, 0.04 * CLOSED, 0.01, 0.001 * CLOSED
    largest = (a + d) / 2 + math.sqrt(((a - d) / 2) ** 2 + b * c)
    first = verdict(loop(room), fed)
    by_hand = 10 * math.log10(largest)
    a, b, c, d = 0.001 * CLOSED, 0.04, 0.01 * CLOSED, 0.001
    other = 10 * math.log10((a + d) / 2 + math.sqrt(((a - d) / 2) ** 2 + b * c))
    assert first.loop_gain_db == pytest.approx(max(by_hand, other))
    everywhere = verdict(loop(room), np.ones((2, 2)))
    assert everywhere.loop_gain_db > first.loop_gain_db + 8.0


def test_direct_sound_evens_the_response_out() -> None:
    room = np.full((1, 1), 0.01)
    lively = verdict(loop(room), np.ones((1, 1)))
    dry = verdict(
        Loop(
            room=np.full((1, 1, 7), 0.01),
            ratio=np.full((1, 1, 7), 100.0),
            time=np.full(7, 0.5),
            channels=np.ones((1, 1)),
        ),
        np.ones((1, 1)),
    )
    assert dry.loop_gain_db == pytest.approx(lively.loop_gain_db)
    assert dry.excess_db < 2.0 < 5.0 < lively.excess_db
