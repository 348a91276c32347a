"""Clarity of an ideal decay with and without direct sound."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from wellheard.acoustics.decay import (
    centre_time_direct_plus_exponential,
    clarity_direct_plus_exponential,
    early_share,
)
from wellheard.acoustics.field import barron_levels

DATA = Path(__file__).parents[1] / "reference"
REFERENCE: dict[str, Any] = json.loads((DATA / "reference_values.json").read_text())
WORKED: dict[str, Any] = json.loads((DATA / "worked_examples.json").read_text())
CASES = REFERENCE["check_cases"]


@pytest.mark.parametrize(("t", "d50", "c50", "c80", "ts_ms"), WORKED["clarity_exponential"]["rows"])
def test_ideal_decay_reproduces_every_printed_digit(
    t: float, d50: float, c50: float, c80: float, ts_ms: float
) -> None:
    assert early_share(0.0, reverberation_time=t) == pytest.approx(d50, abs=0.5e-4)
    early = clarity_direct_plus_exponential(0.0, reverberation_time=t)
    assert early == pytest.approx(c50, abs=0.5e-3)
    music = clarity_direct_plus_exponential(0.0, reverberation_time=t, early_time=0.08)
    assert music == pytest.approx(c80, abs=0.5e-3)
    centre = centre_time_direct_plus_exponential(0.0, reverberation_time=t)
    assert 1000.0 * centre == pytest.approx(ts_ms, abs=0.5e-2)


@pytest.mark.parametrize(("t", "printed"), CASES["c50_exponential"])
def test_c50_of_the_check_cases(t: float, printed: float) -> None:
    actual = clarity_direct_plus_exponential(0.0, reverberation_time=t)
    assert actual == pytest.approx(printed, abs=0.5e-3)


@pytest.mark.parametrize("row", CASES["barron"]["rows"], ids=str)
def test_direct_plus_decay_gives_barrons_clarity_from_barrons_ratio(row: list[float]) -> None:
    r, t, v = row[:3]
    ratio = 10.0 ** (barron_levels(r, reverberation_time=t, volume=v).direct_to_reverberant_db / 10)
    c50 = clarity_direct_plus_exponential(ratio, reverberation_time=t)
    c80 = clarity_direct_plus_exponential(ratio, reverberation_time=t, early_time=0.08)
    assert c80 == pytest.approx(row[4], abs=0.5e-2)
    assert c50 == pytest.approx(row[5], abs=0.5e-2)
    assert early_share(ratio, reverberation_time=t) == pytest.approx(row[6], abs=0.5e-3)


def test_a_summed_echogram_gives_the_same_measures() -> None:
    # rival: a spike and a decay sampled at 0.05 ms, summed
    t, g, step = 0.62, 0.8, 5e-5
    time = (np.arange(40_000) + 0.5) * step
    tail = np.exp(-13.8155 * time / t)
    tail /= tail.sum()
    late = tail[time > 0.05].sum()
    clarity = clarity_direct_plus_exponential(g, reverberation_time=t)
    assert clarity == pytest.approx(10.0 * np.log10((g + 1.0 - late) / late), abs=0.01)
    centre = centre_time_direct_plus_exponential(g, reverberation_time=t)
    assert centre == pytest.approx((tail * time).sum() / (1.0 + g), rel=1e-3)


def test_an_open_field_is_perfectly_clear() -> None:
    assert early_share(np.inf, reverberation_time=0.5) == 1.0
    assert clarity_direct_plus_exponential(np.inf, reverberation_time=0.5) == np.inf
    assert centre_time_direct_plus_exponential(np.inf, reverberation_time=0.5) == 0.0
