"""Calibration, octave levels, NC and RC of recordings whose levels are known."""

from __future__ import annotations

import json
import math
from collections.abc import Mapping
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from wellheard.arrays import Array
from wellheard.bands import C_WEIGHT_DB, NOISE_OCTAVES, RATING_OCTAVES, exact_midband
from wellheard.errors import InputError
from wellheard.measurement.levels import calibration, noise, octave_levels_db
from wellheard.measurement.results import Audio, Calibration
from wellheard.measurement.session import CalibrationFiles
from wellheard.measurement.signals import pink_noise

RATE = 48000.0
WORKED: dict[str, Any] = json.loads(
    (Path(__file__).parents[1] / "reference" / "worked_examples.json").read_text()
)
SPECTRA = WORKED["noise_spectra"]["rows"]
NINETY_FOUR = 1.00237  # Pa, of 94 dB [L]
PASCAL_DB = 93.9794  # of 1 Pa re 20 µPa, by hand


def tone(
    frequency: float = 1000.0, *, rms: float = 0.1, seconds: float = 4.0, rate: float = RATE
) -> Array:
    time = np.arange(round(seconds * rate)) / rate
    return math.sqrt(2.0) * rms * np.sin(2.0 * np.pi * frequency * time)


PERIOD = 4.0  # [s]


def in_octaves(levels_db: Mapping[float, float], seconds: float, rate: float = RATE) -> Array:
    """Noise whose octaves have these levels re 1; a third of an octave wide in each middle.

    It repeats, so that pieces over whole periods average out what neighbouring lines do by chance.
    """
    rng = np.random.default_rng(7)
    count = round(PERIOD * rate)
    frequency = np.fft.rfftfreq(count, 1.0 / rate)
    spectrum = np.zeros(len(frequency), dtype=np.complex128)
    for octave, level in levels_db.items():
        inside = np.abs(np.log2(frequency.clip(1e-3) / exact_midband(octave))) < 1.0 / 6.0
        lines = int(inside.sum())
        phase = rng.uniform(0.0, 2.0 * np.pi, lines)
        size = count * math.sqrt(10.0 ** (level / 10.0) / lines / 2.0)
        spectrum[inside] = size * np.exp(1j * phase)
    return np.resize(np.fft.irfft(spectrum, count), round(seconds * rate))


def reading(**files: Array) -> Any:
    def read(name: str) -> Audio:
        samples = files[name]
        return Audio(name, samples.reshape(len(samples), -1), RATE, "WAV, 24 bit", 24)

    return read


def by_calibrator(before: Array, after: Array | None = None, level: float = 94.0) -> Calibration:
    given = CalibrationFiles(
        file="before", after=None if after is None else "after", level_db=level
    )
    files = {"before": before} if after is None else {"before": before, "after": after}
    return calibration("c1", given, reading(**files))


def codes(found: Calibration) -> dict[str, str]:
    return {fault.code: fault.severity for fault in found.faults}


@pytest.mark.parametrize(("level", "pascal"), [(94.0, 1.00237), (114.0, 10.0237)])
def test_a_calibrator_makes_pascals_of_samples(level: float, pascal: float) -> None:
    # 94 dB is 1.00237 Pa, 114 dB 10.0237 Pa re 20 µPa [L]
    found = by_calibrator(tone(rms=0.05), level=level)
    assert found.pascal_per_unit == pytest.approx(pascal / 0.05, rel=1e-4)
    assert found.how == "calibrator"
    assert found.usable
    assert found.drift_db is None


def test_hum_and_rumble_do_not_reach_the_calibration() -> None:
    rumbling = tone() + tone(50.0, rms=0.05) + tone(20.0, rms=0.1)
    assert by_calibrator(rumbling).pascal_per_unit == pytest.approx(NINETY_FOUR / 0.1, rel=1e-4)


def test_the_stretch_before_the_calibrator_is_on_does_not_count() -> None:
    late = np.concatenate([np.zeros(round(1.1 * RATE)), tone()])
    assert by_calibrator(late).pascal_per_unit == pytest.approx(NINETY_FOUR / 0.1, rel=1e-3)


@pytest.mark.parametrize(("shift", "usable"), [(0.4, True), (0.6, False), (-0.6, False)])
def test_a_drift_of_more_than_half_a_decibel_discards(shift: float, usable: bool) -> None:
    # common practice of IEC-based procedures [M]
    found = by_calibrator(tone(), tone() * 10.0 ** (shift / 20.0))
    assert found.drift_db == pytest.approx(shift, abs=0.01)
    assert found.usable is usable
    assert codes(found) == ({} if usable else {"calibration-drift": "error"})
    # the mean of both levels counts
    middle = NINETY_FOUR / 0.1 * 10.0 ** (-shift / 40.0)
    assert found.pascal_per_unit == pytest.approx(middle, rel=1e-3)
    assert found.sigma_db > by_calibrator(tone()).sigma_db


def wobbling() -> Array:
    time = np.arange(round(4.0 * RATE)) / RATE
    return tone() * (1.0 + 0.2 * np.sin(2.0 * np.pi * 0.4 * time))


@pytest.mark.parametrize(
    ("samples", "said"),
    [
        (tone(250.0), "250 Hz"),
        (tone(1000.0 * 48.0 / 44.1), "1088 Hz"),  # read at the wrong rate
        (np.clip(tone(rms=0.5), -0.5, 0.5), "clipped"),
        (wobbling(), "fluctuates"),
        (tone(rms=0.1) + pink_noise(4.0, RATE, level_dbfs=-20.0, seed=1), "too much noise"),
        (np.zeros(200000), "no 2 s of a tone"),
        (tone(seconds=1.0), "no 2 s of a tone"),
    ],
    ids=["other tone", "other rate", "clipped", "fluctuating", "noisy", "silent", "short"],
)
def test_a_file_that_is_no_steady_tone_at_1_khz_is_refused(samples: Array, said: str) -> None:
    found = by_calibrator(samples)
    assert codes(found) == {"calibrator": "error"}
    assert said in found.faults[0].message
    assert "calibration c1, before" in found.faults[0].message
    assert found.faults[0].remedy
    assert math.isfinite(found.pascal_per_unit)


def test_a_calibration_names_the_channel_that_is_missing() -> None:
    given = CalibrationFiles(file="before", level_db=94.0, channel=2)
    with pytest.raises(InputError, match="channel 2 of a file with one channel"):
        calibration("c1", given, reading(before=tone()))


def test_substitution_takes_the_level_of_a_meter_beside() -> None:
    heard = in_octaves({250.0: -30.0, 1000.0: -26.0, 4000.0: -32.0}, 9.5)
    # A-weights −8.6, 0 and 1.0 dB: 10 lg(10^−3.86 + 10^−2.6 + 10^−3.1) = −24.628 dB re full scale
    given = CalibrationFiles(file="noise", level_dba=60.0)
    found = calibration("c1", given, reading(noise=heard))
    wanted = 10.0 ** ((60.0 + 24.628 - PASCAL_DB) / 20.0)
    assert found.pascal_per_unit == pytest.approx(wanted, rel=0.005)
    assert found.how == "substitution"
    assert found.sigma_db > by_calibrator(tone()).sigma_db
    # and so the recording itself reads 60 dBA
    assert noise(heard, RATE, found).dba == pytest.approx(60.0, abs=0.01)


def test_substitution_refuses_noise_that_comes_and_goes() -> None:
    steady = in_octaves({1000.0: -26.0}, 6.0)
    steady[: len(steady) // 2] *= 0.1
    given = CalibrationFiles(file="noise", level_dba=60.0)
    assert codes(calibration("c1", given, reading(noise=steady))) == {"substitution": "error"}


def test_a_stated_full_scale_is_that_of_a_sine() -> None:
    found = calibration("c1", CalibrationFiles(full_scale_db=120.0), reading())
    assert found.how == "stated"
    sine = tone(rms=math.sqrt(0.5))
    levels = octave_levels_db(sine, RATE, pascal_per_unit=found.pascal_per_unit)
    assert levels[1000.0] == pytest.approx(120.0, abs=0.01)
    assert found.sigma_db >= 2.0


@pytest.mark.parametrize("row", SPECTRA, ids=lambda row: str(row[1]))
def test_noise_with_a_spectrum_gets_its_published_label(row: list[Any]) -> None:
    # ANSI/ASA S12.2-2019 via an open program; played as sound, calibrated by a tone, measured
    levels, label, governing, tangency, rc, dba = row[:6]
    wanted = dict(zip(RATING_OCTAVES, levels, strict=True))
    gain = 0.1 / NINETY_FOUR  # full scale per pascal
    full_scale_db = PASCAL_DB - 20.0 * math.log10(gain)
    heard = in_octaves({octave: level - full_scale_db for octave, level in wanted.items()}, 17.5)
    found = noise(heard, RATE, by_calibrator(tone(rms=0.1)))
    for octave in NOISE_OCTAVES:
        assert found.levels_db[octave] == pytest.approx(wanted[octave], abs=0.05)
    assert found.nc_label == label
    assert found.nc == pytest.approx(tangency, abs=0.005)
    assert found.nc_governing == governing or governing is None
    assert found.rc_label == rc
    assert found.dba == pytest.approx(dba, abs=0.1)
    # C-weights of IEC 61672-1 over the octaves that are measured, by hand
    energies = [10.0 ** ((wanted[f] + C_WEIGHT_DB[f]) / 10.0) for f in NOISE_OCTAVES]
    assert found.dbc == pytest.approx(10.0 * math.log10(sum(energies)), abs=0.05)
    assert found.calibrated
    assert found.faults == ()


def test_rumble_does_not_leak_into_high_octaves() -> None:
    # 16 Hz at 78 dB beside 8 kHz at 11 dB is the NC-15 curve
    heard = tone(16.2, rms=1.0) + in_octaves({8000.0: -67.0}, 4.0)
    assert octave_levels_db(heard, RATE)[8000.0] == pytest.approx(-67.0, abs=0.05)


def test_octaves_go_as_far_as_the_rate_carries() -> None:
    assert max(octave_levels_db(pink_noise(2.0, 16000.0, level_dbfs=-20.0, seed=1), 16000.0)) == (
        4000.0
    )
    assert min(octave_levels_db(np.ones(4000), 8000.0)) == 31.5


def test_without_calibration_levels_are_re_full_scale_and_nothing_is_rated() -> None:
    found = noise(tone(rms=0.1, seconds=16.0), RATE, None)
    assert found.levels_db[1000.0] == pytest.approx(-20.0, abs=0.01)
    assert found.dba == pytest.approx(-20.0, abs=0.01)
    assert (found.nc, found.nc_governing, found.nc_label, found.rc_label) == (None, None, "", "")
    assert not found.calibrated


def test_a_calibration_with_an_error_is_not_used_and_says_so() -> None:
    broken = by_calibrator(tone(), 2.0 * tone())
    found = noise(tone(seconds=16.0), RATE, broken)
    assert not found.calibrated
    assert [fault.code for fault in found.faults] == ["calibration-drift"]


def test_what_is_short_or_comes_and_goes_is_said() -> None:
    short = noise(pink_noise(3.0, RATE, level_dbfs=-30.0, seed=2), RATE, None)
    assert [fault.code for fault in short.faults] == ["too-short"]
    moving = pink_noise(16.0, 16000.0, level_dbfs=-30.0, seed=3)
    moving[: len(moving) // 4] *= 4.0
    found = noise(moving, 16000.0, None)
    assert [fault.code for fault in found.faults] == ["unsteady"]
    assert found.spread_db == pytest.approx(12.0, abs=1.5)  # 20 lg 4


def test_the_deviation_shrinks_with_time_and_adds_that_of_the_calibration() -> None:
    white = np.random.default_rng(5).standard_normal(round(32.0 * 16000.0)) * 0.01
    long, short = noise(white, 16000.0, None), noise(white[: 8 * 16000], 16000.0, None)
    assert long.sigma_db < short.sigma_db < 0.1
    with_meter = noise(white, 16000.0, by_calibrator(tone()))
    assert with_meter.sigma_db == pytest.approx(0.5, abs=0.01)
