"""A sweep through a computed room, with noise, drift and clipping, measured blind.

What must come back is what was put in: the delay by the distance, the clock, the sign. Decay
times, clarity and index are those that pyrato 1.1.0 reads off the same room's clean response, the
index with filters of its own.
"""

from __future__ import annotations

import warnings
from dataclasses import dataclass

import numpy as np
import pytest

from tests.oracle.echoes import played
from tests.oracle.recordings import by_another_clock
from wellheard.acoustics.enclosure import box
from wellheard.acoustics.waveform import waveform
from wellheard.arrays import Array
from wellheard.bands import OCTAVES
from wellheard.measurement.deconvolution import deconvolve
from wellheard.measurement.faults import of_recording
from wellheard.measurement.filters import octave_bands
from wellheard.measurement.responses import analyse
from wellheard.measurement.results import Fault, ImpulseResponse, ResponseResult
from wellheard.measurement.session import SweepSignal
from wellheard.measurement.signals import sweep

RATE, SPEED = 48000.0, 343.0
SIGNAL = SweepSignal(seconds=4.0, silence=1.8, level_dbfs=-6.0)
PPM = 40.0
LEAD = 40  # samples of the clean response before the click, which its interpolation rings in
SOURCE, MICROPHONE = np.array([1.3, 2.1, 1.2]), np.array([4.6, 3.3, 1.7])
DISTANCE = float(np.linalg.norm(SOURCE - MICROPHONE))
ABSORPTION = np.array([0.18, 0.22, 0.28, 0.30, 0.32, 0.34, 0.38])
UNEVEN = np.array([0.6, 1.6, 0.8, 0.9, 1.1, 1.0])  # floor, ceiling, walls


@dataclass(frozen=True, eq=False)
class Measured:
    """What was recorded of a room, and what came out."""

    clean: Array
    faults: tuple[Fault, ...]
    response: ImpulseResponse
    result: ResponseResult


def stored(samples: Array, full: float) -> Array:
    """As an input of 16 bits stores it that is full at some value."""
    clipped = np.clip(samples / full, -1.0, 1.0 - 2.0**-15)
    return np.round(clipped * 2.0**15) / 2.0**15


@pytest.fixture(scope="module")
def measured() -> Measured:
    room = box((6.0, 5.0, 3.0), absorption=np.outer(UNEVEN, ABSORPTION))
    heard = waveform(room, SOURCE, MICROPHONE, order=30, rate=RATE, speed=SPEED)
    sent = np.pad(sweep(SIGNAL), (12000, 4000))
    rng = np.random.default_rng(8)
    acoustic = played(sent, heard.samples)
    acoustic += 10.0 ** (-55.0 / 20.0) * acoustic.std() * rng.standard_normal(len(acoustic))
    electric = np.roll(sent, heard.lead)  # the interface is so late, on both channels
    recorded = by_another_clock(acoustic, PPM)
    looped = by_another_clock(electric, PPM)
    samples = stored(recorded, 0.9 * np.abs(recorded).max())
    response = deconvolve(samples, SIGNAL, RATE, played=stored(looped, 1.0))
    return Measured(
        heard.samples[heard.lead - LEAD :],
        of_recording(samples, RATE, bits=16),
        response,
        analyse(response),
    )


def test_clipping_and_drift_are_named(measured: Measured) -> None:
    assert "clipping" in {fault.code for fault in measured.faults}
    assert measured.response.drift_ppm == pytest.approx(PPM, abs=3.0)
    # a bare box decays along its axes at last: that is so, and said
    assert {fault.code for fault in measured.result.faults} == {"drift", "curved-decay"}


def test_delay_and_polarity_come_back(measured: Measured) -> None:
    came = measured.result.arrival
    assert came.delay == pytest.approx(DISTANCE / SPEED, abs=4 / RATE)
    assert came.distance(SPEED) == pytest.approx(DISTANCE, abs=0.03)
    assert came.polarity == 1


def test_decay_times_clarity_and_index_come_back(measured: Measured) -> None:
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        import pyfar
        from pyrato import edc, parameters

        before, lasting = round(0.05 * RATE), round(2.0 * RATE)
        whole = np.pad(measured.clean, (before, lasting))[: before + lasting]
        start = before + round(DISTANCE / SPEED * RATE) + LEAD
        curves = edc.schroeder_integration(pyfar.Signal(octave_bands(whole, RATE), RATE))
        curves.time = curves.time / curves.time[:, :1]
        t20 = parameters.reverberation_time_linear_regression(curves, "T20")
        late = curves.time[:, start + round(0.05 * RATE)]  # by definition, all before is early
        heard = pyfar.Signal(whole[start - 4 :], RATE)
        index = parameters.speech_transmission_index_indirect(heard, "electrical")
    c50_db = 10.0 * np.log10(1.0 / late - 1.0)
    for k, decay in enumerate(measured.result.decays):
        precise = OCTAVES[k] >= 500.0
        assert decay.t20 == pytest.approx(t20[k], rel=0.02 if precise else 0.05), decay.octave
        assert decay.c50_db == pytest.approx(c50_db[k], abs=0.1), decay.octave
    assert measured.result.sti == pytest.approx(float(np.squeeze(index)), abs=0.005)


def test_the_gain_of_the_path_comes_back(measured: Measured) -> None:
    # power of the clean response between the octave's edges, by its own spectrum; the input was
    # full at some value, so what is compared is how octaves lie to each other
    spectrum = np.square(np.abs(np.fft.rfft(measured.clean)))
    frequency = np.fft.rfftfreq(len(measured.clean), 1.0 / RATE)
    edges = np.array([(f / np.sqrt(2.0), f * np.sqrt(2.0)) for f in OCTAVES[2:]])
    inside = [(frequency > low) & (frequency < high) for low, high in edges]
    levels_db = np.array([10.0 * np.log10(spectrum[part].mean()) for part in inside])
    difference_db = np.array(measured.result.gain_db[2:]) - levels_db
    np.testing.assert_allclose(difference_db, difference_db.mean(), atol=0.3)
