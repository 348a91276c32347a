"""From an estimate to a word, and what would decide where none can be said."""

from __future__ import annotations

import math
from statistics import NormalDist
from typing import Literal

import pytest

from wellheard.proving.deciding import (
    STI_SIGMA,
    Promise,
    Reading,
    Step,
    chance_within,
    judged,
    transferred,
    undecided,
)
from wellheard.proving.verdict import Compared, Verdict, Word

STI = Promise("sti_outbound", "s1", "", (0.62, None), "Record a sweep.")
LEVEL = Promise("listening_level_dba", "s1", "dBA", (65.0, 75.0), "Record noise.")
NINETY = NormalDist().inv_cdf(0.9)


def sti(value: float, sigma: float, *steps: Step) -> Compared:
    return judged(STI, Reading(value, sigma, ("r1",)), tested=None, steps=steps)


@pytest.mark.parametrize(
    ("deviations", "word"),
    [
        (NINETY + 1e-6, "kept"),
        (NINETY - 1e-6, "cannot tell"),
        (0.0, "cannot tell"),
        (-NINETY + 1e-6, "cannot tell"),
        (-NINETY - 1e-6, "broken"),
    ],
)
def test_the_ten_percent_points_of_the_normal_distribution_decide(
    deviations: float, word: Word
) -> None:
    assert sti(0.62 + 0.03 * deviations, 0.03).word == word


def test_a_range_is_kept_only_as_far_as_both_its_ends_are() -> None:
    normal = NormalDist(66.0, 2.0)
    expected = normal.cdf(75.0) - normal.cdf(65.0)
    assert chance_within(66.0, 2.0, (65.0, 75.0)) == pytest.approx(expected)
    # Far outside the two halves would add up to less than nothing.
    assert 0.0 <= chance_within(90.0, 2.0, (65.0, 75.0)) < 1e-9


def test_what_lies_above_a_highest_limit_is_broken() -> None:
    assert judged(LEVEL, Reading(79.0, 1.0, ("r1",)), tested=None).word == "broken"
    assert judged(LEVEL, Reading(70.0, 1.0, ("r1",)), tested=None).word == "kept"


def test_steps_add_up_with_their_signs_and_their_doubt_by_squares() -> None:
    # 0.60 + 0.04 − 0.03; 0.3·√(0.04² + 0.03²) = 0.015; √(0.02² + 0.015²) = 0.025: by hand.
    value, sigma, part = transferred(Reading(0.60, 0.02, ()), [Step("a", 0.04), Step("b", -0.03)])
    assert value == pytest.approx(0.61)
    assert part == pytest.approx(0.015)
    assert sigma == pytest.approx(0.025)


def test_steps_that_cancel_leave_their_doubt() -> None:
    assert sti(0.66, 0.02).word == "kept"
    away = sti(0.66, 0.02, Step("people", 0.1), Step("source", -0.1))
    assert away.estimate == pytest.approx(0.66)
    assert away.word == "cannot tell"


def test_nothing_is_added_where_it_was_measured_as_promised() -> None:
    row = sti(0.70, STI_SIGMA)
    assert (row.estimate, row.estimate_sigma) == (0.70, STI_SIGMA)


def test_repeatability_of_sti_is_that_of_the_standard() -> None:
    # Annex E of IEC 60268-16:2011 [L, open reading]
    assert STI_SIGMA == 0.02


def test_as_many_recordings_are_asked_for_as_their_mean_needs() -> None:
    # 0.01 above: σ must come down to 0.01/1.2816 = 0.0078, so n ≥ (0.02/0.0078)² = 6.57: seven.
    assert sti(0.63, 0.02).decide == "The mean of 7 such recordings would decide it."
    assert sti(0.63, 0.02 / math.sqrt(7)).word == "kept"
    assert sti(0.63, 0.02 / math.sqrt(6)).word == "cannot tell"


def test_recordings_that_were_made_already_count_among_those_asked_for() -> None:
    # 0.02/√2 of two; (0.02·1.2816/0.015)² = 2.92: three in all, not two more such means.
    row = judged(STI, Reading(0.635, 0.02 / math.sqrt(2), ("r", "q"), count=2), tested=None)
    assert row.decide == "The mean of 3 such recordings would decide it."


@pytest.mark.parametrize(
    ("bound", "value", "word"),
    [
        ("most", 0.9, "cannot tell"),
        ("most", 0.4, "broken"),
        ("least", 0.9, "kept"),
        ("least", 0.4, "cannot tell"),
    ],
)
def test_a_bound_decides_on_its_own_side_only(
    bound: Literal["most", "least"], value: float, word: Word
) -> None:
    reading = Reading(value, 0.02, ("r",), bound=bound, sharper="Play louder.")
    row = judged(STI, reading, tested=None)
    assert (row.word, row.measured) == (word, value)
    if word == "cannot tell":
        assert (row.chance, row.decide) == (None, "Play louder.")
        assert row.why.endswith(f"It is that much at {bound}.")


def test_what_no_repetition_lessens_is_not_to_be_repeated() -> None:
    row = judged(STI, Reading(0.63, 0.02, ("r",), lasting=0.02), tested=None)
    assert "lies 0.01 from its limit, which a measurement knows to ± 0.02 here" in row.decide


def test_where_the_prediction_is_in_doubt_the_promised_conditions_are_asked_for() -> None:
    row = sti(0.55, 0.02, Step("source", 0.11))
    assert row.word == "cannot tell"
    assert row.decide.startswith("Measure it in the promised conditions")


def test_what_lies_on_its_limit_is_decided_by_no_measurement() -> None:
    assert "promise less" in sti(0.6201, 0.02).decide
    assert "lies 0.00 from its limit, which a measurement knows to ± 0.02 here" in (
        sti(0.6201, 0.02).decide
    )


def test_what_is_decided_asks_for_nothing() -> None:
    assert sti(0.9, 0.02).decide == ""
    assert sti(0.2, 0.02).decide == ""
    assert undecided(STI, "Not measured.").decide == "Record a sweep."


def verdict(*words: Word) -> Verdict:
    value = {"kept": 0.9, "broken": 0.2, "cannot tell": 0.62}
    rows = tuple(sti(value[word], 0.02) for word in words)
    assert tuple(row.word for row in rows) == words
    return Verdict("day", "0000", rows, (), (), (), ())


def test_the_worst_row_is_the_word_of_all() -> None:
    assert verdict("kept", "cannot tell", "broken").word == "broken"
    assert verdict("kept", "cannot tell", "kept").word == "cannot tell"
    assert verdict("kept", "kept").word == "kept"
    assert verdict().word == "cannot tell"
    assert verdict("kept", "broken", "kept").counts() == {
        "broken": 1,
        "cannot tell": 0,
        "kept": 2,
    }
