"""Runs of cable worked out by hand; the sum stands beside each.

What cable does at its ends is common practice, no source [C]: it lies up to 0.15 m above the
ceiling, comes straight down at a wall, follows the foot of the walls between two of them, goes
under the floor to a table; 3 m are spare at a ceiling device and 1 m at every other end.
"""

from __future__ import annotations

import itertools
import math
from typing import Any

import numpy as np
import pytest
import shapely

from wellheard.catalog import labour
from wellheard.catalog.catalogue import Catalogue
from wellheard.errors import CatalogError
from wellheard.room.document import Room
from wellheard.room.links import Link
from wellheard.schedules.runs import CableRun, Runs, cost, work_on

HEAD = {"kind": "microphone", "product": "ceiling-head-3"}
TABLE = {"kind": "table", "outline": [[2, 1.5], [5, 1.5], [5, 2.5], [2, 2.5]]}
BASE: dict[str, Any] = {
    "wellheard": 1,
    "space": {
        "outline": [[0, 0], [8, 0], [8, 5], [0, 5]],
        "walls": ["south", "east", "north", "west"],
        "height": 2.7,
        "ceiling": {"kind": "tiles", "void_depth": 0.5},
    },
    "furniture": {
        "table": TABLE,
        "picture": {"kind": "display", "wall": "north", "centre": [4, 1.4], "size": [1.6, 0.9]},
    },
    "people": {"seats": {"s1": {"at": [3, 1], "facing": 90}}},
    "equipment": {
        "rack": {"kind": "rack", "at": [7.5, 0.5, 0.6]},
        "box": {"kind": "table-box", "at": [3, 2, 0.74]},
        "plate": {"kind": "wall-plate", "at": [0, 3, 0.3]},
    },
    "devices": {
        "m1": {**HEAD, "at": [3, 3, 2.4]},
        "m2": {**HEAD, "at": [5, 3, 2.4]},
        "t1": {"kind": "microphone", "product": "table-boundary", "at": [4, 2, 0.75]},
        "mixer": {"kind": "processor", "product": "bridge-2", "equipment": "rack"},
        "other": {"kind": "processor", "product": "bridge-2", "equipment": "rack"},
        "lost": {"kind": "processor", "product": "bridge-2"},
    },
}


def _runs(**over: Any) -> Runs:
    data = {**BASE, **over}
    if "space" in over:
        data["space"] = {**BASE["space"], **over["space"]}
    return Runs(Room.model_validate(data), Catalogue.shipped())


def _ceiling(**ceiling: Any) -> dict[str, Any]:
    return {"space": {"ceiling": ceiling}}


ENTRY = {"equipment": {**BASE["equipment"], "down": {"kind": "entry", "at": [0, 0.5, 2.7]}}}
# name: (over, one, other, along, rises, loop, in void, in floor, in wall, bends)
BY_HAND: dict[str, tuple[Any, ...]] = {
    # Up 0.3 + 0.15; along 4.5 + 2.5; down 2.7 + 0.15 − 0.6.
    "head to rack": ({}, "m1.link", "mixer.mic-1", 7.0, 2.7, 4.0, 7.45, 0.0, 2.25, 3),
    # Up and down 0.45, along 2.
    "head to head": ({}, "m1.link", "m2.link", 2.0, 0.9, 6.0, 2.9, 0.0, 0.0, 2),
    # Half of a shallow void, 0.1 m, is lower than 0.15 m.
    "shallow void": (
        _ceiling(kind="tiles", void_depth=0.2),
        *("m1", "rack", 7.0, 2.6, 4.0, 7.4, 0.0, 2.2, 3),
    ),
    "void of unknown depth": (
        _ceiling(kind="tiles"),
        *("m1", "rack", 7.0, 2.7, 4.0, 7.45, 0.0, 2.25, 3),
    ),
    # On the face of the ceiling nothing is in a void: 0.3 + 7.0 + 2.1, all of it on surfaces.
    "hard ceiling": (
        _ceiling(kind="hard"),
        *("m1", "rack", 7.0, 2.4, 4.0, 0.0, 0.0, 9.4, 3),
    ),
    "hard ceiling with a void": (
        _ceiling(kind="hard", void_depth=0.5),
        *("m1", "rack", 7.0, 2.7, 4.0, 7.45, 0.0, 2.25, 3),
    ),
    "open ceiling": (
        _ceiling(kind="open"),
        *("m1", "rack", 7.0, 2.4, 4.0, 7.3, 0.0, 2.1, 3),
    ),
    # Down 0.75, along 3.5 + 1.5, up 0.6.
    "table to rack": ({}, "t1.link", "mixer.mic-1", 5.0, 1.35, 2.0, 0.0, 5.75, 0.6, 3),
    # Up 0.45; 3 m to the south wall, which is nearest to the box (2.0 of 2.0, 3.0, 3.0 and 5.0
    # m); down 2.85; 2 m under the floor, up 0.74.
    "head to table box": ({}, "m1", "box", 5.0, 4.04, 4.0, 3.45, 2.74, 2.85, 4),
    # With an entry: 3 + 2.5 m to it; down 2.85; 3 + 1.5 m under the floor; up 0.74.
    "head to table box by the entry": (
        ENTRY,
        *("m1", "box", 10.0, 4.04, 4.0, 5.95, 5.24, 2.85, 6),
    ),
    # The rack is 7.5 m from the entry: 3 + 2.5 m in the void, down 2.85, to the wall and along
    # it: 0.0 + 0.5 + 7.5 to the foot below the rack and 0.5 m out to it; up 0.6.
    "head to rack by the entry": (
        ENTRY,
        *("m1", "rack", 14.0, 3.9, 4.0, 5.95, 0.0, 11.95, 7),
    ),
    # Rack and picture: 0.5 m to the nearest wall, east, 4.5 m and 4 m along it, down 0.6, up 1.4.
    "rack to picture along the walls": (
        {},
        *("mixer.hdmi", "picture", 9.0, 2.0, 2.0, 0.0, 0.0, 11.0, 4),
    ),
    # From plate to rack the walls are 3 + 7.5 + 0.5 m (and 0.3 + 0.6), the void 7.5 + 2.5 m, up
    # 2.55 and down 2.25: 11.9 m against 14.8 m.
    "plate to rack": ({}, "plate", "rack", 11.0, 0.9, 2.0, 0.0, 0.0, 11.9, 4),
    # In one rack, and on one table: 1 m along its top and 0.01 m up.
    "in one rack": ({}, "mixer.line-out-1", "other.line-in-1", 0.0, 0.0, 1.0, 0.0, 0.0, 0.0, 0),
    "on one table": ({}, "t1", "box", 1.0, 0.01, 1.0, 0.0, 0.0, 0.0, 1),
}


@pytest.mark.parametrize("name", BY_HAND)
def test_a_run_is_as_long_as_by_hand(name: str) -> None:
    over, one, other, along, rises, loop, void, floor, wall, bends = BY_HAND[name]
    found = _runs(**over).run(one, other)
    figures = (found.along, found.rises, found.loop, found.in_void, found.in_floor, found.in_wall)
    assert figures == pytest.approx((along, rises, loop, void, floor, wall), abs=1e-6)
    assert found.bends == bends
    assert found.length == pytest.approx(along + rises + loop)


@pytest.mark.parametrize("name", BY_HAND)
def test_a_route_is_as_long_as_its_figures_say_and_the_same_both_ways(name: str) -> None:
    over, one, other, *_ = BY_HAND[name]
    runs = _runs(**over)
    there, back = runs.run(one, other), runs.run(other, one)
    walked = sum(math.dist(a, b) for a, b in itertools.pairwise(there.route))
    assert walked == pytest.approx(there.along + there.rises, abs=1e-6)
    assert there.route[0] == runs.ends.end(one).at
    assert there.route[-1] == runs.ends.end(other).at
    assert back.length == there.length
    assert back.route == there.route[::-1]


def test_round_the_corner_of_a_concave_room_and_round_its_duct() -> None:
    """L of 8 × 5 m without its north-east 4 × 2.5 m; by hand 3 m south, 5 m east round its corner.

    The duct lies across from the south wall up to 1.5 m, 0.2 m are kept free: the way passes it
    at y = 1.7, where it goes anyway between 2.5 (the corner) and 0.5 (the rack).
    """
    corners = [[0, 0], [8, 0], [8, 2.5], [4, 2.5], [4, 5], [0, 5]]
    space = {"outline": corners, "walls": list("abcdef")}
    duct: dict[str, Any] = {
        "kind": "duct",
        "outline": [[5, 0], [5.5, 0], [5.5, 1.5], [5, 1.5]],
        "clearance": 0.2,
    }
    devices = {**BASE["devices"], "m1": {**HEAD, "at": [2.5, 3.5, 2.4]}}
    del devices["m2"]
    furniture = {"table": TABLE}
    found = _runs(space=space, devices=devices, furniture=furniture, overhead={"duct": duct}).run(
        "m1", "rack"
    )
    assert found.along == pytest.approx(3.0 + 5.0)
    line = shapely.LineString([(x, y) for x, y, _ in found.route])
    assert shapely.Polygon(np.array(corners)).buffer(1e-6).covers(line)
    assert line.distance(shapely.box(5, 0, 5.5, 1.5)) >= 0.2 - 1e-6
    assert found.assumed == ()


def test_through_a_beam_from_wall_to_wall_the_run_says_so() -> None:
    beam = {"kind": "beam", "outline": [[5, 0], [5.3, 0], [5.3, 5], [5, 5]], "clearance": 0.1}
    found = _runs(overhead={"beam": beam}).run("m1", "rack")
    assert found.along == pytest.approx(7.0)
    assert ["beam" in text for text in found.assumed] == [True]


def test_a_run_that_has_to_come_nearer_than_a_clearance_says_so() -> None:
    """A duct 0.1 m short of both walls, with 0.2 m to be kept free: 3 m to the gap and back."""
    duct = {
        "kind": "duct",
        "outline": [[5, 0.1], [5.3, 0.1], [5.3, 4.9], [5, 4.9]],
        "clearance": 0.2,
    }
    found = _runs(overhead={"duct": duct}).run("m1", "rack")
    assert found.along == pytest.approx(4.5 + 2.9 + 0.4)
    assert ["keeps clear" in text and "duct" in text for text in found.assumed] == [True]


def test_what_hangs_below_the_ceiling_is_in_no_cables_way() -> None:
    """A partition's track and a projector reach from wall to wall, below the void."""
    track = {"kind": "other", "outline": [[5, 0], [5.3, 0], [5.3, 5], [5, 5]], "clearance": 0.2}
    found = _runs(overhead={"track": track}).run("m1", "rack")
    assert found.along == pytest.approx(7.0)
    assert found.assumed == ()


def test_unknown_void_depth_and_a_surface_run_are_said() -> None:
    assert any(
        "depth" in text for text in _runs(**_ceiling(kind="tiles")).run("m1", "rack").assumed
    )
    assert any(
        "surface" in text for text in _runs(**_ceiling(kind="hard")).run("m1", "rack").assumed
    )
    assert _runs().run("m1", "rack").assumed == ()


@pytest.mark.parametrize("end", ["lost.mic-1", "ghost.mic-1"])
def test_without_a_place_there_is_no_length_but_a_reason(end: str) -> None:
    found = _runs().run("m1.link", end)
    assert (found.length, found.cut_length, found.route) == (None, None, ())
    assert found.how == f"{end.partition('.')[0]} has no place"


def test_a_cord_lies_straight_and_has_no_spare() -> None:
    """3-4-5 on the plan: from (3, 2) to (7.5, 0.5) it is √(4.5² + 1.5² + 0.14²)."""
    found = _runs().run("box", "rack", cord=True)
    assert found.length == pytest.approx(math.sqrt(4.5**2 + 1.5**2 + 0.14**2))
    assert found.loop == 0


def test_what_a_link_states_goes_before_any_estimate() -> None:
    runs = _runs()
    stated = Link.model_validate({"from": "m1.link", "to": "lost.mic-1", "length": 12.2})
    assert (runs.of_link(stated).length, runs.of_link(stated).cut_length) == (12.2, 12.5)
    # 0.5 up, 4 along, 2.25 down, spare 3 + 1.
    route = [[3, 3, 2.4], [3, 3, 2.9], [7, 3, 2.9], [7, 3, 0.65]]
    routed = Link.model_validate({"from": "m1.link", "to": "mixer.mic-1", "route": route})
    found = runs.of_link(routed)
    assert found.length == pytest.approx(0.5 + 4 + 2.25 + 4)
    assert (found.along, found.in_void, found.bends) == (4.0, 4.5, 2)


def test_a_cord_of_a_link_is_as_long_as_it_is_sold() -> None:
    cord = Link.model_validate({"from": "t1.usb", "to": "box.usb", "cable": "usb-cord-5"})
    assert _runs().of_link(cord).length == 5.0


def test_relaxed_loops_are_none() -> None:
    rules = {"service-loop": {"relaxed": True, "because": "fixed furniture"}}
    found = _runs(targets={"house_rules": rules}).run("m1", "rack")
    assert found.loop == 1.0


def test_cable_is_cut_to_half_metres_or_whole_feet() -> None:
    """7.0 + 2.7 + 4.0 = 13.7 m are cut at 14 m; in feet 44.95 ft at 45 ft."""
    assert _runs().run("m1", "rack").cut_length == pytest.approx(14.0)
    text = _feet(BASE)
    found = Runs(Room.model_validate(text), Catalogue.shipped()).run("m1", "rack")
    assert found.length == pytest.approx(13.7)
    assert found.cut_length == pytest.approx(45 * 0.3048)
    assert "13'-1\"" in found.how  # 4 m of spare cable are 157.5 in, told in whole ones


def _feet(data: dict[str, Any]) -> dict[str, Any]:
    """The same document with every length as text of metres, declared in feet."""

    def said(value: Any) -> Any:
        if isinstance(value, dict):
            return {k: said(v) if k not in ("facing", "wellheard") else v for k, v in value.items()}
        if isinstance(value, list):
            return [said(one) for one in value]
        return f"{value} m" if isinstance(value, int | float) else value

    return {**said(data), "units": "ft"}


def test_an_exact_step_is_not_rounded_up() -> None:
    run = CableRun(((0, 0, 0), (1, 0, 0)), 8.1, 1.4, 3.0, 8.1, 0.0, 1.4, 1, "")
    assert run.length == pytest.approx(12.5)
    assert run.cut_length == 12.5


def test_a_run_costs_its_cable_and_its_work() -> None:
    """By hand for 7.45 m of void and 2.25 m of wall, cut at 14 m, at the rates of the table.

    Twisted pair 10 + 14 × 0.80 = 21.20, with a plenum jacket 0.90 more a metre: 33.80. Work at 58
    an hour: 8 min to prepare, 2 × 9 min at its ends, 7.45 × 1.5 and 2.25 × 4 min to pull: 46.175
    min, 44.64.
    """
    run = _runs().run("m1", "rack")
    cable = Catalogue.shipped().cable("twisted-pair")
    minutes = 8 + 2 * 9 + 7.45 * 1.5 + 2.25 * 4
    assert minutes == pytest.approx(46.175)
    assert cost(cable, run, None, labour.shipped()) == pytest.approx(21.20 + 44.64, abs=0.006)
    assert cost(cable, run, "plenum", labour.shipped()) == pytest.approx(33.80 + 44.64, abs=0.006)
    assert dict(work_on(cable, run)) == pytest.approx(
        {"prepare": 1, "terminate": 2, "pull-void": 7.45, "pull-wall": 2.25}
    )
    with pytest.raises(CatalogError, match="jacket"):
        cost(Catalogue.shipped().cable("usb-cord-5"), run, "plenum", labour.shipped())


def test_a_cord_costs_itself_and_is_plugged_in_twice() -> None:
    cable = Catalogue.shipped().cable("usb-cord-5")
    run = _runs().run("t1", "box", cord=True)
    assert cost(cable, run, None, labour.shipped()) == pytest.approx(
        cable.price + 2 * 2 / 60 * 58, abs=0.006
    )


def test_an_unknown_run_costs_nobody_knows_what() -> None:
    run = _runs().run("m1", "lost")
    cable = Catalogue.shipped().cable("twisted-pair")
    assert cost(cable, run, None, labour.shipped()) is None
    assert list(work_on(cable, run)) == []


def test_a_cable_that_is_written_as_it_was_worked_out_still_says_how_it_runs() -> None:
    runs = _runs()
    worked = runs.run("m1.link", "mixer.mic-1")
    corners = [list(corner) for corner in worked.route]
    stated = {"from": "m1.link", "to": "mixer.mic-1", "length": worked.length}
    for route in (corners, corners[::-1]):
        found = runs.of_link(Link.model_validate({**stated, "route": route}))
        assert (found.how, found.stated) == (worked.how, worked.length)
    assert worked.length is not None
    longer = Link.model_validate({**stated, "length": worked.length + 1.0})
    assert runs.of_link(longer).how == "as stated"
