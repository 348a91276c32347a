"""Profiles and curves on a plane as rings of corners, curves at most a few millimetres off."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence

import numpy as np

from wellheard.importers.curves import arc, steps
from wellheard.importers.found import Point
from wellheard.importers.ifc.asking import FAULTS, Entity, Unread, Unusable, finite, one, related
from wellheard.importers.ifc.placing import Matrix, axes, coordinates, moved, operator

SAGITTA = 0.004
"""How far a curve may lie off the lines that stand for it. [m]"""
MOST_CORNERS = 20_000
"""Of one profile."""
DEEPEST = 12
"""Profiles derived from profiles, and curves made of curves."""


class Profiles:
    """Profiles of one model, in metres.

    Parameters
    ----------
    scale, angle_scale : float
        What a unit of length and of a plane angle is. [m], [rad]
    """

    def __init__(self, scale: float, angle_scale: float) -> None:
        self._scale, self._angle_scale = scale, angle_scale

    def rings(self, profile: Entity, depth: int = 0) -> tuple[Matrix, list[Matrix]]:
        """Return the outer ring and the inner ones of a profile, each of shape (N, 2). [m]

        Raises
        ------
        Unusable
            It is of a form that is not read here, or not of numbers.
        """
        if depth > DEEPEST:
            raise Unusable("its profile is nested too deep")
        try:
            outer, inner = self._rings(profile, depth)
        except FAULTS:
            raise Unusable(f"its profile ({profile.is_a()}) cannot be read") from None
        if not 3 <= len(outer) <= MOST_CORNERS:
            raise Unusable("its profile has no corners, or too many")
        return outer, inner

    def _rings(self, profile: Entity, depth: int) -> tuple[Matrix, list[Matrix]]:
        if profile.is_a("IfcArbitraryClosedProfileDef"):
            inner = [self.curve(c) for c in related(profile, "InnerCurves")]
            return self.curve(profile.OuterCurve), inner
        if profile.is_a("IfcDerivedProfileDef"):
            by = operator(profile.Operator, self._scale)
            outer, inner = self.rings(profile.ParentProfile, depth + 1)
            return _flat_moved(outer, by), [_flat_moved(ring, by) for ring in inner]
        if not profile.is_a("IfcParameterizedProfileDef"):
            raise Unread(f"its profile is an {profile.is_a()}")
        by = axes(one(profile, "Position"), self._scale)
        outer, inner = self._parameterised(profile)
        return _flat_moved(outer, by), [_flat_moved(ring, by) for ring in inner]

    def _length(self, of: Entity, name: str) -> float:
        value = finite(getattr(of, name))
        if value is None or not 0 < value * self._scale < 1e5:
            raise Unusable(f"its profile has no usable {name}")
        return value * self._scale

    def _parameterised(self, profile: Entity) -> tuple[Matrix, list[Matrix]]:
        if profile.is_a("IfcCircleProfileDef"):
            radius = self._length(profile, "Radius")
            hollow = profile.is_a("IfcCircleHollowProfileDef")
            inner = radius - self._length(profile, "WallThickness") if hollow else 0.0
            return _circle(radius), [_circle(inner)] if inner > 0 else []
        if profile.is_a("IfcEllipseProfileDef"):
            a, b = self._length(profile, "SemiAxis1"), self._length(profile, "SemiAxis2")
            return _circle(max(a, b)) * (a / max(a, b), b / max(a, b)), []
        if profile.is_a("IfcRectangleProfileDef"):
            x, y = self._length(profile, "XDim"), self._length(profile, "YDim")
            if profile.is_a("IfcRoundedRectangleProfileDef"):
                return _rounded(x, y, self._length(profile, "RoundingRadius")), []
            if profile.is_a("IfcRectangleHollowProfileDef"):
                wall = 2 * self._length(profile, "WallThickness")
                return _rectangle(x, y), [_rectangle(x - wall, y - wall)]
            return _rectangle(x, y), []
        names = ("OverallWidth", "OverallDepth", "FlangeWidth", "Depth", "Width", "XDim")
        sizes = {n: v for n in names if (v := finite(getattr(profile, n, None)))}
        wide = sizes.get("OverallWidth") or sizes.get("FlangeWidth") or sizes.get("Width")
        deep = sizes.get("OverallDepth") or sizes.get("Depth")
        if not wide or not deep:
            raise Unread(f"its profile is an {profile.is_a()}")
        # A rolled section counts with its box: nobody sits between its flanges.
        return _rectangle(wide * self._scale, deep * self._scale), []

    def curve(self, curve: Entity, depth: int = 0) -> Matrix:
        """Return the points of a curve on a plane, shape (N, 2), its end left out if closed. [m]"""
        points = list(self._points(curve, depth))
        if len(points) > MOST_CORNERS:
            raise Unusable("its outline has too many corners")
        if len(points) > 1 and math.dist(points[0], points[-1]) < 1e-6:
            points.pop()
        return np.array(points, dtype=np.float64).reshape(-1, 2)

    def _points(self, curve: Entity, depth: int) -> Iterator[Point]:
        if depth > DEEPEST:
            raise Unusable("its outline is nested too deep")
        if curve.is_a("IfcPolyline"):
            for point in curve.Points:
                yield self._point(point.Coordinates)
        elif curve.is_a("IfcIndexedPolyCurve"):
            yield from self._indexed(curve)
        elif curve.is_a("IfcCompositeCurve"):
            yield from self._composite(curve, depth)
        elif curve.is_a("IfcTrimmedCurve"):
            yield from self._trimmed(curve)
        elif curve.is_a("IfcCircle") or curve.is_a("IfcEllipse"):
            yield from self._conic(curve, 0.0, math.tau)
        else:
            raise Unread(f"its outline is an {curve.is_a()}")

    def _point(self, said: object) -> Point:
        x, y = coordinates(said, self._scale, count=2)
        return float(x), float(y)

    def _indexed(self, curve: Entity) -> Iterator[Point]:
        points = [self._point(p) for p in curve.Points.CoordList]
        segments = curve.Segments
        if not segments:
            yield from points
            return
        for segment in segments:
            at = [points[i - 1] for i in segment.wrappedValue]
            if segment.is_a("IfcArcIndex"):
                yield from _through(*at[:3])
            else:
                yield from at

    def _composite(self, curve: Entity, depth: int) -> Iterator[Point]:
        last: Point | None = None
        for segment in curve.Segments:
            part = list(self._points(segment.ParentCurve, depth + 1))
            if segment.SameSense is False:
                part.reverse()
            if last is not None and part and math.dist(part[0], last) < 1e-6:
                part = part[1:]
            yield from part
            last = part[-1] if part else last

    def _trimmed(self, curve: Entity) -> Iterator[Point]:
        basis, forward = curve.BasisCurve, curve.SenseAgreement is not False
        ends = (curve.Trim1, curve.Trim2)
        if basis.is_a("IfcLine"):
            yield from (self._on_line(basis, end) for end in ends)
            return
        if not (basis.is_a("IfcCircle") or basis.is_a("IfcEllipse")):
            raise Unread(f"its outline is a part of an {basis.is_a()}")
        start, end = (self._on_conic(basis, end) for end in ends)
        sweep = (end - start) % math.tau if forward else -((start - end) % math.tau)
        yield from self._conic(basis, start, sweep or math.copysign(math.tau, 1 if forward else -1))

    def _on_line(self, line: Entity, trim: Sequence[Entity]) -> Point:
        for said in trim:
            if said.is_a("IfcCartesianPoint"):
                return self._point(said.Coordinates)
        x, y = self._point(line.Pnt.Coordinates)
        along = line.Dir
        u, v = coordinates(along.Orientation.DirectionRatios, 1.0, count=2)
        length = math.hypot(u, v) or 1.0
        reach = float(trim[0].wrappedValue) * (finite(along.Magnitude) or 1.0) * self._scale
        return x + reach * float(u) / length, y + reach * float(v) / length

    def _on_conic(self, conic: Entity, trim: Sequence[Entity]) -> float:
        """Parameter of a conic at a trim: the parameter stated, else that of the point. [rad]"""
        for said in trim:
            if said.is_a("IfcParameterValue"):
                return float(said.wrappedValue) * self._angle_scale
        back = np.asarray(np.linalg.inv(axes(conic.Position, self._scale)), dtype=np.float64)
        x, y = self._point(trim[0].Coordinates)
        u, v, _ = moved(np.array([[x, y, 0.0]]), back)[0]
        a, b = self._radii(conic)
        return math.atan2(v / b, u / a)

    def _radii(self, conic: Entity) -> tuple[float, float]:
        if conic.is_a("IfcCircle"):
            return (self._length(conic, "Radius"),) * 2
        return self._length(conic, "SemiAxis1"), self._length(conic, "SemiAxis2")

    def _conic(self, conic: Entity, start: float, sweep: float) -> Iterator[Point]:
        a, b = self._radii(conic)
        by = axes(conic.Position, self._scale)
        largest = max(a, b)
        for x, y in arc((0.0, 0.0), largest, start, sweep, SAGITTA):
            point = np.array([[x * a / largest, y * b / largest, 0.0]])
            u, v, _ = moved(point, by)[0]
            yield float(u), float(v)


def _flat_moved(ring: Matrix, by: Matrix) -> Matrix:
    return moved(np.column_stack([ring, np.zeros(len(ring))]), by)[:, :2]


def _rectangle(x: float, y: float) -> Matrix:
    return np.array([[-x, -y], [x, -y], [x, y], [-x, y]]) / 2


def _circle(radius: float) -> Matrix:
    count = max(8, steps(radius, math.tau, SAGITTA))
    turn = np.arange(count) * math.tau / count
    return radius * np.column_stack([np.cos(turn), np.sin(turn)])


def _rounded(x: float, y: float, radius: float) -> Matrix:
    radius = min(radius, x / 2, y / 2)
    corners: list[Point] = []
    for quarter, (sx, sy) in enumerate(((1, 1), (-1, 1), (-1, -1), (1, -1))):
        centre = (sx * (x / 2 - radius), sy * (y / 2 - radius))
        corners += arc(centre, radius, quarter * math.pi / 2, math.pi / 2, SAGITTA)
    return np.array(corners)


def _through(a: Point, b: Point, c: Point) -> Iterator[Point]:
    """Points of the arc through three of them; of three on a line these."""
    (ax, ay), (bx, by), (cx, cy) = a, b, c
    twice = 2 * ((bx - ax) * (cy - ay) - (by - ay) * (cx - ax))
    if abs(twice) < 1e-12:
        yield from (a, b, c)
        return
    p, q = (bx - ax) ** 2 + (by - ay) ** 2, (cx - ax) ** 2 + (cy - ay) ** 2
    centre = (
        ax + ((cy - ay) * p - (by - ay) * q) / twice,
        ay + ((bx - ax) * q - (cx - ax) * p) / twice,
    )
    start = math.atan2(ay - centre[1], ax - centre[0])
    end = math.atan2(cy - centre[1], cx - centre[0])
    sweep = (end - start) % math.tau if twice > 0 else -((start - end) % math.tau)
    yield from arc(centre, math.dist(centre, a), start, sweep, SAGITTA)
