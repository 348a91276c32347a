"""Plans of strangers cannot take more than they are given, nor say more than an answer."""

from __future__ import annotations

import sys
from pathlib import Path

import pytest
from ezdxf.filemanagement import new as new_drawing

from wellheard.errors import InputError
from wellheard.importers.child import Limits, _limit
from wellheard.importers.found import Asked, UnitUnstated
from wellheard.importers.guarded import read_guarded
from wellheard.importers.kinds import LARGEST_BYTES, kind_of

ROOM = [(0, 0), (6400, 0), (6400, 4600), (0, 4600)]


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return tmp_path_factory.mktemp("plans")


@pytest.fixture(scope="module")
def plan(folder: Path) -> Path:
    drawing = new_drawing("R2010", units=4)  # millimetres
    drawing.modelspace().add_lwpolyline(ROOM, close=True, dxfattribs={"layer": "A-AREA"})
    path = folder / "tide.dxf"
    drawing.saveas(path)
    return path


def test_a_plan_comes_back_from_its_own_process(plan: Path) -> None:
    found = read_guarded(plan, Asked())
    (room,) = found.rooms
    assert room.area == pytest.approx(6.4 * 4.6)
    assert found.unit == "mm"


def test_what_is_asked_reaches_the_process(folder: Path) -> None:
    drawing = new_drawing("R2010", units=0)
    drawing.modelspace().add_lwpolyline(ROOM, close=True)
    path = folder / "no-unit.dxf"
    drawing.saveas(path)
    with pytest.raises(UnitUnstated) as refused:
        read_guarded(path, Asked())
    sizes = {unit: (wide, deep) for unit, wide, deep in refused.value.sizes}
    assert sizes["mm"] == pytest.approx((6.4, 4.6))
    (room,) = read_guarded(path, Asked(unit="mm")).rooms
    assert room.area == pytest.approx(6.4 * 4.6)


def test_time_is_limited(plan: Path) -> None:
    with pytest.raises(InputError, match=r"tide\.dxf: not read within 0 s"):
        read_guarded(plan, Asked(), Limits(seconds=0.05))


def test_memory_is_limited(plan: Path) -> None:
    with pytest.raises(InputError, match="needs more memory than a plan may take"):
        read_guarded(plan, Asked(), Limits(memory_bytes=150 * 2**20))


def test_a_system_that_cannot_limit_a_process_says_so(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(sys.modules, "resource", None)
    assert _limit(Limits()) == "memory and processor time"


@pytest.mark.parametrize(
    ("content", "said"),
    [
        (b"", "the file is empty"),
        (b"AC1032\x00\x00", "native format of a drawing program; save it as DXF"),
        (b"%PDF-1.7\n", "a PDF"),
        (b"PK\x03\x04rest", "a ZIP archive"),
        (b"\x89PNG\r\n", "a picture"),
        (b"<?xml version='1.0'?><ifcXML/>", "only the STEP form"),
        (b"Dear architect, please find", "neither DXF nor IFC"),
        (b"0\nHEADER\n", "neither DXF nor IFC"),
        (bytes(range(128, 256)) + b"\x00", "neither DXF nor IFC"),
    ],
)
def test_what_is_no_plan_is_told_for_what_it_is(folder: Path, content: bytes, said: str) -> None:
    path = folder / "thing.dxf"
    path.write_bytes(content)
    with pytest.raises(InputError, match=said) as refused:
        read_guarded(path, Asked())
    assert str(path) in str(refused.value)


def test_a_file_beyond_the_limit_is_not_even_opened(folder: Path) -> None:
    path = folder / "large.dxf"
    with path.open("wb") as file:
        file.truncate(LARGEST_BYTES + 1)
    with pytest.raises(InputError, match=f"up to {LARGEST_BYTES // 2**20} MB is read"):
        read_guarded(path, Asked())


def test_folders_and_nothing_are_no_plans(folder: Path) -> None:
    with pytest.raises(InputError, match="no file"):
        kind_of(folder)
    with pytest.raises(InputError, match="No such file"):
        kind_of(folder / "gone.dxf")


def test_a_comment_before_the_first_section_is_still_dxf(folder: Path) -> None:
    path = folder / "comment.dxf"
    path.write_bytes(b"999\nmade by hand\n  0\nSECTION\n")
    assert kind_of(path) == "dxf"
    path.write_bytes(b"\xef\xbb\xbfISO-10303-21;\n")
    assert kind_of(path) == "ifc"


def test_a_process_that_fails_is_told_in_one_line(
    plan: Path, monkeypatch: pytest.MonkeyPatch, folder: Path
) -> None:
    child = folder / "python"
    child.write_text("#!/bin/sh\necho 'something odd' >&2\nexit 3\n")
    child.chmod(0o755)
    monkeypatch.setattr("sys.executable", str(child))
    with pytest.raises(InputError, match=r"tide\.dxf: reading it failed \(something odd\)") as one:
        read_guarded(plan, Asked())
    assert "\n" not in str(one.value)


def test_a_process_that_says_something_else_is_not_believed(
    plan: Path, monkeypatch: pytest.MonkeyPatch, folder: Path
) -> None:
    child = folder / "liar"
    child.write_text("#!/bin/sh\necho '{\"plan\": 1}'\n")
    child.chmod(0o755)
    monkeypatch.setattr("sys.executable", str(child))
    with pytest.raises(InputError, match="reading it failed"):
        read_guarded(plan, Asked())
