"""Upright cylinders in pyramids and across lines of sight."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from wellheard.arrays import Array
from wellheard.geometry.polygons import TOUCH

Point = tuple[float, float, float]


@dataclass(frozen=True)
class Cylinder:
    """An upright cylinder: its middle, its radius and half its height. [m]"""

    middle: Point
    radius: float
    half: float

    def reach(self, directions: Array) -> Array:
        """How far it reaches from its middle along unit vectors, shape (..., 3) to (...). [m]

        Examples
        --------
        >>> drum = Cylinder((0.0, 0.0, 2.0), radius=0.1, half=0.03)
        >>> drum.reach(np.array([[1.0, 0.0, 0.0], [0.0, 0.0, -1.0]])).tolist()
        [0.1, 0.03]
        """
        level = np.hypot(directions[..., 0], directions[..., 1])
        return np.asarray(self.radius * level + self.half * np.abs(directions[..., 2]))


@dataclass(frozen=True)
class Pyramid:
    """A pyramid over four corners, as its inward planes: the sides, the base, one at the apex.

    Parameters
    ----------
    normals : ndarray, shape (6, 3)
        Unit vectors; empty for a pyramid without volume.
    offsets : ndarray, shape (6,)
        Of the planes, along their normals. [m]
    """

    normals: Array
    offsets: Array

    @classmethod
    def over(cls, apex: Array, base: Array) -> Pyramid:
        """From an apex, shape (3,), to the corners of its base in order, shape (4, 3). [m]"""
        axis = base.mean(axis=0) - apex
        sides = np.cross(base - apex, np.roll(base, -1, axis=0) - apex)
        back = np.cross(base[1] - base[0], base[2] - base[1])
        normals = np.concatenate([sides, [back, axis]])
        inwards = np.concatenate([np.sign(sides @ axis), [-np.sign(back @ axis), 1.0]])
        lengths = np.linalg.norm(normals, axis=1)
        if not np.all(lengths * np.abs(inwards) > 1e-9):
            return cls(np.zeros((0, 3)), np.zeros(0))  # the apex is in the plane of the base
        normals = normals * (inwards / lengths)[:, None]
        origins = np.stack([apex, apex, apex, apex, base[0], apex])
        return cls(normals, (origins * normals).sum(axis=1))

    def depth(self, thing: Cylinder) -> float:
        """How far a cylinder reaches in past the nearest side; 0 or less is outside. [m]

        Held against each plane by itself, so that one just off an edge counts as inside by up to
        0.4 of its radius.

        Examples
        --------
        >>> base = np.array([[4.0, -1, -1], [4.0, 1, -1], [4.0, 1, 1], [4.0, -1, 1]])
        >>> ball = Cylinder((2.0, 0.0, 0.0), radius=0.1, half=0.1)
        >>> round(Pyramid.over(np.zeros(3), base).depth(ball), 2)  # 2 / √17 to a side, its reach
        0.59
        """
        if not len(self.normals):
            return 0.0
        inside = self.normals @ np.asarray(thing.middle) - self.offsets + thing.reach(self.normals)
        if inside.min() <= 0:
            return 0.0
        return float(inside[:4].min())


def sight_lines(
    thing: Cylinder, start: Array, ends: Array, *, radius: float
) -> tuple[Array, Array]:
    """How near lines of sight pass to a cylinder, and how near they may.

    Parameters
    ----------
    thing : Cylinder
        What is in the way.
    start : ndarray, shape (3,)
        Where all lines begin. [m]
    ends : ndarray, shape (lines, 3)
        [m]
    radius : float
        Of what must be seen at the end; towards the start a line narrows to a point. [m]

    Returns
    -------
    distance, wanted : ndarray, shape (lines,)
        From the cylinder's middle to the nearest point of each line, and what keeps all of it
        out of the sight. [m]

    Examples
    --------
    Half way along a line of 4 m, 0.2 m above it; its underside is 0.03 m lower.

    >>> drum = Cylinder((2.0, 0.0, 1.2), radius=0.1, half=0.03)
    >>> ends = np.array([[4.0, 0.0, 1.0]])
    >>> near, wanted = sight_lines(drum, np.array([0.0, 0.0, 1.0]), ends, radius=0.1)
    >>> near.round(3).tolist(), wanted.round(3).tolist()
    ([0.2], [0.08])
    """
    middle = np.asarray(thing.middle)
    sight = ends - start
    squared = np.maximum((sight**2).sum(axis=1), 1e-12)
    share = np.clip((sight @ (middle - start)) / squared, 0.0, 1.0)
    away = start + share[:, None] * sight - middle
    distance = np.linalg.norm(away, axis=1)
    aside = np.stack([-sight[:, 1], sight[:, 0], 1e-12 + 0 * sight[:, 2]], axis=1)
    across = aside / np.linalg.norm(aside, axis=1)[:, None]
    # A line straight through the middle is left sideways.
    through = (distance < TOUCH)[:, None]
    direction = np.where(through, across, away / np.maximum(distance, TOUCH)[:, None])
    return distance, thing.reach(direction) + radius * share
