"""Arcs, ellipses and splines as short straight lines, never more of them than are worth it."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from typing import Any

SAGITTA = 0.004
"""How far a curve may lie off the lines that stand for it. [m]"""
MOST_LINES = 720
"""Of one curve, whatever its radius."""
MOST_FITTED = 500
"""Fit points through which a curve is laid; more of them stand for it themselves."""

Flat = tuple[float, float]


def steps(radius: float, sweep: float, sagitta: float) -> int:
    """Lines that an arc needs, its ends included, so that none is off by more than the sagitta.

    Parameters
    ----------
    radius, sagitta : float
        In the same unit.
    sweep : float
        [rad]

    Examples
    --------
    >>> steps(1.0, math.pi / 2, 0.005)
    8
    """
    if not radius > sagitta:
        return 2
    widest = 2.0 * math.acos(1.0 - sagitta / radius)
    return max(2, min(MOST_LINES, math.ceil(abs(sweep) / widest)))


def arc(centre: Flat, radius: float, start: float, sweep: float, sagitta: float) -> Iterator[Flat]:
    """Yield the points of an arc from its start on, its end included. [rad, anticlockwise]"""
    count = steps(radius, sweep, sagitta)
    if sweep > 6.2:  # a circle is as wide as it is high
        count = max(12, 4 * math.ceil(count / 4))
    for i in range(count + 1):
        angle = start + sweep * i / count
        yield centre[0] + radius * math.cos(angle), centre[1] + radius * math.sin(angle)


def bulged(
    corners: Sequence[tuple[float, float, float]], closed: bool, sagitta: float
) -> tuple[list[Flat], list[Flat]]:
    """Points of a polyline whose sides may be arcs, and the centres of those.

    Parameters
    ----------
    corners : sequence of (x, y, bulge)
        The bulge of a side stands with its start: the tangent of a quarter of its angle, positive
        anticlockwise.
    closed : bool
        Whether the last corner is joined with the first.
    sagitta : float
        In the unit of the corners.

    Returns
    -------
    points, centres : list of (x, y)

    Examples
    --------
    A half circle between (0, 0) and (2, 0), below the line:

    >>> points, centres = bulged([(0, 0, 1.0), (2, 0, 0)], False, 0.01)
    >>> f"{min(y for _, y in points):.2f}", [(round(x, 6), round(y, 6)) for x, y in centres]
    ('-1.00', [(1.0, 0.0)])
    """
    points: list[Flat] = []
    centres: list[Flat] = []
    last = len(corners) - (0 if closed else 1)
    for i, (x, y, bulge) in enumerate(corners):
        points.append((x, y))
        if not bulge or i >= last:
            continue
        u, v, _ = corners[(i + 1) % len(corners)]
        chord = math.hypot(u - x, v - y)
        if not chord or not math.isfinite(chord * bulge):
            continue
        sweep = 4.0 * math.atan(bulge)
        off = (1.0 - bulge * bulge) / (4.0 * bulge)  # of the centre, left of the chord, in chords
        centre = ((x + u) / 2 - off * (v - y), (y + v) / 2 + off * (u - x))
        radius = math.hypot(x - centre[0], y - centre[1])
        start = math.atan2(y - centre[1], x - centre[0])
        points.extend(list(arc(centre, radius, start, sweep, sagitta))[1:-1])
        centres.append(centre)
    if closed and points:
        points.append(points[0])
    return points, centres


def ellipse(entity: Any, sagitta: float) -> list[Any]:
    """Points of an ellipse or its arc in space; ``sagitta`` in the unit of the drawing."""
    shape = entity.construction_tool()
    start, end = entity.dxf.start_param, entity.dxf.end_param
    sweep = (end - start) % math.tau or math.tau
    count = max(8, steps(shape.major_axis.magnitude, sweep, sagitta))
    return list(shape.vertices(start + sweep * i / count for i in range(count + 1)))


def spline(entity: Any) -> list[Any]:
    """Points of a spline in space, some for each of its control points."""
    fitted, controls = len(entity.fit_points), len(entity.control_points)
    if controls < 2:
        if fitted > MOST_FITTED:
            return list(map(_vector, entity.fit_points))
        controls = fitted
    if controls < 2:
        return []
    if controls > MOST_LINES:
        return list(map(_vector, entity.control_points))
    return list(entity.construction_tool().approximate(min(MOST_LINES, max(16, 8 * controls))))


def _vector(point: Sequence[float]) -> Any:
    from ezdxf.math import Vec3

    return Vec3(point)
