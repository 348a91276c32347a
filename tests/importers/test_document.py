"""A found room to a document: every value by hand, nothing lost without a word."""

from __future__ import annotations

from dataclasses import replace
from typing import get_args

import pytest

from wellheard import tables
from wellheard.cad import Role
from wellheard.catalog.catalogue import Catalogue
from wellheard.errors import CatalogError, InputError
from wellheard.importers.document import taken_over
from wellheard.importers.draft import Settled
from wellheard.importers.found import (
    FoundDevice,
    FoundGrid,
    FoundOpening,
    FoundPlan,
    FoundRoom,
    FoundSeat,
    FoundThing,
    Ring,
)
from wellheard.importers.materials import HEAD, Surface, finish_of, own_table, plain
from wellheard.room import codec
from wellheard.room.furniture import Display, Table
from wellheard.workflow.load import load_text

OUTLINE = ((0.0, 0.0), (6.4, 0.0), (6.4, 4.6), (0.0, 4.6))
PLAN = FoundPlan("by hand", "mm", "the file", (), ())
PRODUCTS = frozenset({"ceiling-head-3"})


def box(x0: float, y0: float, x1: float, y1: float) -> Ring:
    return ((x0, y0), (x1, y0), (x1, y1), (x0, y1))


TABLE = FoundThing("table", box(1.6, 1.7, 4.8, 2.9), (3.2, 2.3), top=0.72)
FULL = FoundRoom(
    "1",
    "Tide Room",
    OUTLINE,
    "by hand",
    height=2.75,
    ceiling_kind="tiles",
    grid=FoundGrid((0.6, 1.2), (0.2, 0.1), 90.0),
    openings=(
        FoundOpening("window", 1, 0.6, 3.8, 0.9, 2.4),
        FoundOpening("door", 3, 0.2, 1.1),
        FoundOpening("door", 3, 0.9, 1.8),
        FoundOpening("window", 2, 6.38, 8.0),
    ),
    things=(
        TABLE,
        FoundThing("display", box(0.0, 1.5, 0.08, 3.1), (0.04, 2.3), bottom=0.95, top=1.85),
        FoundThing("display", box(6.39, 1.5, 6.4, 1.51), (6.395, 1.505)),
        FoundThing("luminaire", box(2.6, 2.2, 3.8, 2.4), (3.2, 2.3), bottom=2.75),
        FoundThing("air-outlet", box(1.0, 0.6, 1.6, 1.2), (1.3, 0.9)),
        FoundThing("column", box(5.8, 4.0, 6.2, 4.4), (6.0, 4.2), material="Sichtbeton"),
        FoundThing("rack", box(5.8, 0.1, 6.3, 0.6), (6.05, 0.35)),
        FoundThing("soft-seating", box(8.0, 0.1, 9.0, 0.6), (8.5, 0.35), name="lobby sofa"),
        FoundThing("cable", box(1.0, 1.0, 2.0, 1.1), (1.5, 1.05)),
    ),
    seats=(FoundSeat((2.0, 1.4), 90.0, "s7"), FoundSeat((2.9, 1.4)), FoundSeat((9.0, 1.4))),
    devices=(
        FoundDevice("microphone", (1.7, 2.2, 2.4), "m1", "ceiling-head-3"),
        FoundDevice("microphone", (2.7, 2.2, 2.4), "m2", "of-another-maker"),
    ),
    materials={
        "floor": "Carpet tile 500",
        "ceiling": "Abgehängte Decke",
        "walls": "Plasterboard partition",
        "wall 1": "Curtain wall glazing, clear glass",
        "wall 2": "Unobtainium",
    },
)


def test_a_whole_room_is_what_the_plan_says() -> None:
    taken = taken_over(PLAN, FULL, Settled(), products=PRODUCTS)
    room = taken.room
    assert room == codec.parse(taken.text)
    assert room.title == "Tide Room"
    assert room.units == "m"
    assert room.space.outline == OUTLINE
    assert room.space.walls == ("south", "east", "north", "west")
    assert room.space.height == 2.75
    assert room.space.ceiling.module == (0.6, 1.2)
    assert room.space.ceiling.origin == (0.2, 0.1)
    # a quarter turn is left out, as the module is square to it
    assert set(room.space.finishes.patches) == {"window", "door"}
    window = room.space.finishes.wall_patches["window"]
    assert (window.wall, window.from_, window.to, window.bottom, window.top) == (
        "east", 0.6, 3.8, 0.9, 2.4,
    )  # fmt: skip
    table = room.furniture["table"]
    assert isinstance(table, Table)
    assert table.height == 0.72
    picture = room.furniture["picture"]
    assert isinstance(picture, Display)
    assert picture.wall == "west"
    assert picture.centre == pytest.approx((2.3, 1.4))  # 4.6 − 2.3 along the wall from its corner
    assert picture.size == pytest.approx((1.6, 0.9))
    assert room.overhead["lamp"].bottom is None  # at the ceiling
    assert room.noise.sources["vent"].at == (1.3, 0.9, 2.75)
    assert room.space.obstacles["column"].finish == "concrete"
    assert room.equipment["rack"].kind == "rack"
    assert set(room.people.seats) == {"s7", "s1"}
    assert room.people.seats["s7"].facing == (90.0,)
    assert room.people.seats["s1"].facing == ("across",)
    assert room.devices["m1"].at == (1.7, 2.2, 2.4)
    assert set(room.devices) == {"m1"}
    assert room.space.finishes.floor == "carpet-tile"
    assert room.space.finishes.ceiling == "ceiling-mineral-tile"


def test_walls_have_their_own_finish_the_common_one_or_the_usual_one() -> None:
    walls = taken_over(PLAN, FULL, Settled(), products=PRODUCTS).room.space.finishes.walls
    assert walls == {
        "south": "plasterboard",
        "east": "curtain",  # the first row with one of the words
        "north": "plasterboard",
        "west": "plasterboard",
    }


def test_what_is_left_is_reported_with_its_reason() -> None:
    taken = taken_over(PLAN, FULL, Settled(), products=PRODUCTS)
    left = {(one.what, one.where): one.why for one in taken.report if not one.taken}
    assert left[("door", "wall west")] == "overlaps another opening"
    assert left[("window", "wall north")] == "not on its wall"
    assert left[("cable", "")] == "not part of a room document"
    assert left[("microphone", "m2")] == "of-another-maker: not in the catalogue"
    assert "outside" in left[("s2", "people.seats")]
    assert left[("sofa", "furniture")] == "the soft leaves the room by 2.60 m"
    assert taken.unknown == (("Unobtainium", "walls"),)


def test_what_is_assumed_is_said_and_entered_as_assumed() -> None:
    taken = taken_over(PLAN, FULL, Settled(), products=PRODUCTS)
    said = " ".join(taken.assumed)
    assert "Nobody has said how loud vent is: 30 dBA at 1 m is taken." in taken.assumed
    assert "The plan has no heights of door: from 0.00 m to 2.10 m above the floor" in said
    basis = taken.room.basis
    assert basis["space.outline"] == basis["space.height"] == basis["people.seats"] == "drawing"
    assert basis["noise.sources.vent"] == "assumed"
    assert basis["space.finishes.patches.door"] == "assumed"
    assert basis["space.finishes.floor"] == "assumed"


def test_every_document_is_one_that_the_rest_of_the_tool_reads() -> None:
    for settled in (Settled(), Settled(units="ft"), Settled(height=3.0), Settled(title="Other")):
        taken = taken_over(PLAN, FULL, settled, products=PRODUCTS)
        loaded = load_text(taken.text, "plan.room.yaml")
        for corner, drawn in zip(loaded.room.space.outline, OUTLINE, strict=True):
            assert corner == pytest.approx(drawn, abs=1e-9)


def test_a_plan_in_inches_is_a_document_in_feet() -> None:
    plan = replace(PLAN, unit="in")
    outline = box(0.0, 0.0, 20 * 0.3048, 14 * 0.3048)
    room = FoundRoom("1", "", outline, "by hand", things=(replace(TABLE, top=None),))
    taken = taken_over(plan, room, Settled(), products=())
    assert taken.room.units == "ft"
    assert "[20, 0], [20, 14]" in taken.text
    assert "The plan does not say how high the room is: 9'-0\" is taken." in taken.assumed
    assert taken.room.space.height == pytest.approx(9 * 0.3048)
    assert taken.room.basis["space.height"] == "assumed"


def test_a_table_without_chairs_gets_as_many_as_it_has_room_for_or_as_are_told() -> None:
    room = replace(FULL, seats=())
    # 3.2 m at 0.75 m a person is four a side, 1.2 m is one an end
    assert len(taken_over(PLAN, room, Settled(), products=()).room.people.seats) == 10
    told = taken_over(PLAN, room, Settled(seats=6), products=())
    assert len(told.room.people.seats) == 6
    assert told.room.basis["people.seats"] == "assumed"
    assert not told.room.people.standing


def test_where_nobody_could_sit_somebody_stands_half_a_metre_off_the_walls() -> None:
    room = FoundRoom("1", "", OUTLINE, "by hand")
    taken = taken_over(PLAN, room, Settled(), products=())
    assert set(taken.room.people.standing) == {"anywhere"}
    (area,) = (area.outline for area in taken.room.people.standing.values())
    assert sorted(area) == [(0.5, 0.5), (0.5, 4.1), (5.9, 0.5), (5.9, 4.1)]
    assert "Enter the seats." in taken.assumed[-1]


def test_kinds_are_left_out_where_asked() -> None:
    without: frozenset[Role] = frozenset({"seat", "luminaire", "grid", "window", "microphone"})
    room = taken_over(PLAN, FULL, Settled(without=without), products=PRODUCTS).room
    assert not room.overhead
    assert not room.devices
    assert "window" not in room.space.finishes.patches
    assert room.space.ceiling.module == (0.6, 0.6)
    assert room.basis["people.seats"] == "assumed"  # now round the table


def test_an_outline_that_can_be_no_room_is_refused_with_its_place() -> None:
    bow = FoundRoom("2", "", ((0, 0), (4, 3), (4, 0), (0, 3)), "closed outline on A-AREA")
    with pytest.raises(InputError, match=r"room 2 \(closed outline on A-AREA\) can be no room"):
        taken_over(PLAN, bow, Settled(), products=())


def test_every_finish_that_words_lead_to_is_in_the_catalogue() -> None:
    known = {finish.id for finish in Catalogue.shipped().finishes}
    rows = tables.load("import_materials").rows
    assert {row["finish"] for row in rows} <= known
    assert {row["surface"] for row in rows} <= {"any", *get_args(Surface)}


def test_a_room_of_ours_keeps_what_it_says_of_itself() -> None:
    own = replace(
        FULL,
        owned=True,
        things=(
            FoundThing("soft-seating", box(0.2, 0.2, 1.4, 0.6), (0.8, 0.4), kind="cupboard"),
            FoundThing("keep-out", box(3.0, 0.1, 3.3, 4.5), (3.15, 2.3), kind="beam"),
            FoundThing("keep-out", box(4.0, 0.1, 4.3, 0.5), (4.15, 0.3), kind="fairy"),
        ),
        devices=(
            FoundDevice(
                "microphone", (1.7, 2.2, 2.4), "m1", "ceiling-head-3", "", "combined", 180.0, 30.0
            ),
        ),
        openings=(FoundOpening("window", 1, 0.6, 3.8, 0.9, 2.4, "blinds"),),
        materials={"floor": "carpet-heavy", "wall 1": "glass-front", "wall 2": "Unobtainium"},
        wall_names=("a", "b", "c", "d"),
        void_depth=0.45,
    )
    known = ("carpet-heavy", "glass-front", "blinds")
    taken = taken_over(PLAN, own, Settled(), products=PRODUCTS, finishes=known)
    room = taken.room
    assert room.space.walls == ("a", "b", "c", "d")
    assert room.space.ceiling.void_depth == 0.45
    assert room.space.finishes.floor == "carpet-heavy"
    assert room.space.finishes.walls == {"b": "glass-front"}
    assert room.space.finishes.wall_patches["window"].finish == "blinds"
    assert room.furniture["cupboard"].kind == "cupboard"
    assert [one.kind for one in room.overhead.values()] == ["beam", "other"]
    device = room.devices["m1"]
    assert (device.kind, device.aim_deg, device.rotation_deg) == ("combined", 180.0, 30.0)
    assert not any("carpet-heavy" in said for said in taken.assumed)
    assert room.basis["space.finishes.floor"] == "drawing"
    # of a stranger the same words are words
    strange = taken_over(
        PLAN, replace(own, owned=False), Settled(), products=PRODUCTS, finishes=known
    )
    assert "space.finishes.floor" in strange.room.basis
    assert strange.room.basis["space.finishes.floor"] == "assumed"


@pytest.mark.practice
@pytest.mark.parametrize(
    ("material", "surface", "finish"),
    [
        ("Gips-Lochplatte 12/25", "ceiling", "ceiling-perforated-gypsum"),
        ("Gipskarton abgehängt", "ceiling", "ceiling-mineral-tile"),
        ("Placoplâtre BA13", "walls", "plasterboard"),
        ("Placoplâtre BA13", "ceiling", "ceiling-plasterboard"),
        ("Oak timber strip", "floor", "wood-floor"),
        ("Oak timber veneer", "walls", "wood-panel"),
        ("Hormigón visto", "walls", "concrete"),
        ("MOQUETTE EN DALLES", "floor", "carpet-tile"),
        ("Concrete, Cast In Situ", "floor", "concrete-floor"),
        ("Vetro temperato", "walls", "glass-front"),
        ("Metal - Stud Layer, Plasterboard", "ceiling", "ceiling-plasterboard"),
        ("Kalksandstein 2 DF", "walls", "smooth-brickwork-flush-pointing"),
        ("xyzzy", "floor", None),
    ],
)
def test_words_for_materials_lead_where_an_engineer_would_look(
    material: str, surface: Surface, finish: str | None
) -> None:
    assert finish_of(material, surface, {}) == finish


def test_a_table_of_ones_own_comes_first(tmp_path_factory: pytest.TempPathFactory) -> None:
    path = tmp_path_factory.mktemp("own") / "mine.csv"
    path.write_text("Finish;Material\nwood-panel;Unobtainium\n;\ncurtain;  Oak  TIMBER \n")
    own = own_table(path, ["wood-panel", "curtain"])
    assert own == {"unobtainium": "wood-panel", "oak timber": "curtain"}
    assert finish_of("Oak timber", "floor", own) == "curtain"
    taken = taken_over(PLAN, FULL, Settled(finishes=own), products=PRODUCTS)
    assert taken.unknown == ()
    assert isinstance(taken.room.space.finishes.walls, dict)
    assert taken.room.space.finishes.walls["north"] == "wood-panel"


def test_a_table_with_faults_names_each_line(tmp_path_factory: pytest.TempPathFactory) -> None:
    path = tmp_path_factory.mktemp("own") / "mine.csv"
    path.write_text("material,finish\noak,no-such\n")
    with pytest.raises(CatalogError, match=r"mine\.csv:2:5: oak: no finish 'no-such'"):
        own_table(path, ["wood-panel"])
    path.write_text("stuff,finish\noak,wood-panel\n")
    with pytest.raises(CatalogError, match=f"a first line with {' and '.join(HEAD)}"):
        own_table(path, ["wood-panel"])


def test_case_blanks_and_composed_letters_make_no_difference() -> None:
    assert plain("  BE\u0301TON\u00a0BRUT ") == "béton brut"
