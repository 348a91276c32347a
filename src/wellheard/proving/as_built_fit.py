"""Absorption and scattering that make the model say what was measured.

One factor on −ln(1 − α) for each group and octave, and one scattering for all, are found by
Gauss–Newton steps; each is as little off what is published as the data allow. Where that is
farther than published figures explain, it is asked as well whether one finish is another than the
document says: the likelihoods of what was measured decide between these accounts.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import Final

import numpy as np

from wellheard.acoustics.decay_table import LEAST_KEPT
from wellheard.arrays import Array
from wellheard.predict import tolerances
from wellheard.proving.as_built_data import NEIGHBOURS, Data
from wellheard.proving.as_built_model import BEND, CLARITY, ROWS, SCATTERING, T20, Model
from wellheard.proving.as_built_solve import Linear, Mask

SCATTERING_LOG_SIGMA: Final = float(
    np.log(tolerances.MOST_SCATTERING / tolerances.LEAST_SCATTERING) / (2 * tolerances.NORMAL_90)
)
"""Of ln(scattering): the interval of a furnished room taken for its 10 and 90 % points."""

OTHER_CHANCE: Final = 0.1
"""Chance that some large finish is another than the document says; common practice, no source [C]:
one job in ten has a ceiling or a carpet that was changed for a cheaper one."""

OTHER: Final = (-2.1, -1.8, -1.4, -1.2, -1.2, -1.1, -1.1)
OTHER_LOG_SIGMA, OTHER_NEIGHBOURS = 1.7, 0.95
"""ln(−ln(1 − α)) of a finish of which nothing is known: mean, σ, and correlation of neighbouring
octaves of the 82 finishes of the catalogue (σ 1.2–1.8; 0.94–0.99 from 250 Hz up)."""

CLEAR_ODDS: Final = 1 / 100
"""Odds below which an account is passed over; common practice, no source [C]: rays are few, and
the model is rougher than its σ say."""

QUIET: Final = 0.1
"""Share of the variance of ln T20 below which groups are left as they are, and of that of the
scattering which the data must decide to move it; common practice, no source [C]."""

_ROUNDS = 8
_LAST_ROUNDS = 4
_CLOSE, _LAST_CLOSE = 1.0, 0.02  # of a change in twice the logarithm of the likelihood
_HALVINGS = 3
_MOVED = 0.1
_NOTHING = 1e-12
_DECIMALS = 2  # of a scattering in the document
_ENDS = (0.08, 0.6)  # scattering that a search begins at once more, for another branch


@dataclass(frozen=True)
class Account:
    """One account of what was measured.

    Attributes
    ----------
    other : int or None
        Group whose finish is another than the document says; None where all are as published.
    scattering : float
    misfit : float
        Squares of what it leaves of data and of published figures, in their deviations.
    cost : float
        −2 times the logarithm of its probability, up to a constant.
    """

    other: int | None
    scattering: float
    misfit: float
    cost: float

    def odds(self, best: Account) -> float:
        """Of it to another."""
        return float(np.exp((best.cost - self.cost) / 2.0))


@dataclass(frozen=True, eq=False)
class Fit:
    """What the data say of absorption and scattering.

    Attributes
    ----------
    log_factor : ndarray, shape (groups, 7)
        Of −ln(1 − α).
    covariance : ndarray, shape (7, groups, groups)
        Of these in each octave, the data known.
    decided : ndarray, shape (groups, 7)
        Share of the variance of each that the data take away, 0–1.
    weight : ndarray, shape (groups + 1,)
        Share of each group, and of the scattering last, in how unsure the decay was.
    at_bound : ndarray of bool, shape (groups, 7)
        What has moved as far as it may.
    scattering, scattering_log_sigma, scattering_decided : float
    before, after : ndarray, shape (7,)
        T20 of the model. [s]
    miss : ndarray, shape (7,)
        How far the logarithm of the T20 measured is from ``after``, in deviations of the
        measurement; NaN where nothing was measured.
    surprise : ndarray, shape (7,)
        How far it was from ``before``, in deviations of prediction and measurement together.
    curvature : ndarray, shape (7,)
        T30 over T20 of the model as built.
    clarity_db : (float, float)
        C50 of the measured paths before and after; 0 where there is none.
    other : int or None
        Group that has another finish than the document says.
    accounts : tuple of Account
        All that were tried, the likeliest first.
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
    clarity_db: tuple[float, float]
    other: int | None
    accounts: tuple[Account, ...]


def quiet(room: Model, data: Data) -> tuple[int, ...]:
    """Groups of which a decay says next to nothing; arguments as of `fit`.

    The lightest ones that together are no more than `QUIET` of how unsure absorption leaves it, in
    any octave.
    """
    share = _Search(room, data).shares[:, :-1]
    share = share / np.maximum(share.sum(axis=1, keepdims=True), _NOTHING)
    lightest = np.argsort(share.max(axis=0), kind="stable")
    together = np.cumsum(share[:, lightest], axis=1).max(axis=0) <= QUIET
    return tuple(int(index) for index in lightest[together])


def fit(room: Model, data: Data) -> Fit:
    """Find what is likeliest.

    Parameters
    ----------
    room : Model
        The ray model.
    data : Data
        What was measured.

    Notes
    -----
    An account in which one finish is another costs twice the logarithm of the odds against that,
    and what its wide prior spreads over [Laplace's approximation of the evidence, from memory]:
    where all finishes as published leave less misfit than those odds, no other is tried. Another
    finish is taken only where no other account comes near it: of two that may be the one, neither
    is, and all keep to what is published as far as that goes.

    Scattering is found along with absorption first, then rounded as the document has it and kept
    while absorption makes up the rest: the decay is met whatever rounding does.
    """
    plain = _Search(room, data)
    tried = [plain.found(room.stated)]
    count = len(plain.groups)
    if tried[0].account.misfit > 2.0 * np.log((1.0 - OTHER_CHANCE) * count / OTHER_CHANCE):
        # A decay hardly bends where little is scattered and where much is.
        farther = max(_ENDS, key=lambda end: abs(np.log(end / tried[0].account.scattering)))
        tried.append(plain.found(farther))
        tried += [_Search(room, data, other).found(room.stated) for other in range(count)]
    tried.sort(key=lambda one: one.account.cost)
    accounts = tuple(one.account for one in tried)
    near = {one.other for one in accounts if one.odds(accounts[0]) >= CLEAR_ODDS}
    taken = tried[0] if len(near) == 1 else next(one for one in tried if one.search is plain)
    return taken.search.settled(taken, plain, accounts)


@dataclass(frozen=True, eq=False)
class _Found:
    """Where a search ended."""

    search: _Search
    value: Array
    jacobian: Array
    account: Account


class _Search:
    """Parameters in one row: octaves of the first group, of the second …, then the scattering."""

    def __init__(self, room: Model, data: Data, other: int | None = None) -> None:
        self.room, self.data, self.other = room, data, other
        self.groups = room.grouped.groups
        own, held = room.grouped.sigma()
        self.held = correlated(held)
        self.prior = np.pad(correlated(own), (0, 1))
        self.prior[-1, -1] = SCATTERING_LOG_SIGMA**2
        bounds = [one.bounds() for one in self.groups]
        self.mean = np.zeros(len(self.prior))
        if other is not None:
            part = slice(7 * other, 7 * other + 7)
            wide = np.full((1, 7), OTHER_LOG_SIGMA)
            self.prior[part, part] = correlated(wide, OTHER_NEIGHBOURS)
            bounds[other] = self.groups[other].bounds(np.inf)
            published = np.log(np.maximum(self.groups[other].exponent, LEAST_KEPT))
            self.mean[part] = np.clip(np.array(OTHER) - published, *bounds[other])
        ends = np.log(np.array(SCATTERING) / room.stated)
        self.low = np.append([low for low, _ in bounds], ends[0])
        self.high = np.append([high for _, high in bounds], ends[1])
        self.weight = np.linalg.inv(data.noise)
        self.tightness = np.linalg.inv(self.prior)

    @cached_property
    def start(self) -> Array:
        """Jacobian of the document as it is."""
        value = np.zeros(len(self.low))
        _, of_scattering, _ = self._here(value)
        slopes = self.room.slopes(self._factors(value), self.room.stated, len(self.groups))
        return self._jacobian(slopes, of_scattering)

    @cached_property
    def shares(self) -> Array:
        """Of groups, and of the scattering last, in how unsure ln T20 was.

        Shape (octaves measured, groups + 1).
        """
        count = len(self.data.there)
        each = np.square(self.start[:count]) * np.diag(self.prior)
        share = each / np.maximum(each.sum(axis=1, keepdims=True), _NOTHING)
        groups = share[:, :-1].reshape(count, -1, 7).sum(axis=2)
        return np.column_stack([groups, share[:, -1]])

    def _factors(self, value: Array) -> Array:
        own = value[:-1].reshape(-1, 7)
        return np.concatenate([own, np.zeros((len(self.room.grouped.held), 7))])

    def _scattering(self, value: Array) -> float:
        return float(self.room.stated * np.exp(value[-1]))

    def _linear(self, jacobian: Array) -> Linear:
        """About the mean."""
        low, high = self.low - self.mean, self.high - self.mean
        return Linear(self.prior, jacobian, self.data.noise, low, high)

    def _likeliest(self, jacobian: Array, value: Array, rows: Array) -> tuple[Array, Mask]:
        off, free = self._linear(jacobian).likeliest(
            self.data.rest(rows) + jacobian @ (value - self.mean)
        )
        return self.mean + off, free

    def _here(self, value: Array) -> tuple[Array, Array, float]:
        return self.room.between(self._factors(value), float(np.log(self._scattering(value))))

    def _jacobian(self, slopes: Array, of_scattering: Array) -> Array:
        """Of what was measured, from slopes of the rows of the model, shape (m, n)."""
        full = np.zeros((ROWS, len(self.low)))
        octave = np.arange(7)
        for index, one in enumerate(slopes[: len(self.groups)]):
            for rows in (T20, BEND, CLARITY):
                full[rows.start + octave, 7 * index + octave] = one[rows]
        full[:, -1] = of_scattering
        return np.asarray(self.data.mix @ full)

    def _misfit(self, value: Array, rows: Array) -> float:
        rest, off = self.data.rest(rows), value - self.mean
        return float(rest @ self.weight @ rest + off @ self.tightness @ off)

    # Scattering free -----------------------------------------------------------------------------

    def found(self, scattering: float) -> _Found:
        """Absorption and scattering together, from a scattering on."""
        value = self.mean.copy()
        value[-1] = np.log(scattering / self.room.stated)
        rows, of_scattering, near = self._here(value)
        misfit = self._misfit(value, rows)
        for _ in range(_ROUNDS):
            slopes = self.room.slopes(self._factors(value), near, len(self.groups))
            jacobian = self._jacobian(slopes, of_scattering)
            fresh, free = self._likeliest(jacobian, value, rows)
            for halved in range(_HALVINGS):
                there = value + (fresh - value) * 0.5**halved
                rows, of_scattering, near = self._here(there)
                now = self._misfit(there, rows)
                if now < misfit:
                    break
            else:
                break
            value, gained, misfit = there, misfit - now, now
            if gained < _CLOSE:
                break
        return _Found(self, value, jacobian, self._account(value, jacobian, free, misfit))

    def _account(self, value: Array, jacobian: Array, free: Mask, misfit: float) -> Account:
        """Its probability: what it misses, and over how much its prior was spread."""
        used = np.where(free, jacobian, 0.0)
        _, spread = np.linalg.slogdet(self.data.noise + used @ self.prior @ used.T)
        chance = 1.0 - OTHER_CHANCE if self.other is None else OTHER_CHANCE / len(self.groups)
        cost = misfit + float(spread) - 2.0 * float(np.log(chance))
        return Account(self.other, round(self._scattering(value), _DECIMALS), misfit, cost)

    # Scattering as the document will have it -----------------------------------------------------

    def settled(self, found: _Found, plain: _Search, accounts: tuple[Account, ...]) -> Fit:
        """The answer, scattering rounded; ``plain`` is the search with all as published."""
        value = found.value.copy()
        value[-1] = self._settled(value, found.jacobian)
        scattering = self._scattering(value)
        _, of_scattering, _ = self._here(value)
        misfit = np.inf
        for _ in range(_LAST_ROUNDS):
            factors = self._factors(value)
            rows = self.room.rows(factors, scattering)
            before, misfit = misfit, self._misfit(value, rows)
            slopes = self.room.slopes(factors, scattering, len(self.groups))
            jacobian = self._jacobian(slopes, of_scattering)
            used = jacobian.copy()
            used[:, -1] = 0.0
            fresh, free = self._likeliest(used, value, rows)
            fresh[-1] = value[-1]
            if abs(before - misfit) < _LAST_CLOSE:
                break
            value = fresh
        return self._answer(value, free, jacobian, plain, accounts)

    def _settled(self, value: Array, jacobian: Array) -> float:
        """Logarithm of the scattering over the stated one.

        0 where it does next to nothing, and where it has hardly moved.
        """
        nothing = np.zeros_like(self.data.noise)
        if self._linear(jacobian).decided(nothing)[-1] < QUIET or abs(value[-1]) < _MOVED:
            return 0.0
        return float(np.log(round(self._scattering(value), _DECIMALS) / self.room.stated))

    def _answer(
        self,
        value: Array,
        free: Mask,
        jacobian: Array,
        plain: _Search,
        accounts: tuple[Account, ...],
    ) -> Fit:
        count, there = len(self.groups), self.data.there
        factors, scattering = self._factors(value), self._scattering(value)
        held = self._of_held(factors, scattering)
        linear = self._linear(jacobian)
        known, decided = linear.known(free, held), linear.decided(held)
        start = self.room.rows(np.zeros_like(factors), self.room.stated)
        rows = self.room.rows(factors, scattering)
        spread = plain.start @ plain.prior @ plain.start.T + held
        unsure = np.hypot(np.sqrt(np.diag(spread))[: len(there)], self.data.sigma[there])
        surprise = np.full(7, np.nan)
        surprise[there] = (self.data.log_time - start[T20])[there] / unsure
        own = known[:-1, :-1].reshape(count, 7, count, 7)
        return Fit(
            log_factor=factors[:count],
            covariance=np.einsum("gbhb->bgh", own),
            decided=decided[:-1].reshape(-1, 7),
            weight=plain.shares.mean(axis=0),
            at_bound=~free[:-1].reshape(-1, 7) & (np.abs(factors[:count]) > _MOVED),
            scattering=scattering,
            scattering_log_sigma=float(np.sqrt(known[-1, -1])),
            scattering_decided=float(decided[-1]),
            before=np.exp(start[T20]),
            after=np.exp(rows[T20]),
            miss=(self.data.log_time - rows[T20]) / self.data.sigma,
            surprise=surprise,
            curvature=np.exp(rows[BEND]),
            clarity_db=(_speech(start[CLARITY]), _speech(rows[CLARITY])),
            other=self.other,
            accounts=accounts,
        )

    def _of_held(self, factors: Array, scattering: float) -> Array:
        """Covariance of what was measured by what is held, shape (m, m)."""
        count = len(self.groups)
        slopes = self.room.slopes(factors, scattering, len(factors))[count:]
        found = np.zeros_like(self.data.noise)
        octave = np.arange(7)
        for index, one in enumerate(slopes):
            full = np.zeros((ROWS, 7))
            for rows in (T20, BEND, CLARITY):
                full[rows.start + octave, octave] = one[rows]
            part = slice(7 * index, 7 * index + 7)
            mixed = self.data.mix @ full
            found += mixed @ self.held[part, part] @ mixed.T
        return found


def _speech(octaves: Array) -> float:
    return float(octaves[2:6].mean())


def correlated(sigma: Array, neighbours: float = NEIGHBOURS) -> Array:
    """Covariance of groups whose octaves err alike, shape (groups · 7, groups · 7).

    What an octave is less sure of than its neighbour is its own: so what is not measured never
    moves farther than what is.
    """
    octave = np.arange(7)
    alike = neighbours ** np.abs(octave[:, None] - octave[None, :])
    found = np.zeros((sigma.size, sigma.size))
    for index, one in enumerate(sigma):
        part = slice(7 * index, 7 * index + 7)
        found[part, part] = np.square(np.minimum.outer(one, one)) * alike
    return found
