"""What was measured, as rows of least squares with the covariance of their errors."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np

from wellheard.arrays import Array
from wellheard.bands import SPEECH_BANDS
from wellheard.catalog.catalogue import Catalogue
from wellheard.errors import DocumentError, InputError
from wellheard.measurement.results import SpatialMean
from wellheard.measurement.session import FILE
from wellheard.measurement.taken import SessionResults
from wellheard.predict import tolerances
from wellheard.proving.alike import Alike
from wellheard.proving.as_built_clarity import Clarity, clarity
from wellheard.proving.as_built_model import BEND, CLARITY, ROWS, T20
from wellheard.proving.case import Case
from wellheard.proving.compare_room import Means, means
from wellheard.proving.conditions import ways
from wellheard.room.divide import parts
from wellheard.room.document import Room

BEND_SIGMA: Final = 0.1
"""The model's own error of ln(T30/T20); common practice, no source [C]: scattering is one figure
there, for all octaves and surfaces, and that is what a bend hangs on."""

NEIGHBOURS: Final = 0.7
"""Correlation of errors in neighbouring octaves; common practice, no source [C]: what absorbs more
than published at 1 kHz, or bends less than the model, mostly does at 2 kHz."""


@dataclass(frozen=True, eq=False)
class Measured:
    """Means over the space that was measured.

    Attributes
    ----------
    space : str
        '' for a room that does not divide.
    t20 : SpatialMean
    t30 : SpatialMean or None
    clarity : Clarity or None
    """

    space: str
    t20: SpatialMean
    t30: SpatialMean | None
    clarity: Clarity | None


@dataclass(frozen=True, eq=False)
class Data:
    """Measured rows ``values = mix · (rows of the model) + error``.

    Attributes
    ----------
    log_time, sigma : ndarray, shape (7,)
        ln T20, and its σ of chance and model; NaN where there is none.
    mix : ndarray, shape (m, 21)
        Which rows of the model, or what mean of them.
    values : ndarray, shape (m,)
    noise : ndarray, shape (m, m)
        Covariance of the errors of measurement and model.
    bent : ndarray of int
        Octaves whose bend is among them.
    """

    log_time: Array
    sigma: Array
    mix: Array
    values: Array
    noise: Array
    bent: np.ndarray[tuple[int, ...], np.dtype[np.intp]]

    @property
    def there(self) -> np.ndarray[tuple[int, ...], np.dtype[np.intp]]:
        """Octaves that have a T20: the first rows."""
        return np.flatnonzero(np.isfinite(self.log_time))

    def rest(self, rows: Array) -> Array:
        """What rows of the model leave of what was measured, shape (m,)."""
        return np.asarray(self.values - self.mix @ rows)


def measured(room: Room, catalogue: Catalogue, found: SessionResults) -> Measured:
    """Means of the space with most places.

    Parameters
    ----------
    room : Room
        The document, without a decay of its own.
    catalogue : Catalogue
        Of its finishes and products.
    found : SessionResults
        Of a session.

    Raises
    ------
    InputError
        There is no decay time.
    DocumentError
        The session does not say how a room that divides stood.
    """
    folder = found.folder
    stood = folder.session.arrangement or ""
    there = [one.name for one in parts(room) if one.arrangement == stood]
    if not there:
        known = " or ".join(room.arrangements) or "null: the room does not divide"
        what = f"no arrangement {stood}" if stood else "the room divides; how it stood is not said"
        raise DocumentError([folder.problem("arrangement", what, known)])
    if not found.responses and (found.t20 is None or len(there) > 1):
        raise _nothing(found)
    if not found.responses:
        return Measured(there[0], _of(found.t20, found), found.t30, None)
    alike = Alike(room, catalogue, folder.session)
    where, _ = ways(room, catalogue, alike.talkers, folder.session)
    case = Case(alike, found, where)
    most: Means = means(case)[0]
    t20 = _of(most.t20, found)
    return Measured(
        most.space.part.name, t20, most.t30, clarity(case, most.space, _numbers(t20.values))
    )


def _of(mean: SpatialMean | None, found: SessionResults) -> SpatialMean:
    if mean is None:
        raise _nothing(found)
    return mean


def _nothing(found: SessionResults) -> InputError:
    return InputError(
        f"{found.folder.name}: no recording of it gives a decay time; record sweeps from two "
        f"places to three each, with nothing but linear stages active, and name them in {FILE}"
    )


def data(one: Measured) -> Data:
    """Rows with their errors: chance by ISO 3382-2, clause 7, and the model's own.

    Notes
    -----
    T30 is worked out of the same decays as T20 and uses more of them: what chance does to both is
    σ² of T30, so that it does less to their ratio than to either [Hausman 1978: of an estimate
    that uses all there is and one that does not, the difference has the difference of variances].
    Where T30 is the mean of fewer places, they share fewer of them.
    """
    times, chance = _numbers(one.t20.values), _numbers(one.t20.sigma)
    log_time, chance = np.log(times), chance / times
    own = np.asarray(tolerances.MEASURED_LOG_TIME_SIGMA)
    sigma = np.hypot(np.nan_to_num(chance), own)
    noise, values, mix = np.zeros((ROWS, ROWS)), np.zeros(ROWS), np.eye(ROWS)
    values[T20] = log_time
    noise[T20, T20] = np.diag(np.square(sigma))
    bent = _add_bend(one, values, noise, log_time, np.square(chance))
    rows = [*np.flatnonzero(np.isfinite(log_time)), *(BEND.start + bent)]
    if one.clarity is not None:
        row = CLARITY.start
        mix[row] = 0.0
        mix[row, CLARITY][SPEECH_BANDS] = 0.25
        values[row], noise[row, row] = one.clarity.measured_db, one.clarity.sigma_db**2
        rows.append(row)
    return Data(log_time, sigma, mix[rows], values[rows], noise[np.ix_(rows, rows)], bent)


def _add_bend(
    one: Measured, values: Array, noise: Array, log_time: Array, chance: Array
) -> np.ndarray[tuple[int, ...], np.dtype[np.intp]]:
    """Write the bend into values and noise; octaves that have one."""
    if one.t30 is None:
        return np.zeros(0, dtype=np.intp)
    late, late_sigma = _numbers(one.t30.values), _numbers(one.t30.sigma)
    values[BEND] = np.log(late) - log_time
    bent = np.flatnonzero(np.isfinite(values[BEND]))
    places, fewer = (np.array(mean.count, dtype=np.float64) for mean in (one.t20, one.t30))
    own = np.square(late_sigma / late)
    shared = own * fewer / np.maximum(places, 1.0)
    octave = np.arange(7)
    alike = NEIGHBOURS ** np.abs(octave[:, None] - octave[None, :])
    noise[BEND, BEND] = BEND_SIGMA**2 * alike
    for index in bent:
        row = BEND.start + index
        noise[row, row] += max(chance[index] + own[index] - 2.0 * shared[index], 0.0)
        noise[row, index] = noise[index, row] = shared[index] - chance[index]
    return bent


def _numbers(values: tuple[float | None, ...]) -> Array:
    return np.array([np.nan if value is None else value for value in values])
