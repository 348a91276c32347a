"""Chances and shortfalls of one quantity, against the table of the normal distribution."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import pytest

from wellheard.checks.registry import rules
from wellheard.checks.seat_targets import chance_of, lacking, nearer
from wellheard.predict.evidence import Evidence, Quantity

EvidenceOf = Callable[..., Evidence]

# Standard deviations and probability: printed tables of the normal distribution.
NORMAL = [(0.0, 0.5), (0.84, 0.7995), (1.28, 0.8997), (-1.0, 0.1587)]


def _quantity(value: float, sigma: float, chance: float | None) -> Quantity:
    return Quantity("sti_outbound", value, value, value, sigma, "", 0.6, chance)


@pytest.mark.parametrize(("deviations", "probability"), NORMAL)
def test_chance_without_a_ledger_is_that_of_the_spread(
    deviations: float, probability: float
) -> None:
    quantity = _quantity(0.6 + 0.05 * deviations, 0.05, None)
    assert chance_of(quantity, 0.6) == pytest.approx(probability, abs=5e-5)


@pytest.mark.parametrize(("value", "chance"), [(0.59, 0.0), (0.6, 1.0), (0.61, 1.0)])
def test_value_without_spread_keeps_or_misses_for_sure(value: float, chance: float) -> None:
    assert chance_of(_quantity(value, 0.0, None), 0.6) == chance


def test_chance_of_the_ledger_goes_before_the_spread() -> None:
    assert chance_of(_quantity(0.5, 0.05, 0.77), 0.6) == 0.77


def test_what_lacks_for_a_chance_of_four_fifths_is_0_84_deviations_more() -> None:
    quantity = _quantity(0.5, 0.05, None)
    assert lacking(quantity, 0.6, None) == pytest.approx(0.1)
    assert lacking(quantity, 0.6, 0.7995) == pytest.approx(0.1 + 0.84 * 0.05, abs=1e-4)


def test_what_stands_in_the_way_is_said_before_a_nearer_microphone(evidence_of: EvidenceOf) -> None:
    head = {"kind": "microphone", "product": "ceiling-head-3", "at": [3.2, 2.3, 2.4]}
    row = (evidence := evidence_of({"room": {"devices": {"m1": head}}})).outbound[0]
    hidden = replace(row, path=replace(row.path, screened=True))
    assert "to within" in nearer(evidence, row, 3.0)
    assert "something solid stands between s1 and m1" in nearer(evidence, hidden, 3.0)


def test_next_to_nothing_that_lacks_is_told_as_the_least_that_is_printed(
    evidence_of: EvidenceOf,
) -> None:
    head = {"kind": "microphone", "product": "ceiling-head-3", "at": [3.2, 2.3, 2.4]}
    evidence = evidence_of({"room": {"devices": {"m1": head}}})
    row = evidence.outbound[0]
    promised = evidence.room.targets.speech_to_noise_db
    assert promised is not None
    barely = replace(row.speech_to_noise, value=promised - 0.004, sigma=0.0, chance=None)
    found = replace(evidence, outbound=(replace(row, speech_to_noise=barely),))
    (draft,) = rules()["target-missed-speech-to-noise"].check(found)
    assert "by 0.1 dB" in draft.remedy
