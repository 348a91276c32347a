"""The room as sound meets it: an extruded plan, its surfaces, and what stands in it.

::

        ┌──────────────┐  ceiling (surface 1)
        │              │
        │   ▭ prism    │  walls (surfaces 2 …), parts of them as patches
        │              │
        └──────────────┘  floor (surface 0)
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from wellheard.acoustics.solids import solid_volume
from wellheard.arrays import Array
from wellheard.geometry.overlap import area_beside
from wellheard.geometry.polygons import polygon_area

FLOOR, CEILING, FIRST_WALL = 0, 1, 2
"""Surfaces in this order; walls follow, then patches, then level patches, then objects."""

SQUARE = 1e-6
"""Sine of the angle by which a rectangle's corners may be off."""


@dataclass(frozen=True, eq=False)
class Patch:
    """A rectangle on a wall with a surface of its own.

    Parameters
    ----------
    wall : int
        Index of the wall in :attr:`Enclosure.walls`.
    start, end : float
        Along the wall from its first point. [m]
    bottom, top : float
        Above the floor. [m]
    surface : int
        Index of its surface.
    """

    wall: int
    start: float
    end: float
    bottom: float
    top: float
    surface: int


@dataclass(frozen=True, eq=False)
class LevelPatch:
    """A part of the floor or of the ceiling with a surface of its own.

    Parameters
    ----------
    on : int
        ``FLOOR`` or ``CEILING``.
    outline : ndarray, shape (corners, 2)
        Simple. [m]
    surface : int
        Index of its surface. It scatters as the floor or ceiling that it is on, so that it never
        changes where rays go.
    """

    on: int
    outline: Array
    surface: int


@dataclass(frozen=True, eq=False)
class Prism:
    """An upright prism that stands or hangs in the room: a table top, a cupboard, a sitter.

    Parameters
    ----------
    outline : ndarray, shape (corners, 2)
        Simple, counter-clockwise. [m]
    bottom, top : float
        Above the floor. [m]
    surface : int
        Index of its surface.
    """

    outline: Array
    bottom: float
    top: float
    surface: int


@dataclass(frozen=True, eq=False)
class Enclosure:
    """An extruded plan with a flat floor and a flat ceiling, S surfaces in seven octaves.

    Parameters
    ----------
    outline : ndarray, shape (corners, 2)
        Simple, counter-clockwise, may be concave. [m]
    columns : tuple of ndarray, each of shape (corners, 2)
        Columns from floor to ceiling, counter-clockwise, inside the outline, apart from each
        other. [m]
    height : float
        [m]
    names : tuple of str
        Of the surfaces: floor, ceiling, walls, patches, level patches, objects.
    absorption : ndarray, shape (S, 7)
        Random incidence, 0–1.
    scattering : ndarray, shape (S,)
        Share of the reflected energy that leaves by Lambert's law, 0–1.
    patches : tuple of Patch
        On no wall may two overlap.
    objects : tuple of Prism
        Inside the outline.
    level_patches : tuple of LevelPatch
        Neither on the floor nor on the ceiling may two overlap.
    """

    outline: Array
    columns: tuple[Array, ...]
    height: float
    names: tuple[str, ...]
    absorption: Array
    scattering: Array
    patches: tuple[Patch, ...] = ()
    objects: tuple[Prism, ...] = ()
    level_patches: tuple[LevelPatch, ...] = ()

    @cached_property
    def walls(self) -> Array:
        """Plan segments x0, y0, x1, y1 with the room on their left, shape (W, 4) [m].

        Edges of the outline in order, then those of each column, run through clockwise.
        """
        rings = [self.outline, *(column[::-1] for column in self.columns)]
        return np.concatenate([np.hstack([ring, np.roll(ring, -1, axis=0)]) for ring in rings])

    @cached_property
    def wall_lengths(self) -> Array:
        """Shape (W,) [m]."""
        return np.hypot(*(self.walls[:, 2:] - self.walls[:, :2]).T)

    @cached_property
    def wall_absorption(self) -> Array:
        """Mean over each wall, patches included, by area, shape (W, 7)."""
        own = self.absorption[FIRST_WALL : FIRST_WALL + len(self.walls)].copy()
        area = self.wall_lengths * self.height
        for patch in self.patches:
            share = (patch.end - patch.start) * (patch.top - patch.bottom) / area[patch.wall]
            plain = self.absorption[FIRST_WALL + patch.wall]
            own[patch.wall] += share * (self.absorption[patch.surface] - plain)
        return own

    @cached_property
    def wall_scattering(self) -> Array:
        """Mean over each wall, patches included, by area, shape (W,)."""
        own = self.scattering[FIRST_WALL : FIRST_WALL + len(self.walls)].copy()
        area = self.wall_lengths * self.height
        for patch in self.patches:
            share = (patch.end - patch.start) * (patch.top - patch.bottom) / area[patch.wall]
            plain = self.scattering[FIRST_WALL + patch.wall]
            own[patch.wall] += share * (self.scattering[patch.surface] - plain)
        return own

    @cached_property
    def level_absorption(self) -> Array:
        """Mean over floor and ceiling, level patches included, by area, shape (2, 7)."""
        own = self.absorption[:FIRST_WALL].copy()
        for patch in self.level_patches:
            share = area_beside(patch.outline, self.columns) / self.floor_area
            own[patch.on] += share * (self.absorption[patch.surface] - self.absorption[patch.on])
        return own

    @cached_property
    def floor_area(self) -> float:
        """Of the plan without its columns [m²]."""
        taken = sum(abs(polygon_area(column)) for column in self.columns)
        return float(abs(polygon_area(self.outline)) - taken)

    @cached_property
    def volume(self) -> float:
        """Of the air: without columns and objects, where they overlap once [m³]."""
        return float(self.floor_area * self.height - solid_volume(self.objects))

    @cached_property
    def is_box(self) -> bool:
        """Whether the plan is a rectangle, turned or not, without columns."""
        if self.columns or len(self.outline) != 4:
            return False
        sides = np.roll(self.outline, -1, axis=0) - self.outline
        sides = sides / np.hypot(sides[:, 0], sides[:, 1])[:, None]
        return bool(np.all(np.abs((sides * np.roll(sides, -1, axis=0)).sum(axis=1)) < SQUARE))

    @cached_property
    def path_key(self) -> bytes:
        """All that decides where rays go, as bytes: equal keys, equal paths."""
        parts = [
            self.outline,
            *self.columns,
            np.array([self.height]),
            self.scattering,
            np.array([(p.wall, p.start, p.end, p.bottom, p.top, p.surface) for p in self.patches]),
            *(one.outline for one in self.level_patches),
            np.array([(one.on, one.surface) for one in self.level_patches]),
            *(one.outline for one in self.objects),
            np.array([(one.bottom, one.top, one.surface) for one in self.objects]),
        ]
        return b"|".join(np.asarray(part, dtype=np.float64).tobytes() for part in parts)


def box(
    size: tuple[float, float, float], *, absorption: Array, scattering: float = 0.0
) -> Enclosure:
    """An empty box, for benches and tests.

    Parameters
    ----------
    size : tuple of 3 floats
        Along x, y and z. [m]
    absorption : ndarray, shape (6,) or (6, 7)
        Of floor, ceiling, and the walls at y = 0, x = length, y = width and x = 0.
    scattering : float
        Of all surfaces, 0–1.

    Examples
    --------
    >>> room = box((6.0, 5.0, 3.0), absorption=np.full(6, 0.2))
    >>> room.is_box, room.volume
    (True, 90.0)
    """
    x, y, z = size
    given = np.asarray(absorption, dtype=np.float64)
    octaves = given if given.ndim == 2 else np.repeat(given[:, None], 7, axis=1)
    return Enclosure(
        outline=np.array([[0.0, 0.0], [x, 0.0], [x, y], [0.0, y]]),
        columns=(),
        height=z,
        names=("floor", "ceiling", "south", "east", "north", "west"),
        absorption=octaves,
        scattering=np.full(6, float(scattering)),
    )
