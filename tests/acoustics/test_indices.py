"""The fused transmission index against the closed forms of the modulation of rooms."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
import pytest

from wellheard.acoustics import compiled
from wellheard.acoustics.indices import indices
from wellheard.acoustics.intelligibility import (
    modulation_transfer_index,
    modulation_transfer_index_of_path,
    speech_transmission_index,
)
from wellheard.acoustics.modulation import MODULATION_FREQUENCIES, noise_and_hearing_factor
from wellheard.arrays import Array

F = np.array(MODULATION_FREQUENCIES)


@pytest.fixture(params=["numpy", "compiled", "plain"])
def kernel(request: pytest.FixtureRequest) -> Iterator[str]:
    if request.param != "numpy" and compiled.missing():
        pytest.skip(compiled.missing())
    with compiled.using(request.param):
        yield request.param


def exponential(ratio: Array, time: Array) -> tuple[Array, Array, Array]:
    """Direct, reflected and transform of direct sound followed by exponential decays."""
    turn = 1.0 / (1.0 + 2j * np.pi * F[:, None] * time[:, None, :] / np.log(1e6))
    return ratio, np.ones_like(ratio), turn


def drawn(seed: int = 0, paths: int = 2500) -> tuple[Array, Array]:
    rng = np.random.default_rng(seed)
    return 10 ** rng.uniform(-3, 3, (paths, 7)), rng.uniform(0.1, 8.0, (paths, 7))


def test_direct_sound_and_exponential_decay_give_the_closed_form(kernel: str) -> None:
    # Houtgast and Steeneken; IEC 60268-16, full method.
    ratio, time = drawn()
    mti, sti = indices(*exponential(ratio, time))
    expected = modulation_transfer_index_of_path(
        ratio, reverberation_time=time, speech_db=np.full(7, 60.0), hearing=False
    )
    assert mti == pytest.approx(expected, abs=1e-5)
    assert sti.shape == (2500,)


def test_noise_and_hearing_count_as_they_do_elsewhere(kernel: str) -> None:
    ratio, time = drawn(1)
    rng = np.random.default_rng(2)
    speech, noise = rng.uniform(20, 80, (2500, 7)), rng.uniform(10, 70, (2500, 7))
    factor = noise_and_hearing_factor(speech, noise_db=noise, hearing=True)
    mti, _ = indices(*exponential(ratio, time), factor=factor)
    expected = modulation_transfer_index_of_path(
        ratio, reverberation_time=time, speech_db=speech, noise_db=noise
    )
    assert mti == pytest.approx(expected, abs=1e-5)


def test_any_modulation_is_judged_as_by_the_plain_function(kernel: str) -> None:
    rng = np.random.default_rng(3)
    direct, reflected = rng.uniform(0, 1, (2, 400, 7))
    modulation = reflected[:, None] * rng.uniform(0, 1, (400, 14, 7))
    modulation = modulation * np.exp(2j * np.pi * rng.uniform(size=(400, 14, 7)))
    mti, sti = indices(direct, reflected, modulation, talker="female_2011")
    m = np.abs(direct[:, None] + modulation) / (direct + reflected)[:, None]
    m = m.transpose(0, 2, 1)
    assert mti == pytest.approx(modulation_transfer_index(m), abs=1e-5)
    assert sti == pytest.approx(speech_transmission_index(m, talker="female_2011"), abs=1e-5)


def test_twice_the_reflected_energy_is_a_gain_of_two(kernel: str) -> None:
    direct, reflected, modulation = exponential(*drawn(4))
    gain = np.linspace(0.5, 4.0, len(direct))[:, None]
    louder = indices(direct, gain * reflected, gain[:, :, None] * modulation)
    for a, b in zip(louder, indices(direct, reflected, modulation, gain=gain), strict=True):
        assert a == pytest.approx(b, abs=1e-5)


@pytest.mark.parametrize(
    ("m", "index"),
    [
        # 15 dB and −15 dB of effective signal-to-noise ratio end the scale (IEC 60268-16).
        (1.0, 1.0),
        (10**1.5 / (1 + 10**1.5), 1.0),
        (0.5, 0.5),
        (10**-1.5 / (1 + 10**-1.5), 0.0),
        (0.0, 0.0),
    ],
)
def test_the_scale_ends_at_15_db(kernel: str, m: float, index: float) -> None:
    mti, sti = indices(np.zeros((1, 7)), np.ones((1, 7)), np.full((1, 14, 7), m))
    assert mti == pytest.approx(np.full((1, 7), index), abs=1e-5)
    assert sti == pytest.approx([index], abs=1e-5)


def test_where_nothing_arrives_nothing_is_understood(kernel: str) -> None:
    mti, sti = indices(np.zeros((2, 7)), np.zeros((2, 7)), np.zeros((2, 14, 7)))
    assert not mti.any()
    assert not sti.any()


def test_no_path_and_a_path_that_lies_across_memory(kernel: str) -> None:
    direct, reflected, modulation = exponential(*drawn(5, 10))
    assert [each.shape for each in indices(direct[:0], reflected[:0], modulation[:0])] == [
        (0, 7),
        (0,),
    ]
    spread = np.asfortranarray(modulation)[::-1]
    mti, _ = indices(np.asfortranarray(direct)[::-1], reflected, spread)
    assert mti[::-1] == pytest.approx(indices(direct, reflected, modulation)[0])


def test_shapes_that_do_not_belong_together_are_refused() -> None:
    with pytest.raises(ValueError, match="are not"):
        indices(np.ones((2, 7)), np.ones((3, 7)), np.ones((2, 14, 7)))
    with pytest.raises(ValueError, match="modulation of shape"):
        indices(np.ones((2, 7)), np.ones((2, 7)), np.ones((2, 7, 14)))
