"""``new``: every document it writes is one that the other commands take as it is."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import pytest

from tests.effort import some
from wellheard.room import codec
from wellheard.workflow.load import load

if TYPE_CHECKING:
    from tests.cli.conftest import Wellheard

SIZES = [
    ("m", "3x2.4x2.4", 3),
    ("m", "4.2x3.1x2.5", 5),
    ("m", "6.4x4.6x2.75", 10),
    ("m", "9×6×3", 16),
    ("m", "14x7x3.4", 24),
    ("m", "3x8x2.6", 8),
    ("ft", "10x9x8", 4),
    ("ft", "20x14x9", 10),
    ("ft", "33.5x20x10.25", 18),
    ("ft", "7 m x 15' x 9 ft 6 in", 10),
]


@pytest.mark.parametrize(("units", "size", "seats"), SIZES)
def test_a_starting_document_has_its_seats_and_is_predicted_without_complaint(
    wellheard: Wellheard, tmp_path: Path, units: str, size: str, seats: int
) -> None:
    path = tmp_path / "a b.room.yaml"
    ended = wellheard("new", path, "--size", size, "--seats", str(seats), "--units", units)
    assert (ended.code, ended.out) == (0, "")
    assert f"wellheard design '{path}' -o FOLDER" in ended.err
    room = load(path).room
    assert (len(room.people.seats), room.units) == (seats, units)
    found = wellheard("check", path, "--format", "json")
    assert (found.code, found.err) == (0, "")


@pytest.mark.usefixtures("few_rays_here")
@pytest.mark.parametrize(("units", "size", "seats"), some(SIZES, (1, 7)))
def test_a_starting_document_is_designed(
    wellheard: Wellheard, tmp_path: Path, units: str, size: str, seats: int
) -> None:
    path = tmp_path / "a.room.yaml"
    assert wellheard("new", path, "--size", size, "--seats", str(seats), "--units", units).code == 0
    ended = wellheard("design", path, "-o", tmp_path / "out", "--for", "it", "--format", "json")
    assert ended.err == ""
    assert ended.code in (0, 1)
    assert ended.json["placement"]["count"]["microphone"] >= 1
    assert (ended.code == 0) == all(s["kept"] for s in ended.json["prediction"]["seats"])


def test_sizes_are_in_the_units_of_the_document(wellheard: Wellheard, tmp_path: Path) -> None:
    # 20 × 14 × 9 ft is 6.096 × 4.2672 × 2.7432 m by the international foot.
    path = tmp_path / "a.room.yaml"
    assert wellheard("new", path, "--size", "20x14x9", "--units", "ft").code == 0
    space = codec.read(path).space
    assert space.outline[2] == pytest.approx((6.096, 4.2672), abs=1e-9)
    assert space.height == pytest.approx(2.7432, abs=1e-9)


@pytest.mark.parametrize("units", ["m", "ft"])
def test_size_and_seats_have_defaults(wellheard: Wellheard, tmp_path: Path, units: str) -> None:
    path = tmp_path / "a.room.yaml"
    assert wellheard("new", path, "--units", units).code == 0
    assert len(codec.read(path).people.seats) == 10


def test_a_file_that_exists_is_kept_unless_forced(wellheard: Wellheard, tmp_path: Path) -> None:
    path = tmp_path / "a.room.yaml"
    path.write_text("mine\n", "utf-8")
    ended = wellheard("new", path)
    assert ended.code == 2
    assert "exists already; name another file, or add --force" in ended.err
    assert path.read_text("utf-8") == "mine\n"
    assert wellheard("new", path, "--force").code == 0
    assert path.read_text("utf-8") != "mine\n"


@pytest.mark.parametrize(
    ("asked", "said"),
    [
        (["--size", "6x4"], "three lengths"),
        (["--size", "6x4xtall"], "three lengths"),
        (["--size", "nanx4x3"], ""),
        (["--size", "6x4x-3"], ""),
        (["--size", "600x4x3"], "600 m in length"),
        (["--size", "2x2x2.4", "--seats", "12"], "do not fit"),
        (["--seats", "0"], "0 seats"),
        (["--seats", "1000"], "1000 seats"),
        (["--seats", "many"], "many"),
        (["--units", "yd"], '"m", "ft"'),
    ],
)
def test_what_makes_no_room_is_refused_and_nothing_is_written(
    wellheard: Wellheard, tmp_path: Path, asked: list[str], said: str
) -> None:
    ended = wellheard("new", tmp_path / "a.room.yaml", *asked)
    assert (ended.code, ended.out) == (2, "")
    assert ended.err
    assert said in ended.err
    assert list(tmp_path.iterdir()) == []


def test_a_folder_that_does_not_exist_is_said(wellheard: Wellheard, tmp_path: Path) -> None:
    ended = wellheard("new", tmp_path / "none" / "a.room.yaml")
    assert ended.code == 2
    assert "No such file or directory" in ended.err


def test_force_does_not_replace_a_folder(wellheard: Wellheard, tmp_path: Path) -> None:
    (tmp_path / "a.room.yaml").mkdir()
    ended = wellheard("new", tmp_path / "a.room.yaml", "--force")
    assert ended.code == 2
    assert (tmp_path / "a.room.yaml").is_dir()
    assert [p.name for p in tmp_path.iterdir()] == ["a.room.yaml"]
