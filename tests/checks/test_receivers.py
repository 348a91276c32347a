"""Receivers by seats, against 2010 ADA Standards, Table 219.3, worked out by hand [L]."""

from __future__ import annotations

from typing import Any

import pytest

from wellheard.checks.receivers import asked, asked_in

# Seats, receivers, hearing-aid compatible ones. Up to 50: 2. To 500: 2 and one more for each 25
# seats over 50, begun ones counted; to 1000: 20 and 1 per 33 over 500; to 2000: 35 and 1 per 50
# over 1000; above: 55 and 1 per 100 over 2000. Compatible: 2, above 200 seats one of four.
TABLE = [
    (1, 2, 2),
    (50, 2, 2),
    (51, 3, 2),
    (75, 3, 2),
    (76, 4, 2),
    (200, 8, 2),
    (201, 9, 3),
    (500, 20, 5),
    (501, 21, 6),
    (1000, 36, 9),
    (1001, 36, 9),
    (2000, 55, 14),
    (2001, 56, 14),
]


@pytest.mark.parametrize(("seats", "receivers", "compatible"), TABLE)
def test_table_is_worked_out_as_by_hand(seats: int, receivers: int, compatible: int) -> None:
    found = asked_in("US", seats)
    assert found is not None
    assert (found.receivers, found.compatible) == (receivers, compatible)


def test_receivers_never_fall_with_the_seats() -> None:
    counts = [found.receivers for n in range(1, 3000) if (found := asked_in("US", n))]
    assert len(counts) == 2999
    assert counts == sorted(counts)


@pytest.mark.parametrize(
    "region", ["US", "usa", "US-CA", "United States, Ohio", "united-states", " us "]
)
def test_region_is_known_however_it_is_written(region: str, evidence_of: Any) -> None:
    assert asked(evidence_of({"room": {"site": {"region": region}}}).room) is not None


@pytest.mark.parametrize("region", ["unknown", "Freeland", "USSR", "", "DE"])
def test_nothing_is_known_of_other_regions(region: str, evidence_of: Any) -> None:
    assert asked(evidence_of({"room": {"site": {"region": region}}}).room) is None


def test_table_of_the_document_goes_first_and_ends_where_it_ends(evidence_of: Any) -> None:
    room: dict[str, Any] = {
        "site": {"region": "US"},
        "targets": {"assistive_receivers": [[1, 5, 0]]},
    }
    found = asked(evidence_of({"room": room}).room)
    assert found is not None
    assert (found.receivers, found.compatible) == (5, 0)
    room["people"] = {"seats": {"s2": {"at": [3.0, 1.4]}}}
    assert asked(evidence_of({"room": room}).room) is None
