"""Conduit: how many cables go in, which size, when three of them jam, how far between pulls.

::

      ___         fill = Σ d² / D²         one cable 53 %, two 31 %, more 40 %
     /o o\\
    ( o   )       three that are alike jam where D/d is 2.8 to 3.2: at a bend they lie in a row
     \\___/
"""

from __future__ import annotations

import functools
import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal, TypeAlias

from wellheard import tables

Family: TypeAlias = Literal["emt", "metric"]

FILL_LIMITS = (0.53, 0.31, 0.40)
"""Share of the inside that one, two, and more cables may take."""

FIRST_FILL = 0.40
"""Most that cables take when conduit is new, 25 to 40 % (common practice, no source)."""

JAM = (2.8, 3.2)
"""Inside over outside diameter between which three cables jam."""

LONGEST_PULL = 30.0
"""Between pull points (TIA-569, from memory; 100 ft). [m]"""

BENDS = 2
"""Of 90° between pull points (TIA-569, from memory)."""

PULL_TENSION = 110.0
"""Most that four twisted pairs may be pulled with (ANSI/TIA-568.2-D, from memory). [N]"""

BEND_FACTORS = {"twisted pair": 4.0, "fibre": 10.0, "fibre under pull": 20.0, "coaxial": 10.0}
"""Least bend radius of a cable over its outer diameter: of four twisted pairs after an open list of
the rules of ANSI/TIA-568.2-D, the others from memory."""

SUPPORT_SPACING = 1.5
"""Between the hooks that carry a cable in a void: 1.2 to 1.5 m (common practice, no source). [m]"""

POWER_SEPARATION = 0.05
"""Least distance of signal cables from power without a barrier; 2 in of the code via an open
text. [m]"""

POWER_SEPARATION_GOOD = 0.2
"""Kept along power lines of 2 kVA and less (common practice after TIA-569 and EN 50174-2). [m]"""


@dataclass(frozen=True)
class Conduit:
    """One size.

    Parameters
    ----------
    family : {"emt", "metric"}
    size : str
        As it is ordered.
    area : float
        Inside. [m²]
    """

    family: Family
    size: str
    area: float

    @property
    def diameter(self) -> float:
        """Inside. [m]"""
        return math.sqrt(4 * self.area / math.pi)


@functools.cache
def conduits(family: Family) -> tuple[Conduit, ...]:
    """Return the sizes of a family, the smallest first.

    References
    ----------
    .. [1] nec-chapter-9, table 4, via open tables.

    Examples
    --------
    >>> [one.size for one in conduits("emt")[:3]], round(1000 * conduits("emt")[0].diameter, 1)
    (['1/2 in', '3/4 in', '1 in'], 15.8)
    """
    return tuple(
        Conduit(family, row["size"], float(row["area"]) * 1e-6)
        for row in tables.load("conduits").rows
        if row["family"] == family
    )


def fill_limit(count: int) -> float:
    """Share of the inside that so many cables may take.

    References
    ----------
    .. [1] nec-chapter-9, table 1, via open texts.

    Examples
    --------
    >>> fill_limit(1), fill_limit(2), fill_limit(3)
    (0.53, 0.31, 0.4)
    """
    return FILL_LIMITS[min(count, 3) - 1] if count else 0.0


def fill(diameters: Sequence[float], *, area: float) -> float:
    """Share of a conduit's inside that cables take.

    Parameters
    ----------
    diameters : sequence of float
        Outer, of each cable. [m]
    area : float
        Inside of the conduit. [m²]

    Examples
    --------
    >>> round(fill([0.00635] * 4, area=0.000344), 3)
    0.368
    """
    return math.fsum(math.pi / 4 * d**2 for d in diameters) / area


def fits(diameters: Sequence[float], *, area: float) -> bool:
    """Whether cables may share a conduit: within the limit for their number.

    Examples
    --------
    >>> fits([0.00635] * 2, area=0.0001961), fits([0.00635], area=0.0001961)
    (False, True)
    """
    limit = fill_limit(len(diameters))
    return not diameters or fill(diameters, area=area) <= limit * (1 + 1e-9)


def most_cables(diameter: float, *, area: float) -> int:
    """Largest number of like cables that a conduit may hold.

    Parameters
    ----------
    diameter : float
        Outer, of each. [m]
    area : float
        Inside of the conduit. [m²]

    Notes
    -----
    Two have the strictest limit: a conduit may be fit for three and not for two.

    Examples
    --------
    >>> [most_cables(0.00635, area=one.area) for one in conduits("emt")[:6]]
    [1, 4, 7, 12, 16, 27]
    """
    each = math.pi / 4 * diameter**2
    many = math.floor(FILL_LIMITS[2] * area / each * (1 + 1e-9))
    return next((n for n in (many, 2, 1) if n > 0 and fits([diameter] * n, area=area)), 0)


def jam_ratio(diameters: Sequence[float], *, inside: float) -> float | None:
    """Inside diameter over that of three cables; None for another number.

    Parameters
    ----------
    diameters : sequence of float
        Outer; three that differ count by their mean, as practice takes it. [m]
    inside : float
        Diameter of the conduit. [m]

    Examples
    --------
    >>> round(jam_ratio([0.0052] * 3, inside=0.0158), 2), jam_ratio([0.0052] * 4, inside=0.0158)
    (3.04, None)
    """
    return 3 * inside / math.fsum(diameters) if len(diameters) == 3 else None


def jams(diameters: Sequence[float], *, inside: float) -> bool:
    """Whether three cables can wedge in a bend of a conduit.

    Examples
    --------
    >>> jams([0.0052] * 3, inside=0.0158), jams([0.0060] * 3, inside=0.0158)
    (True, False)
    """
    ratio = jam_ratio(diameters, inside=inside)
    return ratio is not None and JAM[0] <= ratio <= JAM[1]


def smallest_conduit(diameters: Sequence[float], *, family: Family) -> Conduit | None:
    """Smallest size that cables may share and do not jam in; None where none is large enough.

    Examples
    --------
    >>> found = smallest_conduit([0.0062] * 4, family="metric")
    >>> found.size if found else None
    '25 mm'
    """
    return next(
        (
            one
            for one in conduits(family)
            if fits(diameters, area=one.area) and not jams(diameters, inside=one.diameter)
        ),
        None,
    )


def conduit_bend_radius(inside: float) -> float:
    """Least radius of a conduit's own bends: six times its inside up to 2 in, ten times above.

    Parameters
    ----------
    inside : float
        Diameter; 2 in is the trade size, whose inside is 52.5 mm. [m]

    Returns
    -------
    float
        [m]

    Notes
    -----
    TIA-569, from memory.

    Examples
    --------
    >>> round(conduit_bend_radius(0.0525), 3), round(conduit_bend_radius(0.0694), 3)
    (0.315, 0.694)
    """
    return (6.0 if inside <= 0.053 else 10.0) * inside


def pull_points(pieces: Sequence[float]) -> int:
    """Boxes that a run needs between its ends, so that no pull is too long or has too many bends.

    Parameters
    ----------
    pieces : sequence of float
        Straight pieces of the conduit from one end to the other, a bend of 90° between each two.
        [m]

    Notes
    -----
    Each box stands as far on as a pull may go: with fewer none would be kept. A bend at a box
    counts for the pull behind it.

    Examples
    --------
    >>> pull_points([10, 10, 10]), pull_points([31]), pull_points([5] * 6)
    (0, 1, 2)
    >>> pull_points([57, 1, 1, 1])  # a box for the length, and another before the third bend
    2
    """
    boxes, pulled, bends = 0, 0.0, -1
    for piece in pieces:
        bends += 1
        if bends > BENDS:
            boxes, pulled, bends = boxes + 1, 0.0, 1
        left = piece
        while pulled + left > LONGEST_PULL * (1 + 1e-9):
            left -= LONGEST_PULL - pulled
            boxes, pulled, bends = boxes + 1, 0.0, 0
        pulled += left
    return boxes


def supports(length: float) -> int:
    """Hooks of its own that a cable needs in a void, both ends included.

    Examples
    --------
    >>> supports(6.0), supports(0.0)
    (5, 0)
    """
    return math.ceil(length / SUPPORT_SPACING * (1 - 1e-9)) + 1 if length > 0 else 0
