"""Shapes of things as upright pieces: rings on the plan, each from one height to another."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

import numpy as np

from wellheard.importers.found import Ring
from wellheard.importers.ifc.asking import (
    FAULTS,
    Entity,
    Unread,
    Unusable,
    finite,
    is_any,
    one,
    related,
    text,
)
from wellheard.importers.ifc.meshing import Mesh, mesh_of, refuse_damage
from wellheard.importers.ifc.placing import (
    FURTHEST,
    NOT_FINITE,
    Matrix,
    Places,
    axes,
    coordinates,
    moved,
    operator,
)
from wellheard.importers.ifc.profiles import Profiles
from wellheard.importers.outlines import ring_of, signed_area

UPRIGHT = 1e-4
"""A direction this near to the vertical is upright. [rad]"""
DEEPEST = 12
"""Shapes mapped within shapes."""
MOST_POINTS = 200_000
"""Of one shape."""
FINE, IDLE = 100, 0.002
"""Outlines of more corners than the one are straightened by no more than the other [m]."""
MOST_MESHED = 400
"""Shapes of one model that are left to the geometry engine."""
BODIES = ("Body", "Facetation", "Box", "Reference", "")
"""Representations that may have the shape of a thing, the best first."""
FOOTPRINTS = ("FootPrint", "Plan", "Annotation")
"""Representations that may have a thing's outline on the plan."""
_OF_POINTS = (
    "IfcManifoldSolidBrep",
    "IfcFaceBasedSurfaceModel",
    "IfcShellBasedSurfaceModel",
    "IfcConnectedFaceSet",
    "IfcGeometricSet",
)


@dataclass(frozen=True)
class Piece:
    """A polygon drawn up: outer ring and holes [m], and its heights in the model [m]."""

    outer: Matrix
    holes: tuple[Matrix, ...]
    low: float
    high: float


@dataclass(frozen=True)
class Prism:
    """Rings in one plane, the outer one first, each of shape (N, 3), drawn along ``rise``. [m]"""

    rings: tuple[Matrix, ...]
    rise: Matrix

    def moved(self, by: Matrix) -> Prism:
        """Return it moved by a matrix."""
        return Prism(tuple(moved(ring, by) for ring in self.rings), by[:3, :3] @ self.rise)


def _in_space(ring: Matrix) -> Matrix:
    return np.column_stack([ring, np.zeros(len(ring))])


def _upright(prism: Prism, by: Matrix) -> Piece:
    """A prism put where its product is."""
    placed = prism.moved(by)
    outer, rise = placed.rings[0], placed.rise
    if max(float(np.abs(ring).max()) for ring in placed.rings) > FURTHEST:
        raise Unusable(NOT_FINITE)
    tilted = float(np.ptp(outer[:, 2])) > UPRIGHT * float(np.ptp(outer[:, :2], axis=0).max())
    if tilted or np.hypot(*rise[:2]) > UPRIGHT * abs(rise[2]):
        raise Unread("it is drawn in a direction that is not upright")
    base = float(outer[:, 2].mean())
    low, high = sorted((base, base + float(rise[2])))
    return Piece(outer[:, :2], tuple(ring[:, :2] for ring in placed.rings[1:]), low, high)


@dataclass
class Shapes:
    """Shapes of one model, in metres.

    ``damaged`` are the numbers of entities that the file lacks a part of; ``meshed`` counts the
    shapes that were left to the geometry engine.
    """

    model: Any
    scale: float
    angle_scale: float
    places: Places
    damaged: frozenset[int] = frozenset()
    meshed: int = 0
    _local: dict[int, Matrix] = field(default_factory=dict)
    _drawn: dict[int, tuple[Prism, ...] | Unusable] = field(default_factory=dict)

    def __post_init__(self) -> None:
        self._profiles = Profiles(self.scale, self.angle_scale)

    def items(self, product: Entity, *kinds: str) -> list[Entity]:
        """Return the items of the best representation of a product."""
        shapes = related(one(product, "Representation"), "Representations")
        for kind in kinds or BODIES:
            for shape in shapes:
                items = related(shape, "Items")
                if text(shape, "RepresentationIdentifier") == kind and items:
                    return list(items)
        return []

    def place(self, product: Entity) -> Matrix:
        """Return where a product is in the whole model.

        Raises
        ------
        Unusable
            As of `Places.of`, or the file lacks a part of it.
        """
        if self.damaged:
            refuse_damage(product, self.damaged)
        return self.places.of(one(product, "ObjectPlacement"))

    def prisms(self, product: Entity) -> tuple[Piece, ...]:
        """Return the upright prisms that a product wholly consists of.

        Raises
        ------
        Unread
            It has a shape, but one that is no upright prism.
        Unusable
            It has none that can be used.
        """
        items = self.items(product)
        if not items:
            raise Unusable("it has no shape")
        by = self.place(product)
        return tuple(_upright(one, by) for item in items for one in self._prisms(item, 0))

    def _prisms(self, item: Entity, depth: int) -> tuple[Prism, ...]:
        """Prisms of an item in its own coordinates, worked out once: things are often alike."""
        known = self._drawn.get(item.id())
        if known is None:
            try:
                known = self._prisms_of(item, depth)
            except Unusable as error:
                known = error
            except FAULTS:
                known = Unusable("its shape cannot be read")
            self._drawn[item.id()] = known
        if isinstance(known, Unusable):
            raise known
        return known

    def _prisms_of(self, item: Entity, depth: int) -> tuple[Prism, ...]:
        if depth > DEEPEST:
            raise Unusable("its shape is nested too deep")
        if item.is_a("IfcMappedItem"):
            source = item.MappingSource
            by = operator(item.MappingTarget, self.scale)
            by = by @ axes(source.MappingOrigin, self.scale)
            parts = [
                part
                for each in source.MappedRepresentation.Items
                for part in self._prisms(each, depth + 1)
            ]
            return tuple(part.moved(by) for part in parts)
        if item.is_a() != "IfcExtrudedAreaSolid":
            raise Unread(f"its shape is an {item.is_a()}")
        outer, inner = self._profiles.rings(item.SweptArea)
        flat = Prism(tuple(_in_space(ring) for ring in (outer, *inner)), self._rise(item))
        return (flat.moved(axes(one(item, "Position"), self.scale)),)

    def _rise(self, solid: Entity) -> Matrix:
        depth = finite(solid.Depth)
        if depth is None or not 0 < abs(depth * self.scale) <= FURTHEST:
            raise Unusable("it is drawn up by no height")
        along = coordinates(solid.ExtrudedDirection.DirectionRatios, 1.0)
        length = float(np.linalg.norm(along))
        if length < 1e-9:
            raise Unusable("it is drawn up in no direction")
        return along / length * depth * self.scale

    def footprint(self, product: Entity) -> tuple[Matrix, float]:
        """Return the outline that a product has as a footprint, and its height in the model. [m]

        Raises
        ------
        Unusable
            It has none.
        """
        by = self.place(product)
        for item in self.items(product, *FOOTPRINTS):
            curves = (
                related(item, "Elements")
                if item.is_a("IfcGeometricSet")
                else related(item, "OuterBoundary") or (item,)
            )
            for curve in curves:
                if not curve.is_a("IfcCurve"):
                    continue
                ring = self._profiles.curve(curve)
                if len(ring) >= 3:
                    placed = moved(_in_space(ring), by)
                    return placed[:, :2], float(placed[:, 2].mean())
        raise Unusable("it has no shape")

    def points(self, product: Entity) -> Matrix:
        """Return points that a product's shape spans, shape (N, 3), in the whole model. [m]

        Raises
        ------
        Unusable
            It has no shape, or one that cannot be read.
        """
        by = self.place(product)
        items = self.items(product)
        if not items:
            raise Unusable("it has no shape")
        try:
            spanned = moved(np.concatenate([self._spanned(item, 0) for item in items]), by)
        except Unread:
            spanned = self.mesh(product).corners
        if not len(spanned) or not np.isfinite(spanned).all() or np.abs(spanned).max() > FURTHEST:
            raise Unusable(NOT_FINITE)
        return spanned

    def _spanned(self, item: Entity, depth: int) -> Matrix:
        """Points that an item spans in its own coordinates. [m]"""
        if item.id() in self._local:
            return self._local[item.id()]
        if depth > DEEPEST:
            raise Unusable("its shape is nested too deep")
        try:
            found = self._of_item(item, depth)
        except FAULTS:
            raise Unusable("its shape cannot be read") from None
        if not 0 < len(found) <= MOST_POINTS:
            raise Unusable("its shape has no points, or too many")
        self._local[item.id()] = found
        return found

    def _of_item(self, item: Entity, depth: int) -> Matrix:
        if item.is_a("IfcMappedItem"):
            source = item.MappingSource
            inside = operator(item.MappingTarget, self.scale)
            inside = inside @ axes(source.MappingOrigin, self.scale)
            parts = [self._spanned(each, depth + 1) for each in source.MappedRepresentation.Items]
            return moved(np.concatenate(parts), inside)
        if item.is_a("IfcBooleanResult"):
            return self._spanned(item.FirstOperand, depth + 1)
        if item.is_a("IfcExtrudedAreaSolid"):
            frame = axes(one(item, "Position"), self.scale)
            outer, _ = self._profiles.rings(item.SweptArea)
            base = moved(_in_space(outer), frame)
            return np.concatenate([base, base + frame[:3, :3] @ self._rise(item)])
        if item.is_a("IfcTessellatedFaceSet"):
            return np.array(item.Coordinates.CoordList, dtype=np.float64) * self.scale
        if item.is_a("IfcBoundingBox"):
            corner = coordinates(item.Corner.Coordinates, self.scale)
            size = np.array([item.XDim, item.YDim, item.ZDim]) * self.scale
            grid = np.array([[i, j, k] for i in (0, 1) for j in (0, 1) for k in (0, 1)])
            return corner + grid * size
        if is_any(item, *_OF_POINTS):
            return self._points_below(item)
        raise Unread(f"its shape is an {item.is_a()}")

    def _points_below(self, item: Entity) -> Matrix:
        found = [
            coordinates(entity.Coordinates, self.scale)
            for entity in self.model.traverse(item)
            if entity.is_a("IfcCartesianPoint")
        ]
        return np.array(found, dtype=np.float64).reshape(-1, 3)

    def mesh(self, product: Entity) -> Mesh:
        """Return the triangles that the geometry engine makes of a product.

        Raises
        ------
        Unusable
            It makes none, or has made enough.
        """
        self.place(product)
        if self.meshed >= MOST_MESHED:
            raise Unusable(f"more than {MOST_MESHED} shapes need the geometry engine")
        self.meshed += 1
        made = mesh_of(product)
        if np.abs(made.corners).max() > FURTHEST:
            raise Unusable(NOT_FINITE)
        return made


def plain_ring(points: Matrix) -> Ring:
    """Return an outline on the plan without idle corners; those of fine curves are idle too."""
    if len(points) > FINE:
        import shapely

        points = shapely.get_coordinates(shapely.LinearRing(points).simplify(IDLE))
    return ring_of([(float(x), float(y)) for x, y in points])


def outline_of(product: Entity, shapes: Shapes, points: Matrix) -> Ring:
    """Return the outline of a product on the plan; empty of what is no wider than a line.

    That of its largest upright part where this covers nearly all of it, else of its hull.
    """
    try:
        rings = [plain_ring(piece.outer) for piece in shapes.prisms(product)]
    except Unusable:
        return _hull(points)
    if len(rings) == 1:
        return rings[0]
    largest, hull = max(rings, key=signed_area, default=()), _hull(points)
    return largest if signed_area(largest) > 0.9 * signed_area(hull) else hull


def _hull(points: Matrix) -> Ring:
    """Outline of what spans some points, seen from above: its box where it nearly fills that."""
    import shapely

    hull = shapely.MultiPoint(points[:, :2]).convex_hull
    box = shapely.oriented_envelope(hull)
    whole = box if hull.area > 0.97 * box.area else hull.simplify(0.005)
    if not isinstance(whole, shapely.Polygon):
        return ()
    return ring_of([(x, y) for x, y in shapely.get_coordinates(whole.exterior).tolist()])
