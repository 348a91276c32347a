"""How long a level is allowed for, against the printed rules."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from wellheard.acoustics.hearing import (
    allowed_hours,
    allowed_hours_niosh,
    allowed_hours_osha,
)

DATA = Path(__file__).parents[1] / "reference"
HEARING: dict[str, Any] = json.loads((DATA / "reference_values.json").read_text())["hearing"]


@pytest.mark.parametrize(("level", "niosh", "osha"), HEARING["check"])
def test_the_check_rows_of_both_rules(level: float, niosh: float, osha: float) -> None:
    # Criterion levels and exchange rates from open texts [L].
    assert allowed_hours_niosh(level) == pytest.approx(niosh, abs=0.0051)
    assert allowed_hours_osha(level) == pytest.approx(osha, abs=0.0006)


@pytest.mark.parametrize(
    ("level", "niosh", "osha"),
    # Own arithmetic on the rules, printed to three figures [L].
    [
        (80, 25.4, 32),
        (85, 8, 16),
        (88, 4, 10.56),
        (90, 2.52, 8),
        (94, 1, 4.59),
        (95, 0.794, 4),
        (100, 0.25, 2),
        (105, 0.079, 1),
    ],
)
def test_the_longer_table(level: float, niosh: float, osha: float) -> None:
    assert allowed_hours_niosh(level) == pytest.approx(niosh, rel=5e-3)
    assert allowed_hours_osha(level) == pytest.approx(osha, rel=2e-3)


@pytest.mark.parametrize(
    ("hours", "level"),
    # 29 CFR 1910.95 Table G-16 as printed [L].
    [(8, 90), (6, 92), (4, 95), (3, 97), (2, 100), (1.5, 102), (1, 105), (0.5, 110), (0.25, 115)],
)
def test_the_table_of_the_regulation_rounds_the_rule(hours: float, level: float) -> None:
    # The table gives whole decibels: the rule's time at half a decibel less and more encloses it.
    longest, shortest = allowed_hours_osha([level - 0.5, level + 0.5])
    assert shortest < hours < longest
    if level % 5 == 0:
        assert allowed_hours_osha(level) == pytest.approx(hours)


def test_the_action_level_is_half_a_dose_of_eight_hours() -> None:
    # 29 CFR 1910.95 [L]: 85 dB(A) over eight hours is a dose of 50 %.
    assert 8.0 / allowed_hours_osha(HEARING["osha_action_level_dba"]) == pytest.approx(0.5)


def test_another_rule_has_its_own_criterion_and_exchange() -> None:
    # By hand: 87 dB(A), 4 dB halve: 95 dB(A) two hours.
    found = allowed_hours([87.0, 91.0, 95.0], criterion_dba=87.0, exchange_db=4.0)
    assert found == pytest.approx([8.0, 4.0, 2.0])
