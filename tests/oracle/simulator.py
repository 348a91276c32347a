"""The same rooms in a second simulator: pyroomacoustics, by image sources and by rays.

What it can and cannot be held against:

* Its responses start half an interpolation filter late and are high-passed unless told not to.
* Pressure image sources add in phase at low frequency: compare octaves, not the whole band.
* Its rays blend a mirrored and a random direction in proportion to scattering, and what it sends
  to each microphone from a scattering surface is not taken from the ray. So it is a reference
  for no scattering and for all scattering only; in the latter case the rays themselves, which it
  would count once more, are left out, and what each hit sends to the microphone is all there is.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass

import numpy as np
import pyroomacoustics as pra

from wellheard.acoustics.enclosure import FIRST_WALL, Enclosure
from wellheard.arrays import Array
from wellheard.bands import OCTAVES

VERSION: str = pra.__version__

SPEED = 343.0
"""Of sound, as the simulator has it unless told otherwise. [m/s]"""

LATE = 40
"""Samples by which its responses start late."""

_WITHIN_REACH = 10**6  # reflections up to which a ray leaves microphones to image sources
_BOX_SURFACES = (("floor", 0), ("ceiling", 1), ("south", 2), ("east", 3), ("north", 4), ("west", 5))


@dataclass(frozen=True, eq=False)
class Images:
    """Every image source that a receiver sees.

    Parameters
    ----------
    distance : ndarray, shape (images,)
        [m]
    energy : ndarray, shape (images, 7)
        Re the source at 1 m.
    order : ndarray of int, shape (images,)
    """

    distance: Array
    energy: Array
    order: Array


@dataclass(frozen=True, eq=False)
class Histogram:
    """Energy over time at M receivers.

    Parameters
    ----------
    step : float
        Bins are this wide, from the click on. [s]
    energy : ndarray, shape (M, bins, 7)
        Re the source at 1 m.
    """

    step: float
    energy: Array


@contextmanager
def in_one_thread() -> Iterator[None]:
    """Let it sum responses in one thread, for comparisons of speed."""
    before = pra.constants.get("num_threads")
    pra.constants.set("num_threads", 1)
    try:
        yield
    finally:
        pra.constants.set("num_threads", before)


@contextmanager
def without_high_pass() -> Iterator[None]:
    """Leave responses as the image sources make them."""
    pra.constants.set("rir_hpf_enable", False)
    try:
        yield
    finally:
        pra.constants.set("rir_hpf_enable", True)


def room(enclosure: Enclosure, *, rate: int = 16000, order: int = 0) -> pra.Room:
    """Build an enclosure without columns, patches and objects; a box from its own corner on."""
    materials = [
        _material(absorption, scattering, rate)
        for absorption, scattering in zip(enclosure.absorption, enclosure.scattering, strict=True)
    ]
    if enclosure.is_box:
        size = (*enclosure.outline[2] - enclosure.outline[0], enclosure.height)
        by_name = {name: materials[surface] for name, surface in _BOX_SURFACES}
        return pra.ShoeBox(size, fs=rate, materials=by_name, max_order=order)
    made = pra.Room.from_corners(
        enclosure.outline.T,
        fs=rate,
        materials=[materials[FIRST_WALL + wall] for wall in range(len(enclosure.outline))],
        max_order=order,
    )
    made.extrude(enclosure.height, materials={"floor": materials[0], "ceiling": materials[1]})
    return made


def ready(
    enclosure: Enclosure, source: Array, receivers: Array, *, order: int, rate: int
) -> pra.Room:
    """Build a room with all that is in it, of which only responses are wanted."""
    made = room(enclosure, rate=rate, order=order)
    made.add_source(source)
    made.add_microphone_array(np.atleast_2d(receivers).T)
    return made


def waveforms(
    enclosure: Enclosure, source: Array, receivers: Array, *, order: int, rate: int
) -> list[Array]:
    """Impulse responses by pressure image sources, :data:`LATE` samples late."""
    made = ready(enclosure, source, receivers, order=order, rate=rate)
    with without_high_pass():
        made.compute_rir()
    return [np.asarray(responses[0], dtype=np.float64) for responses in made.rir]


def images(enclosure: Enclosure, source: Array, receiver: Array, *, order: int) -> Images:
    """All visible image sources up to an order."""
    made = room(enclosure, order=order)
    made.add_source(source)
    made.add_microphone(receiver)
    made.image_source_model()
    from_source, seen = made.sources[0], np.asarray(made.visibility[0][0], dtype=bool)
    distance = np.linalg.norm(from_source.images[:, seen] - receiver[:, None], axis=0)
    pressure = np.asarray(from_source.damping, dtype=np.float64)[:, seen].T
    return Images(
        distance=distance,
        energy=np.broadcast_to(np.square(pressure / distance[:, None]), (len(distance), 7)),
        order=np.asarray(from_source.orders)[seen],
    )


def rays(
    enclosure: Enclosure,
    source: Array,
    receivers: Array,
    *,
    count: int,
    until: float,
    radius: float,
    step: float = 0.001,
) -> Histogram:
    """Energy by ray tracing in a room that scatters nothing or everything.

    Where all is scattered there is no direct sound in it. ``radius`` is that of the spheres
    that rays are caught in [m]; scattered energy needs none, so choose it small there.
    """
    scatters = bool(np.all(enclosure.scattering == 1.0))
    if not scatters and np.any(enclosure.scattering != 0.0):
        raise ValueError("the simulator's rays are a reference without or with full scattering")
    made = room(enclosure)
    made.set_ray_tracing(
        n_rays=count,
        receiver_radius=radius,
        energy_thres=1e-12,
        time_thres=until,
        hist_bin_size=step,
    )
    made.add_source(source)  # microphones take the width of their bins from what is set before
    made.add_microphone_array(np.atleast_2d(receivers).T)
    engine = made.room_engine
    engine.set_params(SPEED, _WITHIN_REACH, 1e-12, until, radius, step, scatters)
    pra.random.seed(numpy=1, libroom=1)
    made.ray_tracing()
    bins = round(until / step)
    energy = np.zeros((len(made.rt_histograms), bins, 7))
    for held, by_source in zip(energy, made.rt_histograms, strict=True):
        found = np.asarray(by_source[0][0]).T[:bins]
        held[: len(found)] = found
    return Histogram(step, energy)


def octave_energy(response: Array, *, rate: int, start: int, end: int | None = None) -> Array:
    """Energy of a response in seven octaves between two samples, re white noise of its level."""
    bank = pra.acoustics.AntoniOctaveFilterBank(fs=rate, base_frequency=OCTAVES[0], n_fft=512)
    parts = bank.analysis(response)[:, :7]
    return np.square(parts[start:end]).sum(axis=0)


def _material(absorption: Array, scattering: float, rate: int) -> pra.Material:
    coefficients = [float(value) for value in absorption]
    if len(set(coefficients)) == 1:
        # one number still becomes seven octaves, so that every histogram has them
        coefficients = [coefficients[0]] * len(OCTAVES)
    more = [coefficients[-1]] * (2 if rate > 32000 else 0)
    centres = [125.0 * 2.0**i for i in range(len(coefficients) + len(more))]
    return pra.Material(
        energy_absorption={"coeffs": [*coefficients, *more], "center_freqs": centres},
        scattering={"coeffs": [float(scattering)] * len(centres), "center_freqs": centres},
    )
