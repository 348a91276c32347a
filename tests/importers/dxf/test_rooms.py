"""Rooms are found in closed outlines, in lines and arcs that close, and between walls."""

from __future__ import annotations

import math
from pathlib import Path

import pytest

from tests.importers.dxf.written import (
    arc,
    box,
    drawing,
    insert,
    layer,
    line,
    polyline,
    saved,
    tagged,
    words,
)
from tests.importers.dxf.written import block as of_block
from wellheard.importers.dxf.read import read_dxf
from wellheard.importers.found import Asked, FoundPlan


def read(folder: Path, content: str, asked: Asked | None = None) -> FoundPlan:
    return read_dxf(saved(folder, content), asked or Asked())


def test_a_closed_outline_on_a_layer_of_rooms_is_the_room(tmp_path: Path) -> None:
    plan = read(
        tmp_path,
        drawing(
            polyline("A-AREA", [(0, 0), (0, 4000), (3000, 4000), (6000, 4000), (6000, 0)]),
            words("A-AREA-IDEN", (2000, 2000), 200, "Tide Room"),
            words("A-AREA-IDEN", (2000, 1500), 150, "24.0 m²"),
            words("A-AREA-IDEN", (2000, 1000), 150, "CH 2.70"),
        ),
    )
    (room,) = plan.rooms
    # Anticlockwise, without the corner half way along the north wall.
    assert room.outline == ((0.0, 0.0), (6.0, 0.0), (6.0, 4.0), (0.0, 4.0))
    assert (room.key, room.name, room.height) == ("1", "Tide Room", 2.7)
    assert room.source == "closed outline on A-AREA"
    assert "CH 2.70" in room.height_source
    assert (plan.format, plan.unit) == ("DXF R12", "mm")


def test_equal_rooms_are_numbered_as_a_page_is_read(tmp_path: Path) -> None:
    """Rows from the north, each from west to east; the larger room on the south comes first."""
    bays = [
        polyline("ROOM", box(5000 * x, 4000 * y, 5000 * x + 4000, 4000 * y + 3000))
        for x in (1, 0, 2)
        for y in (1, 2)
    ]
    large = polyline("ROOM", box(0, 0, 14000, 3500))
    plan = read(tmp_path, drawing(*bays, large))
    assert [room.key for room in plan.rooms] == list("1234567")
    assert [tuple(round(v) for v in room.outline[0]) for room in plan.rooms] == [
        *((0, 0), (0, 8), (5, 8), (10, 8)),
        *((0, 4), (5, 4), (10, 4)),
    ]


@pytest.mark.parametrize(
    ("unit", "factor"), [(1, 0.0254), (2, 0.3048), (4, 0.001), (5, 0.01), (6, 1.0)]
)
def test_the_unit_of_the_file_is_believed(tmp_path: Path, unit: int, factor: float) -> None:
    # Definitions: an inch is 25.4 mm, a foot 304.8 mm.
    wide, deep = 7.5 / factor, 4.5 / factor
    plan = read(tmp_path, drawing(polyline("ROOM", box(0, 0, wide, deep)), unit=unit))
    assert plan.rooms[0].area == pytest.approx(33.75, abs=1e-5)


def test_lines_and_arcs_that_meet_close_a_room(tmp_path: Path) -> None:
    # A stadium: 4 m straight with a half circle of 2 m radius at each end; ends 3 mm apart.
    plan = read(
        tmp_path,
        drawing(
            line("WALLS", (0, 0), (3997, 0)),
            arc("WALLS", (4000, 2000), 2000, 270, 90),
            line("WALLS", (4000, 4002), (0, 4000)),
            arc("WALLS", (0, 2000), 2000, 90, 270),
        ),
    )
    (room,) = plan.rooms
    assert room.area == pytest.approx(16 + 4 * math.pi, rel=0.002)
    assert len(room.outline) <= 200
    worst = 0.0
    for (ax, ay), (bx, by) in zip(room.outline, (*room.outline[1:], room.outline[0]), strict=True):
        if min(ax, bx) >= 4.001:
            middle = math.hypot((ax + bx) / 2 - 4, (ay + by) / 2 - 2)
            worst = max(worst, 2.0 - middle)
    assert 0 < worst <= 0.005


def test_a_bulge_is_an_arc(tmp_path: Path) -> None:
    # The bulge is the tangent of a quarter of the angle: tan(22.5°) for a right angle.
    quarter = math.tan(math.radians(22.5))
    corners = [(0, 0), (5000, 0, quarter), (8000, 3000), (8000, 6000), (0, 6000)]
    (room,) = read(tmp_path, drawing(polyline("ROOM", corners))).rooms
    # 8 × 6 m less a corner of 3 × 3 m, of which a quarter circle of 3 m radius is there.
    assert room.area == pytest.approx(48 - 9 + math.pi * 9 / 4, rel=0.001)


DOUBLE = [
    # Two rooms of 5.8 × 5.8 and 3.7 × 5.8 m inside walls of 0.2 m with one of 0.1 m between them;
    # a doorway of 0.9 m to the corridor at the left, one between the rooms.
    *[line("A-WALL", a, b) for a, b in [((0, 0), (10000, 0)), ((10000, 0), (10000, 6200))]],
    *[line("A-WALL", a, b) for a, b in [((10000, 6200), (0, 6200)), ((0, 6200), (0, 2900))]],
    line("A-WALL", (0, 2000), (0, 0)),
    line("A-WALL", (0, 2000), (200, 2000)),
    line("A-WALL", (0, 2900), (200, 2900)),
    line("A-WALL", (200, 200), (6000, 200)),
    line("A-WALL", (200, 6000), (6000, 6000)),
    line("A-WALL", (200, 200), (200, 2000)),
    line("A-WALL", (200, 2900), (200, 6000)),
    line("A-WALL", (6100, 200), (9800, 200)),
    line("A-WALL", (9800, 200), (9800, 6000)),
    line("A-WALL", (9800, 6000), (6100, 6000)),
    line("A-WALL", (6000, 200), (6000, 4000)),
    line("A-WALL", (6100, 200), (6100, 4000)),
    line("A-WALL", (6000, 4000), (6100, 4000)),
    line("A-WALL", (6000, 4900), (6100, 4900)),
    line("A-WALL", (6000, 4900), (6000, 6000)),
    line("A-WALL", (6100, 4900), (6100, 6000)),
]
LEAVES = [
    arc("A-DOOR", (200, 2000), 900, 0, 90),
    line("A-DOOR", (200, 2000), (1100, 2000)),
    arc("A-DOOR", (6100, 4900), 900, 270, 360),
    line("A-DOOR", (6100, 4900), (7000, 4900)),
]
OUTLINES = [
    ((0.2, 0.2), (6.0, 0.2), (6.0, 6.0), (0.2, 6.0)),
    ((6.1, 0.2), (9.8, 0.2), (9.8, 6.0), (6.1, 6.0)),
]


def test_inner_faces_of_double_walls_are_rooms_with_doorways_bridged(tmp_path: Path) -> None:
    plan = read(tmp_path, drawing(*DOUBLE, *LEAVES))
    assert [room.outline for room in plan.rooms] == OUTLINES
    assert any(note.what == "gaps bridged" for note in plan.report)
    first, second = plan.rooms
    assert [(o.kind, o.wall) for o in first.openings] == [("door", 1), ("door", 3)]
    assert (first.openings[1].start, first.openings[1].end) == pytest.approx((3.1, 4.0))
    assert [(o.kind, o.wall) for o in second.openings] == [("door", 3)]


def test_doorways_without_a_door_are_bridged_only_where_no_room_closes_else(
    tmp_path: Path,
) -> None:
    plan = read(tmp_path, drawing(*DOUBLE))
    assert [room.outline for room in plan.rooms] == OUTLINES
    assert any("without a door" in warning for warning in plan.warnings)


def test_walls_need_no_layer_of_theirs(tmp_path: Path) -> None:
    everything = [[(8, "0") if code == 8 else (code, v) for code, v in tags] for tags in DOUBLE]
    leaves = [[(8, "0") if code == 8 else (code, v) for code, v in tags] for tags in LEAVES[::2]]
    plan = read(tmp_path, drawing(*everything, *leaves))
    assert [room.outline for room in plan.rooms] == OUTLINES


def test_a_picked_layer_overrides_what_its_name_says(tmp_path: Path) -> None:
    content = drawing(
        polyline("A-AREA", box(0, 0, 20000, 20000)), polyline("XYZ", box(100, 100, 6100, 5100))
    )
    assert read(tmp_path, content).rooms[0].area == pytest.approx(400)
    (room,) = read(tmp_path, content, Asked(layers={"room": ("x*",)})).rooms
    assert room.area == pytest.approx(30)


def test_where_walls_are_picked_nothing_else_is_a_room(tmp_path: Path) -> None:
    content = drawing(
        polyline("A-AREA", box(0, 0, 20000, 20000)), polyline("XYZ", box(100, 100, 6100, 5100))
    )
    (room,) = read(tmp_path, content, Asked(layers={"wall": ("xyz",)})).rooms
    assert room.area == pytest.approx(30)
    assert not read(tmp_path, content, Asked(layers={"wall": ("none",)})).rooms


def test_a_frame_round_rooms_is_no_room(tmp_path: Path) -> None:
    plan = read(
        tmp_path,
        drawing(
            polyline("0", box(0, 0, 40000, 28000)),
            polyline("0", box(2000, 2000, 10000, 8000)),
            polyline("0", box(11000, 2000, 16000, 8000)),
            words("0", (3000, 3000), 200, "Ebb"),
            words("0", (12000, 3000), 200, "Flow"),
        ),
    )
    assert [(room.name, round(room.area, 6)) for room in plan.rooms] == [("Ebb", 48), ("Flow", 30)]


def test_blocks_are_laid_out_nested_turned_mirrored_and_scaled(tmp_path: Path) -> None:
    # An L of 4 × 3 m less 1 × 1 m in a block with a base point, in a block twice as large and
    # mirrored, turned by 30°: area 4 · 11 m². The corner (0, 0) of the L goes to
    # (20000, 10000) + turned by 30° (−2 · (0 − 1000), 2 · (0 − 500)), by hand.
    ell = [(0, 0), (4000, 0), (4000, 2000), (3000, 2000), (3000, 3000), (0, 3000)]
    content = drawing(
        insert("A-AREA", "OUTER", (20000, 10000), (50, 30)),
        blocks=[
            of_block("INNER", polyline("0", ell), base=(1000, 500)),
            of_block("OUTER", insert("0", "INNER", (0, 0), (41, -2), (42, 2), (43, 1))),
        ],
    )
    (room,) = read(tmp_path, content).rooms
    assert room.area == pytest.approx(44)
    c, s = math.cos(math.radians(30)), math.sin(math.radians(30))
    corner = (20 + 2 * c + 1 * s, 10 + 2 * s - 1 * c)
    assert min(math.dist(corner, point) for point in room.outline) < 1e-6


def test_layers_that_are_frozen_or_off_are_left_out(tmp_path: Path) -> None:
    plan = read(
        tmp_path,
        drawing(
            polyline("ROOM", box(0, 0, 5000, 5000)),
            polyline("ROOM-OLD", box(0, 0, 9000, 9000)),
            polyline("ROOM-OFF", box(0, 0, 8000, 8000)),
            layers=[layer("ROOM"), layer("ROOM-OLD", flags=1), layer("ROOM-OFF", colour=-7)],
        ),
    )
    assert [round(room.area) for room in plan.rooms] == [25]
    reasons = {(note.where, note.why) for note in plan.report if not note.taken}
    assert {("ROOM-OLD", "the layer is frozen"), ("ROOM-OFF", "the layer is off")} <= reasons


def test_a_crossed_outline_gives_its_larger_part(tmp_path: Path) -> None:
    # Two triangles of 16 m² that meet at (4, 4) would be a bow tie; here one is larger.
    plan = read(tmp_path, drawing(polyline("ROOM", [(0, 0), (8000, 8000), (8000, 0), (0, 6000)])))
    (room,) = plan.rooms
    assert len(room.outline) == 3
    assert any("crosses itself" in warning for warning in plan.warnings)


def test_our_own_room_block_gives_origin_name_and_height(tmp_path: Path) -> None:
    plan = read(
        tmp_path,
        drawing(
            polyline("A-AREA", box(1000, 1000, 7400, 5000)),
            tagged(
                "A-AREA",
                "WELLHEARD-ROOM",
                (1000, 1000, 0),
                {"NAME": "Tide", "HEIGHT_MM": "2743.2"},
            ),
            tagged(
                "T-SOUN-MICR",
                "WELLHEARD-MICROPHONE-ARRAY",
                (4200, 3000, 2650),
                {"ID": "m1", "PRODUCT": "plane-60"},
            ),
            blocks=[of_block("WELLHEARD-ROOM"), of_block("WELLHEARD-MICROPHONE-ARRAY")],
        ),
    )
    (room,) = plan.rooms
    assert room.owned
    assert (room.datum, room.name, room.height) == ((1.0, 1.0), "Tide", 2.7432)
    (device,) = room.devices
    assert (device.role, device.id, device.product) == ("microphone", "m1", "plane-60")
    assert device.at == pytest.approx((4.2, 3.0, 2.65))
