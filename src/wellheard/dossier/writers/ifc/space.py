"""Project, site, building, storey and the space itself, with its quantities and finishes."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from wellheard.cad import ROOM_PROPERTIES
from wellheard.catalog.catalogue import Catalogue
from wellheard.dossier.model import Identity
from wellheard.dossier.writers.ifc.model import Entity, Model
from wellheard.geometry.polygons import perimeter, polygon_area
from wellheard.room.document import Room
from wellheard.room.finishes import InlineFinish

STATED = "absorption as stated in the room document"
"""Name of a finish that no catalogue has."""


def put_space(model: Model, room: Room, catalogue: Catalogue, identity: Identity) -> Entity:
    """Put the room into a model, below a project, site, building and storey; returns the space."""
    about = room.project
    title = room.title or "Room"
    units = model.add(
        "IfcUnitAssignment",
        Units=[
            model.add("IfcSIUnit", UnitType=kind, Name=name, Prefix=prefix)
            for kind, name, prefix in (
                ("LENGTHUNIT", "METRE", None),
                ("AREAUNIT", "SQUARE_METRE", None),
                ("VOLUMEUNIT", "CUBIC_METRE", None),
                ("PLANEANGLEUNIT", "RADIAN", None),
                ("MASSUNIT", "GRAM", "KILO"),
            )
        ],
    )
    project = model.rooted(
        "IfcProject",
        "project",
        Name=about.number or title,
        LongName=title,
        Phase=f"Revision {about.revision}" if about.revision else None,
        RepresentationContexts=[model.context],
        UnitsInContext=units,
    )
    ground = model.placed()
    site = model.rooted("IfcSite", "site", Name=about.site or "Site", ObjectPlacement=ground)
    building = model.rooted(
        "IfcBuilding",
        "building",
        Name=about.site or "Building",
        ObjectPlacement=model.placed(within=ground),
    )
    storey = model.rooted(
        "IfcBuildingStorey",
        "storey",
        Name="Storey",
        Description="The room document does not say which storey this is.",
        ObjectPlacement=model.placed(within=building.ObjectPlacement),
        Elevation=0.0,
    )
    space = model.rooted(
        "IfcSpace",
        "space",
        Name=about.number or title,
        LongName=title,
        ObjectPlacement=model.placed(within=storey.ObjectPlacement),
        Representation=model.shape(model.prism(room.space.outline, 0.0, room.space.height)),
        CompositionType="ELEMENT",
        PredefinedType="INTERNAL",
    )
    for whole, part in ((project, site), (site, building), (building, storey), (storey, space)):
        model.rooted(
            "IfcRelAggregates",
            f"{part.is_a()}/in",
            RelatingObject=whole,
            RelatedObjects=[part],
        )
    _quantities(model, room, space)
    _coverings(model, room, catalogue, space)
    _ours(model, room, identity, space)
    return space


def _quantities(model: Model, room: Room, space: Entity) -> None:
    """Base quantities: net is gross less what stands from the floor up."""
    outline, height = room.space.outline, room.space.height
    area, around = _area(outline), float(perimeter(np.asarray(outline, dtype=np.float64)))
    standing = [
        (_area(one.outline), height if one.height is None else min(one.height, height))
        for one in room.space.obstacles.values()
    ]
    taken = sum(each for each, _ in standing)
    model.count(
        space,
        "space",
        "Qto_SpaceBaseQuantities",
        [
            model.quantity("Length", "Height", height),
            model.quantity("Length", "FinishCeilingHeight", height),
            model.quantity("Length", "GrossPerimeter", around),
            model.quantity("Area", "GrossFloorArea", area),
            model.quantity("Area", "NetFloorArea", area - taken),
            model.quantity("Area", "GrossWallArea", around * height),
            model.quantity("Volume", "GrossVolume", area * height),
            model.quantity(
                "Volume", "NetVolume", area * height - sum(each * up for each, up in standing)
            ),
        ],
    )


def _area(outline: Sequence[tuple[float, float]]) -> float:
    return float(polygon_area(np.asarray(outline, dtype=np.float64)))


def finish_name(finish: str | InlineFinish, catalogue: Catalogue) -> str:
    """Return a finish in words."""
    return catalogue.finish(finish).name if isinstance(finish, str) else STATED


def _coverings(model: Model, room: Room, catalogue: Catalogue, space: Entity) -> None:
    walls = dict.fromkeys(
        finish_name(room.space.wall_finish(name), catalogue) for name in room.space.walls
    )
    named = {
        "FloorCovering": finish_name(room.space.floor_finish, catalogue),
        "WallCovering": "; ".join(walls),
        "CeilingCovering": finish_name(room.space.ceiling_finish, catalogue),
    }
    model.say(
        space,
        "space",
        "Pset_SpaceCoveringRequirements",
        {title: model.measure("IfcLabel", _label(words)) for title, words in named.items()},
    )
    model.say(
        space,
        "space",
        "Pset_SpaceCommon",
        {"IsExternal": model.measure("IfcBoolean", value=False)},
    )


def _label(words: str) -> str:
    """Words that fit into a label of the standard, 255 characters at most."""
    return words if len(words) <= 255 else words[:254] + "…"


def _ours(model: Model, room: Room, identity: Identity, space: Entity) -> None:
    """What the standard has no place for, and our own importer reads back."""
    inside, ceiling = room.space, room.space.ceiling
    told: dict[str, Entity | None] = {
        "Document": model.measure("IfcIdentifier", identity.document_hash),
        "Units": model.measure("IfcLabel", room.units),
        "CeilingKind": model.measure("IfcLabel", ceiling.kind),
        "VoidDepth": model.measure("IfcLengthMeasure", ceiling.void_depth),
        "FloorFinish": model.measure("IfcLabel", _id(inside.floor_finish)),
        "CeilingFinish": model.measure("IfcLabel", _id(inside.ceiling_finish)),
        "WallNames": model.several("WallNames", "IfcLabel", inside.walls),
        "WallFinishes": model.several(
            "WallFinishes", "IfcLabel", [_id(inside.wall_finish(name)) for name in inside.walls]
        ),
    }
    if ceiling.kind == "tiles":
        told |= {
            "GridModule": model.several("GridModule", "IfcLengthMeasure", ceiling.module),
            "GridOrigin": model.several("GridOrigin", "IfcLengthMeasure", ceiling.origin),
            "GridRotationDeg": model.measure("IfcReal", ceiling.rotation_deg),
        }
    model.say(space, "space", ROOM_PROPERTIES, told)


def _id(finish: str | InlineFinish) -> str:
    return finish if isinstance(finish, str) else ""
