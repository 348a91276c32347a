"""How long the recording of a sweep takes until all is read off it, beside pyrato in one run.

From the root of the project: ``python -m benchmarks.bench_measurement``. An invented room of
0.5 s, a sweep of 10 s at 48 kHz with 3 s of silence, and noise. Times are those of the processor,
the best of many runs; it ends with 1 when a bar is missed.
"""

from __future__ import annotations

import functools
import sys
import warnings
from collections.abc import Iterator

import numpy as np

from benchmarks.report import Bar, Table, machine
from benchmarks.timing import best, milliseconds
from tests.oracle.echoes import played
from tests.oracle.recordings import noise_decay
from wellheard.arrays import Array
from wellheard.bands import OCTAVES, SPEECH_BANDS
from wellheard.measurement import deconvolution
from wellheard.measurement.responses import analyse
from wellheard.measurement.results import ResponseResult
from wellheard.measurement.session import SweepSignal
from wellheard.measurement.signals import sweep

BAR = 0.1  # of one channel [s]
APART = 0.02  # that decay times may be from those of pyrato, from 500 Hz up
RATE, TIME, FLOOR_DB = 48000.0, 0.5, -55.0
SIGNAL = SweepSignal(seconds=10.0, silence=3.0, rate=RATE)


@functools.cache
def recording() -> Array:
    """What a microphone gives of the sweep in the room."""
    response = noise_decay(1, TIME, rate=RATE, lasting=1.5, floor_db=-120.0)
    heard = played(np.pad(sweep(SIGNAL), 4800), response)
    noise = np.random.default_rng(2).standard_normal(len(heard))
    level = 10.0 ** (FLOOR_DB / 20.0) * float(heard.std())
    return heard + level * noise


def read() -> ResponseResult:
    """All that the recording says."""
    return analyse(deconvolution.deconvolve(recording(), SIGNAL, RATE))


def read_first() -> ResponseResult:
    """The same for the first recording of a signal, whose inverse is not there yet."""
    deconvolution._inverse.cache_clear()
    return read()


def read_by_pyrato() -> tuple[Array, float]:
    """T30 by octave and the index, of the same recording, by pyfar and pyrato."""
    import pyfar
    from pyrato import edc, parameters

    reference = pyfar.Signal(np.pad(sweep(SIGNAL), 4800), RATE)
    inverse = pyfar.dsp.regularized_spectrum_inversion(reference, (63.0, 15800.0))
    whole = pyfar.Signal(recording(), RATE) * inverse
    ends = (2.9, 3.0)
    response = pyfar.dsp.time_window(whole, ends, "hann", "right", unit="s", crop="end")
    bands = pyfar.dsp.filter.fractional_octave_bands(response, 1, frequency_range=(125, 8000))
    curves = edc.energy_decay_curve_chu_lundeby(
        bands, smoothing_parameter=np.array(OCTAVES)[:, None], channel_independent=True
    )
    for name in ("EDT", "T20"):
        parameters.reverberation_time_linear_regression(curves, name)
    parameters.clarity(curves, 50)
    t30 = parameters.reverberation_time_linear_regression(curves, "T30").ravel()
    index = parameters.speech_transmission_index_indirect(response, "electrical")
    return t30, float(np.squeeze(index))


def apart(theirs: Array) -> float:
    """Largest difference of T30 from 500 Hz to 4 kHz, as a ratio."""
    ours = [decay.t30 or np.inf for decay in read().decays]
    return float(np.abs(np.array(ours) / theirs - 1.0)[SPEECH_BANDS].max())


def measured() -> tuple[Bar, Table]:
    """The bar, and the times beside pyrato's."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # of pyrato and of what it imports
        their_t30, their_index = read_by_pyrato()
        theirs = best(read_by_pyrato)
    took, first, off = best(read), best(read_first), apart(their_t30)
    our_index = f"{read().sti:.3f}"
    bar = Bar(
        "a sweep of 10 s at 48 kHz: response, decays, clarity, modulation, index, by octave",
        f"≤ {milliseconds(BAR)} a channel, T30 within {APART:.0%} of pyrato's from 500 Hz",
        f"{milliseconds(took)}, {off:.1%}",
        took <= BAR and off <= APART,
    )
    rows = (
        ("each further recording", milliseconds(took), our_index),
        ("the first of a signal", milliseconds(first), our_index),
        ("pyfar and pyrato", milliseconds(theirs), f"{their_index:.3f}"),
    )
    return bar, Table("A recorded sweep, read", ("by", "time", "STI"), rows)


def bars() -> Iterator[Bar]:
    """The bar of reading sweeps."""
    yield measured()[0]


def main() -> int:
    """Print the bar and the table; 1 when the bar is missed."""
    print(machine("not used"))
    bar, table = measured()
    print(f"{'holds ' if bar.holds else 'MISSED'}  {bar.name}")
    print(f"        {bar.measured}; bar {bar.asked}")
    for row in (table.head, *table.rows):
        print("".join(f"{cell:>34}" for cell in row))
    return int(not bar.holds)


if __name__ == "__main__":
    sys.exit(main())
