"""How long the recording of a sweep takes until all is read off it, beside pyrato in one run.

From the root of the project: ``python -m benchmarks.bench_measurement``. An invented room of
0.5 s, a sweep of 10 s at 48 kHz with 3 s of silence, and noise. Times of one recording are those of
the processor, the best of many runs, and of a session those of the clock; it ends with 1 when a bar
is missed.
"""

from __future__ import annotations

import functools
import json
import sys
import tempfile
import time
import warnings
from collections.abc import Iterator
from pathlib import Path

import numpy as np

from benchmarks.report import Bar, Table, machine
from benchmarks.timing import best, milliseconds
from tests.oracle.echoes import played
from tests.oracle.recordings import noise_decay
from wellheard.arrays import Array
from wellheard.bands import OCTAVES, SPEECH_BANDS
from wellheard.measurement import audio, deconvolution
from wellheard.measurement.responses import analyse
from wellheard.measurement.results import ResponseResult
from wellheard.measurement.session import FILE, SweepSignal
from wellheard.measurement.signals import sweep
from wellheard.workflow.measuring import cores, measure_session

BAR = 0.1  # of one channel [s]
APART = 0.02  # that decay times may be from those of pyrato, from 500 Hz up
RECORDINGS, GAIN = 60, 0.7  # of a session; how much of each processor is gained
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


def write_session(folder: Path) -> None:
    """A session of sixty recordings, all of them alike."""
    heard = recording() * 0.5 / float(np.abs(recording()).max())
    sound = audio.wav_bytes(heard, RATE)
    recordings = {}
    for number in range(RECORDINGS):
        (folder / f"{number}.wav").write_bytes(sound)
        recordings[f"r-{number}"] = {"file": f"{number}.wav", "kind": "sweep"}
    form = {"wellheard_session": 1, "signal": SIGNAL.model_dump(), "recordings": recordings}
    (folder / FILE).write_text(json.dumps(form), "utf-8")


def whole_session() -> Bar:
    """Sixty recordings on all processors beside the same on one, by the clock."""
    took: dict[int, float] = {}
    told: list[str] = []
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        write_session(folder)
        for workers in (1, cores()):
            began = time.perf_counter()
            found = measure_session(folder, say=told.append, workers=workers)
            took[workers] = time.perf_counter() - began
            if len(found.taken) != RECORDINGS or len(told) != RECORDINGS:
                raise RuntimeError("a recording was lost, or not told of")
            told.clear()
    gained = took[1] / took[cores()]
    return Bar(
        f"a session of {RECORDINGS} such recordings, on {cores()} processors",
        f"≥ {GAIN * cores():.1f} times as fast as on one, each told of",
        f"{took[cores()]:.1f} s against {took[1]:.1f} s: {gained:.2f} times",
        gained >= GAIN * cores() or cores() == 1,
    )


def bars() -> Iterator[Bar]:
    """Of one sweep, and of a session."""
    yield measured()[0]
    yield whole_session()


def main() -> int:
    """Print the bars and the table; 1 when a bar is missed."""
    print(machine("not used"))
    bar, table = measured()
    session = whole_session()
    for one in (bar, session):
        print(f"{'holds ' if one.holds else 'MISSED'}  {one.name}")
        print(f"        {one.measured}; bar {one.asked}")
    for row in (table.head, *table.rows):
        print("".join(f"{cell:>34}" for cell in row))
    return int(not (bar.holds and session.holds))


if __name__ == "__main__":
    sys.exit(main())
