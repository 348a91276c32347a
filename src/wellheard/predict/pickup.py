"""How a microphone hears: tables of its directions, and which element or beam a talker gets.

::

    head: the capsule with the best ratio      array: the beam that points at the talker
          ╲  │  ╱                               ════════════  ceiling
       ●───  ◎  ───●                                  ╲ axis
             │                                         ╲
             ● talker                                   ● talker
"""

from __future__ import annotations

import functools
import math
from dataclasses import dataclass

import numpy as np

from wellheard.acoustics import patterns
from wellheard.acoustics.directivity import first_order_gain
from wellheard.acoustics.levels import a_weights_db, energy, energy_level_db
from wellheard.arrays import Array
from wellheard.bands import SPEECH_BANDS
from wellheard.catalog.product import Vector
from wellheard.catalog.products import BeamDesign, Microphone

Indices = np.ndarray[tuple[int, ...], np.dtype[np.intp]]

BEYOND_STEERING_DB = -12.0
"""Response to a talker beyond the steering limit of a beam of which nothing but its directivity
index is known (common practice, no source [C])."""

ROUND_STEP_DEG, OTHER_STEP_DEG = 5.0, 10.0
"""Largest step of steering between two tables: of round arrays that delay and sum, and of others
[°]."""

SIDES = 12
"""Sides to which an array that is not round is steered, each with a table of its own."""

VARIANTS = 3
"""Sides over which a table of a round superdirective array is averaged."""


@dataclass(frozen=True)
class Choice:
    """What rows of talkers get of microphones of one product.

    Attributes
    ----------
    pattern : ndarray of int, shape (R, M)
        Index into the tables.
    axis : ndarray, shape (R, M, 3)
        Unit vector that the table is about, in the room.
    on_axis : ndarray, shape (R, M, 7)
        Energy response towards the talker, re the axis.
    element : ndarray of int, shape (R, M)
        Which capsule of a head; 0 for a beam.
    """

    pattern: Indices
    axis: Array
    on_axis: Array
    element: Indices


@dataclass(frozen=True)
class _Steering:
    """Where beams of a product point, and which table each has.

    ``sides`` is 1 for a table that holds for all azimuths about the rest axis; ``aside`` is the
    table of talkers beyond the limit, None where the beam's own is known there.
    """

    rest: Array
    limit: float
    steps: int
    sides: int
    aside: int | None


@dataclass(frozen=True, eq=False)
class Pickup:
    """How microphones of one product hear; made by `pickup`.

    Attributes
    ----------
    product : Microphone
        Whose it is.
    patterns : ndarray, shape (K, 513, 7)
        Energy response over equally spaced cosines −1 to 1 from an axis.
    diffuse : ndarray, shape (K, 7)
        Random energy efficiency: the mean of each table over the sphere; half of it for a capsule
        in a table top, whose table has no lower half cut away.
    upper_only : bool
        Nothing arrives from below: a capsule in a table top.
    white_noise_gain_db : ndarray, shape (K, 7)
        Signal-to-own-noise ratio of the beam re one of its capsules; 0 for a capsule, not a number
        where no positions are known. [dB]
    self_noise_db : ndarray, shape (K, 7)
        Own noise re an even spectrum with the rated dBA, which is of the whole product with its
        beam at rest: 0 for capsules, for delay and sum and where no positions are known. [dB]
    """

    product: Microphone
    patterns: Array
    diffuse: Array
    upper_only: bool
    white_noise_gain_db: Array
    self_noise_db: Array
    steering: _Steering | None
    of_element: Indices
    in_surface: bool = False
    """It lies in the ceiling, whose reflection at once is in its tables already."""

    def choose(self, aim_deg: Array, towards: Array) -> Choice:
        """Best element, or the beam, of each microphone for each talker.

        Parameters
        ----------
        aim_deg : ndarray, shape (M,)
            Azimuths of the microphones' aim. [°]
        towards : ndarray, shape (R, M, 3)
            Unit vectors from microphone to talker.

        Returns
        -------
        Choice

        Notes
        -----
        Of several capsules the one with the greatest ratio of response towards the talker to
        diffuse efficiency, mean of 500 Hz–4 kHz, the first of equals. A beam points at the talker
        within its steering limit. Beyond, an array whose capsules are known points to the nearest
        direction at its limit, and the talker gets what its table has there; of another beam the
        talker gets `BEYOND_STEERING_DB`, and the room what it takes from all round.
        """
        if self.steering is None:
            return self._best_element(aim_deg, towards)
        return self._beam(self.steering, aim_deg, towards)

    def _best_element(self, aim_deg: Array, towards: Array) -> Choice:
        unique, back = np.unique(aim_deg, return_inverse=True)
        axes = np.array([self.product.axes(float(a)) for a in unique])[back]
        cosine = np.clip(np.einsum("rmk,mek->rme", towards, axes), -1.0, 1.0)
        gains = np.square(first_order_gain(cosine, a=np.asarray(self.product.patterns)))
        taken_db = energy_level_db(self.diffuse[self.of_element])[:, SPEECH_BANDS].mean(axis=-1)
        merit = energy_level_db(np.maximum(gains, 1e-12)) - taken_db
        # The first of equals, which rounding errors must not tell apart.
        element = np.argmax(np.round(merit, 6), axis=-1)
        own = np.take_along_axis(gains, element[..., None], axis=-1)
        return Choice(
            pattern=self.of_element[element],
            axis=axes[np.arange(len(aim_deg))[None, :], element],
            on_axis=np.repeat(own, self.diffuse.shape[-1], axis=-1),
            element=element,
        )

    def _beam(self, steering: _Steering, aim_deg: Array, towards: Array) -> Choice:
        seen = _turned(towards, -np.radians(aim_deg))
        ahead = np.clip(seen @ steering.rest, -1.0, 1.0)
        flat = seen @ patterns.across(steering.rest).T
        tilt = np.minimum(np.arccos(ahead), steering.limit)
        azimuth = np.arctan2(flat[..., 1], flat[..., 0])
        reached = ahead >= math.cos(steering.limit) - 1e-12
        table = _table_index(steering, tilt, azimuth)
        on_axis = np.ones((*tilt.shape, self.diffuse.shape[-1]))
        axis = towards.copy()
        beyond = ~reached
        if np.any(beyond) and steering.aside is not None:
            table[beyond] = steering.aside
            on_axis[beyond] = energy(np.array(BEYOND_STEERING_DB))
        elif np.any(beyond):
            at_limit = patterns.tilted(steering.rest, tilt=tilt, azimuth=azimuth)
            nearest = _turned(at_limit, np.radians(aim_deg))[beyond]
            axis[beyond] = nearest
            off = np.einsum("nk,nk->n", nearest, towards[beyond])
            on_axis[beyond] = looked_up(self.patterns, table[beyond], off)
        return Choice(table, axis, on_axis, np.zeros(tilt.shape, dtype=np.intp))


@functools.lru_cache(maxsize=64)
def pickup(product: Microphone) -> Pickup:
    """How microphones of a product hear.

    Parameters
    ----------
    product : Microphone
        Any of the catalogue, or of the user's own.

    Returns
    -------
    Pickup
        Kept, so that asking again costs nothing.

    Notes
    -----
    An array whose capsules are known is computed from them. One that is always part of the ceiling
    has the ceiling as its baffle: pressure doubles from every direction below, which cancels in
    all ratios, and half of the directions are left, as for a capsule in a table top. Tables are
    about the direction of a beam and so lose which side of it a lobe lies on; that matters to
    early reflections alone, whose sum is right. Round arrays have one table for each tilt, the mean
    over all sides; others have one for each of twelve sides too.

    Examples
    --------
    >>> from wellheard.catalog.catalogue import Catalogue
    >>> head = pickup(Catalogue.shipped().microphone("ceiling-head-3"))
    >>> head.patterns.shape, head.diffuse.round(3)[0, 0]
    ((1, 513, 7), np.float64(0.333))
    """
    if product.beam is None:
        return _of_capsules(product)
    rest = np.array(product.axes()[0])
    if product.positions:
        return _of_array(product, rest)
    own = patterns.lobe_pattern(product.beam.directivity_index_db)
    taken = energy(-np.array(product.beam.directivity_index_db))
    aside = patterns.aside_pattern(taken, level_db=BEYOND_STEERING_DB)
    limit = math.radians(product.beam.steer_limit_deg)
    return Pickup(
        product=product,
        patterns=np.stack([own, aside]),
        diffuse=np.stack([taken, taken]),
        upper_only=False,
        white_noise_gain_db=np.full((2, len(taken)), np.nan),
        self_noise_db=np.zeros((2, len(taken))),
        steering=_Steering(rest, limit, steps=0, sides=1, aside=1),
        of_element=np.zeros(1, dtype=np.intp),
    )


def _of_capsules(product: Microphone) -> Pickup:
    kinds, of_element = np.unique(np.array(product.patterns), return_inverse=True)
    tables = np.stack([patterns.first_order_pattern(float(a)) for a in kinds])
    efficiency = np.array(product.random_energy_efficiencies())
    first = [int(np.argmax(of_element == kind)) for kind in range(len(kinds))]
    return Pickup(
        product=product,
        patterns=tables,
        diffuse=efficiency[first],
        upper_only=product.boundary,
        white_noise_gain_db=np.zeros((len(kinds), efficiency.shape[-1])),
        self_noise_db=np.zeros((len(kinds), efficiency.shape[-1])),
        steering=None,
        of_element=of_element.astype(np.intp),
    )


def _of_array(product: Microphone, rest: Array) -> Pickup:
    assert product.beam is not None
    steering, tables = _array_tables(
        product.positions,
        (float(rest[0]), float(rest[1]), float(rest[2])),
        product.beam.steer_limit_deg,
        product.beam.design,
        product.flush,
    )
    noise_db = -tables.white_noise_gain_db
    weights_db = a_weights_db()
    rated_db = energy_level_db(energy(noise_db[0] + weights_db).sum() / energy(weights_db).sum())
    return Pickup(
        product=product,
        patterns=tables.patterns,
        diffuse=tables.diffuse,
        upper_only=False,
        white_noise_gain_db=tables.white_noise_gain_db,
        self_noise_db=noise_db - rated_db,
        steering=steering,
        of_element=np.zeros(1, dtype=np.intp),
        in_surface=product.flush and patterns.is_flat(product.positions, normal=rest),
    )


@functools.lru_cache(maxsize=64)
def _array_tables(
    positions: tuple[Vector, ...], rest: Vector, limit_deg: float, design: BeamDesign, flush: bool
) -> tuple[_Steering, patterns.BeamTables]:
    """Tables of an array, at rest first, then by tilt and side; panels of two sizes share them."""
    normal = np.array(rest)
    flat = patterns.is_flat(positions, normal=normal)
    round_ = patterns.is_round(positions, normal=normal)
    in_surface = flush and flat
    limit = math.radians(limit_deg)
    quick = design == "delay-and-sum" and flat and round_
    steps = math.ceil(limit_deg / (ROUND_STEP_DEG if quick else OTHER_STEP_DEG) - 1e-9)
    tilt = limit * np.arange(steps + 1) / steps
    if quick:
        tables = patterns.round_tables(positions, normal=normal, tilt=tilt, in_surface=in_surface)
        return _Steering(normal, limit, steps, sides=1, aside=None), tables
    front = normal if in_surface else None
    if round_:
        sides = 1
        around = np.broadcast_to(
            2.0 * np.pi * np.arange(VARIANTS) / VARIANTS, (len(tilt), VARIANTS)
        )
        toward = patterns.tilted(normal, tilt=tilt[:, None], azimuth=around)
    else:
        sides = SIDES
        around = 2.0 * np.pi * np.arange(sides) / sides
        aside = patterns.tilted(normal, tilt=tilt[1:, None], azimuth=around).reshape(-1, 3)
        toward = np.concatenate([normal[None], aside])[:, None]
    tables = patterns.beam_tables(positions, toward=toward, design=design, front=front)
    return _Steering(normal, limit, steps, sides=sides, aside=None), tables


def _table_index(steering: _Steering, tilt: Array, azimuth: Array) -> Indices:
    """Table of a tilt and azimuth: the nearest."""
    if steering.steps == 0:
        return np.zeros(tilt.shape, dtype=np.intp)
    step = np.rint(tilt / steering.limit * steering.steps).astype(np.intp)
    if steering.sides == 1:
        return step
    side = np.rint(azimuth / (2.0 * np.pi) * steering.sides).astype(np.intp) % steering.sides
    return np.where(step == 0, 0, 1 + (step - 1) * steering.sides + side)


def looked_up(tables: Array, table: Indices, cosine: Array) -> Array:
    """Entries of tables at cosines, between two of them in proportion, shape (N, 7)."""
    place = (np.clip(cosine, -1.0, 1.0) + 1.0) / 2.0 * (patterns.ENTRIES - 1)
    low = np.minimum(place.astype(np.intp), patterns.ENTRIES - 2)
    share = (place - low)[:, None]
    return np.asarray((1.0 - share) * tables[table, low] + share * tables[table, low + 1])


def _turned(ways: Array, angle: Array) -> Array:
    """Vectors turned about the vertical, those of each microphone by its own angle; (R, M, 3)."""
    cosine, sine = np.cos(angle), np.sin(angle)
    x, y, z = ways[..., 0], ways[..., 1], ways[..., 2]
    return np.stack([cosine * x - sine * y, sine * x + cosine * y, z], axis=-1)
