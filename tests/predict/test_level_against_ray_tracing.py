"""The level of reverberant sound against rays that know nothing of any reverberation formula.

A rival method, not a standard: a few ten thousand rays in a box, absorbed by each face as it is
hit, thrown back by Lambert's law with the chance of the scattering coefficient and as from a mirror
otherwise. It knows no waves, like the formulas, but it needs no assumption of a diffuse field.
Scattering 0.3 is what the examples state for furnished rooms (common practice, no source).
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np
import pytest

from wellheard.acoustics import field
from wellheard.arrays import Array
from wellheard.catalog.catalogue import Catalogue
from wellheard.predict import reverberation
from wellheard.predict.evidence import Reverberation
from wellheard.room.document import Room

SIDES = (6.1, 4.27, 2.74)
DISTANCE = 1.5
SCATTERING = 0.3
SPEED = 343.2  # 20 °C, ISO 9613-1 [L]
BATCHES = 20
STEP = 0.004  # of the decay [s]
MODEL_ERROR_DB = 0.6  # what the predictions state of the field's own error
OCTAVES = (125, 250, 500, 1000, 2000, 4000, 8000)
BANDS = slice(2, 5)  # 500 Hz to 2 kHz

# Thin carpet, fissured tile, double plasterboard (Vorländer 2008 [L]); 4 and 8 kHz are not traced.
SOFT_CEILING = {
    "floor": (0.02, 0.04, 0.08, 0.20, 0.35, 0.40, 0.40),
    "ceiling": (0.49, 0.53, 0.53, 0.75, 0.92, 0.99, 0.99),
    "walls": (0.15, 0.10, 0.06, 0.04, 0.04, 0.05, 0.05),
}
EVEN = dict.fromkeys(SOFT_CEILING, (0.2, 0.2, 0.2, 0.3, 0.15, 0.2, 0.2))
BOXES = {"soft ceiling": SOFT_CEILING, "even": EVEN}


@dataclass(frozen=True)
class Traced:
    """What the rays found, per octave."""

    level_db: Array
    """Reverberant energy 1.5 m from the source re the direct energy at 1 m."""
    sigma_db: Array
    """Standard error of it, from the spread between batches of rays."""
    decay: Array
    """T20 of the whole room [s]."""


def trace(absorption: Array, air: Array, *, rays: int = 20_000, seed: int = 1) -> Traced:
    """Follow rays from one point; absorption is (6, bands): both ends of x, of y, floor, ceiling.

    Energy is counted by the length of each ray within spheres of 0.35 m on a ring of 1.5 m round
    the source: energy density is energy times length over volume. The way to the first face is
    the direct sound and left out.
    """
    rng = np.random.default_rng(seed)
    sides = np.array(SIDES)
    source = np.array([2.4, 2.1, 1.2])
    turns = np.arange(12) * math.pi / 6
    ring = source + DISTANCE * np.stack([np.cos(turns), np.sin(turns), 0 * turns], axis=-1)
    radius = 0.35
    up, turn = rng.uniform(-1, 1, rays), rng.uniform(0, 2 * math.pi, rays)
    flat = np.sqrt(1 - up**2)
    heading = np.stack([flat * np.cos(turn), flat * np.sin(turn), up], axis=-1)
    at = np.tile(source, (rays, 1))
    energy = np.ones((rays, absorption.shape[1]))
    gone = np.zeros(rays)
    batch = np.arange(rays) % BATCHES
    counted = np.zeros((BATCHES, absorption.shape[1]))
    curve = np.zeros((400, absorption.shape[1]))
    order = 0
    while len(at):
        reach = (np.where(heading > 0, sides, 0.0) - at) / heading
        axis = reach.argmin(axis=1)
        each = np.arange(len(at))
        length = reach[each, axis]
        if order:
            for centre in ring:
                to = centre - at
                along = (to * heading).sum(axis=1)
                half = np.sqrt(np.maximum(radius**2 - (to**2).sum(axis=1) + along**2, 0))
                inside = np.clip(along + half, 0, length) - np.clip(along - half, 0, length)
                hit = inside > 0
                lost = np.exp(-air * along[hit, None])
                np.add.at(counted, batch[hit], energy[hit] * lost * inside[hit, None])
            when = ((gone + length / 2) / SPEED / STEP).astype(int)
            kept = when < len(curve)
            mean = energy * np.exp(-air * length[:, None] / 2) * length[:, None]
            np.add.at(curve, when[kept], mean[kept])
        far = heading[each, axis] > 0
        at = at + length[:, None] * heading
        gone = gone + length
        energy = energy * np.exp(-air * length[:, None]) * (1 - absorption[2 * axis + far])
        alive = energy.max(axis=1) > 1e-4
        at, heading, energy, gone, batch, axis, far = (
            v[alive] for v in (at, heading, energy, gone, batch, axis, far)
        )
        each = np.arange(len(at))
        at[each, axis] = np.where(far, sides[axis], 0.0)
        heading[each, axis] *= -1
        # Lambert: the sine of the angle from the normal is the root of an even draw.
        sine, turn = np.sqrt(rng.random(len(at))), rng.uniform(0, 2 * math.pi, len(at))
        thrown = np.empty_like(heading)
        thrown[each, axis] = np.sqrt(1 - sine**2) * np.where(far, -1, 1)
        thrown[each, (axis + 1) % 3] = sine * np.cos(turn)
        thrown[each, (axis + 2) % 3] = sine * np.sin(turn)
        heading = np.where((rng.random(len(at)) < SCATTERING)[:, None], thrown, heading)
        order += 1
    volume = 4 / 3 * math.pi * radius**3 * len(ring)
    batches = counted / (rays / BATCHES) / volume * 4 * math.pi
    mean = batches.mean(axis=0)
    error = batches.std(axis=0, ddof=1) / math.sqrt(BATCHES)
    return Traced(10 * np.log10(mean), 10 / math.log(10) * error / mean, _t20(curve))


def _t20(curve: Array) -> Array:
    """Straight line through −5 to −25 dB of the backward integral (ISO 3382-1)."""
    left = np.cumsum(curve[::-1], axis=0)[::-1]
    level = 10 * np.log10(np.maximum(left / left[0], 1e-30))
    time = STEP * np.arange(len(curve))
    found = []
    for each in level.T:
        span = (each < -5) & (each > -25)
        found.append(-60 / np.polyfit(time[span], each[span], 1)[0])
    return np.array(found)


@pytest.fixture(scope="module")
def decay_of(room_of: Callable[..., Room], catalogue: Catalogue) -> Callable[..., Reverberation]:
    """Give the function that predicts a box in which nothing stands and nobody is."""

    def made(box: str, measured: dict[str, float] | None = None) -> Reverberation:
        told: dict[str, Any] = {
            name: {"absorption": dict(zip(map(str, OCTAVES), values, strict=True))}
            for name, values in BOXES[box].items()
        }
        x, y, z = SIDES
        space: dict[str, Any] = {
            "outline": [[0, 0], [x, 0], [x, y], [0, y]],
            "height": z,
            "scattering": SCATTERING,
            "finishes": told,
        }
        if measured is not None:
            space["measured_reverberation"] = measured
        standing = {"p": {"outline": [[1, 1], [2, 1], [2, 2], [1, 2]], "facing": 0}}
        people = {"seats": "absent", "standing": standing}
        return reverberation.predict(room_of({"space": space, "people": people}), catalogue)

    return made


@pytest.fixture(scope="module")
def traced(decay_of: Callable[..., Reverberation]) -> dict[str, Traced]:
    air = np.array(decay_of("even").air_power_attenuation)[BANDS]
    found = {}
    for name, box in BOXES.items():
        faces = [box["walls"]] * 4 + [box["floor"], box["ceiling"]]
        found[name] = trace(np.array(faces)[:, BANDS], air)
    return found


def level_db(decay: Reverberation, time: tuple[float, ...]) -> Array:
    """Level of the statistical field 1.5 m from an omnidirectional source, with that time."""
    energy = field.diffuse_energy(
        DISTANCE,
        reverberation_time=np.array(time)[BANDS],
        volume=decay.volume,
        speed_of_sound=decay.speed_of_sound,
    )
    return 10 * np.log10(energy)


def off_db(found: Traced, predicted: Array) -> Array:
    return np.asarray(predicted - found.level_db)


def allowed_db(found: Traced) -> Array:
    """Three standard errors of the rays and the model's own error."""
    return 3 * found.sigma_db + MODEL_ERROR_DB


def test_the_rays_are_many_enough(traced: dict[str, Traced]) -> None:
    for found in traced.values():
        assert np.all(found.sigma_db < 0.1)


@pytest.mark.parametrize("box", BOXES)
def test_the_level_is_that_of_the_rays(
    traced: dict[str, Traced], decay_of: Callable[..., Reverberation], box: str
) -> None:
    decay = decay_of(box)
    off = off_db(traced[box], level_db(decay, decay.level_time))
    assert np.all(np.abs(off) < allowed_db(traced[box])), off


def test_under_a_soft_ceiling_the_level_of_the_longer_decay_is_too_high(
    traced: dict[str, Traced], decay_of: Callable[..., Reverberation]
) -> None:
    """With even absorption both times are one, so that only the uneven box can tell."""
    decay = decay_of("soft ceiling")
    assert np.all(off_db(traced["soft ceiling"], level_db(decay, decay.arau_puchades)) > 1.0)
    even = decay_of("even")
    assert level_db(even, even.arau_puchades) == pytest.approx(level_db(even, even.level_time))


def test_the_decay_lingers_between_eyrings_and_arau_puchades_times(
    traced: dict[str, Traced], decay_of: Callable[..., Reverberation]
) -> None:
    """Which is why the one sets the level and the other the decay, with a range down to it."""
    decay = decay_of("soft ceiling")
    found = traced["soft ceiling"].decay
    assert np.all(np.array(decay.eyring)[BANDS] < found)
    assert np.all(found < np.array(decay.arau_puchades)[BANDS])
    assert np.all(found > np.array(decay.low)[BANDS])


@pytest.mark.parametrize("box", BOXES)
def test_told_the_decay_of_the_rays_as_measured_the_level_is_still_theirs(
    traced: dict[str, Traced], decay_of: Callable[..., Reverberation], box: str
) -> None:
    plain = decay_of(box)
    times = list(plain.time)
    times[BANDS] = traced[box].decay.tolist()
    decay = decay_of(box, dict(zip(map(str, OCTAVES), times, strict=True)))
    assert decay.measured
    off = off_db(traced[box], level_db(decay, decay.level_time))
    assert np.all(np.abs(off) < allowed_db(traced[box])), off
    # In proportion to the decay, or with the decay itself, one of the boxes would miss.
    if box == "soft ceiling":
        scaled = [
            e * t / a for e, t, a in zip(plain.eyring, times, plain.arau_puchades, strict=True)
        ]
        assert np.all(off_db(traced[box], level_db(decay, tuple(scaled))) < -0.8)
        assert off_db(traced[box], level_db(decay, decay.time))[1:].min() > 1.0
