"""Labels are short, and no two of them are alike."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.schedules.rooms import LINES, read
from wellheard.catalog.catalogue import Catalogue
from wellheard.schedules.cables import cable_schedule
from wellheard.schedules.labels import LONGEST, end_labels, numbers, short_names

IDS = st.lists(st.from_regex(r"[a-z0-9][a-z0-9-]{0,39}", fullmatch=True), unique=True, max_size=60)


@given(IDS)
def test_short_names_are_short_and_stay_apart(names: list[str]) -> None:
    found = short_names(names)
    assert list(found) == names
    assert len(set(found.values())) == len(names)
    assert all(len(one) <= LONGEST for one in found.values())
    assert all(found[one] == one for one in names if len(one) <= LONGEST)


@given(IDS)
def test_numbers_of_cables_stay_apart(ids: list[str]) -> None:
    found = numbers(ids)
    assert len(set(found.values())) == len(ids)
    assert all(len(one) <= 6 for one in found.values())


@pytest.mark.practice
def test_a_label_names_its_own_end_first() -> None:
    # Common practice, no source [C]: the cable's number, from here, to there; both ends.
    assert end_labels("c03", "m2.link", "mixer.mic-2", names={}) == (
        "c03 m2.link → mixer.mic-2",
        "c03 mixer.mic-2 → m2.link",
    )


def test_no_two_ends_in_a_room_have_the_same_label() -> None:
    rows = cable_schedule(read(LINES), Catalogue.shipped()).rows
    labels = [label for row in rows for label in (row.label_from, row.label_to)]
    assert len(set(labels)) == 2 * len(rows) == 10
