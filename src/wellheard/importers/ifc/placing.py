"""Where things are: placements within placements, to metres of the whole model."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import TypeAlias

import numpy as np
import numpy.typing as npt

from wellheard.importers.ifc.asking import FAULTS, Entity, Unusable, finite, one

Matrix: TypeAlias = npt.NDArray[np.float64]
"""Rotation and place, shape (4, 4). [m]"""

FURTHEST = 2e7
"""From the model's zero; half way round the Earth. [m]"""
DEEPEST = 100
"""Placements within placements."""
NOT_FINITE = "coordinates that are no number, or further off than the Earth is wide"


def coordinates(said: object, scale: float, *, count: int = 3) -> Matrix:
    """Return the coordinates of a point or direction, shape (count,), a third left out as 0. [m]

    Raises
    ------
    Unusable
        They are no numbers, or endless.
    """
    values = list(said) if isinstance(said, Sequence) else []
    numbers = [finite(value) for value in values[:count]]
    if len(numbers) < 2 or any(v is None or abs(v * scale) > FURTHEST for v in numbers):
        raise Unusable(NOT_FINITE)
    return np.array([*(v * scale for v in numbers if v is not None), *[0.0] * count])[:count]


def direction(of: Entity | None, usual: tuple[float, float, float]) -> Matrix:
    """Return a unit vector, the usual one where none or a vanishing one is stated."""
    if of is None:
        return np.array(usual)
    found = coordinates(of.DirectionRatios, 1.0)
    length = float(np.linalg.norm(found))
    return found / length if length > 1e-9 else np.array(usual)


def axes(of: Entity | None, scale: float) -> Matrix:
    """Return the matrix of axes on the plan or in space; of none, those of what holds them."""
    matrix = np.eye(4)
    if of is None:
        return matrix
    try:
        upright = (0.0, 0.0, 1.0)
        z = direction(of.Axis, upright) if of.is_a("IfcAxis2Placement3D") else np.array(upright)
        along = direction(of.RefDirection, (1.0, 0.0, 0.0))
        x = along - z * float(along @ z)
        if np.linalg.norm(x) < 1e-9:
            x = np.array((1.0, 0.0, 0.0)) if abs(z[0]) < 0.9 else np.array((0.0, 1.0, 0.0))
            x = x - z * float(x @ z)
        x = x / np.linalg.norm(x)
        matrix[:3, 0], matrix[:3, 1], matrix[:3, 2] = x, np.cross(z, x), z
        matrix[:3, 3] = coordinates(of.Location.Coordinates, scale)
    except FAULTS:
        raise Unusable("its axes cannot be read") from None
    return matrix


class Places:
    """Placements of one model, each worked out once."""

    def __init__(self, scale: float) -> None:
        self._scale = scale
        self._known: dict[int, Matrix] = {}

    def of(self, placement: Entity | None) -> Matrix:
        """Return where a placement is in the whole model.

        Raises
        ------
        Unusable
            It goes round in a circle, follows a grid or a line, or is no number.
        """
        chain: list[Entity] = []
        seen: set[int] = set()
        here = placement
        while here is not None and here.id() not in self._known:
            if here.id() in seen or len(chain) > DEEPEST:
                raise Unusable("its placement goes round in a circle, or is nested too deep")
            if not here.is_a("IfcLocalPlacement"):
                raise Unusable(f"it is placed by {here.is_a()}, which is not followed")
            seen.add(here.id())
            chain.append(here)
            here = one(here, "PlacementRelTo")
        matrix = np.eye(4) if here is None else self._known[here.id()]
        for each in reversed(chain):
            relative = one(each, "RelativePlacement")
            if relative is None:
                raise Unusable("its placement does not say where")
            matrix = matrix @ axes(relative, self._scale)
            if np.abs(matrix[:3, 3]).max() > FURTHEST:
                raise Unusable(NOT_FINITE)
            self._known[each.id()] = matrix
        return matrix


def operator(of: Entity | None, scale: float) -> Matrix:
    """Return the matrix of a transformation of a mapped shape or a profile, mirrored or scaled."""
    matrix = np.eye(4)
    if of is None:
        return matrix
    flat = of.is_a("IfcCartesianTransformationOperator2D")
    z = np.array((0.0, 0.0, 1.0)) if flat else direction(of.Axis3, (0.0, 0.0, 1.0))
    x = direction(of.Axis1, (1.0, 0.0, 0.0))
    y = direction(of.Axis2, tuple(np.cross(z, x)))
    factor = finite(of.Scale) or 1.0
    second = finite(getattr(of, "Scale2", None)) or factor
    third = finite(getattr(of, "Scale3", None)) or factor
    if max(abs(factor), abs(second), abs(third)) > 1e6:
        raise Unusable(NOT_FINITE)
    matrix[:3, 0], matrix[:3, 1], matrix[:3, 2] = x * factor, y * second, z * third
    matrix[:3, 3] = coordinates(of.LocalOrigin.Coordinates, scale)
    return matrix


def moved(points: Matrix, by: Matrix) -> Matrix:
    """Return points, shape (N, 3), moved by a matrix."""
    return points @ by[:3, :3].T + by[:3, 3]


def azimuth_deg(matrix: Matrix) -> float:
    """Return which way the first axis of a matrix points on the plan, anticlockwise from +x."""
    return math.degrees(math.atan2(matrix[1, 0], matrix[0, 0])) % 360.0
