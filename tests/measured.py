"""A session for the layout of charts and pages: every figure is invented and measures nothing."""

from __future__ import annotations

import math
from pathlib import Path

from wellheard.acoustics.modulation import transfer_exponential
from wellheard.bands import OCTAVES
from wellheard.measurement.results import (
    Arrival,
    Calibration,
    CancellerResult,
    Decay,
    EchoLoss,
    Fault,
    NoiseResult,
    ResponseResult,
    SpatialMean,
)
from wellheard.measurement.session import Session, SessionFolder, parse_session
from wellheard.measurement.taken import SessionResults, Taken
from wellheard.predict.evidence import Quantity
from wellheard.proving.verdict import (
    Compared,
    DecayCompared,
    NoiseCompared,
    Verdict,
    word_of,
)

TIMES = (0.66, 0.57, 0.52, 0.49, 0.46, 0.43, 0.35)
PREDICTED = (0.62, 0.55, 0.48, 0.46, 0.45, 0.42, 0.36)
SPECTRUM = {63.0: 52.0, 125.0: 44.0, 250.0: 39.5, 500.0: 33.0, 1000.0: 29.0, 2000.0: 25.0}
SPECTRUM |= {4000.0: 21.0, 8000.0: 18.0}


def decay(octave: float, time: float, range_db: float = 52.0) -> Decay:
    """One that falls straight to its noise, by the definition of the decay time: 60 dB in it."""
    knee = time * range_db / 60.0
    steps = [0.02 * k for k in range(45)]
    curve = tuple(
        (t, round(10 * math.log10(10 ** (-6 * t / time) + 10 ** (-range_db / 10)), 2))
        for t in steps
    )
    enough = range_db >= 45.0
    return Decay(
        octave=octave,
        edt=0.97 * time,
        t20=time if range_db >= 35.0 else None,
        t30=1.01 * time if enough else None,
        range_db=range_db,
        curvature_percent=1.0 if enough else None,
        nonlinearity_permille=2.0,
        knee=knee,
        c50_db=9.0,
        d50=0.89,
        why_not="" if enough else "the range is 30 dB, and T20 needs 35",
        curve=curve,
    )


def response(shift: float, faults: tuple[Fault, ...] = ()) -> ResponseResult:
    times = [t * (1 + shift) for t in TIMES]
    return ResponseResult(
        decays=tuple(
            decay(f, t, 30.0 if f == 125.0 else 50.0 + 10 * shift)
            for f, t in zip(OCTAVES, times, strict=True)
        ),
        modulation=tuple(
            tuple(float(m) for m in row) for row in transfer_exponential([0.8 * t for t in times])
        ),
        sti=0.71 - shift,
        arrival=Arrival(0.0041, 0.0041, 1),
        gain_db=(-38.0,) * 7,
        direct_gain_db=(-41.0,) * 7,
        faults=faults,
    )


def noise(shift: float, *, calibrated: bool = True) -> NoiseResult:
    levels = {f: level + shift for f, level in SPECTRUM.items()}
    return NoiseResult(
        levels_db=levels,
        calibrated=calibrated,
        dba=35.6 + shift,
        dbc=50.1 + shift,
        nc=29.0 + shift if calibrated else None,
        nc_governing=250.0 if calibrated else None,
        nc_label=f"NC-{29 + shift:.0f}" if calibrated else "",
        rc_label="RC-27(R)" if calibrated else "",
        seconds=20.0,
        spread_db=0.8,
        sigma_db=0.9,
    )


HUM = Fault(
    "hum",
    "warning",
    "A hum of 50 Hz and its multiples stands 18 dB over the noise beside it.",
    "Lift the earth of one side through an isolating transformer, then record again.",
)
CLIPPED = Fault(
    "clipping",
    "error",
    "412 samples in 31 places are at full scale.",
    "Turn the input down by 12 dB and record again.",
)

YAML = """\
wellheard_session: 1
title: Tide Room, first session
date: 2026-03-02
by: R. Curlew
room: 0123456789abcdef
occupancy: 0
climate: {temperature_c: 20.5, humidity: 0.41}
source: {directivity: human, dba_at_1m: 68}
calibration:
  desk: {file: cal.wav, after: cal-after.wav, level_db: 94}
instruments:
  - {name: Measuring microphone, serial: "1187", calibrated: "2025-11-03"}
  - {name: Calibrator, serial: "220", calibrated: "2025-11-03"}
  - {name: Small loudspeaker as a talker}
recordings:
  s1-m1: {file: s1-m1.wav, kind: sweep, from: s1, to: m1, loopback: 2}
  s6-m1: {file: s6-m1.wav, kind: sweep, from: s6, to: m1, loopback: 2}
  s10-m2: {file: s10-m2.wav, kind: sweep, from: s10, to: m2, loopback: 2}
  s4-m2: {file: s4-m2.wav, kind: sweep, from: s4, to: m2, processing: [gate]}
  door: {file: door.wav, kind: sweep, from: [5.8, 0.6, 1.5], to: [2.0, 3.9, 1.2]}
  quiet-m1: {file: quiet-m1.wav, kind: noise, to: m1, calibration: desk}
  quiet-s3: {file: quiet-s3.wav, kind: noise, to: s3, calibration: desk}
  trial-m1: {file: trial.wav, kind: echo, from: far-end, to: m1, loopback: 2}
"""


def folder() -> SessionFolder:
    return parse_session(YAML, Path("/somewhere/tide-2026-03-02/session.yaml"))


def trial() -> CancellerResult:
    """Grows as 1 − e^(−t/τ) towards 44 dB, from 12."""
    curve = tuple((0.25 * k, 12.0 + 32.0 * (1 - math.exp(-0.25 * k / 2.0))) for k in range(60))
    return CancellerResult(12.0, 44.0, 32.0, 4.75, -1.5, 2.0, curve)


def results() -> SessionResults:
    mean = SpatialMean(
        tuple(TIMES),
        (0.04, 0.03, 0.02, 0.02, 0.015, 0.012, 0.01),
        (0, 3, 3, 3, 3, 3, 3),
        "T20, mean of three places",
    )
    return SessionResults(
        folder=folder(),
        taken={
            "s1-m1": Taken("sweep", response=response(0.0)),
            "s6-m1": Taken("sweep", response=response(0.06), faults=(HUM,)),
            "s10-m2": Taken("sweep", response=response(-0.04)),
            "s4-m2": Taken("sweep", response=response(0.02)),
            "door": Taken("sweep", faults=(CLIPPED,)),
            "quiet-m1": Taken("noise", noise=noise(-1.0)),
            "quiet-s3": Taken("noise", noise=noise(2.0)),
            "trial-m1": Taken("echo", trial=trial(), echo=EchoLoss((12.0,) * 7, 12.0, 0.31, 0.004)),
        },
        refused={"late": "late.wav: no audio: text is in it; record it again as WAV"},
        calibrations={"desk": Calibration(0.2, "calibrator", 0.3, 0.1)},
        t20=mean,
        t30=None,
    )


def quantity(name: str, value: float, sigma: float, unit: str) -> Quantity:
    half = 1.2815515655446004 * sigma
    return Quantity(name, value, value - half, value + half, sigma, unit, None, None)


def compared(
    name: str,
    place: str,
    *,
    unit: str,
    promised: tuple[float | None, float | None],
    measured: float | None,
    tested: float,
    step: float,
    chance: float | None,
    why: str,
    decide: str = "",
    recordings: tuple[str, ...] = ("s1-m1",),
) -> Compared:
    small = 0.015 if "sti" in name else 0.8
    return Compared(
        quantity=name,
        place=place,
        unit=unit,
        promised=promised,
        measured=measured,
        measured_sigma=None if measured is None else small,
        tested=quantity(name, tested, 2 * small, unit),
        estimate=None if measured is None else measured + step,
        estimate_sigma=None if measured is None else 1.3 * small,
        chance=chance,
        word=word_of(chance),
        why=why,
        decide=decide,
        recordings=recordings,
    )


HOW = (
    "From the impulse response and the noise at the same output; people who were not there, and "
    "the level of the promised effort, are added as they were predicted."
)


def rows() -> tuple[Compared, ...]:
    return (
        compared(
            "noise_nc",
            "",
            unit="NC",
            promised=(None, 28.0),
            measured=31.0,
            tested=29.0,
            step=0.0,
            chance=0.02,
            why="The loudest of two places, as it was recorded.",
            recordings=("quiet-m1", "quiet-s3"),
        ),
        compared(
            "sti_outbound",
            "s4",
            unit="",
            promised=(0.62, None),
            measured=None,
            tested=0.66,
            step=0.0,
            chance=None,
            why="A gate was active in the path, so that it did not stay as it was while it was "
            "measured.",
            decide="Record again with the gate switched off.",
            recordings=("s4-m2",),
        ),
        compared(
            "direct_to_reverberant_db",
            "s10",
            unit="dB",
            promised=(-6.0, None),
            measured=-5.6,
            tested=-4.2,
            step=0.3,
            chance=0.61,
            why="Inferred: the predicted ratio plus measured minus predicted clarity, mean of 500 "
            "Hz to 4 kHz, with the deviation of the model.",
            decide="Two more positions of the source at that seat.",
            recordings=("s10-m2",),
        ),
        compared(
            "sti_outbound",
            "s10",
            unit="",
            promised=(0.62, None),
            measured=0.66,
            tested=0.65,
            step=-0.01,
            chance=0.93,
            why=HOW,
            recordings=("s10-m2",),
        ),
        compared(
            "sti_outbound",
            "s6",
            unit="",
            promised=(0.62, None),
            measured=0.67,
            tested=0.655,
            step=-0.01,
            chance=0.96,
            why=HOW,
            recordings=("s6-m1",),
        ),
        compared(
            "sti_outbound",
            "s1",
            unit="",
            promised=(0.62, None),
            measured=0.71,
            tested=0.652,
            step=-0.01,
            chance=0.996,
            why=HOW,
        ),
        compared(
            "echo_loss_db",
            "m1",
            unit="dB",
            promised=(41.0, None),
            measured=44.0,
            tested=46.0,
            step=0.0,
            chance=0.97,
            why="With the canceller, when it had settled.",
            recordings=("trial-m1",),
        ),
    )


def verdict() -> Verdict:
    sigma = (None, 0.03, 0.02, 0.02, 0.015, 0.012, 0.01)
    return Verdict(
        session="tide-2026-03-02",
        document="0123456789abcdef",
        rows=rows(),
        decays=tuple(
            DecayCompared(
                octave,
                None if index == 0 else time,
                sigma[index],
                0 if index == 0 else 3,
                guess,
                0.8 * guess,
                1.25 * guess,
            )
            for index, (octave, time, guess) in enumerate(
                zip(OCTAVES, TIMES, PREDICTED, strict=True)
            )
        ),
        noise=tuple(
            NoiseCompared(
                place,
                recording,
                found.levels_db,
                found.calibrated,
                found.nc,
                found.nc_label,
                found.nc_governing,
                found.dba,
            )
            for place, recording, found in (
                ("m1", "quiet-m1", noise(-1.0)),
                ("s3", "quiet-s3", noise(2.0)),
            )
        ),
        alike=(
            "Occupancy 0 of the seats",
            "Air at 20.5 °C and 41 % relative humidity",
            "Test source with the directivity of a talker, 68 dBA at 1 m",
            "Nothing was active in the paths but a gate in that of s4-m2",
        ),
        notes=("Nothing was recorded from the loudspeakers, so that listening was not compared.",),
    )


__all__ = ["Session", "folder", "noise", "response", "results", "rows", "trial", "verdict"]
