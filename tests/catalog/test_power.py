"""Power by class is that of the standard, as open tables print it."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from wellheard.catalog.power import power_classes

# IEEE 802.3af, at, bt; class, watts of the port, watts at the device, typed from open tables.
PRINTED = [
    (1, 4.0, 3.84),
    (2, 7.0, 6.49),
    (3, 15.4, 12.95),
    (4, 30.0, 25.5),
    (5, 45.0, 40.0),
    (6, 60.0, 51.0),
    (7, 75.0, 62.0),
    (8, 90.0, 71.3),
]


@pytest.mark.parametrize(("number", "supplied_w", "device_w"), PRINTED)
def test_every_class_is_as_printed(number: int, supplied_w: float, device_w: float) -> None:
    found = power_classes()[number]
    assert (found.supplied_w, found.device_w) == (supplied_w, device_w)


def test_there_are_eight_classes() -> None:
    assert list(power_classes()) == list(range(1, 9))


@pytest.mark.parametrize("number", [3, 4, 6, 8])
def test_what_is_lost_is_what_a_hundred_metres_of_copper_take(number: int) -> None:
    # Rival: P − (P/V)²·R with the standard's least voltage and loop resistance; the second copy
    # of these figures is in tests/reference.
    path = Path(__file__).parents[1] / "reference" / "reference_values.json"
    rows = json.loads(path.read_text(encoding="utf-8"))["poe"]["rows"]
    row = next(r for r in rows if r["pse_w"] == power_classes()[number].supplied_w)
    lost = (row["pse_w"] / row["v_min"]) ** 2 * row["r_ohm"]
    assert power_classes()[number].device_w == pytest.approx(row["pse_w"] - lost, abs=0.05)
