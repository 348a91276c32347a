"""What a loudspeaker radiates off its axis, by octave, as a table over the cosine of the angle.

::

      in a box: cos²ⁿ(θ/2)          flush in a surface: cosⁿ θ

          ╭───╮                       ▔▔▔▔▔╤▔▔▔▔▔  nothing behind it
         ╭╯   ╰╮                        ╭─╯╰─╮
         ╰─╮▪╭─╯ ──► axis               ╰─╮╭─╯
           ╰─╯                            ╰╯ axis

The tables are those of `wellheard.acoustics.patterns`: 513 cosines from behind to the axis, energy,
1 on the axis.
"""

from __future__ import annotations

import math

import numpy as np
import numpy.typing as npt

from wellheard.acoustics.patterns import COSINES, ENTRIES, mean_over_sphere
from wellheard.arrays import Array
from wellheard.bands import OCTAVES

DROP_DB = 6.0
"""How far down the nominal angle ends. [dB]"""

NARROWING = np.array([(f / 2000.0) ** 2 for f in OCTAVES[:4]] + [1.0, 1.0, 2.0])
"""Exponent of the lobe by octave, re that of the nominal angle at 2 and 4 kHz."""


def nominal_pattern(angle_deg: float, *, half_space: bool = False) -> Array:
    """Table of a loudspeaker of which nothing but a nominal coverage angle is known.

    Parameters
    ----------
    angle_deg : float
        Full angle between the directions 6 dB down at 2–4 kHz, more than 0, up to 360. [°]
    half_space : bool
        It lies flush in a surface, its axis across it: nothing is radiated behind. An angle of 180°
        or more is then all of the half space.

    Returns
    -------
    ndarray, shape (513, 7)
        Energy, 1 on the axis.

    Raises
    ------
    ValueError
        There is no such angle.

    Notes
    -----
    Flush, ``cosⁿ θ`` with ``n = 0.6 / lg(1/cos(φ/2))`` in the octaves 2 and 4 kHz, which is the
    law that coverage of ceilings is usually worked with. In a box of its own, ``cos²ⁿ(θ/2)`` with
    ``n = 0.6 / lg(1/cos²(φ/4))``: as wide at 6 dB, within 1 dB inside that, and it goes on behind.

    Below 2 kHz the exponent falls as the square of frequency, which for a narrow lobe is an angle
    that grows as the wavelength does, and which ends in an even hemisphere or sphere. At 8 kHz it
    is twice that of 4 kHz, as far as a small high-frequency driver lets it. The shape is common
    practice, no source [C]; octave polars (`polar_pattern`) go before it.

    Examples
    --------
    >>> table = nominal_pattern(90.0, half_space=True)
    >>> 10 * np.log10(np.interp(np.cos(np.radians(45.0)), COSINES, table[:, 4])).round(3)
    np.float64(-6.0)
    >>> directivity_index_db(table).round(1)
    array([ 3.1,  3.3,  4. ,  6. , 10. , 10. , 12.5])
    """
    return _lobe(lobe_order(angle_deg, half_space=half_space) * NARROWING, half_space=half_space)


def lobe_order(angle_deg: float, *, half_space: bool = False) -> float:
    """Exponent n of a loudspeaker's lobe in the octaves 2 and 4 kHz, see `nominal_pattern`.

    Parameters
    ----------
    angle_deg : float
        Full angle between the directions 6 dB down, more than 0, up to 360. [°]
    half_space : bool
        It lies flush in a surface.

    Returns
    -------
    float
        0 for an even hemisphere or sphere.

    Raises
    ------
    ValueError
        There is no such angle.

    Examples
    --------
    >>> round(lobe_order(90.0, half_space=True), 2)
    3.99
    """
    if not 0.0 < angle_deg <= 360.0:
        raise ValueError(f"an angle of {angle_deg:g}°; more than 0 and up to 360 is allowed")
    half = math.radians(angle_deg / 2.0)
    edge = math.cos(half) if half_space else math.cos(half / 2.0) ** 2
    return 0.0 if edge < 1e-12 else DROP_DB / 10.0 / math.log10(1.0 / edge)


def _lobe(order: Array, *, half_space: bool) -> Array:
    """Means over the cells of the cosine of a power of the cosine, or of (1 + cosine)/2."""
    step = 2.0 / (ENTRIES - 1)
    edges = np.clip(COSINES[:, None] + np.array([-0.5, 0.5]) * step, -1.0, 1.0)
    rise = edges if half_space else (1.0 + edges) / 2.0
    scale = 1.0 if half_space else 0.5
    power = np.maximum(rise, 0.0)[:, :, None] ** (order + 1.0) / (order + 1.0)
    width = scale * np.diff(edges, axis=1)
    table = np.asarray((power[:, 1] - power[:, 0]) / width, dtype=np.float64)
    table[-1] = 1.0
    return table


def polar_pattern(
    angles_deg: npt.ArrayLike, levels_db: npt.ArrayLike, *, half_space: bool = False
) -> Array:
    """Table of a loudspeaker whose octave polars are known, taken as round about the axis.

    Parameters
    ----------
    angles_deg : array_like, shape (A,)
        From the axis, ascending from 0 to 90 or more. [°]
    levels_db : array_like, shape (A, 7)
        Re the axis, whose row is 0. [dB]
    half_space : bool
        It lies flush in a surface: what is stated behind is not taken.

    Returns
    -------
    ndarray, shape (513, 7)
        Energy, 1 on the axis; linear in dB between the angles. Behind the last of them its level
        goes on, which is more than a loudspeaker radiates there.

    Raises
    ------
    ValueError
        The shapes differ, the angles do not ascend from the axis to its side, or the axis is not
        at 0 dB.

    Examples
    --------
    >>> table = polar_pattern([0, 90, 180], [[0] * 7, [-6] * 7, [-12] * 7])
    >>> 10 * np.log10(table[[0, 256, 512], 0]).round(2)
    array([-12.,  -6.,   0.])
    """
    angles = np.asarray(angles_deg, dtype=np.float64)
    levels = np.asarray(levels_db, dtype=np.float64)
    if angles.ndim != 1 or levels.shape != (len(angles), len(OCTAVES)):
        raise ValueError(f"levels of shape {levels.shape} for angles of shape {angles.shape}")
    if angles[0] != 0.0 or not 90.0 <= angles[-1] <= 180.0 or (np.diff(angles) <= 0.0).any():
        raise ValueError(f"angles of a polar ascend from 0° to 90–180°, not {angles.tolist()}")
    if (levels[0] != 0.0).any():
        raise ValueError("levels of a polar are re the axis, whose own are 0 dB")
    at = np.degrees(np.arccos(COSINES))
    table = 10.0 ** (np.stack([np.interp(at, angles, band) for band in levels.T], axis=-1) / 10.0)
    if half_space:
        table[COSINES < 0.0] = 0.0
        table[COSINES == 0.0] *= 0.5  # half of that cell lies behind the surface
    return table


def diffuse(pattern: npt.ArrayLike) -> Array:
    """Energy that a loudspeaker gives the room re an omnidirectional one, equal on the axis.

    Parameters
    ----------
    pattern : array_like, shape (..., 513, 7)
        Tables.

    Returns
    -------
    ndarray, shape (..., 7)
        Mean over the whole sphere; of one flush in a surface at most 1/2, because the surface
        sends forward what would have gone behind, and that is part of its level on the axis.

    Examples
    --------
    >>> [float(diffuse(nominal_pattern(360.0, half_space=flush))[0]) for flush in (False, True)]
    [1.0, 0.5]
    """
    return mean_over_sphere(pattern)


def directivity_index_db(pattern: npt.ArrayLike) -> Array:
    """Directivity index, ``−10 lg`` of `diffuse`, in the octaves. [dB]

    Parameters
    ----------
    pattern : array_like, shape (..., 513, 7)
        Tables.

    Returns
    -------
    ndarray, shape (..., 7)
    """
    return np.asarray(-10.0 * np.log10(mean_over_sphere(pattern)))
