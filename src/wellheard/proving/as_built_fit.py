"""Absorption and scattering that make the model's own decay the one that was measured.

The decay is that of rays: followed once for each scattering, and only weighed again for other
absorption. One factor on −ln(1 − α) for each group and octave, and one scattering for all, are
found by Gauss–Newton steps; each is as little off what is published as the decay allows.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Final

import numpy as np

from wellheard.acoustics import air, late
from wellheard.arrays import Array
from wellheard.bands import EXACT_OCTAVES
from wellheard.predict import tolerances
from wellheard.predict.propagation import Propagation, propagation
from wellheard.proving.as_built_groups import Grouped
from wellheard.proving.as_built_solve import Linear, Mask
from wellheard.room.space import Climate

NEIGHBOURS: Final = 0.7
"""Correlation of the errors of one finish in neighbouring octaves; common practice, no source [C]:
what absorbs more than published at 1 kHz mostly does at 2 kHz."""

SCATTERING: Final = (0.05, 0.8)
"""Between these a scattering is looked for; common practice, no source [C]."""

SCATTERING_LOG_SIGMA: Final = float(
    np.log(tolerances.MOST_SCATTERING / tolerances.LEAST_SCATTERING) / (2 * tolerances.NORMAL_90)
)
"""Of ln(scattering): the interval of a furnished room taken for its 10 and 90 % points."""

QUIET: Final = 0.1
"""Share of the variance of ln T20 below which groups are left as they are, and of that of the
scattering which a decay must decide to move it; common practice, no source [C]."""

_STEP = 0.1
_SCATTERING_STEP = float(np.log(1.4))  # over what chance does to so many rays
_JOINT = 3
_ROUNDS = 8
_CLOSE = 0.002
_NOTHING = 1e-12
_DECIMALS = 2  # of a scattering in the document


@dataclass(frozen=True, eq=False)
class Model:
    """The ray model of a space as it was measured."""

    grouped: Grouped
    speed: float
    air: Array
    stated: float
    """Scattering that the document says, within the bounds."""

    def sound(self, log_factor: Array, scattering: float) -> Propagation:
        """Rays and their decay.

        Parameters
        ----------
        log_factor : ndarray, shape (groups + held, 7)
            Logarithm of the factor on −ln(1 − α).
        scattering : float
            Of every surface.
        """
        room = self.grouped.enclosure
        scale = np.ones_like(room.absorption)
        for one, factor in zip(self.grouped.members, log_factor, strict=True):
            scale[list(one.surfaces)] = np.exp(factor)
        return propagation(
            replace(
                room,
                absorption=late.scaled(room.absorption, scale),
                scattering=np.full(len(room.names), scattering),
            ),
            speed=self.speed,
            air=self.air,
        )

    def log_time(self, log_factor: Array, scattering: float) -> Array:
        """Logarithm of T20, shape (7,)."""
        return np.log(self.sound(log_factor, scattering).time)

    def curvature(self, log_factor: Array, scattering: float) -> Array:
        """T30 over T20, shape (7,)."""
        table = self.sound(log_factor, scattering).table
        t30 = late.reverberation_times(table, speed=self.speed, air=self.air, high_db=-35.0)
        return np.asarray(t30 / late.reverberation_times(table, speed=self.speed, air=self.air))

    def slopes(self, log_factor: Array, scattering: float) -> Array:
        """Of ln T20 with each logarithm of a factor, shape (groups + held, 7)."""
        here = self.log_time(log_factor, scattering)
        found = []
        for index in range(len(log_factor)):
            moved = log_factor.copy()
            moved[index] += _STEP
            found.append((self.log_time(moved, scattering) - here) / _STEP)
        return np.array(found)

    def slope_of_scattering(self, log_factor: Array, scattering: float) -> Array:
        """Of ln T20 with the logarithm of the scattering, shape (7,)."""
        ends = np.clip(scattering * np.exp([-_SCATTERING_STEP, _SCATTERING_STEP]), *SCATTERING)
        less, more = (self.log_time(log_factor, float(end)) for end in ends)
        return np.asarray((more - less) / np.log(ends[1] / ends[0]))


def model(grouped: Grouped, climate: Climate) -> Model:
    """The ray model of a space in the air of a session."""
    return Model(
        grouped,
        speed=float(air.speed_of_sound(climate.temperature_c)),
        air=air.power_attenuation(
            np.asarray(EXACT_OCTAVES),
            temperature_c=climate.temperature_c,
            humidity=climate.humidity,
        ),
        stated=float(np.clip(np.mean(grouped.enclosure.scattering), *SCATTERING)),
    )


@dataclass(frozen=True, eq=False)
class Fit:
    """What a decay says of absorption and scattering.

    Attributes
    ----------
    log_factor : ndarray, shape (groups, 7)
        Of −ln(1 − α).
    covariance : ndarray, shape (7, groups, groups)
        Of these in each octave, the decay known.
    decided : ndarray, shape (groups, 7)
        Share of the variance of each that the decay takes away, 0–1.
    weight : ndarray, shape (groups + 1,)
        Share of each group, and of the scattering last, in how unsure the decay was.
    at_bound : ndarray of bool, shape (groups, 7)
        What has moved as far as it may.
    scattering, scattering_log_sigma, scattering_decided : float
    before, after : ndarray, shape (7,)
        T20 of the model. [s]
    miss : ndarray, shape (7,)
        How far the logarithm of what was measured is from ``after``, in deviations of the
        measurement; NaN where nothing was measured.
    surprise : ndarray, shape (7,)
        How far it was from ``before``, in deviations of prediction and measurement together.
    curvature : ndarray, shape (7,)
        T30 over T20 of the model as built.
    """

    log_factor: Array
    covariance: Array
    decided: Array
    weight: Array
    at_bound: Mask
    scattering: float
    scattering_log_sigma: float
    scattering_decided: float
    before: Array
    after: Array
    miss: Array
    surprise: Array
    curvature: Array


def quiet(room: Model, log_time: Array, sigma: Array) -> tuple[int, ...]:
    """Groups of which a decay says next to nothing; arguments as of `fit`.

    The lightest ones that together are no more than `QUIET` of how unsure absorption leaves it, in
    any octave.
    """
    search = _Search(room, log_time, sigma)
    slopes = room.slopes(search.factors(np.zeros(len(search.low))), room.stated)
    share = search.shares(search.jacobian(slopes, np.zeros(7)))[:, :-1]
    lightest = np.argsort(share.max(axis=0), kind="stable")
    together = np.cumsum(share[:, lightest], axis=1).max(axis=0) <= QUIET
    return tuple(int(index) for index in lightest[together])


def fit(room: Model, log_time: Array, sigma: Array) -> Fit:
    """Find what is likeliest.

    Parameters
    ----------
    room : Model
        The ray model.
    log_time : ndarray, shape (7,)
        Logarithm of the decay times measured; NaN where there is none.
    sigma : ndarray, shape (7,)
        Standard deviation, that of the model itself included.

    Notes
    -----
    Scattering is found along with absorption first, then rounded as the document has it and kept
    while absorption makes up the rest: the decay is met whatever rounding does.
    """
    return _Search(room, log_time, sigma).found()


class _Search:
    """Parameters in one row: octaves of the first group, of the second …, then the scattering."""

    def __init__(self, room: Model, log_time: Array, sigma: Array) -> None:
        self.room, self.log_time, self.sigma = room, log_time, sigma
        self.there = np.flatnonzero(np.isfinite(log_time))
        self.groups = room.grouped.groups
        own, held = room.grouped.sigma()
        self.held = _correlated(held)
        self.prior = np.pad(_correlated(own), (0, 1))
        self.prior[-1, -1] = SCATTERING_LOG_SIGMA**2
        bounds = np.array([one.bounds() for one in self.groups])
        ends = np.log(np.array(SCATTERING) / room.stated)
        self.low = np.append(bounds[:, 0].ravel(), ends[0])
        self.high = np.append(bounds[:, 1].ravel(), ends[1])
        self.noise = np.diag(np.square(sigma[self.there]))

    def factors(self, value: Array) -> Array:
        own = value[:-1].reshape(-1, 7)
        return np.concatenate([own, np.zeros((len(self.room.grouped.held), 7))])

    def _scattering(self, value: Array) -> float:
        return float(self.room.stated * np.exp(value[-1]))

    def _linear(self, jacobian: Array) -> Linear:
        return Linear(self.prior, jacobian[self.there], self.noise, self.low, self.high)

    def found(self) -> Fit:
        value = np.zeros(len(self.low))
        start = np.exp(self.room.log_time(self.factors(value), self.room.stated))
        of_scattering = np.zeros(7)
        jacobians: list[Array] = []
        for number in range(_ROUNDS):
            if number == _JOINT:
                value[-1] = self._settled(value, jacobians[-1])
            factors, scattering = self.factors(value), self._scattering(value)
            slopes = self.room.slopes(factors, scattering)
            if number < _JOINT:
                of_scattering = self.room.slope_of_scattering(factors, scattering)
            jacobians.append(self.jacobian(slopes, of_scattering))
            moved, free = self._step(value, jacobians[-1], joint=number < _JOINT)
            value = value + moved
            if number >= _JOINT and float(np.abs(jacobians[-1] @ moved).max()) < _CLOSE:
                break
        return self._answer(value, free, jacobians, slopes, start)

    def _settled(self, value: Array, jacobian: Array) -> float:
        """Logarithm of the scattering over the stated one: 0 where it does next to nothing."""
        nothing = np.zeros_like(self.noise)
        if self._linear(jacobian).decided(nothing)[-1] < QUIET:
            return 0.0
        return float(np.log(round(self._scattering(value), _DECIMALS) / self.room.stated))

    def _step(self, value: Array, jacobian: Array, *, joint: bool) -> tuple[Array, Mask]:
        """How far to go, and which parameters are free of their bounds."""
        used = jacobian.copy()
        if not joint:
            used[:, -1] = 0.0
        here = self.room.log_time(self.factors(value), self._scattering(value))
        rest = self.log_time - here + used @ value
        fresh, free = self._linear(used).likeliest(rest[self.there])
        if not joint:
            fresh[-1] = value[-1]
        return fresh - value, free

    def jacobian(self, slopes: Array, of_scattering: Array) -> Array:
        own = slopes[: len(self.groups)]
        return np.column_stack([*(np.diag(one) for one in own), of_scattering])

    def _answer(
        self, value: Array, free: Mask, jacobians: list[Array], slopes: Array, start: Array
    ) -> Fit:
        count, there = len(self.groups), self.there
        held = self._of_held(slopes[count:])
        here = held[np.ix_(there, there)]
        last = self._linear(jacobians[-1])
        known = last.known(free, here)
        decided = last.decided(here)
        sigma = np.sqrt(np.diag(known))
        factors, scattering = self.factors(value), self._scattering(value)
        after = self.room.log_time(factors, scattering)
        spread = jacobians[0] @ self.prior @ jacobians[0].T + held
        unsure = np.sqrt(np.diag(spread) + np.square(self.sigma))
        own = known[:-1, :-1].reshape(count, 7, count, 7)
        return Fit(
            log_factor=factors[:count],
            covariance=np.einsum("gbhb->bgh", own),
            decided=decided[:-1].reshape(-1, 7),
            weight=self.shares(jacobians[0]).mean(axis=0),
            at_bound=~free[:-1].reshape(-1, 7) & (np.abs(factors[:count]) > _STEP),
            scattering=scattering,
            scattering_log_sigma=float(sigma[-1]),
            scattering_decided=float(decided[-1]),
            before=start,
            after=np.exp(after),
            miss=(self.log_time - after) / self.sigma,
            surprise=(self.log_time - np.log(start)) / unsure,
            curvature=self.room.curvature(factors, scattering),
        )

    def _of_held(self, slopes: Array) -> Array:
        """Covariance of ln T20 by what is held, shape (7, 7)."""
        found = np.zeros((7, 7))
        for index, one in enumerate(slopes):
            part = slice(7 * index, 7 * index + 7)
            found += np.outer(one, one) * self.held[part, part]
        return found

    def shares(self, jacobian: Array) -> Array:
        """Of groups, and of the scattering last, in how unsure ln T20 was.

        Shape (octaves measured, groups + 1).
        """
        each = (np.square(jacobian) * np.diag(self.prior))[self.there]
        share = each / np.maximum(each.sum(axis=1, keepdims=True), _NOTHING)
        groups = share[:, :-1].reshape(len(self.there), -1, 7).sum(axis=2)
        return np.column_stack([groups, share[:, -1]])


def _correlated(sigma: Array) -> Array:
    """Covariance of groups whose octaves err alike, shape (groups · 7, groups · 7).

    What an octave is less sure of than its neighbour is its own: so what is not measured never
    moves farther than what is.
    """
    octave = np.arange(7)
    alike = NEIGHBOURS ** np.abs(octave[:, None] - octave[None, :])
    found = np.zeros((sigma.size, sigma.size))
    for index, one in enumerate(sigma):
        part = slice(7 * index, 7 * index + 7)
        found[part, part] = np.square(np.minimum.outer(one, one)) * alike
    return found
