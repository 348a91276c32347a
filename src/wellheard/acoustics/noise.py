"""Steady background noise: NC, RC Mark II and NR, and typical spectra.

Spectra to be rated are given by nominal octave, ``{63.0: 57.0, 125.0: 48.0, …}``: what was not
measured is left out, and the answer says so.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal, TypeAlias, get_args

import numpy as np
import numpy.typing as npt

from wellheard import tables
from wellheard.acoustics.levels import a_weighted_level_db, scaled_to_a_weighted_level_db
from wellheard.arrays import Array
from wellheard.bands import NOISE_OCTAVES, RATING_OCTAVES

NoiseKind: TypeAlias = Literal["ceiling_diffuser", "duct_rumble", "fan_coil", "projector_fan"]

SHAPE_OCTAVES = NOISE_OCTAVES[1:]
"""Octaves of the typical spectra, 63 Hz to 8 kHz: nothing is known of them below. [Hz]"""

SIL_OCTAVES = (500.0, 1000.0, 2000.0, 4000.0)
"""Octaves of the speech interference level. [Hz]"""

_NC = tables.load("nc_curves")
_NC_NUMBERS = np.array(_NC.floats("nc"))
_NC_LEVELS = np.array(_NC.float_rows(tuple(f"{octave:g}" for octave in RATING_OCTAVES)))
_NC_LOW, _NC_HIGH = float(_NC_NUMBERS[0]), float(_NC_NUMBERS[-1])
_NC_DBA = a_weighted_level_db(_NC_LEVELS[:, 2:], octaves=SHAPE_OCTAVES)
_NR = tables.load("nr_coefficients")
_NR_A = np.array(_NR.floats("a"))
_NR_B = np.array(_NR.floats("b"))
_RC_LOW, _RC_HIGH = 25, 50
_RC_NEEDS = RATING_OCTAVES[1:9]
_SHAPES = {
    row["kind"]: np.array([float(row[f"{octave:g}"]) for octave in SHAPE_OCTAVES])
    for row in tables.load("noise_shapes").rows
}


@dataclass(frozen=True)
class NoiseCriterion:
    """NC of a spectrum by the two-step rule, with the plain tangency beside it.

    ``value`` and ``tangency`` are None where the curves end; ``out_of_range`` then says which
    way. ``governing`` and ``tangent`` name octaves [Hz]; ``governing`` is None where the speech
    interference level decides. ``missing`` lists octaves nobody measured.
    """

    label: str
    value: float | None
    governing: float | None
    tangency: float | None
    tangent: float | None
    speech_interference_level_db: float
    out_of_range: Literal["", "below", "above"]
    missing: tuple[float, ...]


@dataclass(frozen=True)
class RoomCriterion:
    """RC Mark II of a spectrum; ``value`` is None outside RC-25 to RC-50.

    ``quality`` is N neutral, R rumble, H hiss, or RH, which is a hint and no clause of the
    standard; it is empty where there is no curve to compare with.
    """

    label: str
    value: int | None
    quality: Literal["", "N", "R", "H", "RH"]
    out_of_range: Literal["", "below", "above"]


@dataclass(frozen=True)
class NoiseRating:
    """NR of a spectrum and the octave [Hz] that decides it."""

    label: str
    value: float
    governing: float
    missing: tuple[float, ...]


def nc_levels_db(nc: npt.ArrayLike) -> Array:
    """Octave levels of an NC curve, between the printed ones by straight lines.

    Parameters
    ----------
    nc : array_like
        15–70.

    Returns
    -------
    ndarray, shape (..., 10)
        Over :data:`wellheard.bands.RATING_OCTAVES`, 16 Hz to 8 kHz. [dB re 20 µPa]

    Raises
    ------
    ValueError
        Outside 15–70: there are no curves.

    References
    ----------
    .. [1] ansi-s12.2:2019, Table 1, via phonometry.

    Examples
    --------
    >>> nc_levels_db(32.5)[3:]
    array([50. , 43. , 37.5, 34. , 31.5, 30.5, 29.5])
    """
    number = np.asarray(nc, dtype=np.float64)
    if not np.all((number >= _NC_LOW) & (number <= _NC_HIGH)):
        raise ValueError(f"NC curves exist from {_NC_LOW:g} to {_NC_HIGH:g}, not for {nc!r}")
    levels = np.empty((*number.shape, len(RATING_OCTAVES)))
    for band, curve in enumerate(_NC_LEVELS.T):
        levels[..., band] = np.interp(number, _NC_NUMBERS, curve)
    return levels


def nc_rating(levels_db: Mapping[float, float]) -> NoiseCriterion:
    """NC of a spectrum: speech interference level first, tangency where a band sticks out.

    Parameters
    ----------
    levels_db : mapping of float to float
        Level by nominal octave; 500 to 4000 Hz must be there, others may be missing.
        [dB re 20 µPa]

    Returns
    -------
    NoiseCriterion

    Raises
    ------
    ValueError
        If an octave from 500 to 4000 Hz is missing, or one is no octave from 16 Hz to 8 kHz.

    Notes
    -----
    The label rounds the speech interference level to the whole number, halves up, and keeps
    two decimals of a tangency. Many report the tangency alone; both are in the result.

    References
    ----------
    .. [1] ansi-s12.2:2019, clause 5.2, via phonometry.

    Examples
    --------
    >>> levels = {63.0: 45, 125.0: 45, 250.0: 40, 500.0: 36, 1000.0: 32, 2000.0: 28, 4000.0: 22}
    >>> nc_rating(levels).label
    'NC-31 (500 Hz)'
    >>> nc_rating({500.0: 40, 1000.0: 36, 2000.0: 34, 4000.0: 33}).label
    'NC-36 by SIL'
    """
    _demand(levels_db, needed=SIL_OCTAVES, known=RATING_OCTAVES, what="NC")
    octaves = [octave for octave in RATING_OCTAVES if octave in levels_db]
    columns = [RATING_OCTAVES.index(octave) for octave in octaves]
    levels = np.array([levels_db[octave] for octave in octaves])
    sil = float(np.mean([levels_db[octave] for octave in SIL_OCTAVES]))
    missing = tuple(octave for octave in RATING_OCTAVES if octave not in levels_db)

    by_band = np.array(
        [_nc_touched(level, column) for level, column in zip(levels, columns, strict=True)]
    )
    highest = int(np.argmax(by_band))
    number, tangent = float(by_band[highest]), octaves[highest]
    tangency = number if np.isfinite(number) else None

    if _NC_LOW <= sil <= _NC_HIGH and np.all(levels <= nc_levels_db(sil)[columns]):
        label = f"NC-{np.floor(sil + 0.5):.0f} by SIL"
        return NoiseCriterion(label, sil, None, tangency, tangent, sil, "", missing)
    if np.isposinf(number):
        label = f"above NC-{_NC_HIGH:g} ({tangent:g} Hz)"
        return NoiseCriterion(label, None, tangent, None, tangent, sil, "above", missing)
    if sil > _NC_HIGH:
        label = f"above NC-{_NC_HIGH:g} by SIL"
        return NoiseCriterion(label, None, None, tangency, tangent, sil, "above", missing)
    if tangency is None:
        label = f"below NC-{_NC_LOW:g}"
        return NoiseCriterion(label, None, None, None, None, sil, "below", missing)
    label = f"NC-{round(number, 2):g} ({tangent:g} Hz)"
    return NoiseCriterion(label, number, tangent, number, tangent, sil, "", missing)


def rc_levels_db(rc: npt.ArrayLike) -> Array:
    """Octave levels of an RC Mark II curve: −5 dB per octave through its number at 1 kHz.

    Parameters
    ----------
    rc : array_like
        25–50.

    Returns
    -------
    ndarray, shape (..., 10)
        Over :data:`wellheard.bands.RATING_OCTAVES`; 31.5 Hz not below 55 dB, and 16 Hz equal
        to it. [dB re 20 µPa]

    Raises
    ------
    ValueError
        Outside 25–50: there are no curves.

    References
    ----------
    .. [1] ansi-s12.2:2019, Annex D, via phonometry.

    Examples
    --------
    >>> rc_levels_db(25)
    array([55., 55., 45., 40., 35., 30., 25., 20., 15., 10.])
    """
    number = np.asarray(rc, dtype=np.float64)
    if not np.all((number >= _RC_LOW) & (number <= _RC_HIGH)):
        raise ValueError(f"RC curves exist from {_RC_LOW} to {_RC_HIGH}, not for {rc!r}")
    levels = number[..., None] + 5.0 * np.arange(6.0, -4.0, -1.0)
    levels[..., 1] = np.maximum(levels[..., 1], 55.0)
    levels[..., 0] = levels[..., 1]
    return levels


def rc_mark2(levels_db: Mapping[float, float]) -> RoomCriterion:
    """RC Mark II of a spectrum: the level of its speech bands and what its timbre is like.

    Parameters
    ----------
    levels_db : mapping of float to float
        Level by nominal octave; 31.5 to 4000 Hz must be there. [dB re 20 µPa]

    Returns
    -------
    RoomCriterion

    Raises
    ------
    ValueError
        If an octave is missing, or one is no octave from 16 Hz to 8 kHz.

    Notes
    -----
    Says nothing about vibration felt at 16 and 31.5 Hz.

    References
    ----------
    .. [1] ansi-s12.2:2019, Annex D, via phonometry.

    Examples
    --------
    >>> spectrum = (60, 55, 50, 45, 40, 36, 32, 28, 22, 16)
    >>> rc_mark2(dict(zip(RATING_OCTAVES, spectrum))).label
    'RC-32(N)'
    """
    _demand(levels_db, needed=_RC_NEEDS, known=RATING_OCTAVES, what="RC Mark II")
    mean = float(np.mean([levels_db[octave] for octave in (500.0, 1000.0, 2000.0)]))
    value = int(np.floor(mean + 0.5))
    if value < _RC_LOW:
        return RoomCriterion(f"below RC-{_RC_LOW}", None, "", "below")
    if value > _RC_HIGH:
        return RoomCriterion(f"above RC-{_RC_HIGH}", None, "", "above")
    curve = dict(zip(RATING_OCTAVES, rc_levels_db(value).tolist(), strict=True))
    excess = {octave: level - curve[octave] for octave, level in levels_db.items()}
    rumble = any(excess[octave] > 5.0 for octave in excess if octave <= 500.0)
    hiss = any(excess[octave] > 3.0 for octave in excess if octave >= 1000.0)
    quality: Literal["N", "R", "H", "RH"] = (
        ("RH" if hiss else "R") if rumble else ("H" if hiss else "N")
    )
    return RoomCriterion(f"RC-{value}({quality})", value, quality, "")


def nr_levels_db(nr: npt.ArrayLike) -> Array:
    """Octave levels of an NR curve, L = a + b·NR.

    Parameters
    ----------
    nr : array_like
        Any number: the curves are straight lines.

    Returns
    -------
    ndarray, shape (..., 9)
        Over :data:`wellheard.bands.NOISE_OCTAVES`, 31.5 Hz to 8 kHz. [dB re 20 µPa]

    References
    ----------
    .. [1] as1469, Table 1, via three open projects.

    Examples
    --------
    >>> nr_levels_db(30).round(1)
    array([75.8, 59.2, 48.1, 39.9, 34. , 30. , 26.9, 24.6, 22.9])
    """
    return _NR_A + _NR_B * np.asarray(nr, dtype=np.float64)[..., None]


def nr_rating(levels_db: Mapping[float, float]) -> NoiseRating:
    """NR of a spectrum: the highest curve that a band touches.

    Parameters
    ----------
    levels_db : mapping of float to float
        Level by nominal octave, at least one from 31.5 Hz to 8 kHz; 16 Hz is not rated.
        [dB re 20 µPa]

    Returns
    -------
    NoiseRating

    Raises
    ------
    ValueError
        If no octave can be rated, or one is no octave from 16 Hz to 8 kHz.

    References
    ----------
    .. [1] as1469, Table 1, via three open projects.

    Examples
    --------
    >>> nr_rating({63.0: 50.0, 1000.0: 31.0}).label
    'NR-31 (1000 Hz)'
    """
    _demand(levels_db, needed=(), known=RATING_OCTAVES, what="NR")
    by_band = {
        octave: float((levels_db[octave] - a) / b)
        for octave, a, b in zip(NOISE_OCTAVES, _NR_A, _NR_B, strict=True)
        if octave in levels_db
    }
    if not by_band:
        raise ValueError("NR needs at least one octave level from 31.5 Hz to 8 kHz")
    governing = max(by_band, key=lambda octave: by_band[octave])
    value = by_band[governing]
    missing = tuple(octave for octave in NOISE_OCTAVES if octave not in levels_db)
    label = f"NR-{np.floor(value + 0.5):.0f} ({governing:g} Hz)"
    return NoiseRating(label, value, governing, missing)


def noise_shape_db(kind: NoiseKind, *, level_dba: npt.ArrayLike) -> Array:
    """Typical octave levels of a kind of noise source at an A-weighted level.

    Parameters
    ----------
    kind : str
        "ceiling_diffuser", "duct_rumble", "fan_coil" or "projector_fan".
    level_dba : array_like, shape (...)
        A-weighted total wanted. [dB(A)]

    Returns
    -------
    ndarray, shape (..., 8)
        Over :data:`SHAPE_OCTAVES`, 63 Hz to 8 kHz. [dB]

    Raises
    ------
    ValueError
        If the kind is none of these.

    Notes
    -----
    Common practice, no source: a stand-in until a spectrum is measured.

    Examples
    --------
    >>> noise_shape_db("projector_fan", level_dba=35.0).round(1)
    array([32.8, 33.8, 34.8, 32.8, 29.8, 26.8, 21.8, 15.8])
    """
    if kind not in _SHAPES:
        raise ValueError(f"noise kind {kind!r} is not one of {', '.join(get_args(NoiseKind))}")
    return scaled_to_a_weighted_level_db(_SHAPES[kind], level_dba=level_dba, octaves=SHAPE_OCTAVES)


def background_levels_db(level_dba: npt.ArrayLike) -> Array:
    """Octave levels of a room's background of which only the A-weighted level is known.

    Parameters
    ----------
    level_dba : array_like, shape (...)
        [dB(A)]

    Returns
    -------
    ndarray, shape (..., 8)
        Over :data:`SHAPE_OCTAVES`, 63 Hz to 8 kHz. [dB re 20 µPa]

    Notes
    -----
    Shaped like the NC curve of that level, between curves by straight lines and beyond them
    like the last, then shifted to meet the level exactly over 63 Hz to 8 kHz. A stand-in
    chosen here: real ventilation has more below 250 Hz or less above 2 kHz.

    References
    ----------
    .. [1] ansi-s12.2:2019, Table 1, via phonometry.

    Examples
    --------
    >>> background_levels_db(35.6).round(1)
    array([54. , 44. , 37. , 30.9, 26.9, 24. , 21.9, 21.9])
    """
    level = np.asarray(level_dba, dtype=np.float64)
    curve = nc_levels_db(np.interp(level, _NC_DBA, _NC_NUMBERS))[..., 2:]
    return scaled_to_a_weighted_level_db(curve, level_dba=level, octaves=SHAPE_OCTAVES)


def _nc_touched(level_db: float, column: int) -> float:
    """Lowest NC curve that a level in one octave does not exceed; infinite beyond the curves."""
    # neighbouring curves share a level at 16 Hz; the lower one counts
    levels, first = np.unique(_NC_LEVELS[:, column], return_index=True)
    return float(np.interp(level_db, levels, _NC_NUMBERS[first], left=-np.inf, right=np.inf))


def _demand(
    levels_db: Mapping[float, float],
    *,
    needed: tuple[float, ...],
    known: tuple[float, ...],
    what: str,
) -> None:
    absent = [octave for octave in needed if octave not in levels_db]
    if absent:
        listed = ", ".join(f"{octave:g}" for octave in absent)
        raise ValueError(f"{what} needs the octaves {listed} Hz; give a level for each")
    strange = [octave for octave in levels_db if octave not in known]
    if strange:
        listed = ", ".join(f"{octave:g}" for octave in strange)
        raise ValueError(
            f"{listed} Hz: {what} knows the nominal octaves "
            f"{', '.join(f'{octave:g}' for octave in known)} Hz"
        )
