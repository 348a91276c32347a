"""Loudspeakers in a ceiling: how much of the ears' plane each covers, and how even many are.

::

    ▔▔▔▔▔▔▔▔▔▔▔╤▔▔▔▔▔▔▔▔▔▔▔▔▔╤▔▔▔▔▔▔▔▔   square        hexagonal
              ╱ ╲           ╱ ╲          ●  ●  ●       ●  ●  ●
         h   ╱ φ ╲         ╱   ╲         ●  ●  ●        ●  ●      rows √3/2 s apart
            ╱     ╲       ╱     ╲        ●  ●  ●       ●  ●  ●
    ───────────────────────────────── ears
            ◄─ D ─►
            ◄────── s ─────►
"""

from __future__ import annotations

import functools
import math
from typing import Literal, TypeAlias

import numpy as np

from wellheard.acoustics.radiation import lobe_order

Layout: TypeAlias = Literal["square", "hexagonal"]
"""Where loudspeakers of a ceiling sit to each other."""

Overlap: TypeAlias = Literal["edge to edge", "minimum overlap", "centre to centre"]
"""How circles of coverage meet: they touch, no hole is left between them, or each reaches the
middle of its neighbour."""

ROWS = {"square": 1.0, "hexagonal": math.sqrt(3.0) / 2.0}
"""Distance of rows re the spacing."""

SPACINGS: dict[tuple[Layout, Overlap], float] = {
    ("square", "edge to edge"): 1.0,
    ("hexagonal", "edge to edge"): 1.0,
    ("square", "minimum overlap"): math.sqrt(0.5),
    ("hexagonal", "minimum overlap"): math.sqrt(3.0) / 2.0,
    ("square", "centre to centre"): 0.5,
    ("hexagonal", "centre to centre"): 0.5,
}
"""Spacing re the diameter of a circle of coverage."""

_REACH, _POINTS = 16, 60
"""Neighbours to each side of a lattice, and points along each side of a quarter of its cell."""


def coverage_diameter(throw: float, *, angle_deg: float) -> float:
    """Diameter of the circle that a loudspeaker overhead covers, ``2 h tan(φ/2)``.

    Parameters
    ----------
    throw : float
        From the ceiling down to the ears. [m]
    angle_deg : float
        Nominal −6 dB coverage at 2–4 kHz, less than 180. [°]

    Returns
    -------
    float
        [m]

    Raises
    ------
    ValueError
        The ears are not below it, or it covers the whole plane.

    Examples
    --------
    >>> round(coverage_diameter(1.5, angle_deg=120), 3)
    5.196
    """
    if throw <= 0.0:
        raise ValueError(f"ears {throw:g} m below the loudspeaker; more than 0 is allowed")
    if not 0.0 < angle_deg < 180.0:
        raise ValueError(f"an angle of {angle_deg:g}°; more than 0 and less than 180 is allowed")
    return 2.0 * throw * math.tan(math.radians(angle_deg / 2.0))


def lattice_spacing(diameter: float, *, layout: Layout, overlap: Overlap) -> float:
    """Distance from one loudspeaker to the next. [m]

    Parameters
    ----------
    diameter : float
        Of a circle of coverage. [m]
    layout : {"square", "hexagonal"}
        Where they sit to each other.
    overlap : {"edge to edge", "minimum overlap", "centre to centre"}
        How their circles meet.

    Examples
    --------
    >>> round(lattice_spacing(3.0, layout="square", overlap="minimum overlap"), 3)
    2.121
    """
    return diameter * SPACINGS[layout, overlap]


def area_each(spacing: float, *, layout: Layout) -> float:
    """Area of the ceiling that falls to each loudspeaker. [m²]

    Examples
    --------
    >>> round(area_each(3.0, layout="hexagonal"), 2)
    7.79
    """
    return spacing**2 * ROWS[layout]


@functools.lru_cache(maxsize=256)
def level_variation_db(ratio: float, *, angle_deg: float, layout: Layout) -> float:
    """How much the direct sound of a whole ceiling of loudspeakers varies at the ears.

    Parameters
    ----------
    ratio : float
        Spacing re the diameter of a circle of coverage.
    angle_deg : float
        Nominal −6 dB coverage, less than 180. [°]
    layout : {"square", "hexagonal"}
        Where they sit to each other.

    Returns
    -------
    float
        Loudest less softest place, in the octaves 2 and 4 kHz. [dB]

    Notes
    -----
    Energies of a lattice of 33 by 33 units add, each ``cosⁿ θ / r²`` with the n of
    `wellheard.acoustics.radiation.nominal_pattern`, at 60 by 60 points of a quarter of a cell. The
    throw cancels. Reverberant sound makes the level more even, and speech no clearer.

    Examples
    --------
    >>> round(level_variation_db(0.5, angle_deg=90, layout="square"), 2)
    0.83
    """
    step = ratio * coverage_diameter(1.0, angle_deg=angle_deg)
    order = lobe_order(angle_deg, half_space=True)
    rows = np.arange(-_REACH, _REACH + 1)
    shift = 0.5 * (rows % 2) if layout == "hexagonal" else np.zeros(len(rows))
    x = step * (np.arange(-_REACH, _REACH + 1)[None, :] + shift[:, None])
    y = step * ROWS[layout] * rows[:, None]
    # Symmetry makes a quarter of a cell speak for all of it: half a spacing along, and half a row
    # across, or a whole one where rows are staggered.
    across = step * ROWS[layout] * (1.0 if layout == "hexagonal" else 0.5)
    along = np.linspace(0.0, step / 2.0, _POINTS)
    energies = np.array(
        [
            ((1.0 + (along[:, None, None] - x) ** 2 + (at - y) ** 2) ** (-1.0 - order / 2.0)).sum(
                axis=(1, 2)
            )
            for at in np.linspace(0.0, across, _POINTS)
        ]
    )
    return float(10.0 * np.log10(energies.max() / energies.min()))
