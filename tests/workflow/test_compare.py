"""What changed between two documents, in words worked out by hand, and what it does."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from wellheard.catalog.catalogue import Catalogue
from wellheard.room import codec
from wellheard.workflow.compare import Comparison, compare
from wellheard.workflow.difference import changes
from wellheard.workflow.load import load

pytestmark = pytest.mark.usefixtures("few_rays")

SHIPPED = Catalogue.shipped()

ROOM = """\
wellheard: 1
title: Plain Room
units: m
space:
  outline: [[0, 0], [5, 0], [5, 4], [0, 4]]
  walls: [south, east, north, west]
  height: 2.7
  finishes: {floor: carpet-tile, walls: plasterboard}
people:
  seats:
    a: {at: [1.6, 2.0], facing: 0}
    b: {at: [3.4, 2.0], facing: 180}
noise: {background: {nc: 25}}
devices:
  m1: {kind: microphone, product: ceiling-head-3, at: [2.7, 2.1, 2.7]}
x-note: {paint: white}
"""

# What is written instead of what, and the sentences that it makes.
CASES = [
    ("height: 2.7", "height: 2.8", ["Ceiling height: 2.70 m → 2.80 m"]),
    ("title: Plain Room", "title: Other Room", ["Title: Plain Room → Other Room"]),
    ("at: [1.6, 2.0]", "at: [2.0, 2.1]", ["Seat a moves 0.40 m east and 0.10 m north"]),
    ("at: [2.7, 2.1, 2.7]", "at: [2.7, 2.1, 2.4]", ["Microphone m1 moves 0.30 m down"]),
    (
        "product: ceiling-head-3",
        "product: ceiling-head-6",
        ["Microphone m1, product: ceiling-head-3 → ceiling-head-6"],
    ),
    ("nc: 25", "dba: 38", ["Background noise: NC-25 → 38 dBA"]),
    (
        "    b: {at: [3.4, 2.0], facing: 180}\n",
        "",
        ["Seat b is gone"],
    ),
    (
        "people:\n",
        "people:\n  occupancy: 0.5\n",
        ["Share of seats taken: 0.7 → 0.5"],
    ),
    (
        "noise: {",
        "noise: {sources: {vent: {kind: air-outlet, at: [1, 1, 2.7], dba_at_1m: 30}}, ",
        ["Noise source vent is new: (1.00 m, 1.00 m, 2.70 m)"],
    ),
    (
        "[[0, 0], [5, 0], [5, 4], [0, 4]]",
        "[[0, 0], [5.5, 0], [5.5, 4], [0, 4]]",
        ["Outline of the room: 4 corners, 20.00 m² → 4 corners, 22.00 m²"],
    ),
    ("paint: white", "paint: grey", ["x-note.paint: white → grey"]),
    ("facing: 180", "facing: [180, 90]", ["Seat b, facing: 180 → 180, 90"]),
    # What the printed figures do not show is told all the same.
    ("at: [1.6, 2.0]", "at: [1.6002, 2.0]", ["Seat a moves by less than is printed"]),
    ("height: 2.7", "height: 2.7003", ["Ceiling height: 2.70 m, by less than is printed"]),
    (  # by hand: both are parallelograms of 5 m by 4 m
        "[[0, 0], [5, 0], [5, 4], [0, 4]]",
        "[[0, 0], [5, 0], [5.3, 4], [0.3, 4]]",
        [
            "Outline of the room: 4 corners, 20.00 m², corners up to 0.30 m from where they were",
        ],
    ),
    (
        "[[0, 0], [5, 0], [5, 4], [0, 4]]",
        "[[5, 0], [5, 4], [0, 4], [0, 0]]",
        [
            "Outline of the room: 4 corners, 20.00 m², corners in another order, or moved by less "
            "than is printed",
        ],
    ),
]


@pytest.mark.parametrize(("before", "after", "sentences"), CASES)
def test_a_change_is_told_in_words(before: str, after: str, sentences: list[str]) -> None:
    assert ROOM.count(before) == 1
    old, new = codec.parse(ROOM), codec.parse(ROOM.replace(before, after))

    assert [c.text for c in changes(old, new, SHIPPED)] == sentences


def test_a_finish_is_told_with_what_it_absorbs() -> None:
    """Carpet tile and vinyl at 500 Hz to 4 kHz, means of the printed coefficients."""
    old = codec.parse(ROOM)
    new = codec.parse(ROOM.replace("carpet-tile", "vinyl-floor"))

    def mean(finish: str) -> str:
        octaves = SHIPPED.finish(finish).absorption[2:6]
        return f"{100 * sum(octaves) / 4:.0f} %"

    (change,) = changes(old, new, SHIPPED)
    assert change.path == "space.finishes.floor"
    assert mean("carpet-tile") in change.old
    assert mean("vinyl-floor") in change.new


@pytest.mark.parametrize(
    ("before", "after"),
    [
        ("height: 2.7", "height: 270 cm"),
        ("units: m\n", "units: m   # metres\n"),
        ("facing: 0}", "facing: 0, height: 1.2}"),
        ("noise: {background: {nc: 25}}", "noise:\n  background:\n    nc: 25.0"),
    ],
)
def test_another_way_to_write_the_same_is_no_change(before: str, after: str) -> None:
    old, new = codec.parse(ROOM), codec.parse(ROOM.replace(before, after))

    assert changes(old, new, SHIPPED) == ()


def test_feet_are_told_where_the_new_document_has_feet() -> None:
    old = codec.parse(ROOM)
    feet = ROOM.replace("units: m", "units: ft").replace("height: 2.7", "height: 3 m")
    for number in ("5, 0", "5, 4", "0, 4", "1.6, 2.0", "3.4, 2.0", "2.7, 2.1, 2.7"):
        metres = ", ".join(f"{n} m" for n in number.split(", "))
        feet = feet.replace(f"[{number}]", f"[{metres}]")
    found = changes(old, codec.parse(feet), SHIPPED)

    assert [c.text for c in found] == [
        "Units of the document: m → ft",
        "Ceiling height: 8'-10¼\" → 9'-10⅛\"",
        # Nothing is written of the tiles: in feet they are taken to be 2 ft square.
        "Ceiling, module: 1'-11⅝\" × 1'-11⅝\" → 2'-0\" × 2'-0\"",
    ]


def test_a_place_is_told_as_a_place_and_a_size_as_a_size() -> None:
    picture = "furniture:\n  tv: {kind: display, wall: east, centre: [2, 1.4], size: [1.2, 0.7]}\n"
    old = codec.parse(ROOM + picture)
    new = codec.parse(ROOM + picture.replace("[2, ", "[2.5, ").replace("1.2,", "1.3,"))

    assert [c.text for c in changes(old, new, SHIPPED)] == [
        "Display tv, centre: (2.00 m, 1.40 m) → (2.50 m, 1.40 m)",
        "Display tv, size: 1.20 m × 0.70 m → 1.30 m × 0.70 m",
    ]


def test_every_change_has_its_opposite() -> None:
    for before, after, _ in CASES:
        old, new = codec.parse(ROOM), codec.parse(ROOM.replace(before, after))
        there, back = changes(old, new, SHIPPED), changes(new, old, SHIPPED)
        assert [c.path for c in there] == [c.path for c in back]
        assert [(c.old, c.new) for c in there] == [(c.new, c.old) for c in back]


@pytest.fixture
def two(tmp_path: Path) -> Callable[[str, str], Comparison]:
    def made(before: str, after: str) -> Comparison:
        old, new = tmp_path / "old.room.yaml", tmp_path / "new.room.yaml"
        old.write_text(ROOM, encoding="utf-8")
        new.write_text(ROOM.replace(before, after), encoding="utf-8")
        return compare(load(old), load(new))

    return made


def test_more_noise_takes_the_promise_away(two: Callable[[str, str], Comparison]) -> None:
    """Speech 20 dB over noise is the trade's wish [C]; NC-60 in a meeting room is beyond any."""
    found = two("nc: 25", "nc: 60")

    assert found.worse
    assert found.before.kept == 2
    assert found.after.kept == 0
    assert {s.id for s in found.seats if s.lost} == {"a", "b"}
    assert "target-missed-noise" in [f.code for f in found.new_findings]
    assert found.gone_findings == ()


def test_less_noise_is_not_worse(two: Callable[[str, str], Comparison]) -> None:
    found = two("nc: 25", "nc: 20")

    assert not found.worse
    for seat in found.seats:
        assert seat.before is not None
        assert seat.after is not None
        assert seat.after.chance >= seat.before.chance


def test_a_seat_that_is_gone_is_told_but_not_lost(two: Callable[[str, str], Comparison]) -> None:
    found = two("    b: {at: [3.4, 2.0], facing: 180}\n", "")

    assert not found.worse
    (gone,) = [s for s in found.seats if s.id == "b"]
    assert gone.after is None


def test_the_same_document_moves_nothing(two: Callable[[str, str], Comparison]) -> None:
    found = two("title: Plain Room", "title: Same Room")

    assert found.seats == ()
    assert found.before == found.after


def test_what_the_print_does_not_show_is_marked() -> None:
    old = codec.parse(ROOM)
    new = codec.parse(ROOM.replace("at: [1.6, 2.0]", "at: [1.6001, 2.0]"))

    assert [c.slight for c in changes(old, new, SHIPPED)] == [True]
