"""Echo loss of responses whose loss, noise and delay are known."""

from __future__ import annotations

import math

import numpy as np
import pytest

from tests.oracle.echoes import decaying, played
from wellheard.acoustics.echo import NARROWBAND, trapezoid_loss_db
from wellheard.arrays import Array
from wellheard.bands import OCTAVES, exact_midband
from wellheard.measurement.deconvolution import deconvolve
from wellheard.measurement.echo_paths import echo_loss
from wellheard.measurement.responses import analyse
from wellheard.measurement.results import Fault, ImpulseResponse
from wellheard.measurement.session import SweepSignal
from wellheard.measurement.signals import sweep

RATE = 48000.0
TIME = 0.25  # decay time [s]


def path(loss_db: float, *, rate: float = RATE, seed: int = 1, late: float = 0.0) -> Array:
    response = decaying(seed, rate=rate, time=TIME, direct=1.0, late=late)
    return np.asarray(10.0 ** (-loss_db / 20.0) * response)


def shaped(response: Array, losses_db: Array, frequency: Array) -> Array:
    """With a further loss that runs straight in dB over the logarithm of frequency."""
    whole = np.pad(response, round(0.05 * RATE))  # what the filter spreads to both sides
    lines = np.fft.rfftfreq(len(whole), 1.0 / RATE)
    loss = np.interp(np.log(lines.clip(1.0)), np.log(frequency), losses_db)
    return np.fft.irfft(np.fft.rfft(whole) * 10.0 ** (-loss / 20.0), len(whole))


def as_response(samples: Array, *, noise: float = 1e-7, rate: float = RATE) -> ImpulseResponse:
    zero = round(0.06 * rate)
    whole = np.concatenate([np.zeros(zero), samples, np.zeros(round(0.5 * rate))])
    whole += noise * np.random.default_rng(3).standard_normal(len(whole))
    return ImpulseResponse(whole, rate, zero=zero, absolute=True)


def codes(faults: tuple[Fault, ...]) -> dict[str, str]:
    return {fault.code: fault.severity for fault in faults}


def dense_loss_db(samples: Array) -> float:
    """Trapezoid of ITU-T G.122 B.4 over the response's own spectrum, line by line."""
    spectrum = np.square(np.abs(np.fft.rfft(samples, 1 << 17)))
    lines = np.fft.rfftfreq(1 << 17, 1.0 / RATE)
    inside = (lines >= NARROWBAND[0]) & (lines <= NARROWBAND[1])
    return float(trapezoid_loss_db(-10.0 * np.log10(spectrum[inside]), frequency=lines[inside]))


@pytest.mark.parametrize("noise", [0.0, 1e-7])
def test_one_loss_at_all_frequencies_is_the_weighted_loss(noise: float) -> None:
    # ITU-T G.122 B.4: a constant 45 dB weighs 45.00 dB
    flat = np.zeros(9600)
    flat[200] = 10.0 ** (-45.0 / 20.0)
    found = echo_loss(as_response(flat, noise=noise))
    assert found.loss_bands_db == pytest.approx([45.0] * 7, abs=0.1)
    assert found.loss_db == pytest.approx(45.0, abs=0.05)
    assert found.faults == ()


@pytest.mark.parametrize(("seed", "low", "high"), [(1, 50.0, 40.0), (2, 30.0, 54.0)])
def test_a_loss_that_slopes_is_weighted_as_the_trapezoid_does(
    seed: int, low: float, high: float
) -> None:
    # rival: ITU-T G.122 B.4 on thousands of lines of the spectrum of the same response; octaves
    # smooth its combs, and inside an octave energies weigh by frequency instead of its logarithm
    losses = np.array([low, high])
    samples = shaped(path(0.0, seed=seed), losses, np.array([100.0, 8000.0]))
    found = echo_loss(as_response(samples))
    assert found.loss_db == pytest.approx(dense_loss_db(samples), abs=0.8)
    # an octave has the slope's loss in its middle, and besides that of the response without slope
    place = [math.log(exact_midband(f) / 100.0) / math.log(80.0) for f in OCTAVES]
    plain = echo_loss(as_response(path(0.0, seed=seed))).loss_bands_db
    wanted = [one + low + (high - low) * p for one, p in zip(plain, place, strict=True)]
    assert found.loss_bands_db == pytest.approx(wanted, abs=1.0)


def test_noise_is_taken_from_the_loss() -> None:
    clean, noisy = (echo_loss(as_response(path(20.0), noise=n)) for n in (1e-7, 2e-5))
    assert noisy.loss_db == pytest.approx(clean.loss_db, abs=0.1)
    # by hand: the echo falls by 60 dB in 0.25 s, so 10 times the noise is 0.083 s less of a tail
    louder = echo_loss(as_response(path(20.0), noise=2e-4))
    assert noisy.tail_to_noise - louder.tail_to_noise == pytest.approx(TIME / 3.0, abs=0.03)


def test_the_delay_is_that_of_the_first_sound_after_the_loop_back() -> None:
    found = echo_loss(as_response(path(20.0, late=0.0125)))
    assert found.delay == pytest.approx(0.0125, abs=0.0002)
    unknown = as_response(path(20.0, late=0.0125))
    unknown = ImpulseResponse(unknown.samples, RATE, zero=unknown.zero, absolute=False)
    assert echo_loss(unknown).delay is None


def test_what_drowns_in_noise_is_a_loss_at_least() -> None:
    losses = np.array([0.0, 0.0, 90.0, 90.0])
    samples = shaped(path(20.0), losses, np.array([100.0, 3000.0, 5000.0, 20000.0]))
    found = echo_loss(as_response(samples, noise=1e-4))
    assert codes(found.faults) == {"echo-in-noise": "warning"}
    assert "8 kHz" in found.faults[0].message
    # by hand: noise of 1e-4 for 0.3 s, 14400 samples, has the energy 1.44e-4, which is 38.4 dB
    assert found.loss_bands_db[6] == pytest.approx(38.4, abs=1.0)
    assert math.isfinite(found.loss_db)


@pytest.mark.parametrize(("rate", "severity"), [(16000.0, "note"), (8000.0, "warning")])
def test_octaves_that_the_rate_lacks_are_said(rate: float, severity: str) -> None:
    found = echo_loss(as_response(path(30.0, rate=rate), rate=rate))
    assert codes(found.faults) == {"no-octave": severity}
    assert found.loss_bands_db[6] == found.loss_bands_db[5]
    assert found.loss_db == pytest.approx(30.0, abs=1.0)


def test_nothing_but_noise_is_no_loss() -> None:
    found = echo_loss(
        ImpulseResponse(np.zeros(48000), RATE, zero=0, absolute=False, covers=(300.0, 400.0))
    )
    assert codes(found.faults)["no-octave"] == "error"


def test_a_sweep_through_an_echo_path_finds_its_loss() -> None:
    signal = SweepSignal(seconds=2.0, silence=1.0)
    samples = path(26.0, late=0.01)
    sent = np.concatenate([np.zeros(4800), sweep(signal)])
    heard = played(sent, samples) + 1e-4 * np.random.default_rng(4).standard_normal(len(sent))
    response = deconvolve(heard, signal, RATE, played=sent)
    found = echo_loss(response, analyse(response))
    assert found.loss_db == pytest.approx(dense_loss_db(samples), abs=0.8)
    assert found.delay == pytest.approx(0.01, abs=0.0002)
