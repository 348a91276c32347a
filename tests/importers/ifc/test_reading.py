"""What is read of a building model: lengths by hand or by closed form, models by another hand."""

from __future__ import annotations

import math
from pathlib import Path
from typing import Any

import pytest

from tests.importers.ifc.made import SQUARE, Made
from wellheard.errors import InputError
from wellheard.importers.found import Asked, FoundPlan, FoundRoom, UnitUnstated
from wellheard.importers.ifc.read import read_ifc

MM = 1e-3


def read(model: Made, folder: Path, **asked: Any) -> FoundPlan:
    return read_ifc(model.write(folder), Asked(**asked))


def room_of(model: Made, folder: Path) -> FoundRoom:
    (room,) = read(model, folder).rooms
    return room


def same_ring(found: Any, wanted: Any) -> bool:
    return len(found) == len(wanted) and all(
        min(math.dist(a, b) for b in wanted) < MM for a in found
    )


@pytest.mark.parametrize("schema", ["IFC2X3", "IFC4", "IFC4X3_ADD2"])
@pytest.mark.parametrize("unit", ["m", "mm", "in", "ft"])
def test_a_room_has_its_size_in_metres_in_any_schema_and_unit(
    schema: str, unit: str, tmp_path: Path
) -> None:
    model = Made(schema, unit)
    model.space(model.drawn_up(model.outline(SQUARE), 2.75), LongName="Conference")
    plan = read(model, tmp_path)
    (room,) = plan.rooms
    assert plan.unit == unit
    assert same_ring(room.outline, SQUARE)
    assert room.height == pytest.approx(2.75, abs=MM)
    assert (room.key, room.name, room.storey) == ("101", "Conference", "Ground")


def test_placements_within_placements_turn_and_move_a_room(tmp_path: Path) -> None:
    # 90° about (10, 20), then 3 m along the turned x: (x, y) goes to (10 − y, 23 + x).
    model = Made(storey_z=4.0)
    outer = model.placed((10, 20, 0), 90, within=model.storey.ObjectPlacement)
    where = model.placed((3, 0, 0.5), within=outer)
    model.space(model.drawn_up(model.outline(SQUARE), 3.0), ObjectPlacement=where)
    table = model.box((2.0, 1.0, 0.74))
    model.product("IfcFurniture", table, at=(8, 26, 4.5), PredefinedType="TABLE")
    room = room_of(model, tmp_path)
    assert same_ring(room.outline, [(10 - y, 23 + x) for x, y in SQUARE])
    (thing,) = room.things
    assert thing.role == "table"
    assert thing.bottom == pytest.approx(0.0, abs=MM)
    assert thing.top == pytest.approx(0.74, abs=MM)
    assert same_ring(thing.outline, [(7, 25.5), (9, 25.5), (9, 26.5), (7, 26.5)])


def test_a_round_room_keeps_its_area_to_what_chords_cut_off(tmp_path: Path) -> None:
    model = Made()
    axes = model.add("IfcAxis2Placement2D", Location=model.point((5, 5)))
    circle = model.add("IfcCircleProfileDef", ProfileType="AREA", Position=axes, Radius=3.0)
    model.space(model.drawn_up(circle, 3.0))
    room = room_of(model, tmp_path)
    assert all(math.dist(corner, (5, 5)) == pytest.approx(3.0, abs=MM) for corner in room.outline)
    ends = zip(room.outline, (*room.outline[1:], room.outline[0]), strict=True)
    for (ax, ay), (bx, by) in ends:
        assert math.dist(((ax + bx) / 2, (ay + by) / 2), (5, 5)) > 3.0 - 0.005
    assert math.pi * 9 - 2 * math.pi * 3 * 0.005 < room.area < math.pi * 9


def test_arcs_between_indexed_points_bulge_out(tmp_path: Path) -> None:
    # A square of 4 m with a half circle of 2 m radius on one side.
    model = Made("IFC4", "mm")
    points = [(0, 0), (4000, 0), (6000, 2000), (4000, 4000), (0, 4000)]
    listed = model.add(
        "IfcCartesianPointList2D", CoordList=[[float(v) for v in at] for at in points]
    )
    curve = model.add(
        "IfcIndexedPolyCurve",
        Points=listed,
        Segments=[
            model.add("IfcLineIndex", wrappedValue=(1, 2)),
            model.add("IfcArcIndex", wrappedValue=(2, 3, 4)),
            model.add("IfcLineIndex", wrappedValue=(4, 5, 1)),
        ],
    )
    outline = model.add("IfcArbitraryClosedProfileDef", ProfileType="AREA", OuterCurve=curve)
    model.space(model.drawn_up(outline, 3.0))
    room = room_of(model, tmp_path)
    assert max(x for x, _ in room.outline) == pytest.approx(6.0, abs=0.005)
    assert room.area == pytest.approx(16 + math.pi * 2, abs=math.pi * 2 * 0.005)


def test_a_void_in_a_plan_is_a_column(tmp_path: Path) -> None:
    model = Made()
    hole = [(2, 2), (2.4, 2), (2.4, 2.3), (2, 2.3)]
    model.space(model.drawn_up(model.outline(SQUARE, [hole]), 3.0))
    room = room_of(model, tmp_path)
    (column,) = room.things
    assert column.role == "column"
    assert same_ring(column.outline, hole)
    assert same_ring(room.outline, SQUARE)


def test_a_sloping_ceiling_is_its_mean_height_and_said(tmp_path: Path) -> None:
    # A wedge: 3 m high at one long side, 2 m at the other; extruded along x.
    model = Made()
    wedge = model.outline([(0, 0), (4, 0), (4, 2), (0, 3)])
    turned = model.add(
        "IfcAxis2Placement3D",
        Location=model.point((0, 0, 0)),
        Axis=model.add("IfcDirection", DirectionRatios=[1.0, 0.0, 0.0]),
        RefDirection=model.add("IfcDirection", DirectionRatios=[0.0, 1.0, 0.0]),
    )
    solid = model.drawn_up(wedge, 6.0)
    solid.Position = turned
    model.space(solid)
    plan = read(model, tmp_path)
    (room,) = plan.rooms
    assert same_ring(room.outline, SQUARE)
    assert room.height == pytest.approx(2.5, abs=MM)
    assert any("not level" in warning for warning in plan.warnings)


def test_a_room_with_only_a_footprint_has_its_height_from_its_quantities(tmp_path: Path) -> None:
    model = Made("IFC4", "mm")
    shape = model.shape(model.polyline(SQUARE), name="FootPrint", kind="Curve2D")
    space = model.space(Representation=shape)
    model.count(space, "Qto_SpaceBaseQuantities", Height=2.9)
    room = room_of(model, tmp_path)
    assert same_ring(room.outline, SQUARE)
    assert room.height == pytest.approx(2.9)
    assert room.height_source == "quantity Height"


def test_a_suspended_ceiling_makes_the_clear_height_and_a_void(tmp_path: Path) -> None:
    model = Made()
    space = model.space(model.drawn_up(model.outline(SQUARE), 3.4))
    slab = model.box((6, 4, 0.02))
    ceiling = model.product(
        "IfcCovering", slab, at=(3, 2, 2.7), PredefinedType="CEILING", Name="Mineral tiles"
    )
    model.say(ceiling, "Pset_CoveringCeiling", TileLength=0.6, TileWidth=1.2)
    room = room_of(model, tmp_path)
    assert room.height == pytest.approx(2.7, abs=MM)
    assert room.void_depth == pytest.approx(0.7, abs=MM)
    assert room.ceiling_kind == "tiles"
    assert room.grid is not None
    assert room.grid.module == pytest.approx((0.6, 1.2))
    assert space.Name == room.key


def test_a_stated_clear_height_keeps_what_is_in_the_void_out(tmp_path: Path) -> None:
    model = Made("IFC2X3", "mm")
    space = model.space(model.drawn_up(model.outline(SQUARE), 3.4))
    model.count(space, "BaseQuantities", Height=3.4, FinishCeilingHeight=2.6)
    model.product("IfcBeam", model.box((6, 0.2, 0.3)), at=(3, 1, 3.0))
    model.product("IfcBeam", model.box((6, 0.2, 0.3)), at=(3, 3, 2.4))
    plan = read(model, tmp_path)
    (room,) = plan.rooms
    assert room.height == pytest.approx(2.6)
    assert room.void_depth == pytest.approx(0.8)
    (beam,) = room.things
    assert beam.kind == "beam"
    assert beam.bottom == pytest.approx(2.4)
    assert [(line.what, line.why) for line in plan.report if not line.taken] == [
        ("beam", "above the ceiling")
    ]


def test_coverings_of_a_space_are_its_materials(tmp_path: Path) -> None:
    model = Made()
    space = model.space(model.drawn_up(model.outline(SQUARE), 3.0))
    model.say(
        space,
        "Pset_SpaceCoveringRequirements",
        FloorCovering="Teppich",
        WallCovering="WallCovering",
        CeilingCovering="Gipskarton",
    )
    room = room_of(model, tmp_path)
    assert dict(room.materials) == {"floor": "Teppich", "ceiling": "Gipskarton"}
    assert room.ceiling_kind == "hard"


@pytest.mark.parametrize(
    ("at", "turned_deg", "inner"), [((0, -0.3, 0), 0, "gypsum"), ((6, 0, 0), 180, "brick")]
)
def test_the_layer_towards_the_room_is_what_its_wall_is_made_of(
    at: Any, turned_deg: float, inner: str, tmp_path: Path
) -> None:
    # A wall south of the room, 300 mm thick; its layers run to the left of its own direction:
    # from west to east towards the room, from east to west away from it.
    model = Made()
    model.space(model.drawn_up(model.outline(SQUARE), 3.0))
    body = model.drawn_up(model.outline([(0, 0), (6, 0), (6, 0.3), (0, 0.3)]), 3.0)
    wall = model.product("IfcWall", body, at=at, turned_deg=turned_deg)
    model.layered(wall, ("brick", 0.2), ("gypsum", 0.1))
    assert room_of(model, tmp_path).materials == {"wall 0": inner}


def test_a_door_is_on_its_wall_by_the_hole_it_fills(tmp_path: Path) -> None:
    model = Made("IFC4", "mm")
    model.space(model.drawn_up(model.outline(SQUARE), 3.0))
    wall = model.product(
        "IfcWall", model.drawn_up(model.outline([(6, 0), (6.2, 0), (6.2, 4), (6, 4)]), 3.0)
    )
    hole = model.product("IfcOpeningElement", model.box((0.4, 0.9, 2.1)), at=(6.1, 1.25, 0))
    door = model.product("IfcDoor", model.box((0.9, 0.9, 2.0)), at=(5.6, 1.25, 0))
    door.OverallWidth = 900.0
    model.root("IfcRelVoidsElement", RelatingBuildingElement=wall, RelatedOpeningElement=hole)
    model.root("IfcRelFillsElement", RelatingOpeningElement=hole, RelatedBuildingElement=door)
    window = model.product("IfcWindow", model.box((1.5, 0.1, 1.2), (0, 0, 0.9)), at=(3, 4.1, 0))
    window.OverallWidth = 1500.0
    model.product("IfcWindow", model.box((1.5, 0.1, 1.2), (0, 0, 0.9)), at=(30, 4.1, 0))
    plan = read(model, tmp_path)
    one, other = plan.rooms[0].openings
    assert (one.kind, one.wall, other.kind, other.wall) == ("door", 1, "window", 2)
    assert (one.start, one.end) == pytest.approx((0.8, 1.7), abs=MM)
    assert (one.bottom, one.top) == pytest.approx((0.0, 2.1), abs=MM)
    # The north wall runs from east to west.
    assert (other.start, other.end) == pytest.approx((2.25, 3.75), abs=MM)
    assert (other.bottom, other.top) == pytest.approx((0.9, 2.1), abs=MM)
    left = [line for line in plan.report if not line.taken and line.what == "window"]
    assert [line.why for line in left] == ["on no wall of a room"]


@pytest.mark.parametrize("turned_deg", [0, 90, 217])
def test_a_chair_faces_away_from_its_back(turned_deg: float, tmp_path: Path) -> None:
    model = Made()
    model.space(model.drawn_up(model.outline(SQUARE), 3.0))
    seat, back = model.box((0.5, 0.5, 0.45)), model.box((0.5, 0.06, 0.9), (0, -0.22, 0))
    model.product("IfcFurniture", seat, back, at=(2, 2, 0), turned_deg=turned_deg,
                  Name="Besucherstuhl 12")  # fmt: skip
    (chair,) = room_of(model, tmp_path).seats
    assert chair.at == pytest.approx((2, 2), abs=MM)
    assert chair.facing_deg == pytest.approx((turned_deg + 90) % 360, abs=0.1)


NAMED = [
    ("IfcFurniture", {"Name": "Chaise visiteur"}, (0.5, 0.5, 0.9), 0.0, "seat"),
    ("IfcFurniture", {"PredefinedType": "DESK"}, (1.6, 0.8, 0.74), 0.0, "table"),
    ("IfcFurniture", {"Name": "Besprechungstisch"}, (2.4, 1.2, 0.74), 0.0, "table"),
    ("IfcFurniture", {"Name": "8812"}, (2.4, 1.2, 0.74), 0.0, "table"),
    ("IfcFurniture", {"Name": "Aktenschrank"}, (0.8, 0.5, 0.9), 0.0, "soft-seating"),
    ("IfcAirTerminal", {"PredefinedType": "DIFFUSER"}, (0.6, 0.6, 0.1), 3.0, "air-outlet"),
    ("IfcAirTerminal", {"Name": "Abluftgitter"}, (0.6, 0.6, 0.1), 3.0, "air-return"),
    ("IfcAirTerminal", {"Name": "Return grille"}, (0.6, 0.6, 0.1), 3.0, "air-return"),
    ("IfcLightFixture", {}, (1.2, 0.3, 0.1), 2.9, "luminaire"),
    ("IfcFireSuppressionTerminal", {"PredefinedType": "SPRINKLER"}, (0.1, 0.1, 0.1), 2.9,
     "sprinkler"),
    ("IfcColumn", {}, (0.4, 0.4, 3.0), 0.0, "column"),
    ("IfcAudioVisualAppliance", {"PredefinedType": "DISPLAY"}, (1.6, 0.1, 0.9), 1.0, "display"),
    ("IfcAudioVisualAppliance", {"PredefinedType": "PROJECTOR"}, (0.4, 0.3, 0.2), 2.6,
     "projector"),
    ("IfcAudioVisualAppliance", {"PredefinedType": "MICROPHONE"}, (0.1, 0.1, 0.1), 2.6,
     "microphone"),
    ("IfcAudioVisualAppliance", {"PredefinedType": "SPEAKER"}, (0.2, 0.2, 0.2), 2.6,
     "loudspeaker"),
]  # fmt: skip


@pytest.mark.parametrize(("kind", "said", "size", "low", "role"), NAMED)
def test_things_are_told_by_class_type_word_or_size(
    kind: str, said: dict[str, Any], size: Any, low: float, role: str, tmp_path: Path
) -> None:
    model = Made()
    model.space(model.drawn_up(model.outline(SQUARE), 3.0))
    model.product(kind, model.box(size), at=(2, 2, low), **said)
    room = room_of(model, tmp_path)
    found = [thing.role for thing in room.things] + [one.role for one in room.devices]
    found += ["seat"] * len(room.seats)
    assert found == [role]


def test_in_the_older_schema_types_tell_what_their_occurrences_do_not(tmp_path: Path) -> None:
    model = Made("IFC2X3")
    model.space(model.drawn_up(model.outline(SQUARE), 3.0))
    lamp = model.product("IfcFlowTerminal", model.box((1.2, 0.3, 0.1)), at=(2, 2, 2.9))
    model.of_type(lamp, "IfcLightFixtureType", PredefinedType="NOTDEFINED")
    vent = model.product("IfcFlowTerminal", model.box((0.6, 0.6, 0.1)), at=(4, 2, 2.9))
    model.of_type(vent, "IfcAirTerminalType", PredefinedType="DIFFUSER")
    sofa = model.product("IfcFurnishingElement", model.box((1.8, 0.8, 0.8)), at=(3, 3, 0))
    model.of_type(sofa, "IfcFurnitureType", Name="Sofa 3-seat", AssemblyPlace="NOTDEFINED")
    room = room_of(model, tmp_path)
    assert {thing.role for thing in room.things} == {"luminaire", "air-outlet", "soft-seating"}


def test_rooms_of_one_number_on_two_storeys_have_keys_of_their_own(tmp_path: Path) -> None:
    model = Made()
    model.space(model.drawn_up(model.outline(SQUARE), 3.0), name="Büro 1")
    upper = model.root("IfcBuildingStorey", Name="Upper", ObjectPlacement=model.placed((0, 0, 4)))
    model.part_of(model.project, upper)
    ground, model.storey = model.storey, upper
    model.space(model.drawn_up(model.outline(SQUARE), 3.0), name="Büro 1")
    model.storey = ground
    model.space(model.drawn_up(model.outline(SQUARE), 3.0), name="Büro 2")
    model.product("IfcFurniture", model.box((2, 1, 0.7)), at=(3, 2, 4), PredefinedType="TABLE")
    rooms = {room.key: room for room in read(model, tmp_path).rooms}
    assert list(rooms) == ["ground-buro-1", "upper-buro-1", "buro-2"]
    assert [len(room.things) for room in rooms.values()] == [0, 1, 0]


def test_rooms_without_a_shape_and_outdoors_are_reported(tmp_path: Path) -> None:
    model = Made()
    model.space(model.drawn_up(model.outline(SQUARE), 3.0))
    model.space(name="102")
    out = model.drawn_up(model.outline(SQUARE), 3.0)
    model.space(out, name="Terrace", PredefinedType="EXTERNAL")
    plan = read(model, tmp_path)
    assert [room.key for room in plan.rooms] == ["101"]
    left = {(line.what, line.why): line.count for line in plan.report if not line.taken}
    assert left == {("room", "it has no shape"): 1, ("room", "outdoors"): 1}
    assert plan.layers["IfcSpace"] == (3, "room")


def test_a_unit_that_is_not_stated_is_asked_for_and_then_used(tmp_path: Path) -> None:
    model = Made(unit="")
    wide = [(x * 1000, y * 1000) for x, y in SQUARE]
    model.space(model.drawn_up(model.outline(wide), 3000.0))
    with pytest.raises(UnitUnstated) as caught:
        read(model, tmp_path)
    unit, *sides = caught.value.sizes[0]
    assert unit == "mm"
    assert sides == pytest.approx([6.0, 4.0])
    (room,) = read(model, tmp_path, unit="mm").rooms
    assert same_ring(room.outline, SQUARE)


def test_a_unit_that_is_stated_stands_and_the_asked_one_is_noted(tmp_path: Path) -> None:
    model = Made(unit="ft")
    model.space(model.drawn_up(model.outline(SQUARE), 3.0))
    plan = read(model, tmp_path, unit="mm")
    assert same_ring(plan.rooms[0].outline, SQUARE)
    assert any("mm" in warning and "ft" in warning for warning in plan.warnings)


def test_classes_can_be_picked_and_left_out(tmp_path: Path) -> None:
    model = Made()
    model.space(model.drawn_up(model.outline(SQUARE), 3.0))
    model.product("IfcBuildingElementProxy", model.box((2, 1, 0.7)), at=(2, 2, 0), Name="X1")
    model.product("IfcLightFixture", model.box((1.2, 0.3, 0.1)), at=(3, 2, 2.9))
    plan = read(model, tmp_path, layers={"table": ("IfcBuildingElem*",), "ignore": ("ifclight*",)})
    assert [thing.role for thing in plan.rooms[0].things] == ["table"]


def test_what_is_outside_of_every_room_is_left_and_said(tmp_path: Path) -> None:
    model = Made()
    model.space(model.drawn_up(model.outline(SQUARE), 3.0))
    model.product("IfcFurniture", model.box((2, 1, 0.7)), at=(20, 2, 0), PredefinedType="TABLE")
    plan = read(model, tmp_path)
    assert not plan.rooms[0].things
    assert [(line.what, line.why) for line in plan.report if not line.taken] == [
        ("table", "outside of every room")
    ]


def test_walls_are_drawn_for_the_preview(tmp_path: Path) -> None:
    model = Made()
    model.space(model.drawn_up(model.outline(SQUARE), 3.0))
    south = [(0, -0.2), (6, -0.2), (6, 0), (0, 0)]
    model.product("IfcWall", model.drawn_up(model.outline(south), 3.0))
    (stroke,) = read(model, tmp_path).strokes
    assert stroke[0] == stroke[-1]
    assert same_ring(stroke[:-1], south)


def test_a_model_without_rooms_is_refused_with_what_to_do(tmp_path: Path) -> None:
    with pytest.raises(InputError, match=r"no room \(IfcSpace\).*export the model with its rooms"):
        read(Made(), tmp_path)
