"""Small models by other hands: made with the general-purpose library, in any unit and schema."""

from __future__ import annotations

import math
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import pytest

ifcopenshell = pytest.importorskip("ifcopenshell")

Point = Sequence[float]
SQUARE = ((0.0, 0.0), (6.0, 0.0), (6.0, 4.0), (0.0, 4.0))


class Made:
    """A model of one storey, in units of ``unit`` metres; lengths given to it are metres."""

    def __init__(self, schema: str = "IFC4", unit: str = "m", *, storey_z: float = 0.0) -> None:
        self.file = ifcopenshell.file(schema=schema)
        self.schema = schema
        self.metres = {"m": 1.0, "mm": 0.001, "in": 0.0254, "ft": 0.3048, "": 1.0}[unit]
        self.numbers = 0
        units = self._units(unit)
        self.context = self.add(
            "IfcGeometricRepresentationContext",
            ContextType="Model",
            CoordinateSpaceDimension=3,
            WorldCoordinateSystem=self.axes(),
        )
        self.project = self.root(
            "IfcProject",
            RepresentationContexts=[self.context],
            UnitsInContext=units,
        )
        self.storey = self.root(
            "IfcBuildingStorey", Name="Ground", ObjectPlacement=self.placed((0, 0, storey_z))
        )
        self.part_of(self.project, self.storey)

    def add(self, kind: str, **attributes: Any) -> Any:
        return self.file.create_entity(kind, **attributes)

    def root(self, kind: str, **attributes: Any) -> Any:
        self.numbers += 1
        return self.add(kind, GlobalId=f"{self.numbers:022d}", **attributes)

    def _units(self, unit: str) -> Any:
        if not unit:
            return None
        metre = self.add(
            "IfcSIUnit",
            UnitType="LENGTHUNIT",
            Name="METRE",
            Prefix="MILLI" if unit == "mm" else None,
        )
        if unit in ("in", "ft"):
            factor = self.add(
                "IfcMeasureWithUnit",
                ValueComponent=self.add("IfcLengthMeasure", wrappedValue=self.metres),
                UnitComponent=metre,
            )
            metre = self.add(
                "IfcConversionBasedUnit",
                Dimensions=self.file.create_entity("IfcDimensionalExponents", 1, 0, 0, 0, 0, 0, 0),
                UnitType="LENGTHUNIT",
                Name="FOOT" if unit == "ft" else "INCH",
                ConversionFactor=factor,
            )
        return self.add("IfcUnitAssignment", Units=[metre])

    def point(self, at: Point) -> Any:
        return self.add("IfcCartesianPoint", Coordinates=[float(v) / self.metres for v in at])

    def axes(self, at: Point = (0, 0, 0), turned_deg: float = 0.0) -> Any:
        turn = math.radians(turned_deg)
        ahead = [math.cos(turn), math.sin(turn), 0.0]
        return self.add(
            "IfcAxis2Placement3D",
            Location=self.point(at),
            Axis=self.add("IfcDirection", DirectionRatios=[0.0, 0.0, 1.0]),
            RefDirection=self.add("IfcDirection", DirectionRatios=ahead),
        )

    def placed(self, at: Point = (0, 0, 0), turned_deg: float = 0.0, within: Any = None) -> Any:
        return self.add(
            "IfcLocalPlacement",
            PlacementRelTo=within,
            RelativePlacement=self.axes(at, turned_deg),
        )

    def part_of(self, whole: Any, part: Any) -> None:
        self.root("IfcRelAggregates", RelatingObject=whole, RelatedObjects=[part])

    def polyline(self, corners: Sequence[Point]) -> Any:
        return self.add("IfcPolyline", Points=[self.point(c) for c in (*corners, corners[0])])

    def outline(self, corners: Sequence[Point], holes: Sequence[Sequence[Point]] = ()) -> Any:
        outer = self.polyline(corners)
        if not holes:
            return self.add("IfcArbitraryClosedProfileDef", ProfileType="AREA", OuterCurve=outer)
        return self.add(
            "IfcArbitraryProfileDefWithVoids",
            ProfileType="AREA",
            OuterCurve=outer,
            InnerCurves=[self.polyline(hole) for hole in holes],
        )

    def drawn_up(self, profile: Any, height: float, at: Point = (0, 0, 0)) -> Any:
        return self.add(
            "IfcExtrudedAreaSolid",
            SweptArea=profile,
            Position=self.axes(at),
            ExtrudedDirection=self.add("IfcDirection", DirectionRatios=[0.0, 0.0, 1.0]),
            Depth=height / self.metres,
        )

    def box(self, size: Point, at: Point = (0, 0, 0)) -> Any:
        x, y, z = size
        corners = [(-x / 2, -y / 2), (x / 2, -y / 2), (x / 2, y / 2), (-x / 2, y / 2)]
        return self.drawn_up(self.outline(corners), z, at)

    def shape(self, *items: Any, name: str = "Body", kind: str = "SweptSolid") -> Any:
        body = self.add(
            "IfcShapeRepresentation",
            ContextOfItems=self.context,
            RepresentationIdentifier=name,
            RepresentationType=kind,
            Items=list(items),
        )
        return self.add("IfcProductDefinitionShape", Representations=[body])

    def space(self, *items: Any, name: str = "101", **attributes: Any) -> Any:
        where = attributes.pop("ObjectPlacement", None) or self.placed(
            within=self.storey.ObjectPlacement
        )
        shape = attributes.pop("Representation", None) or (self.shape(*items) if items else None)
        made = self.root(
            "IfcSpace", Name=name, ObjectPlacement=where, Representation=shape, **attributes
        )
        self.part_of(self.storey, made)
        return made

    def product(
        self, kind: str, *items: Any, at: Point = (0, 0, 0), turned_deg: float = 0.0, **more: Any
    ) -> Any:
        return self.root(
            kind,
            ObjectPlacement=self.placed(at, turned_deg),
            Representation=self.shape(*items) if items else None,
            **more,
        )

    def say(self, of: Any, name: str, **values: Any) -> None:
        properties = [
            self.add(
                "IfcPropertySingleValue",
                Name=title,
                NominalValue=self.add(
                    "IfcLabel" if isinstance(value, str) else "IfcPositiveLengthMeasure",
                    wrappedValue=value if isinstance(value, str) else value / self.metres,
                ),
            )
            for title, value in values.items()
        ]
        told = self.root("IfcPropertySet", Name=name, HasProperties=properties)
        self.root("IfcRelDefinesByProperties", RelatedObjects=[of], RelatingPropertyDefinition=told)

    def count(self, of: Any, name: str, **lengths: float) -> None:
        told = self.root(
            "IfcElementQuantity",
            Name=name,
            Quantities=[
                self.add("IfcQuantityLength", Name=title, LengthValue=value / self.metres)
                for title, value in lengths.items()
            ],
        )
        self.root("IfcRelDefinesByProperties", RelatedObjects=[of], RelatingPropertyDefinition=told)

    def of_type(self, product: Any, kind: str, **attributes: Any) -> None:
        made = self.root(kind, **attributes)
        self.root("IfcRelDefinesByType", RelatedObjects=[product], RelatingType=made)

    def layered(self, product: Any, *layers: tuple[str, float], offset: float = 0.0) -> None:
        of = self.add(
            "IfcMaterialLayerSet",
            MaterialLayers=[
                self.add(
                    "IfcMaterialLayer",
                    Material=self.add("IfcMaterial", Name=name),
                    LayerThickness=thick / self.metres,
                )
                for name, thick in layers
            ],
        )
        usage = self.add(
            "IfcMaterialLayerSetUsage",
            ForLayerSet=of,
            LayerSetDirection="AXIS2",
            DirectionSense="POSITIVE",
            OffsetFromReferenceLine=offset / self.metres,
        )
        self.root("IfcRelAssociatesMaterial", RelatedObjects=[product], RelatingMaterial=usage)

    def write(self, folder: Path) -> Path:
        path = folder / "model.ifc"
        self.file.write(str(path))
        return path
