"""Plans on the command line: what is printed can be typed again, and nothing is written over."""

from __future__ import annotations

import gzip
import shlex
from collections.abc import Callable
from pathlib import Path

import pytest
from ezdxf.document import Drawing
from ezdxf.filemanagement import new as new_drawing

from wellheard.cli.app import run
from wellheard.room import codec

Drawn = Callable[..., Path]
CHAIRS = [(2000 + 700 * k, 1100) for k in range(3)]


def rectangle(made: Drawing, layer: str, x: float, y: float, wide: float, deep: float) -> None:
    made.modelspace().add_lwpolyline(
        [(x, y), (x + wide, y), (x + wide, y + deep), (x, y + deep)],
        close=True,
        dxfattribs={"layer": layer},
    )


@pytest.fixture
def drawn(tmp_path: Path) -> Drawn:
    """A room of 6 × 4.5 m with a table; where its chairs are is said by no name."""

    def draw(*, unit: int = 4, table: bool = True, chairs: str = "") -> Path:
        made = new_drawing("R2010", units=unit)
        rectangle(made, "ROOM", 0, 0, 6000, 4500)
        if table:
            rectangle(made, "TABLE", 1800, 1700, 2400, 1200)
        for x, y in CHAIRS if chairs else ():
            rectangle(made, chairs, x, y, 450, 450)
        made.saveas(tmp_path / "a floor.dxf")
        return tmp_path / "a floor.dxf"

    return draw


def next_of(printed: str) -> list[str]:
    (line,) = [one for one in printed.splitlines() if one.startswith("Next: ")]
    return shlex.split(line.removeprefix("Next: "))


def test_the_next_command_reads_the_same_plan_in_the_same_way(
    drawn: Drawn, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    plan = drawn(unit=0, chairs="Q$ 7")
    picks = ["--layer", "seat=Q$ 7"]
    assert run(["import", str(plan), "--unit", "mm", *picks]) == 0
    words = next_of(capsys.readouterr().out)
    assert words[0] == "wellheard"
    room = tmp_path / "room.yaml"
    assert run([str(room) if word == "FILE.room.yaml" else word for word in words[1:]]) == 0
    taken = codec.load(room).room
    assert len(taken.people.seats) == len(CHAIRS)
    assert taken.space.outline == ((0.0, 0.0), (6.0, 0.0), (6.0, 4.5), (0.0, 4.5))


def test_who_is_asked_for_a_unit_is_told_the_option(
    drawn: Drawn, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run(["import", str(drawn(unit=0))]) == 2
    assert "--unit mm" in capsys.readouterr().err


def test_a_layer_that_is_picked_and_not_there_is_told(
    drawn: Drawn, capsys: pytest.CaptureFixture[str]
) -> None:
    plan = drawn(chairs="CHAIRS-2")
    assert run(["import", str(plan), "--layer", "seat=CHAIRS-2", "--layer", "table=TABEL"]) == 0
    said = " ".join(capsys.readouterr().out.split())
    assert "is called TABEL" in said
    assert "is called CHAIRS-2" not in said


@pytest.mark.parametrize("seats", ["0", "-2", "101"])
def test_a_number_of_seats_that_is_none_is_refused(
    drawn: Drawn, seats: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run(["import", str(drawn()), "--room", "1", "--seats", seats]) == 2
    assert "1 to 100" in capsys.readouterr().err


@pytest.mark.parametrize(
    ("drawing", "said"),
    [
        ({"table": False}, "the 4 that were asked for have no place"),
        ({"chairs": "CHAIRS"}, "not the 4 seats that were asked for"),
    ],
)
def test_seats_that_are_asked_for_and_not_put_are_told(
    drawn: Drawn, drawing: dict[str, object], said: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run(["import", str(drawn(**drawing)), "--room", "1", "--seats", "4"]) == 0
    assert said in " ".join(capsys.readouterr().err.split())


def test_neither_the_plan_nor_the_picture_is_written_over(
    drawn: Drawn, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    plan = drawn()
    before = plan.read_bytes()
    for options in (["-o", str(plan)], ["--preview", str(plan)]):
        assert run(["import", str(plan), *options, "--force"]) == 2
        assert "one file" in capsys.readouterr().err
    assert plan.read_bytes() == before
    both = tmp_path / "both"
    assert run(["import", str(plan), "-o", str(both), "--preview", str(both)]) == 2
    assert not both.exists()


def test_a_room_that_lies_askew_is_listed_by_its_own_sides(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    made = new_drawing("R2010", units=6)
    # 7 × 5 m turned by the angle of the 3-4-5 triangle, by hand
    corners = [(0, 0), (5.6, 4.2), (2.6, 8.2), (-3.0, 4.0)]
    made.modelspace().add_lwpolyline(corners, close=True, dxfattribs={"layer": "ROOM"})
    made.saveas(tmp_path / "askew.dxf")
    assert run(["import", str(tmp_path / "askew.dxf")]) == 0
    listed = capsys.readouterr().out.replace("\N{NO-BREAK SPACE}", " ")
    assert "7.00 m × 5.00 m" in listed or "5.00 m × 7.00 m" in listed


def test_a_drawing_that_is_packed_is_to_be_unpacked(
    drawn: Drawn, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    packed = tmp_path / "plan.dxf.gz"
    packed.write_bytes(gzip.compress(drawn().read_bytes()))
    assert run(["import", str(packed)]) == 2
    assert "unpack it first" in capsys.readouterr().err
