"""Furniture, chairs, racks, what is overhead, columns and panels as what the standard has."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence

from wellheard.cad import THING_PROPERTIES, Role
from wellheard.catalog.catalogue import Catalogue
from wellheard.dossier.writers.ifc.devices import Classed
from wellheard.dossier.writers.ifc.model import Entity, Model
from wellheard.dossier.writers.ifc.space import finish_name
from wellheard.predict.evidence import Talker
from wellheard.room.document import Room
from wellheard.room.equipment import Equipment
from wellheard.room.furniture import Display, Furniture, Lectern, Screen

Corners = Sequence[tuple[float, float]]

TOP = 0.03
"""Thickness of a table top as drawn. [m]"""
SHEET = 0.02
"""Thickness of a panel, and of what lies in the ceiling, as drawn. [m]"""
PICTURE = 0.06
"""Depth of a display as drawn. [m]"""
CHAIR = (0.46, 0.46, 0.45)
BACK = (0.06, 0.46, 0.45)
"""Seat and back of a chair as drawn: deep, wide, high. [m]"""
LECTERN = 0.5
RACK = 0.6
"""Sides of a lectern and of a rack on the plan, as drawn. [m]"""
UNIT = 0.04445
"""Height of a rack unit (IEC 60297): 1.75 in. [m]"""
PLATE = 0.1
"""Sides of a box or plate as drawn. [m]"""
PARTITION = 0.1
"""Thickness of a partition as drawn. [m]"""
NOMINAL = "Drawn at a nominal size."

FURNITURE = {
    "table": Classed("IfcFurniture", "TABLE"),
    "lectern": Classed("IfcFurniture", "USERDEFINED", "LECTERN"),
    "soft": Classed("IfcFurniture", "SOFA"),
    "cupboard": Classed("IfcFurniture", "USERDEFINED", "CUPBOARD"),
    "display": Classed("IfcAudioVisualAppliance", "DISPLAY"),
    "screen": Classed("IfcAudioVisualAppliance", "USERDEFINED", "PROJECTION SCREEN"),
}
OVERHEAD = {
    "luminaire": Classed("IfcLightFixture", "NOTDEFINED"),
    "sprinkler": Classed("IfcFireSuppressionTerminal", "SPRINKLER"),
    "beam": Classed("IfcBeam", "BEAM"),
    "duct": Classed("IfcDuctSegment", "RIGIDSEGMENT"),
    "air-outlet": Classed("IfcAirTerminal", "DIFFUSER"),
    "detector": Classed("IfcSensor", "USERDEFINED", "DETECTOR"),
    "projector": Classed("IfcAudioVisualAppliance", "PROJECTOR"),
    "other": Classed("IfcBuildingElementProxy", "USERDEFINED", "KEEP OUT"),
}
EQUIPMENT = {
    "rack": Classed("IfcFurniture", "USERDEFINED", "EQUIPMENT RACK"),
    "table-box": Classed("IfcJunctionBox", "DATA"),
    "wall-plate": Classed("IfcOutlet", "AUDIOVISUALOUTLET"),
    "entry": Classed("IfcBuildingElementProxy", "USERDEFINED", "CABLE ENTRY"),
    "computer": Classed("IfcCommunicationsAppliance", "COMPUTER"),
    "codec": Classed("IfcAudioVisualAppliance", "USERDEFINED", "CODEC"),
    "camera": Classed("IfcAudioVisualAppliance", "CAMERA"),
    "other": Classed("IfcBuildingElementProxy", "USERDEFINED", "EQUIPMENT"),
}
SOURCES = {
    "air-outlet": Classed("IfcAirTerminal", "DIFFUSER"),
    "projector": Classed("IfcAudioVisualAppliance", "PROJECTOR"),
}
"""Noise sources that are things of their own."""

ROLES: dict[str, Role] = {
    "table": "table",
    "lectern": "table",
    "soft": "soft-seating",
    "cupboard": "soft-seating",
    "display": "display",
    "screen": "display",
    "luminaire": "luminaire",
    "sprinkler": "sprinkler",
    "air-outlet": "air-outlet",
    "projector": "projector",
    "rack": "rack",
}
"""Role by kind in the document; anything else overhead is kept free, any other is equipment."""


def put_fittings(
    model: Model,
    room: Room,
    catalogue: Catalogue,
    people: tuple[Talker, ...],
    *,
    within: Entity,
) -> list[Entity]:
    """Put everything but the devices into a model, in the document's order."""
    return list(_Fitter(model, room, catalogue, within).all_of(people))


class _Fitter:
    """Puts things of one room into a model."""

    def __init__(self, model: Model, room: Room, catalogue: Catalogue, within: Entity) -> None:
        self._model, self._room, self._catalogue, self._within = model, room, catalogue, within

    def all_of(self, people: tuple[Talker, ...]) -> Iterator[Entity]:
        yield from self._obstacles()
        yield from self._partitions()
        yield from self._patches()
        for key, piece in self._room.furniture.items():
            yield self._furniture(key, piece)
        for talker in people:
            if talker.kind == "seat":
                yield self._chair(talker)
        yield from self._overhead()
        yield from self._sources()
        for key, one in self._room.equipment.items():
            yield self._equipment(key, one)

    def _put(
        self,
        path: str,
        kind: Classed,
        role: Role,
        solids: Sequence[Entity],
        *,
        at: Sequence[float] = (0.0, 0.0, 0.0),
        turned_deg: float = 0.0,
        about: str | None = None,
        told: dict[str, Entity | None] | None = None,
    ) -> Entity:
        """Put one thing; ``path`` is its place in the document."""
        model, group = self._model, path.partition("/")[0]
        made = model.rooted(
            kind.name,
            path,
            Name=path.rpartition("/")[2],
            Description=about,
            ObjectType=kind.word,
            ObjectPlacement=model.placed(at, turned_deg, within=self._within),
            Representation=model.shape(*solids),
            PredefinedType=kind.predefined,
        )
        model.say(
            made,
            path,
            THING_PROPERTIES,
            {
                "Id": model.measure("IfcIdentifier", path.rpartition("/")[2]),
                "Group": model.measure("IfcLabel", group),
                "Role": model.measure("IfcLabel", role),
                **(told or {}),
            },
        )
        return made

    def _kind(self, kind: str) -> dict[str, Entity | None]:
        return {"Kind": self._model.measure("IfcLabel", kind)}

    def _obstacles(self) -> Iterator[Entity]:
        for key, one in self._room.space.obstacles.items():
            whole = one.height is None
            kind = (
                Classed("IfcColumn", "COLUMN")
                if whole
                else Classed("IfcBuildingElementProxy", "USERDEFINED", "OBSTACLE")
            )
            top = self._room.space.height if one.height is None else one.height
            solid = self._model.prism(one.outline, 0.0, top)
            about = finish_name(one.finish, self._catalogue)
            yield self._put(f"obstacles/{key}", kind, "column", [solid], about=about)

    def _partitions(self) -> Iterator[Entity]:
        for key, one in self._room.partitions.items():
            (x0, y0), (x1, y1) = one.from_, one.to
            solid = self._model.box(
                (math.dist(one.from_, one.to), PARTITION, self._room.space.height),
                low=0.0,
                middle=(math.dist(one.from_, one.to) / 2, 0.0),
            )
            yield self._put(
                f"partitions/{key}",
                Classed("IfcWall", "MOVABLE"),
                "wall",
                [solid],
                at=(x0, y0, 0.0),
                turned_deg=math.degrees(math.atan2(y1 - y0, x1 - x0)),
                about=f"{finish_name(one.finish, self._catalogue)}. Thickness nominal.",
                told=self._kind("partition"),
            )

    def _patches(self) -> Iterator[Entity]:
        panel = Classed("IfcCovering", "CLADDING")
        height = self._room.space.height
        for key, patch in self._room.space.finishes.wall_patches.items():
            size = (patch.to - patch.from_, SHEET, patch.top - patch.bottom)
            solid = self._model.box(size, low=0.0, middle=(size[0] / 2, SHEET / 2))
            index = self._room.space.walls.index(patch.wall)
            yield self._put(
                f"patches/{key}",
                panel,
                "treatment",
                [solid],
                at=self._room.space.on_wall(patch.wall, patch.from_, patch.bottom),
                turned_deg=self._along(patch.wall),
                about=finish_name(patch.finish, self._catalogue),
                told=self._finish(patch.finish)
                | {"Wall": self._model.measure("IfcInteger", index)},
            )
        for key, level in self._room.space.finishes.level_patches.items():
            low = height - SHEET if level.surface == "ceiling" else 0.0
            yield self._put(
                f"patches/{key}",
                panel,
                "treatment",
                [self._model.prism(level.outline, low, low + SHEET)],
                about=finish_name(level.finish, self._catalogue),
                told=self._finish(level.finish) | self._kind(level.surface),
            )

    def _finish(self, finish: object) -> dict[str, Entity | None]:
        named = finish if isinstance(finish, str) else None
        return {"Finish": self._model.measure("IfcLabel", named)}

    def _along(self, wall: str) -> float:
        """Azimuth of a wall. [deg]"""
        (x0, y0), (x1, y1) = self._room.space.wall_ends(wall)
        return math.degrees(math.atan2(y1 - y0, x1 - x0))

    def _furniture(self, key: str, piece: Furniture) -> Entity:
        path, kind, role = f"furniture/{key}", FURNITURE[piece.kind], ROLES[piece.kind]
        if isinstance(piece, Display | Screen):
            return self._picture(path, piece, kind, role)
        model, told = self._model, self._kind(piece.kind)
        if isinstance(piece, Lectern):
            solid = model.box((LECTERN, LECTERN, piece.height), low=0.0)
            at = (*piece.at, 0.0)
            return self._put(path, kind, role, [solid], at=at, about=NOMINAL, told=told)
        low = max(piece.height - TOP, 0.0) if piece.kind == "table" else 0.0
        return self._put(
            path, kind, role, [model.prism(piece.outline, low, piece.height)], told=told
        )

    def _picture(self, path: str, piece: Display | Screen, kind: Classed, role: Role) -> Entity:
        """A picture hangs in front of its wall: local x along it, y into the room."""
        model, (wide, tall), (along, centre) = self._model, piece.size, piece.centre
        made = self._put(
            path,
            kind,
            role,
            [model.box((wide, PICTURE, tall), low=-tall / 2, middle=(0.0, PICTURE / 2))],
            at=self._room.space.on_wall(piece.wall, along, centre),
            turned_deg=self._along(piece.wall),
            about="Depth nominal.",
            told=self._kind(piece.kind),
        )
        if piece.kind == "display":
            sides = {
                "NominalSize": math.hypot(wide, tall),
                "DisplayWidth": wide,
                "DisplayHeight": tall,
            }
            model.say(
                made,
                path,
                "Pset_AudioVisualApplianceTypeDisplay",
                {
                    name: model.measure("IfcPositiveLengthMeasure", size)
                    for name, size in sides.items()
                },
            )
        return made

    def _chair(self, talker: Talker) -> Entity:
        """A seat and a back behind it; the origin is under the head."""
        model, seat = self._model, self._room.people.seats[talker.id]
        behind = (-(CHAIR[0] - BACK[0]) / 2, 0.0)
        return self._put(
            f"seats/{talker.id}",
            Classed("IfcFurniture", "CHAIR"),
            "seat",
            [model.box(CHAIR, low=0.0), model.box(BACK, low=CHAIR[2], middle=behind)],
            at=(*seat.at, 0.0),
            turned_deg=talker.facings_deg[0],
            about=NOMINAL,
            told={"FacingDeg": model.measure("IfcReal", float(talker.facings_deg[0]))},
        )

    def _overhead(self) -> Iterator[Entity]:
        height = self._room.space.height
        for key, one in self._room.overhead.items():
            flush = one.bottom is None or one.bottom >= height
            low = height if one.bottom is None or flush else one.bottom
            solid = self._model.prism(one.outline, low, height + SHEET if flush else height)
            yield self._put(
                f"overhead/{key}",
                OVERHEAD[one.kind],
                # An outlet that blows is among the sources of noise; here it is only kept free.
                ROLES[one.kind] if one.kind in ("luminaire", "sprinkler") else "keep-out",
                [solid],
                told=self._kind(one.kind),
            )

    def _sources(self) -> Iterator[Entity]:
        for key, one in self._room.noise.sources.items():
            if one.kind in SOURCES:
                solid = self._model.box((PLATE * 2, PLATE * 2, SHEET), low=0.0)
                yield self._put(
                    f"noise/{key}",
                    SOURCES[one.kind],
                    ROLES[one.kind],
                    [solid],
                    at=one.at,
                    about=NOMINAL,
                    told=self._kind(one.kind),
                )

    def _equipment(self, key: str, one: Equipment) -> Entity:
        model, (x, y, z) = self._model, one.at
        if one.kind == "rack":
            high = 2 * z if one.rack_units is None else max(one.rack_units * UNIT, z)
            solid, at = model.box((RACK, RACK, high), low=0.0), (x, y, 0.0)
        else:
            solid, at = model.box((PLATE, PLATE, PLATE), low=-PLATE / 2), (x, y, z)
        return self._put(
            f"equipment/{key}",
            EQUIPMENT[one.kind],
            ROLES.get(one.kind, "equipment"),
            [solid],
            at=at,
            about=" ".join(filter(None, (one.note, NOMINAL))),
            told=self._kind(one.kind) | {"At": model.several("At", "IfcLengthMeasure", one.at)},
        )
