"""Two changes are brought together whatever units they are written in, or say where they differ."""

from __future__ import annotations

import pytest

from wellheard.catalog.catalogue import Catalogue
from wellheard.room import codec
from wellheard.room.document import Room
from wellheard.workflow.merging import Conflict, clashes, merged

BASE = codec.parse(
    """\
wellheard: 1
title: Tide Room
space: {outline: [[0, 0], [6, 0], [6, 4.5], [0, 4.5]], height: 2.7}
people: {seats: {s1: {at: [2, 2]}, s2: {at: [3, 2]}}}
noise: {background: {nc: 30}}
basis: {noise.background: told}
"""
)
TITLED = BASE.model_copy(update={"title": "Moor Room"})
IN_FEET = codec.parse(
    """\
wellheard: 1
title: Tide Room
units: ft
space: {outline: [[0, 0], [6 m, 0], [6 m, 4.5 m], [0, 4.5 m]], height: 2.7 m}
people: {seats: {s1: {at: [2 m, 2 m]}, s2: {at: [3 m, 2 m]}}}
noise: {background: {nc: 30}}
basis: {noise.background: told}
"""
)


def test_with_nothing_on_one_side_the_other_is_the_result() -> None:
    assert merged(BASE, TITLED, BASE) == TITLED
    assert merged(BASE, BASE, TITLED) == TITLED
    assert merged(BASE, TITLED, TITLED) == TITLED
    assert merged(BASE, BASE, BASE) == BASE


@pytest.mark.parametrize("feet_first", [True, False])
def test_a_document_turned_into_feet_meets_another_change(feet_first: bool) -> None:
    # The usual tile is 0.6 m in metres and 2 ft in feet: it goes with the units.
    assert BASE.space.ceiling.module != IN_FEET.space.ceiling.module
    pair = (IN_FEET, TITLED) if feet_first else (TITLED, IN_FEET)
    both = merged(BASE, *pair)
    assert both == IN_FEET.model_copy(update={"title": "Moor Room"})
    assert codec.parse(codec.dump(both)) == both


def test_what_was_not_written_is_not_written_after_a_merge() -> None:
    higher = BASE.model_copy(update={"space": BASE.space.model_copy(update={"height": 3.0})})
    both = merged(BASE, higher, TITLED)
    assert both is not None
    assert "units" not in codec.dump(both)
    assert codec.dump(both) == codec.dump(BASE).replace("Tide", "Moor").replace("2.7", "3")


def changed(text: str, was: str, becomes: str) -> Room:
    assert was in text
    return codec.parse(text.replace(was, becomes))


CLASHES = [
    ("nc: 30", "nc: 35", "dba: 38", ["noise.background.nc"]),
    ("s1: {at: [2, 2]}", "s1: {at: [1, 2]}", "s3: {at: [2, 2]}", ["people.seats.s1"]),
    ("noise.background: told", "noise.background: assumed", "noise.background: measured",
     ["basis.noise.background"]),
    ("height: 2.7", "height: 2.8", "height: 2.9", ["space.height"]),
]  # fmt: skip


@pytest.mark.parametrize(("was", "one", "other", "paths"), CLASHES)
def test_what_both_say_differently_is_told_by_its_path(
    was: str, one: str, other: str, paths: list[str]
) -> None:
    text = codec.dump(BASE)
    yours, theirs = changed(text, was, one), changed(text, was, other)
    assert merged(BASE, yours, theirs) is None
    for pair in ((yours, theirs), (theirs, yours)):
        found = clashes(BASE, *pair, Catalogue.shipped(), unit="m")
        assert [c.path for c in found] == paths
        assert all(c.what and c.yours and c.theirs for c in found)
        assert found[0].what in str(Conflict(found))


def test_an_entry_that_another_took_away_is_told_in_words() -> None:
    text = codec.dump(BASE)
    moved = changed(text, "s1: {at: [2, 2]}", "s1: {at: [1, 2]}")
    gone = changed(text, "s1: {at: [2, 2]}, ", "")
    [clash] = clashes(BASE, moved, gone, Catalogue.shipped(), unit="ft")
    assert clash.what == "Seat s1"
    assert clash.theirs == "taken away"
    assert clash.yours == "(3'-3⅜\", 6'-6¾\")"
