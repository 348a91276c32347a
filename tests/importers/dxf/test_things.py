"""Furniture, what hangs, openings, rasters and heights are known by layers, blocks and shapes."""

from __future__ import annotations

import struct
from collections import Counter
from pathlib import Path

import pytest

from tests.importers.dxf.test_rooms import DOUBLE
from tests.importers.dxf.written import (
    Tags,
    arc,
    at,
    block,
    box,
    circle,
    drawing,
    insert,
    line,
    lwpolyline,
    polyline,
    saved,
    tagged,
    words,
)
from wellheard.importers.dxf.read import read_dxf
from wellheard.importers.dxf.texts import height_in
from wellheard.importers.found import Asked, FoundRoom
from wellheard.importers.names import role_by_name

ROOM = polyline("A-AREA", box(0, 0, 8000, 6000))
CHAIR = block("STUHL", polyline("0", box(-225, -225, 225, 225)), line("0", (-225, 240), (225, 240)))


def room_of(folder: Path, content: str, asked: Asked | None = None) -> FoundRoom:
    (room,) = read_dxf(saved(folder, content), asked or Asked()).rooms
    return room


@pytest.mark.practice  # words that offices use; AIA majors and minors
@pytest.mark.parametrize(
    ("name", "of", "role"),
    [
        ("A-WALL", "layer", "wall"),
        ("A-WALL-FULL", "layer", "wall"),
        ("A-WALL-IDEN", "layer", "note"),
        ("Wände_innen", "layer", "wall"),
        ("CLOISONS", "layer", "wall"),
        ("TABIQUES", "layer", "wall"),
        ("muri-interni", "layer", "wall"),
        ("Binnenwanden", "layer", "wall"),
        ("xref$0$A-DOOR", "layer", "door"),
        ("plan|A-GLAZ", "layer", "window"),
        ("FENÊTRES", "layer", "window"),
        ("Türen", "layer", "door"),
        ("A-FURN", "layer", "table"),
        ("A-FURN-CHAR", "layer", "seat"),
        ("BüroStuhl", "block", "seat"),
        ("TaskChair_02", "block", "seat"),
        ("Besprechungstisch", "block", "table"),
        ("Sofa 2-Sitzer", "block", "soft-seating"),
        ("Einbauleuchte 600", "block", "luminaire"),
        ("M-HVAC-RDFF", "layer", "air-return"),
        ("Zuluft", "layer", "air-outlet"),
        ("A-CLNG-GRID", "layer", "grid"),
        ("Stützen", "layer", "column"),
        ("RAUMPOLYGONE", "layer", "room"),
        ("Bemassung", "layer", "dimension"),
        ("A-ANNO-DIMS", "layer", "dimension"),
        ("0", "layer", None),
        ("Defpoints", "layer", "note"),
    ],
)
def test_names_tell_roles(name: str, of: str, role: str | None) -> None:
    assert of in ("layer", "block")
    found = role_by_name(name, "layer") if of == "layer" else role_by_name(name, "block")
    assert found == role


@pytest.mark.practice
@pytest.mark.parametrize(
    ("said", "metres"),
    [
        ("CH 2.70", 2.7),
        ("CH=2700", 2.7),
        ("h = 2.75 m", 2.75),
        ("H: 275", 2.75),
        ("CLG 9'-0\"", 2.7432),
        ("CLG. HT. 9'-6 1/2\"", 2.9083),
        ("lichte Höhe 2,80 m", 2.8),
        ("LRH 3.05", 3.05),
        ("HSP = 2,50 m", 2.5),
        ("9'-0\" AFF", 2.7432),
        ("Table h 740 mm", None),
        ("24.0 m²", None),
        ("CH 12", 12.0),
        ("CHAIR 2.70", None),
        ("h = 0.74", None),
        ("North 2.70", None),
    ],
)
def test_heights_are_read_where_a_text_says_that_they_are_some(
    said: str, metres: float | None
) -> None:
    assert height_in(said) == (None if metres is None else pytest.approx(metres, abs=1e-6))


def test_chairs_look_away_from_their_backs(tmp_path: Path) -> None:
    room = room_of(
        tmp_path,
        drawing(
            ROOM,
            *[insert("0", "STUHL", (1000 + 1000 * k, 2000), (50, 90 * k)) for k in range(4)],
            insert("0", "STUHL", (6000, 2000), (42, -1)),
            blocks=[CHAIR],
        ),
    )
    # The back is at the block's north: it looks south, and turns with the block; the one that is
    # mirrored has its back at the south.
    facing = [seat.facing_deg for seat in sorted(room.seats, key=lambda seat: seat.at)]
    assert facing == pytest.approx([270, 0, 90, 180, 90])


def test_a_round_stool_looks_nowhere(tmp_path: Path) -> None:
    room = room_of(tmp_path, drawing(ROOM, circle("STOOL", (2000, 2000), 200)))
    assert [seat.facing_deg for seat in room.seats] == [None]


def test_a_group_of_chairs_is_chairs_and_a_chair_of_parts_is_one(tmp_path: Path) -> None:
    parts = block("CHAIR-SEAT", polyline("0", box(-200, -200, 200, 200)))
    chair = block("CHAIR", insert("0", "CHAIR-SEAT", (0, 0)), line("0", (-200, 230), (200, 230)))
    row = block("CHAIRS-ROW", *[insert("0", "CHAIR", (700 * k, 0)) for k in range(5)])
    content = drawing(ROOM, insert("0", "CHAIRS-ROW", (1000, 3000)), blocks=[parts, chair, row])
    assert len(room_of(tmp_path, content).seats) == 5


def test_what_a_layer_is_named_for_is_found_by_outline(tmp_path: Path) -> None:
    room = room_of(
        tmp_path,
        drawing(
            ROOM,
            polyline("TISCHE", box(3000, 2000, 5400, 3200)),
            polyline("TISCHE", box(5400, 2000, 6600, 3200)),
            circle("A-COLS", (7000, 5000), 200),
            polyline("M-HVAC-SDFF", box(1000, 1000, 1600, 1600)),
            line("E-LITE", (2000, 5000), (3200, 5000)),
            polyline("A-FURN", box(9000, 0, 9900, 900)),
        ),
    )
    roles = Counter(thing.role for thing in room.things)
    assert roles == {"table": 2, "column": 1, "air-outlet": 1}
    areas = sorted(
        (max(x for x, _ in t.outline) - min(x for x, _ in t.outline))
        for t in room.things
        if t.role == "table"
    )
    assert areas == pytest.approx([1.2, 2.4])


def test_windows_and_doors_are_openings_of_their_walls(tmp_path: Path) -> None:
    room = room_of(
        tmp_path,
        drawing(
            ROOM,
            *[line("A-GLAZ", (2000, -y), (4000, -y)) for y in (50, 150)],
            arc("A-DOOR", (0, 4000), 900, 270, 360),
            line("A-DOOR", (0, 4000), (900, 4000)),
            *[line("A-GLAZ", (20000, y), (21000, y)) for y in (50, 150)],
        ),
    )
    window, door = room.openings
    assert (window.kind, window.wall) == ("window", 0)
    assert (window.start, window.end) == pytest.approx((2.0, 4.0))
    # The west wall runs south from (0, 6): the door from y = 4 to 3.1 is 2 to 2.9 m along it.
    assert (door.kind, door.wall) == ("door", 3)
    assert (door.start, door.end) == pytest.approx((2.0, 2.9))


def test_a_hatch_of_two_families_is_a_raster(tmp_path: Path) -> None:
    tags: Tags = [(0, "HATCH"), (100, "AcDbEntity"), (8, "A-CLNG"), (100, "AcDbHatch")]
    tags += [*at((0, 0)), (210, 0), (220, 0), (230, 1), (2, "NET"), (70, 0), (71, 0), (91, 1)]
    tags += [(92, 3), (72, 0), (73, 1), (93, 4)]
    for x, y in box(0, 0, 8000, 6000):
        tags += [(10, x), (20, y)]
    tags += [(97, 0), (75, 0), (76, 0), (52, 0), (41, 600), (77, 0), (78, 2)]
    tags += [(53, 0), (43, 100), (44, 200), (45, 0), (46, 600), (79, 0)]
    tags += [(53, 90), (43, 100), (44, 200), (45, -1200), (46, 0), (79, 0), (98, 0)]
    outline = lwpolyline("A-AREA", box(0, 0, 8000, 6000))
    room = room_of(tmp_path, drawing(outline, tags, version="AC1015"))
    assert room.grid is not None
    assert room.grid.module == pytest.approx((1.2, 0.6))
    assert room.grid.origin == pytest.approx((0.1, 0.2))
    assert room.ceiling_kind == "tiles"


def test_walls_that_are_extruded_tell_the_height(tmp_path: Path) -> None:
    raised = [[*tags, (39, 2850)] for tags in DOUBLE]
    doors = [arc("A-DOOR", (200, 2000), 900, 0, 90), arc("A-DOOR", (6100, 4900), 900, 270, 360)]
    plan = read_dxf(saved(tmp_path, drawing(*raised, *doors)), Asked())
    assert [room.height for room in plan.rooms] == pytest.approx([2.85, 2.85])


def test_attributes_name_a_room(tmp_path: Path) -> None:
    said = {"RAUMNUMMER": "2.14", "RAUMNAME": "Watt", "CH": "2,95 m"}
    room = room_of(
        tmp_path,
        drawing(ROOM, tagged("0", "STEMPEL", (2000, 2000), said), blocks=[block("STEMPEL")]),
    )
    assert room.name == "2.14 Watt"
    assert room.height == pytest.approx(2.95)


def test_picks_decide_by_layer_or_block(tmp_path: Path) -> None:
    content = drawing(
        ROOM,
        insert("0", "K17", (2000, 2000)),
        polyline("TISCHE", box(3000, 2000, 5400, 3200)),
        blocks=[block("K17", polyline("0", box(-250, -250, 250, 250)))],
    )
    assert not room_of(tmp_path, content).seats
    picked = Asked(layers={"seat": ("k17",), "ignore": ("tisch*",)})
    room = room_of(tmp_path, content, picked)
    assert len(room.seats) == 1
    assert not room.things


@pytest.mark.parametrize(
    ("version", "codepage", "encoding"),
    [("AC1021", "ANSI_1252", "utf-8"), ("AC1009", "ANSI_1252", "cp1252")],
)
@pytest.mark.parametrize("ends", ["\n", "\r\n"])
def test_names_are_read_in_the_encoding_of_the_version(
    tmp_path: Path, version: str, codepage: str, encoding: str, ends: str
) -> None:
    # Text is UTF-8 from R2007 on, of the code page before.
    content = drawing(line("WÄNDE", (0, 0), (1, 1)), version=version)
    content = content.replace(
        "  9\n$INSUNITS", f"  9\n$DWGCODEPAGE\n  3\n{codepage}\n  9\n$INSUNITS"
    )
    path = tmp_path / "plan.dxf"
    path.write_bytes(content.replace("\n", ends).encode(encoding))
    assert read_dxf(path, Asked()).layers == {"WÄNDE": (1, "wall")}


def test_binary_files_say_the_same(tmp_path: Path) -> None:
    # After the reference: a sentinel of 22 bytes; of R13 and later group codes take two bytes;
    # text ends with a zero, numbers of 10–59 are doubles, those of 60–79 integers of 16 bits.
    content = drawing(
        lwpolyline("A-AREA", box(0, 0, 8000, 6000)),
        words("A-AREA", (2000, 2000), 200, "Tide"),
        version="AC1015",
    ).split("\n")
    data = b"AutoCAD Binary DXF\r\n\x1a\x00"
    for code, value in zip(content[0:-1:2], content[1::2], strict=True):
        number = int(code)
        data += struct.pack("<h", number)
        if 10 <= number <= 59:
            data += struct.pack("<d", float(value))
        elif 60 <= number <= 79:
            data += struct.pack("<h", int(value))
        elif 90 <= number <= 99:
            data += struct.pack("<i", int(value))
        else:
            data += value.encode() + b"\x00"
    path = tmp_path / "plan.dxf"
    path.write_bytes(data)
    plan = read_dxf(path, Asked())
    assert plan.format == "DXF R2000, binary"
    (room,) = plan.rooms
    assert room.name == "Tide"
    assert room.area == pytest.approx(48.0)


def test_everything_is_told_once(tmp_path: Path) -> None:
    content = drawing(
        ROOM,
        [(0, "DIMENSION"), (8, "A-DIMS"), *at((0, 0)), (70, 0)],
        [(0, "POINT"), (8, "X"), *at((0, 0))],
        line("MISC", (100, 100), (200, 200)),
        insert("0", "GONE", (0, 0)),
    )
    plan = read_dxf(saved(tmp_path, content), Asked())
    told = Counter({(n.taken, n.what, n.where): n.count for n in plan.report})
    assert told[True, "rooms", "closed outline on A-AREA"] == 1
    assert told[False, "POINT", "X"] == 1
    assert told[False, "lines and outlines", "MISC"] == 1
    assert told[False, "INSERT", "0"] == 1
    assert plan.layers["A-AREA"] == (1, "room")
    assert plan.layers["MISC"] == (1, None)
    assert len(plan.strokes) == 2
