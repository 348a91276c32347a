"""A building model in the making: entities, their places and shapes, and what is said of them.

Names of entities and attributes are those of IFC4 (ISO 16739:2018); lengths are metres.
"""

from __future__ import annotations

import math
import uuid
from collections.abc import Mapping, Sequence
from typing import Any, TypeAlias

from wellheard.cad import building_model_library

Entity: TypeAlias = Any
Point: TypeAlias = Sequence[float]
Value: TypeAlias = str | bool | int | float | None

EXACT = 9
"""Decimals of a metre that are written: what remains of a foot is no noise."""
_NAMESPACE = uuid.UUID("6f0f3c2e-6a55-5c0e-9c0b-2f1d3a8e7b41")
"""Of all our identities; made once, at random."""


class Model:
    """A building model to which things are added; equal additions give equal bytes.

    Parameters
    ----------
    seed : str
        Tells this model's identities from those of any other room's. It outlives revisions: who
        coordinates a building follows a device by its identity.
    """

    def __init__(self, seed: str) -> None:
        library = building_model_library()
        self._compress = library.guid.compress
        self._seed = seed
        self.file: Any = library.file(schema="IFC4")
        self._points: dict[tuple[float, ...], Entity] = {}
        self._directions: dict[tuple[float, ...], Entity] = {}
        origin = self.axes()
        whole = self.add(
            "IfcGeometricRepresentationContext",
            ContextType="Model",
            CoordinateSpaceDimension=3,
            Precision=1e-5,
            WorldCoordinateSystem=origin,
        )
        self.context = whole
        self.body = self.add(
            "IfcGeometricRepresentationSubContext",
            ContextIdentifier="Body",
            ContextType="Model",
            ParentContext=whole,
            TargetView="MODEL_VIEW",
        )

    def add(self, kind: str, /, **attributes: Any) -> Entity:
        """Return a new entity of a class, its attributes by name."""
        return self.file.create_entity(kind, **attributes)

    def rooted(self, kind: str, key: str, /, **attributes: Any) -> Entity:
        """Return a new entity with an identity that only the document and ``key`` decide."""
        made = uuid.uuid5(_NAMESPACE, f"{self._seed}/{key}")
        return self.add(kind, GlobalId=self._compress(made.hex), **attributes)

    def point(self, *at: float) -> Entity:
        """Return a point on the plan or in space; equal ones are one."""
        key = tuple(_exact(value) for value in at)
        if key not in self._points:
            self._points[key] = self.add("IfcCartesianPoint", Coordinates=key)
        return self._points[key]

    def direction(self, *along: float) -> Entity:
        """Return a direction; equal ones are one."""
        key = tuple(_exact(value) for value in along)
        if key not in self._directions:
            self._directions[key] = self.add("IfcDirection", DirectionRatios=key)
        return self._directions[key]

    def axes(self, at: Point = (0.0, 0.0, 0.0), turned_deg: float = 0.0) -> Entity:
        """Return upright axes at a point, turned anticlockwise about the vertical."""
        turn = math.radians(turned_deg)
        plain = not turned_deg % 360.0
        return self.add(
            "IfcAxis2Placement3D",
            Location=self.point(*at),
            Axis=None if plain else self.direction(0.0, 0.0, 1.0),
            RefDirection=None if plain else self.direction(math.cos(turn), math.sin(turn), 0.0),
        )

    def placed(
        self, at: Point = (0.0, 0.0, 0.0), turned_deg: float = 0.0, *, within: Entity = None
    ) -> Entity:
        """Return a placement relative to another one, or to the world."""
        return self.add(
            "IfcLocalPlacement",
            PlacementRelTo=within,
            RelativePlacement=self.axes(at, turned_deg),
        )

    def prism(self, corners: Sequence[Point], low: float, high: float) -> Entity:
        """Return a polygon drawn up from one height to another."""
        ring = [self.point(x, y) for x, y in corners]
        profile = self.add(
            "IfcArbitraryClosedProfileDef",
            ProfileType="AREA",
            OuterCurve=self.add("IfcPolyline", Points=[*ring, ring[0]]),
        )
        return self._drawn_up(profile, low, high)

    def box(
        self,
        size: Point,
        *,
        low: float,
        middle: Point = (0.0, 0.0),
        turned_deg: float = 0.0,
    ) -> Entity:
        """Return an upright box: its size along its own x, y and z, its underside, its middle."""
        turn = math.radians(turned_deg)
        axes = self.add(
            "IfcAxis2Placement2D",
            Location=self.point(*middle),
            RefDirection=self.direction(math.cos(turn), math.sin(turn)) if turned_deg else None,
        )
        profile = self.add(
            "IfcRectangleProfileDef",
            ProfileType="AREA",
            Position=axes,
            XDim=_exact(size[0]),
            YDim=_exact(size[1]),
        )
        return self._drawn_up(profile, low, low + size[2])

    def cylinder(self, diameter: float, height: float, *, low: float) -> Entity:
        """Return an upright cylinder about the vertical axis."""
        axes = self.add("IfcAxis2Placement2D", Location=self.point(0.0, 0.0))
        profile = self.add(
            "IfcCircleProfileDef", ProfileType="AREA", Position=axes, Radius=_exact(diameter / 2)
        )
        return self._drawn_up(profile, low, low + height)

    def _drawn_up(self, profile: Entity, low: float, high: float) -> Entity:
        return self.add(
            "IfcExtrudedAreaSolid",
            SweptArea=profile,
            Position=self.axes((0.0, 0.0, low)),
            ExtrudedDirection=self.direction(0.0, 0.0, 1.0),
            Depth=_exact(high - low),
        )

    def shape(self, *solids: Entity) -> Entity:
        """Return solids as the shape of one thing."""
        body = self.add(
            "IfcShapeRepresentation",
            ContextOfItems=self.body,
            RepresentationIdentifier="Body",
            RepresentationType="SweptSolid",
            Items=list(solids),
        )
        return self.add("IfcProductDefinitionShape", Representations=[body])

    def say(self, of: Entity, key: str, name: str, told: Mapping[str, Entity | None]) -> None:
        """Give an entity a property set; properties that are None are left out."""
        properties = [
            value
            if value.is_a("IfcProperty")
            else self.add("IfcPropertySingleValue", Name=title, NominalValue=value)
            for title, value in told.items()
            if value is not None
        ]
        if properties:
            found = self.rooted(
                "IfcPropertySet", f"{key}/{name}", Name=name, HasProperties=properties
            )
            self._defined(of, f"{key}/{name}", found)

    def count(self, of: Entity, key: str, name: str, quantities: Sequence[Entity]) -> None:
        """Give an entity a set of quantities."""
        found = self.rooted(
            "IfcElementQuantity", f"{key}/{name}", Name=name, Quantities=list(quantities)
        )
        self._defined(of, f"{key}/{name}", found)

    def _defined(self, of: Entity, key: str, by: Entity) -> None:
        self.rooted(
            "IfcRelDefinesByProperties",
            f"{key}/of",
            RelatedObjects=[of],
            RelatingPropertyDefinition=by,
        )

    def quantity(self, kind: str, name: str, value: float) -> Entity:
        """Return a quantity: a Length [m], Area [m²], Volume [m³] or Weight [kg]."""
        return self.add(f"IfcQuantity{kind}", Name=name, **{f"{kind}Value": _exact(value)})

    def measure(self, kind: str, value: Value) -> Entity | None:
        """Return a value with its kind of measure, or None of nothing."""
        if value is None or value == "":
            return None
        return self.add(kind, wrappedValue=_exact(value) if isinstance(value, float) else value)

    def one_of(self, name: str, value: str) -> Entity:
        """Return a property whose value is a word of a published list."""
        label = self.add("IfcLabel", wrappedValue=value)
        return self.add("IfcPropertyEnumeratedValue", Name=name, EnumerationValues=[label])

    def several(self, name: str, kind: str, values: Sequence[Value]) -> Entity:
        """Return a property with several values of one kind of measure, in order."""
        listed = [
            self.add(kind, wrappedValue=_exact(one) if isinstance(one, float) else one)
            for one in values
        ]
        return self.add("IfcPropertyListValue", Name=name, ListValues=listed)


def _exact(value: float) -> float:
    return round(float(value), EXACT) + 0.0
