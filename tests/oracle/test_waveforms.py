"""Pressure image sources against those of a second simulator, response by response."""

from __future__ import annotations

import numpy as np
import pytest

from tests.oracle import simulator
from wellheard.acoustics.enclosure import box
from wellheard.acoustics.waveform import waveform
from wellheard.arrays import Array

SIZE = (6.0, 8.0, 3.0)
ORDER = 17


def difference_db(ours: Array, theirs: Array) -> float:
    count = min(len(ours), len(theirs))
    error = np.square(ours[:count] - theirs[:count]).sum()
    return float(10.0 * np.log10(error / np.square(theirs).sum()))


# Its fractional delays come from a table in twentieths of a sample and its times are in single
# precision: that is the difference that remains.
@pytest.mark.parametrize(("rate", "bar_db"), [(16000, -58.0), (48000, -55.0)])
def test_octave_responses_are_those_of_the_simulator(rate: int, bar_db: float) -> None:
    rng = np.random.default_rng(5)
    absorption = rng.uniform(0.05, 0.5, (6, 7))
    if rate == 16000:  # it cuts the octave at 8 kHz in two with a filter of no width
        absorption[:, 6] = absorption[:, 5]
    room = box(SIZE, absorption=absorption)
    source = np.array([1.3, 2.1, 1.2])
    receivers = rng.uniform([0.4, 0.4, 0.4], [5.6, 7.6, 2.6], (3, 3))
    theirs = simulator.waveforms(room, source, receivers, order=ORDER, rate=rate)
    for receiver, response in zip(receivers, theirs, strict=True):
        ours = waveform(
            room, source, receiver, order=ORDER, rate=float(rate), speed=simulator.SPEED
        )
        late = ours.samples[ours.lead - simulator.LATE :]
        assert difference_db(late, response) <= bar_db


def test_each_surface_goes_where_the_simulator_has_it() -> None:
    # one soft surface at a time, up to the fourth order
    source, receiver = np.array([1.3, 2.1, 1.2]), np.array([4.9, 6.3, 2.2])
    for surface in range(6):
        absorption = np.full((6, 7), 0.1)
        absorption[surface] = 0.8
        room = box(SIZE, absorption=absorption)
        (theirs,) = simulator.waveforms(room, source, receiver, order=4, rate=16000)
        ours = waveform(room, source, receiver, order=4, rate=16000.0, speed=simulator.SPEED)
        late = ours.samples[ours.lead - simulator.LATE :]
        assert difference_db(late, theirs) <= -55.0
