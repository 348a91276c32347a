"""Whatever is handed in as a DXF file gets a plain answer, and soon.

How long and how much memory is held by the process that plans are read in; here what a file may
come to is held.
"""

from __future__ import annotations

import math
import random
import zipfile
from pathlib import Path

import pytest

from tests.importers.dxf.written import (
    Tags,
    arc,
    at,
    box,
    circle,
    drawing,
    insert,
    line,
    lwpolyline,
    polyline,
    saved,
    words,
)
from tests.importers.dxf.written import block as of_block
from wellheard.errors import InputError
from wellheard.importers.dxf.read import read_dxf
from wellheard.importers.found import Asked, FoundPlan

ROOM = polyline("ROOM", box(0, 0, 6000, 5000))


def read(folder: Path, content: str) -> FoundPlan:
    return read_dxf(saved(folder, content), Asked())


def refused(path: Path) -> str:
    with pytest.raises(InputError) as caught:
        read_dxf(path, Asked())
    said = str(caught.value)
    assert path.name in said
    assert "\n" not in said
    assert ";" in said  # what next
    return said


@pytest.mark.parametrize(
    ("content", "said"),
    [
        (b"", "empty"),
        (b" \n\n", "empty"),
        (b"Hello, this is a letter.\n", "no SECTION"),
        (b"0\nSECTION\n2\nENTITIES\n0\nLINE\n8\n0\n10\n1.0\n", "cut off"),
        (b"AC1032\x00\x00\x00\x00\x00\x03", "DWG"),
        (b"%PDF-1.7\n%abc\n", "no DXF"),
        (b"\x7fELF" + bytes(range(256)) * 20, "no SECTION"),
        (b"AutoCAD Binary DXF\r\n\x1a\x00" + bytes(range(256)), "cut off"),
        (b"AutoCAD Binary DXF\r\n\x1a\x00" + b"\x00\x01\x02" * 99 + b"EOF\x00", "damaged"),
    ],
)
def test_what_is_no_drawing_is_refused(tmp_path: Path, content: bytes, said: str) -> None:
    path = tmp_path / "plan.dxf"
    path.write_bytes(content)
    assert said in refused(path)


def test_an_archive_is_to_be_unpacked(tmp_path: Path) -> None:
    path = tmp_path / "plan.dxf"
    with zipfile.ZipFile(path, "w") as archive:
        archive.writestr("plan.dxf", drawing(ROOM))
    assert "zip" in refused(path)


def test_a_file_that_is_cut_off_anywhere_is_refused(tmp_path: Path) -> None:
    whole = drawing(ROOM, line("A-WALL", (0, 0), (1, 1)), words("ROOM", (1, 1), 1, "x"))
    for share in (0.1, 0.3, 0.5, 0.7, 0.9, 0.99):
        refused(saved(tmp_path, whole[: int(len(whole) * share)]))


def test_a_block_in_itself_is_named(tmp_path: Path) -> None:
    loop = drawing(
        ROOM,
        insert("0", "A", (0, 0)),
        blocks=[
            of_block("A", insert("0", "B", (1, 0))),
            of_block("B", line("0", (0, 0), (1, 0)), insert("0", "A", (1, 0))),
        ],
    )
    assert "block A holds itself" in refused(saved(tmp_path, loop))


def test_blocks_that_stand_for_millions_are_refused(tmp_path: Path) -> None:
    # Ten of ten of ten …: 10⁹ lines in a file of a few kilobytes.
    blocks = [of_block("L0", line("0", (0, 0), (1, 0)))]
    for level in range(1, 10):
        ten = [insert("0", f"L{level - 1}", (k, level)) for k in range(10)]
        blocks.append(of_block(f"L{level}", *ten))
    said = refused(saved(tmp_path, drawing(ROOM, insert("0", "L9", (0, 0)), blocks=blocks)))
    assert "at most 400000" in said


def test_empty_blocks_that_stand_for_millions_are_refused(tmp_path: Path) -> None:
    blocks = [of_block("L0")]
    for level in range(1, 10):
        ten = [insert("0", f"L{level - 1}", (k, level)) for k in range(10)]
        blocks.append(of_block(f"L{level}", *ten))
    refused(saved(tmp_path, drawing(ROOM, insert("0", "L9", (0, 0)), blocks=blocks)))


def test_an_array_of_a_billion_is_refused(tmp_path: Path) -> None:
    vast = insert("0", "A", (0, 0), (70, 32000), (71, 32000), (44, 10), (45, 10))
    blocks = [of_block("A", line("0", (0, 0), (1, 0)))]
    assert "at most 400000" in refused(saved(tmp_path, drawing(ROOM, vast, blocks=blocks)))


def test_blocks_in_blocks_end_somewhere(tmp_path: Path) -> None:
    blocks = [of_block("D0", line("0", (0, 0), (1, 0)))]
    blocks += [of_block(f"D{k}", insert("0", f"D{k - 1}", (0, 0))) for k in range(1, 2000)]
    deep = drawing(ROOM, insert("0", "D1999", (0, 0)), blocks=blocks)
    assert "nested deeper than 40" in refused(saved(tmp_path, deep))


def test_a_million_entities_are_refused_before_they_are_read(tmp_path: Path) -> None:
    path = tmp_path / "plan.dxf"
    head, _, tail = drawing(line("0", (0, 0), (1, 1))).partition("  0\nLINE\n")
    one = "  0\nLINE\n  8\n0\n 10\n0\n 20\n0\n 11\n1\n 21\n1\n"
    path.write_text(head + one * 1_000_000 + "  0\nLINE\n" + tail, "utf-8")
    assert "about 100" in (said := refused(path))
    assert "at most 250000" in said


@pytest.mark.parametrize("value", ["nan", "inf", "-inf", "1e300", "1e30"])
def test_coordinates_that_are_none_are_left_out_and_told(tmp_path: Path, value: str) -> None:
    bad = float(value)
    plan = read(
        tmp_path,
        drawing(
            ROOM,
            line("A-WALL", (0, 0), (bad, 1)),
            arc("A-WALL", (bad, 0), 5, 0, 90),
            circle("A-WALL", (0, 0), bad),
            polyline("A-WALL", [(0, 0), (bad, 1), (1, 1)]),
            polyline("A-WALL", [(0, 0, bad), (1, 0), (1, 1)]),
            words("A-WALL", (bad, 0), 1, "far"),
            insert("A-WALL", "A", (bad, 0)),
            insert("A-WALL", "A", (0, 0), (41, bad)),
            insert("A-WALL", "A", (0, 0), (50, bad)),
            insert("A-WALL", "A", (0, 0), (70, 2), (44, bad)),
            blocks=[of_block("A", line("0", (0, 0), (1, 0)))],
        ),
    )
    assert [room.area for room in plan.rooms] == pytest.approx([30.0])
    lost = [note for note in plan.report if "no number" in note.why or "damaged" in note.why]
    assert sum(note.count for note in lost) >= 4
    for stroke in plan.strokes:
        assert all(math.isfinite(v) and abs(v) < 1e8 for point in stroke for v in point)


def test_nothing_but_nonsense_is_refused_with_the_reason(tmp_path: Path) -> None:
    nonsense = drawing(line("0", (math.nan, 0), (1, 1)), line("0", (0, 0), (1e300, 1)))
    assert "no number" in refused(saved(tmp_path, nonsense))


def test_an_enormous_polyline_is_read_or_refused_but_bounded(tmp_path: Path) -> None:
    # A room whose wall is a saw of 20,000 teeth of 2 mm.
    saw = [(k * 0.3, (k % 2) * 2.0) for k in range(20_000)]
    plan = read(tmp_path, drawing(polyline("ROOM", [*saw, (6000, 5000), (0, 5000)])))
    (room,) = plan.rooms
    assert len(room.outline) <= 200
    assert room.area == pytest.approx(30.0, abs=0.05)
    assert any("mm off" in warning for warning in plan.warnings)


def test_a_spline_of_thousands_of_points_is_bounded(tmp_path: Path) -> None:
    count = 5000
    tags: Tags = [(0, "SPLINE"), (100, "AcDbEntity"), (8, "A-WALL"), (100, "AcDbSpline")]
    tags += [(70, 8), (71, 3), (72, count + 4), (73, count), (74, 0)]
    tags += [(40, max(0, min(count - 3, k - 3))) for k in range(count + 4)]
    for k in range(count):
        tags += at((k, math.sin(k) * 1000))
    outline = lwpolyline("ROOM", box(0, 0, 6000, 5000))
    plan = read(tmp_path, drawing(outline, tags, version="AC1015"))
    assert len(plan.rooms) == 1
    assert sum(map(len, plan.strokes)) < 50_000


def test_a_scribble_with_thousands_of_crossings_is_bounded(tmp_path: Path) -> None:
    chance = random.Random(7)
    scribble = [(chance.uniform(0, 9000), chance.uniform(0, 9000)) for _ in range(400)]
    plan = read(tmp_path, drawing(polyline("ROOM", scribble)))
    for room in plan.rooms:
        assert room.area > 0


def test_a_text_of_megabytes_is_cut(tmp_path: Path) -> None:
    plan = read(
        tmp_path, drawing(ROOM, words("ROOM", (3000, 3000), 200, "Tide " + "x" * 3_000_000))
    )
    assert len(plan.rooms[0].name) <= 60


def test_control_characters_in_names_are_written_out(tmp_path: Path) -> None:
    escape = "\x1b[2J"
    plan = read(tmp_path, drawing(ROOM, line(f"X{escape}", (0, 0), (1, 1))))
    assert not any(escape in layer for layer in plan.layers)
    assert not any(escape in note.where for note in plan.report)


def test_an_unknown_unit_is_refused_with_those_that_are(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="mm, cm, m, in, ft"):
        read_dxf(saved(tmp_path, drawing(ROOM)), Asked(unit="furlong"))


def test_damage_at_random_is_met_with_an_answer(tmp_path: Path) -> None:
    chance = random.Random(11)
    whole = drawing(
        ROOM,
        insert("0", "A", (0, 0), (50, 30)),
        arc("A-DOOR", (0, 0), 900, 0, 90),
        words("ROOM", (100, 100), 10, "Tide"),
        blocks=[of_block("A", polyline("0", box(0, 0, 100, 100)))],
    ).splitlines()
    answers: list[str] = []
    for _ in range(60):
        lines = list(whole)
        for _ in range(chance.randint(1, 4)):
            k = chance.randrange(len(lines))
            lines[k] = chance.choice(["", "x", "-1", "999", "1e999", "0", "\x00", lines[k] * 3])
        try:
            plan = read(tmp_path, "\n".join(lines) + "\n")
        except InputError as error:
            answers.append(str(error))
        else:
            answers.append(f"plan.dxf: {plan.format}")
    assert all(answer.startswith("plan.dxf: ") for answer in answers)
