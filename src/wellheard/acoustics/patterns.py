"""Directional response as a table over the cosine of the angle from an axis, by octave.

::

               1 ┤            ╭╮  axis
                 │           ╭╯
      energy     │    ╭╮    ╭╯
                 │╭──╯  ╰──╯
                 ┼──────────────►  cosine
                −1               1

An entry is the mean of the response round the axis and over its own cell of the cosine; the last
is the axis itself, 1. Equal steps of the cosine are equal parts of the sphere, so that the mean of
a table is what the microphone takes from a diffuse field.
"""

from __future__ import annotations

import functools
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt

from wellheard.acoustics.air import speed_of_sound
from wellheard.acoustics.beamforming import (
    Design,
    Weights,
    beam_weights,
    diffuse_coherence,
    diffuse_efficiency,
    third_frequencies,
    white_noise_gain,
)
from wellheard.acoustics.directivity import first_order_gain
from wellheard.arrays import Array
from wellheard.bands import OCTAVES

ENTRIES = 513
"""Entries of a table, from behind to the axis."""

COSINES = np.linspace(-1.0, 1.0, ENTRIES)

_POINTS = (11, 11, 11, 11, 13, 19, 29)
"""Directions in each cell of the cosine, by octave: a short wave draws finer lobes. Primes, which
no symmetry of an array falls in step with."""

_TURNS, _STEPS = 96, 1024
"""Rotations of a flat array and steps along its image that make the mean of all rotations."""

_GOLDEN = np.pi * (3.0 - np.sqrt(5.0))
"""Angle between successive directions, so that all parts of a sphere get their share."""

_SIDES = 24
"""Sides to which a round array is steered for what it takes from a diffuse field, its mean."""

_ROUND_ARRAY = 0.05
"""An array whose spreads along two axes differ by less than this share is taken as round."""


def mean_over_sphere(pattern: npt.ArrayLike) -> Array:
    """Mean of tables over all directions: the random energy efficiency.

    Parameters
    ----------
    pattern : array_like, shape (..., 513, 7)
        Tables.

    Returns
    -------
    ndarray, shape (..., 7)

    Examples
    --------
    >>> mean_over_sphere(first_order_pattern(0.5)).round(4)[:2]
    array([0.3333, 0.3333])
    """
    table = np.asarray(pattern, dtype=np.float64)
    inner = table[..., 1:-1, :].sum(axis=-2)
    ends = 0.5 * (table[..., 0, :] + table[..., -1, :])
    return np.asarray((inner + ends) / (ENTRIES - 1), dtype=np.float64)


def first_order_pattern(a: float) -> Array:
    """Table of a first-order capsule, ``(a + (1 − a)·cos)²``, the same in every octave.

    Parameters
    ----------
    a : float
        Omnidirectional share, 0–1.

    Returns
    -------
    ndarray, shape (513, 7)
    """
    energy = np.square(first_order_gain(COSINES, a=a))
    return np.repeat(energy[:, None], len(OCTAVES), axis=-1)


def lobe_pattern(directivity_index_db: npt.ArrayLike) -> Array:
    """Table of a beam of which nothing but the directivity index is known.

    Parameters
    ----------
    directivity_index_db : array_like, shape (7,)
        [dB]

    Returns
    -------
    ndarray, shape (513, 7)
        With exactly that index.

    Notes
    -----
    One lobe on an even floor, ``f + (1 − f)·((1 + cos)/2)ⁿ``, of the efficiency E = 10^(−DI/10)
    each takes half: ``f = E/2``, ``n + 1 = (2 − E)/E``. At 7 dB that is a lobe of 67° between its
    half-power points over a floor 10 dB down. An index below 0, of a beam that hears worse in
    front than around it, falls evenly: ``1 + (E − 1)(1 − cos)``. Common practice, no source [C]:
    the shape tells how early reflections are weighed among each other, their sum is the index's.

    Examples
    --------
    >>> narrow = lobe_pattern([7.0] * 7)
    >>> (-10 * np.log10(mean_over_sphere(narrow))).round(3)[0]
    np.float64(7.0)
    >>> narrow[[0, -1], 0].round(3)
    array([0.1, 1. ])
    """
    taken = 10.0 ** (-np.asarray(directivity_index_db, dtype=np.float64) / 10.0)
    floor = taken / 2.0
    order = np.maximum((2.0 - taken) / taken - 1.0, 0.0)
    lobe = floor + (1.0 - floor) * ((1.0 + COSINES[:, None]) / 2.0) ** order
    worse = 1.0 + (taken - 1.0) * (1.0 - COSINES[:, None])
    return _with_mean(np.where(taken > 1.0, worse, lobe), taken)


def aside_pattern(efficiency: npt.ArrayLike, *, level_db: float) -> Array:
    """Table about a direction that a beam cannot reach: low there, its efficiency all round.

    Parameters
    ----------
    efficiency : array_like, shape (7,)
        Random energy efficiency of the beam.
    level_db : float
        Response towards that direction. [dB]

    Returns
    -------
    ndarray, shape (513, 7)
    """
    taken = np.asarray(efficiency, dtype=np.float64)
    table = np.repeat(taken[None, :], ENTRIES, axis=0)
    table[-1] = 10.0 ** (level_db / 10.0)
    return _with_mean(table, taken)


def _with_mean(table: Array, taken: Array) -> Array:
    """Table with every entry but that of the axis scaled, so that its mean is ``taken``."""
    axis = table[..., -1, :] / (2.0 * (ENTRIES - 1))
    found = mean_over_sphere(table)
    scaled = table * ((taken - axis) / (found - axis))[..., None, :]
    scaled[..., -1, :] = table[..., -1, :]
    return scaled


@dataclass(frozen=True)
class BeamTables:
    """Tables of an array's beams.

    Attributes
    ----------
    patterns : ndarray, shape (D, 513, 7)
        About the axis of each beam.
    diffuse : ndarray, shape (D, 7)
        Random energy efficiency, the mean of each table.
    white_noise_gain_db : ndarray, shape (D, 7)
        Gain over the capsules' own noise. [dB]
    """

    patterns: Array
    diffuse: Array
    white_noise_gain_db: Array


def is_round(positions: npt.ArrayLike, *, normal: npt.ArrayLike) -> bool:
    """Whether an array steers alike to all sides of a normal: its spread across it is even.

    Parameters
    ----------
    positions : array_like, shape (capsules, 3)
        [m]
    normal : array_like, shape (3,)
        Unit vector.

    Examples
    --------
    >>> square = [[x, y, 0.0] for x in (-0.1, 0.1) for y in (-0.1, 0.1)]
    >>> is_round(square, normal=[0, 0, -1]), is_round(square[:2], normal=[0, 0, -1])
    (True, False)
    """
    at = np.asarray(positions, dtype=np.float64)
    flat = (at - at.mean(axis=0)) @ across(np.asarray(normal, dtype=np.float64)).T
    least, most = np.linalg.eigvalsh(flat.T @ flat)
    return bool(most - least <= _ROUND_ARRAY * most)


def is_flat(positions: npt.ArrayLike, *, normal: npt.ArrayLike) -> bool:
    """Whether all capsules lie in one plane across a normal, to a millimetre.

    Parameters
    ----------
    positions : array_like, shape (capsules, 3)
        [m]
    normal : array_like, shape (3,)
        Unit vector.

    Examples
    --------
    >>> is_flat([[0, 0, 0], [0, 0.1, 0]], normal=[0, 0, -1])
    True
    """
    return bool(np.ptp(np.asarray(positions, dtype=np.float64) @ np.asarray(normal)) <= 1e-3)


def across(axis: npt.ArrayLike) -> Array:
    """Two unit vectors across an axis and each other, right-handed with it.

    Parameters
    ----------
    axis : array_like, shape (3,)
        Unit vector.

    Returns
    -------
    ndarray, shape (2, 3)

    Examples
    --------
    >>> across([0, 0, 1]) + 0.0
    array([[ 0., -1.,  0.],
           [ 1.,  0.,  0.]])
    """
    ahead = np.asarray(axis, dtype=np.float64)
    aid = np.zeros(3)
    aid[np.argmin(np.abs(ahead))] = 1.0
    first = np.cross(aid, ahead)
    first /= np.linalg.norm(first)
    return np.stack([first, np.cross(ahead, first)])


def tilted(normal: npt.ArrayLike, *, tilt: npt.ArrayLike, azimuth: npt.ArrayLike) -> Array:
    """Unit vectors at angles from a normal, turned about it from the first of `across`.

    Parameters
    ----------
    normal : array_like, shape (3,)
        Unit vector.
    tilt, azimuth : array_like, shape (...)
        [rad]

    Returns
    -------
    ndarray, shape (..., 3)

    Examples
    --------
    >>> tilted([0, 0, 1], tilt=np.pi / 2, azimuth=[0, np.pi / 2]).round(3) + 0.0
    array([[ 0., -1.,  0.],
           [ 1.,  0.,  0.]])
    """
    ahead = np.asarray(normal, dtype=np.float64)
    first, second = across(ahead)
    lean, turn = np.broadcast_arrays(np.asarray(tilt, float), np.asarray(azimuth, float))
    aside = np.cos(turn)[..., None] * first + np.sin(turn)[..., None] * second
    return np.asarray(np.cos(lean)[..., None] * ahead + np.sin(lean)[..., None] * aside)


def beam_tables(
    positions: npt.ArrayLike,
    *,
    toward: npt.ArrayLike,
    design: Design,
    temperature_c: float = 20.0,
    front: npt.ArrayLike | None = None,
) -> BeamTables:
    """Tables of beams of one array.

    Parameters
    ----------
    positions : array_like, shape (capsules, 3)
        [m]
    toward : array_like, shape (D, V, 3)
        Unit vectors of D beams, each the mean over V variants (the same tilt to several sides).
    design : {"delay-and-sum", "superdirective"}
        Of the weights.
    temperature_c : float
        [°C]
    front : array_like, shape (3,), optional
        Normal of a rigid surface that the capsules lie in, into the room: what would arrive from
        behind it does not exist, see Notes.

    Returns
    -------
    BeamTables

    Notes
    -----
    A third-octave mid-band at a time, the energy mean of three for an octave.

    In a rigid surface a capsule has twice the pressure from every direction in front of it, which
    cancels in every ratio; behind it there are no directions. A table then has the mean of the
    response in front and nothing from behind, and half the efficiency, exactly so for capsules
    that lie in one plane.

    References
    ----------
    .. [1] brandstein-ward:2001, response and directivity of an array.
    """
    at = np.asarray(positions, dtype=np.float64)
    aims = np.asarray(toward, dtype=np.float64)
    k = _wavenumbers(temperature_c)
    found = [
        _weights(at, variants, design=design, temperature_c=temperature_c) for variants in aims
    ]
    raw = [
        np.mean([_table(at, w, u, k, front) for w, u in zip(ws, us, strict=True)], axis=0)
        for ws, us in zip(found, aims, strict=True)
    ]
    return _finished(at, found, np.array(raw), k=k, in_surface=front is not None)


def round_tables(
    positions: npt.ArrayLike,
    *,
    normal: npt.ArrayLike,
    tilt: npt.ArrayLike,
    temperature_c: float = 20.0,
    in_surface: bool = False,
) -> BeamTables:
    """Tables of delay-and-sum beams of a flat array, the mean over all turns about its normal.

    Parameters
    ----------
    positions : array_like, shape (capsules, 3)
        In one plane. [m]
    normal : array_like, shape (3,)
        Unit vector across that plane.
    tilt : array_like, shape (D,)
        Angles of the beams from the normal. [rad]
    temperature_c : float
        [°C]
    in_surface : bool
        The plane is a rigid surface, the normal points into the room; see `beam_tables`.

    Returns
    -------
    BeamTables
        As `beam_tables` gives for many variants, twenty times sooner.

    Notes
    -----
    Such a beam's response depends on nothing but k·(u − a) in the plane, a being where it points
    and u where sound comes from, so one image of the array, averaged over its turns, serves all
    beams and frequencies.
    """
    at = np.asarray(positions, dtype=np.float64)
    ahead = np.asarray(normal, dtype=np.float64)
    k = _wavenumbers(temperature_c)
    lean = np.asarray(tilt, dtype=np.float64)
    image = np.linspace(0.0, k.max() * (1.0 + np.sin(lean).max()), _STEPS)
    power = _turned_power(at @ across(ahead).T, image)
    raw = np.empty((len(lean), ENTRIES, len(OCTAVES)))
    for beam, angle in enumerate(lean):
        axis = tilted(ahead, tilt=angle, azimuth=0.0)

        def response(octave: int, ways: Array, axis: Array = axis) -> Array:
            off = np.linalg.norm((ways - axis) @ across(ahead).T, axis=-1)
            waves = k[3 * octave : 3 * octave + 3, None]
            return np.asarray(np.interp(waves * off, image, power).mean(axis=0))

        raw[beam] = _cells(response, axis, ahead if in_surface else None)
    sides = tilted(ahead, tilt=lean[:, None], azimuth=np.pi * np.arange(_SIDES) / _SIDES)
    found = [_weights(at, us, design="delay-and-sum", temperature_c=temperature_c) for us in sides]
    return _finished(at, found, raw, k=k, in_surface=in_surface)


def _finished(
    at: Array, weights: Sequence[Weights], raw: Array, *, k: Array, in_surface: bool
) -> BeamTables:
    """Tables with exactly the mean that the weights have in a diffuse field."""
    coherence = diffuse_coherence(at, wavenumber=k)
    half = 0.5 if in_surface else 1.0
    taken = np.array([half * _octaves(diffuse_efficiency(w, coherence)) for w in weights])
    noise = np.array([_octaves(1.0 / white_noise_gain(w)) for w in weights])
    return BeamTables(_with_mean(raw, taken), taken, -10.0 * np.log10(noise))


def _wavenumbers(temperature_c: float) -> Array:
    speed = float(speed_of_sound(temperature_c))
    return np.asarray(2.0 * np.pi * third_frequencies().ravel() / speed)


def _weights(at: Array, aims: Array, *, design: Design, temperature_c: float) -> Weights:
    return beam_weights(
        at,
        toward=aims,
        frequency=third_frequencies().ravel(),
        speed=float(speed_of_sound(temperature_c)),
        design=design,
    )


def _octaves(values: Array) -> Array:
    """Mean over variants and the three thirds of each octave; (V, 21) to (7,)."""
    return np.asarray(values.reshape(len(values), len(OCTAVES), -1).mean(axis=(0, 2)))


def _turned_power(flat: Array, image: Array) -> Array:
    """Response of evenly weighted capsules, mean over turns, at distances in their image."""
    power = np.zeros(len(image))
    for turn in np.pi * np.arange(_TURNS) / _TURNS:
        along = flat @ np.array([np.cos(turn), np.sin(turn)])
        phase = np.multiply.outer(along, image).astype(np.float32)
        power += np.square(np.cos(phase).mean(axis=0)) + np.square(np.sin(phase).mean(axis=0))
    return power / _TURNS


def _table(
    at: Array, weights: Weights, toward: Array, k: Array, front: npt.ArrayLike | None
) -> Array:
    """Means of a beam's response round where it points over cells of the cosine."""

    def response(octave: int, ways: Array) -> Array:
        thirds = range(3 * octave, 3 * octave + 3)
        return np.asarray(sum(_energy(k[i] * at, weights[i], ways) for i in thirds) / 3.0)

    return _cells(response, toward, front)


def _cells(
    response: Callable[[int, Array], Array], axis: Array, front: npt.ArrayLike | None
) -> Array:
    """Means of a response over the cells of the cosine from an axis, the axis itself 1."""
    turned = np.vstack([across(axis), axis])
    table = np.empty((ENTRIES, len(OCTAVES)))
    for octave, points in enumerate(_POINTS):
        ways = _directions(points) @ turned
        heard = response(octave, ways)
        if front is not None:
            heard = heard * (ways @ np.asarray(front, dtype=np.float64) > 0.0)
        table[:, octave] = heard.reshape(ENTRIES, points).mean(axis=-1)
    table[-1] = 1.0
    return table


def _energy(waves: Array, weights: np.ndarray[Any, np.dtype[np.complex128]], ways: Array) -> Array:
    """Energy response ``|wᴴd|²``, in single precision, which is five times as fast."""
    phase = waves.astype(np.float32) @ ways.T.astype(np.float32)
    parts = np.stack([weights.real, weights.imag]).astype(np.float32)
    by_cosine, by_sine = parts @ np.cos(phase), parts @ np.sin(phase)
    heard = np.square(by_cosine[0] + by_sine[1]) + np.square(by_sine[0] - by_cosine[1])
    return np.asarray(heard, dtype=np.float64)


@functools.cache
def _directions(points: int) -> Array:
    """Directions about +z, evenly round it in each cell of the cosine, shape (513·points, 3)."""
    edges = np.clip(COSINES[:, None] + np.array([-1.0, 1.0]) / (ENTRIES - 1), -1.0, 1.0)
    index = np.arange(points)
    height = (index * _GOLDEN / (2.0 * np.pi) + 0.5 / points) % 1.0
    cosine = edges[:, :1] + height * (edges[:, 1:] - edges[:, :1])
    azimuth = _GOLDEN * np.arange(ENTRIES)[:, None] + 2.0 * np.pi * index / points
    flat = np.sqrt(1.0 - np.square(cosine))
    ways = np.stack([flat * np.cos(azimuth), flat * np.sin(azimuth), cosine], axis=-1)
    return np.asarray(ways.reshape(-1, 3))
