"""Planes through a room: where the points of a map are, and which of them a mouth can be at."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from wellheard.arrays import Array, Mask
from wellheard.errors import InputError
from wellheard.geometry.points import contains_points
from wellheard.room.document import Room
from wellheard.units import INCH, Unit, format_length

POINTS = 2000
"""Points of a map whose spacing nobody chose."""
MOST_POINTS = 10_000
"""Points that a map may have at most."""
FINEST = 0.05
"""Spacing below which nothing new is seen: nobody sits that still. [m]"""
CLEARANCE = 0.01
"""A mouth is at least this far inside the walls. [m]"""

Point3 = tuple[float, float, float]


@dataclass(frozen=True)
class Plane:
    """A rectangle in the room: a corner, two unit vectors at right angles, and its sides.

    Attributes
    ----------
    origin : tuple of float
        The corner that distances along the plane are counted from. [m]
    across, up : tuple of float
        Unit vectors along its sides.
    size : tuple of float
        Its sides along them. [m]
    """

    origin: Point3
    across: Point3
    up: Point3
    size: tuple[float, float]

    def __post_init__(self) -> None:
        """Refuse what is no rectangle."""
        numbers = (*self.origin, *self.across, *self.up, *self.size)
        if not all(math.isfinite(value) for value in numbers):
            raise InputError("a plane with a number that is none; finite metres are allowed")
        if min(self.size) <= CLEARANCE:
            wide, tall = self.size
            raise InputError(
                f"a plane of {wide:.2f} m × {tall:.2f} m has no surface; both sides longer than "
                f"{CLEARANCE:g} m are allowed"
            )
        across, up = np.asarray(self.across), np.asarray(self.up)
        lengths = np.array([across @ across, up @ up])
        if np.abs(lengths - 1).max() > 1e-6 or abs(across @ up) > 1e-6:
            raise InputError(
                "the two directions of a plane are no unit vectors at right angles; such as "
                "(1, 0, 0) and (0, 0, 1)"
            )

    @property
    def is_level(self) -> bool:
        """Whether it lies flat with its sides along x and y, as a plan does."""
        return self.across == (1.0, 0.0, 0.0) and self.up == (0.0, 1.0, 0.0)

    @property
    def is_upright(self) -> bool:
        """Whether it stands: level along, straight up."""
        return self.up == (0.0, 0.0, 1.0)

    def grid(self, spacing: float | None = None, *, unit: Unit = "m") -> tuple[Array, Array]:
        """Middles of even cells along both sides. [m]

        Parameters
        ----------
        spacing : float, optional
            Widest distance of neighbours; by default what makes about ``POINTS`` points. [m]
        unit : {"m", "ft"}
            Of lengths in messages.

        Raises
        ------
        InputError
            Too few points for a map, or more than ``MOST_POINTS``.

        Examples
        --------
        >>> plane = Plane((0, 0, 1.2), (1, 0, 0), (0, 1, 0), (2.0, 1.0))
        >>> along, up = plane.grid(0.5)
        >>> along.tolist(), up.tolist()
        ([0.25, 0.75, 1.25, 1.75], [0.25, 0.75])
        """
        wide, tall = self.size
        step = usual_spacing(wide * tall) if spacing is None else spacing
        surface = f"{format_length(wide, unit=unit)} × {format_length(tall, unit=unit)}"
        if not 0 < step <= min(wide, tall) / 2:
            said = format_length(step, unit=unit) if math.isfinite(step) else f"{step}"
            most = format_length(min(wide, tall) / 2, unit=unit)
            raise InputError(
                f"points {said} apart make no map of {surface}; more than 0 and at most {most} "
                "are allowed"
            )
        columns, rows = (math.ceil(side / step - 1e-9) for side in self.size)
        if columns * rows > MOST_POINTS:
            least = format_length(_least_spacing(wide, tall, unit), unit=unit)
            raise InputError(
                f"points {format_length(step, unit=unit)} apart make {columns * rows:,} on "
                f"{surface}; at most {MOST_POINTS:,} are computed: {least} apart or more"
            )
        return _middles(wide, columns), _middles(tall, rows)

    def points(self, along: Array, upward: Array) -> Array:
        """Room coordinates of a grid on the plane, shape (rows, columns, 3). [m]"""
        across, up = np.asarray(self.across), np.asarray(self.up)
        rows = np.asarray(upward)[:, None, None] * up
        return np.asarray(self.origin) + np.asarray(along)[None, :, None] * across + rows


def _middles(side: float, count: int) -> Array:
    """Middles of ``count`` even parts of a side. [m]"""
    return (np.arange(count, dtype=np.float64) + 0.5) * (side / count)


def usual_spacing(area: float) -> float:
    """Distance of neighbours that spreads about ``POINTS`` points over an area. [m]

    Examples
    --------
    >>> round(usual_spacing(80.0), 3), usual_spacing(1.0)
    (0.2, 0.05)
    """
    return max(FINEST, math.sqrt(area / POINTS))


def _least_spacing(wide: float, tall: float, unit: Unit) -> float:
    """A round spacing that makes no more points than are computed. [m]"""
    grain = 0.01 if unit == "m" else INCH / 2
    number = math.ceil(math.sqrt(wide * tall / MOST_POINTS) / grain)
    while math.ceil(wide / (number * grain)) * math.ceil(tall / (number * grain)) > MOST_POINTS:
        number += 1
    return number * grain


def level_plane(room: Room, height: float) -> Plane:
    """The plane of a plan at a height above the floor, over all of the room.

    Raises
    ------
    InputError
        The height is not between floor and ceiling.
    """
    _check_height(room, height)
    outline = np.asarray(room.space.outline, dtype=np.float64)
    (x0, y0), (x1, y1) = outline.min(axis=0).tolist(), outline.max(axis=0).tolist()
    return Plane((x0, y0, height), (1.0, 0.0, 0.0), (0.0, 1.0, 0.0), (x1 - x0, y1 - y0))


def section_plane(room: Room, start: Sequence[float], end: Sequence[float]) -> Plane:
    """The upright plane between two points of the plan, from floor to ceiling.

    Distances on it are counted from ``start``.

    Raises
    ------
    InputError
        The two points are one, or nothing of the plane is in the room.
    """
    (x0, y0), (x1, y1) = start, end
    length = math.hypot(x1 - x0, y1 - y0)
    said = f"from {_at(room, start)} to {_at(room, end)}"
    if not length > CLEARANCE:
        raise InputError(
            f"a section {said} has no length; two points of the plan apart from each other are "
            "allowed"
        )
    plane = Plane(
        (float(x0), float(y0), 0.0),
        ((x1 - x0) / length, (y1 - y0) / length, 0.0),
        (0.0, 0.0, 1.0),
        (length, room.space.height),
    )
    if not spans(room, plane):
        raise InputError(f"a section {said} is outside the room; {_extent(room)}")
    return plane


def spans(room: Room, plane: Plane) -> tuple[tuple[float, float], ...]:
    """Stretches of an upright plane that lie in the room, along the plane from its origin. [m]

    Examples
    --------
    >>> room = Room.model_validate(
    ...     {
    ...         "wellheard": 1,
    ...         "space": {
    ...             "outline": [[0, 0], [6, 0], [6, 2], [4, 2], [4, 1], [2, 1], [2, 2], [0, 2]],
    ...             "height": 2.7,
    ...         },
    ...         "people": {"seats": {}},
    ...     }
    ... )
    >>> spans(room, section_plane(room, (-1, 1.5), (7, 1.5)))
    ((1.0, 3.0), (5.0, 7.0))
    """
    from shapely.geometry import LineString, Polygon

    start = np.asarray(plane.origin[:2])
    end = start + plane.size[0] * np.asarray(plane.across[:2])
    met = Polygon(room.space.outline).intersection(LineString([start, end]))
    found = []
    for part in getattr(met, "geoms", [met]):
        if part.geom_type == "LineString" and part.length > CLEARANCE:
            ends = (np.asarray(part.coords) - start) @ np.asarray(plane.across[:2])
            found.append((round(float(ends.min()), 9), round(float(ends.max()), 9)))
    return tuple(sorted(found))


def free(room: Room, points: Array) -> Mask:
    """Whether a mouth can be at each point: in the room, and in nothing solid.

    Parameters
    ----------
    room : Room
        Its obstacles and cupboards are solid, up to their height.
    points : ndarray, shape (..., 3)
        [m]

    Returns
    -------
    ndarray of bool, shape (...)
    """
    space = room.space
    plan, height = points[..., :2], points[..., 2]
    outline = np.asarray(space.outline, dtype=np.float64)
    found = contains_points(outline, plan, tolerance=-CLEARANCE)
    found &= (height >= CLEARANCE) & (height <= space.height - CLEARANCE)
    for top, solid in solids(room):
        found &= ~(contains_points(np.asarray(solid), plan) & (height <= top))
    return np.asarray(found)


def solids(room: Room) -> list[tuple[float, tuple[tuple[float, float], ...]]]:
    """What stands in the room and is full, as its top [m] and its outline."""
    whole = room.space.height
    found = [
        (whole if one.height is None else one.height, one.outline)
        for one in room.space.obstacles.values()
    ]
    found += [(i.height, i.outline) for i in room.furniture.values() if i.kind == "cupboard"]
    return found


def _check_height(room: Room, height: float) -> None:
    top = room.space.height
    if not CLEARANCE <= height <= top - CLEARANCE:
        shown = format_length(height, unit=room.units) if math.isfinite(height) else f"{height}"
        raise InputError(
            f"a height of {shown} is not in the room; between the floor and the ceiling at "
            f"{format_length(top, unit=room.units)}"
        )


def _at(room: Room, point: Sequence[float]) -> str:
    return ", ".join(format_length(float(v), unit=room.units) for v in point)


def _extent(room: Room) -> str:
    xs, ys = zip(*room.space.outline, strict=True)
    low, high = _at(room, (min(xs), min(ys))), _at(room, (max(xs), max(ys)))
    return f"the plan runs from {low} to {high}"
