"""How sound spreads in a document's room: traced once, evaluated for any absorption.

::

    enclosure ──► paths of rays (geometry only) ──► decay ──► look-up tables of late sound
                       at the stated scattering,
                       and at .1 and .5 for the interval
"""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import cached_property, lru_cache
from typing import Final, TypeVar

import numpy as np

from wellheard.acoustics import compiled, late, rays
from wellheard.acoustics.decay_table import DecayTable, decay_table
from wellheard.acoustics.enclosure import Enclosure
from wellheard.acoustics.facets import mean_free_path
from wellheard.acoustics.field import sabine_constant
from wellheard.acoustics.resolved import needs_resolving
from wellheard.arrays import Array
from wellheard.predict import tolerances
from wellheard.predict.surfaces import longest_wall

RAYS: Final = 4096
"""Rays of a decay: its times to 2–7 % of those of many more."""

SEED: Final = 0
"""Of the rays: the same room has the same ones everywhere."""

FREE_PATHS: Final = 96
"""Mean free paths that rays are followed for: about 0.8 s in a meeting room, 60 dB down in an
ordinary one; the rest is extrapolated. The same whatever absorbs, so that more absorption never
leaves more sound."""

DIGITS: Final = 6
"""Decimals of a metre that a plan is set upright to: a room that is only turned, or drawn from
another corner of the site, keeps its rays."""

LONG: Final = 6.0
"""A room so much longer than wide is heard place by place (common practice: the fields of
proportionate rooms are even, those of corridors are not)."""

KEPT: Final = 24
"""Rooms whose rays are remembered."""

KEPT_TABLES: Final = 192
"""Decays that are remembered, and as many calibrations: four of a room, for every finish that a
survey tries."""

_flights: OrderedDict[tuple[object, ...], rays.Flights] = OrderedDict()
_tables: OrderedDict[tuple[object, ...], DecayTable] = OrderedDict()
_calibrations: OrderedDict[tuple[object, ...], late.Calibration] = OrderedDict()


@dataclass(frozen=True, eq=False)
class Propagation:
    """Rays of one room with the decay that its absorption makes of them.

    Attributes
    ----------
    enclosure : Enclosure
        As the document has it; ``exponent`` is not in its absorption.
    exponent : ndarray, shape (7,)
        Factor on −ln(1 − α) of every surface; 1 unless a measured decay asked for another.
    reached : bool
        Whether a measured decay was reproduced in every octave.
    speed : float
        Of sound. [m/s]
    air : ndarray, shape (7,)
        Power attenuation. [1/m]
    length : float
        How far rays are followed. [m]
    measured : ndarray, shape (7,), or None
        Decay times that are reproduced. [s]
    """

    enclosure: Enclosure
    exponent: Array
    reached: bool
    speed: float
    air: Array
    length: float
    measured: Array | None = None

    def _table_of(self) -> DecayTable:
        return table_of(self.enclosure, self.absorption, length=self.length, speed=self.speed)

    def _scattering(self, share: float) -> Propagation:
        """The same room where ``share`` is scattered, reproducing a measured decay as this does."""
        spread = np.full(len(self.enclosure.scattering), share)
        return propagation(
            replace(self.enclosure, scattering=spread),
            speed=self.speed,
            air=self.air,
            measured_time=self.measured,
        )

    @cached_property
    def absorption(self) -> Array:
        """Of every surface with the exponent applied, shape (S, 7)."""
        return late.scaled(self.enclosure.absorption, self.exponent)

    @cached_property
    def walls(self) -> Enclosure:
        """The enclosure with that absorption, as image sources meet it."""
        return replace(self.enclosure, absorption=self.absorption)

    @cached_property
    def table(self) -> DecayTable:
        """Mean energy of the room by the time since the sound was made."""
        return self._table_of()

    @cached_property
    def tables(self) -> late.Late:
        """The look-up tables of late sound."""
        return late.late_tables(
            self.table, volume=self.enclosure.volume, speed=self.speed, air=self.air
        )

    @cached_property
    def time(self) -> Array:
        """T20 per octave, shape (7,) [s]."""
        return late.reverberation_times(self.table, speed=self.speed, air=self.air)

    @cached_property
    def level_time(self) -> Array:
        """Decay time of the exponential decay that holds as much energy, shape (7,) [s]."""
        return self._level_time(self.table)

    def _level_time(self, table: DecayTable) -> Array:
        volume = self.enclosure.volume
        energy = late.steady_energy(table, volume=volume, speed=self.speed, air=self.air)
        return np.asarray(sabine_constant(self.speed) * volume * energy / (16.0 * np.pi))

    @cached_property
    def of_scattering(self) -> Scattered:
        """What the scattering that nobody knows does to decay and level.

        A measured decay stays what it is at either end: the absorption that reproduces it differs,
        and with it the level.
        """
        stated = float(np.mean(self.enclosure.scattering))
        smooth = self._scattering(min(tolerances.LEAST_SCATTERING, stated))
        rough = self._scattering(max(tolerances.MOST_SCATTERING, stated))
        known = self.measured
        return Scattered(
            smooth=smooth.time if known is None else known,
            rough=rough.time if known is None else known,
            louder=np.log(smooth.level_time / rough.level_time),
        )

    @cached_property
    def needs_places(self) -> bool:
        """Whether scattered sound is far from even: behind corners, and in long rooms."""
        if needs_resolving(self.enclosure):
            return True
        sides = np.ptp(upright(self.enclosure).outline, axis=0)
        return float(sides.max()) > LONG * float(sides.min())

    def reproducing(self, time: Array) -> Propagation:
        """The same room if a measurement had found these decay times [s]."""
        return replace(self, measured=np.asarray(time, dtype=np.float64))

    def absorbing(self, share: float) -> Propagation:
        """The same room with ``share`` of its absorption exponents."""
        return replace(self, exponent=self.exponent * share)


@dataclass(frozen=True, eq=False)
class Scattered:
    """Decay at the ends of the interval of scattering, shape (7,) each."""

    smooth: Array
    """T20 where little is scattered [s]."""
    rough: Array
    """T20 where much is [s]."""
    louder: Array
    """Natural logarithm of the reverberant energy of the smooth room over the rough one's."""

    @property
    def log_time_sigma(self) -> Array:
        """Standard deviation of ln T, the two ends taken for its 10 and 90 % points."""
        return np.abs(np.log(self.smooth / self.rough)) / (2 * tolerances.NORMAL_90)

    @property
    def log_energy_sigma(self) -> Array:
        """The same of the reverberant energy."""
        return np.abs(self.louder) / (2 * tolerances.NORMAL_90)


def propagation(
    enclosure: Enclosure, *, speed: float, air: Array, measured_time: Array | None = None
) -> Propagation:
    """Rays and decay of an enclosure.

    Parameters
    ----------
    enclosure : Enclosure
        The room.
    speed : float
        Of sound. [m/s]
    air : ndarray, shape (7,)
        Power attenuation. [1/m]
    measured_time : ndarray, shape (7,), optional
        Decay times to reproduce: the absorption exponents are scaled per octave until the
        model's own T20 is them. [s]
    """
    length = FREE_PATHS * mean_free_path(enclosure)
    plain = Propagation(
        enclosure=enclosure,
        exponent=np.ones(7),
        reached=True,
        speed=speed,
        air=np.asarray(air),
        length=length,
        measured=None if measured_time is None else np.asarray(measured_time, dtype=np.float64),
    )
    if plain.measured is None:
        return plain
    found = _calibrated(plain, plain.measured)
    return replace(plain, exponent=found.scale, reached=bool(np.all(found.reached)))


def _calibrated(plain: Propagation, time: Array) -> late.Calibration:
    """Absorption that reproduces a measured decay, that of the last rooms remembered."""
    enclosure = plain.enclosure

    def calibrate() -> late.Calibration:
        return late.calibrate(
            flights_of(enclosure, length=plain.length),
            enclosure.absorption,
            target_time=time,
            speed=plain.speed,
            air=plain.air,
        )

    arrays = (enclosure.absorption.tobytes(), time.tobytes(), plain.air.tobytes())
    key = (upright(enclosure).path_key, RAYS, round(plain.length, DIGITS), plain.speed, *arrays)
    return recalled(_calibrations, key, KEPT_TABLES, calibrate)


@lru_cache(maxsize=8)
def upright(enclosure: Enclosure) -> Enclosure:
    """The same room with its longest wall along x and its first corner in the origin."""
    corners = enclosure.outline
    x, y = longest_wall(corners)
    turn = np.array([[x, -y], [y, x]])

    def set_up(outline: Array) -> Array:
        # Plus 0 makes −0, which has other bytes, a 0.
        return np.round((outline - corners[0]) @ turn, DIGITS) + 0.0

    return replace(
        enclosure,
        outline=set_up(corners),
        columns=tuple(set_up(column) for column in enclosure.columns),
        objects=tuple(replace(one, outline=set_up(one.outline)) for one in enclosure.objects),
        level_patches=tuple(
            replace(one, outline=set_up(one.outline)) for one in enclosure.level_patches
        ),
    )


def flights_of(enclosure: Enclosure, *, length: float) -> rays.Flights:
    """Rays of an enclosure set upright, those of the last rooms remembered.

    Where they hit is not in them: it would be of use in the enclosure as it stands only.
    """
    standing = upright(enclosure)

    def trace() -> rays.Flights:
        traced = rays.trace(standing, rays=RAYS, length=length, seed=SEED)
        return replace(traced, points=traced.points[:0].copy())

    return recalled(_flights, (standing.path_key, RAYS, round(length, DIGITS)), KEPT, trace)


def table_of(enclosure: Enclosure, absorption: Array, *, length: float, speed: float) -> DecayTable:
    """Decay of an enclosure with some absorption, those of the last rooms remembered.

    What a survey asks about people, noise or microphones leaves the decay alone.
    """

    def weigh() -> DecayTable:
        flights = flights_of(enclosure, length=length)
        return decay_table(flights, absorption, speed=speed)

    key = (upright(enclosure).path_key, RAYS, round(length, DIGITS), absorption.tobytes(), speed)
    return recalled(_tables, key, KEPT_TABLES, weigh)


Kept = TypeVar("Kept")


def recalled(
    kept: OrderedDict[tuple[object, ...], Kept],
    key: tuple[object, ...],
    most: int,
    make: Callable[[], Kept],
) -> Kept:
    """What was made for a key before by the kernels in use, or is made now; the ``most`` last."""
    key = (compiled.in_use(), *key)
    found = kept.get(key)
    if found is None:
        found = kept[key] = make()
        if len(kept) > most:
            kept.popitem(last=False)
    else:
        kept.move_to_end(key)
    return found
