"""The invented floor: its script draws it, and what is read is what was drawn, by hand."""

from __future__ import annotations

import importlib.util
import subprocess
import sys
from pathlib import Path
from types import ModuleType

import pytest

from wellheard.importers.found import FoundPlan, FoundRoom
from wellheard.room.furniture import Table
from wellheard.workflow.importing import Asked, look, take

FOLDER = Path(__file__).parents[2] / "examples"
PLAN = FOLDER / "level-two.dxf"


@pytest.fixture(scope="module")
def drawn() -> ModuleType:
    spec = importlib.util.spec_from_file_location("level_two", FOLDER / "level_two.py")
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    # Compiled, it would leave a folder among the examples.
    with pytest.MonkeyPatch.context() as patched:
        patched.setattr(sys, "dont_write_bytecode", True)
        spec.loader.exec_module(module)
    return module


@pytest.fixture(scope="module")
def plan() -> FoundPlan:
    return look(PLAN, Asked()).plan


def room(plan: FoundPlan, name: str) -> FoundRoom:
    return next(one for one in plan.rooms if one.name == name)


def test_the_script_draws_the_file_that_is_here(tmp_path: Path) -> None:
    fresh = tmp_path / "fresh.dxf"
    subprocess.run([sys.executable, str(FOLDER / "level_two.py"), str(fresh)], check=True)
    assert fresh.read_bytes() == PLAN.read_bytes()


@pytest.mark.parametrize(
    ("name", "sides", "height", "chairs"),
    [
        ("Meeting 2.01", "MEETING", 2.7, 10),
        ("Focus 2.02", "FOCUS", 2.7, 2),
        ("Corridor", "CORRIDOR", 2.5, 0),
    ],
)
def test_every_room_is_as_large_as_it_was_drawn(
    plan: FoundPlan, drawn: ModuleType, name: str, sides: str, height: float, chairs: int
) -> None:
    x0, y0, x1, y1 = (side / 1000 for side in getattr(drawn, sides))
    found = room(plan, name)
    assert len(found.outline) == 4
    assert found.area == pytest.approx((x1 - x0) * (y1 - y0), abs=1e-6)
    assert found.height == pytest.approx(height)
    assert len(found.seats) == chairs


def test_the_meeting_room_comes_over_whole(plan: FoundPlan) -> None:
    taken = take(plan, "Meeting 2.01")
    made = taken.room
    assert made.space.outline == ((0, 0), (7.2, 0), (7.2, 4.8), (0, 4.8))
    assert made.space.ceiling.module == (0.6, 0.6)
    assert made.space.ceiling.origin[0] % 0.6 == pytest.approx(0.3)
    table = made.furniture["table"]
    assert isinstance(table, Table)
    assert table.outline == ((1.9, 1.8), (5.3, 1.8), (5.3, 3.0), (1.9, 3.0))
    # below the table people face north, above it south, at its ends east and west
    facing = {
        seat.facing[0]: sum(s.facing == seat.facing for s in made.people.seats.values())
        for seat in made.people.seats.values()
    }
    assert facing == {90.0: 4, 270.0: 4, 0.0: 1, 180.0: 1}
    patches = made.space.finishes.wall_patches
    window, door = patches["window"], patches["door"]
    assert (window.wall, window.from_, window.to) == ("south", 1.8, 5.4)
    # the door is 0.6–1.5 m from the west wall; the north wall runs from the east
    assert door.wall == "north"
    assert (door.from_, door.to) == pytest.approx((5.7, 6.6))
    assert len(made.overhead) == 4
    assert {one.at[:2] for one in made.noise.sources.values()} == {(1.2, 2.4), (6.6, 2.4)}


def test_what_was_drawn_twice_is_told_once(plan: FoundPlan) -> None:
    counts = {one.what: one.count for one in plan.report if one.taken}
    assert counts["air outlets"] == 2  # each a square with a round neck in it
    assert counts["windows"] == 1  # three lines
    assert counts["doors"] == 2  # each in the walls of two rooms
