"""Reverberation of whole documents against printed values and by hand."""

from __future__ import annotations

import json
import math
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from wellheard.catalog.catalogue import Catalogue
from wellheard.predict import reverberation
from wellheard.predict.evidence import Reverberation
from wellheard.room.document import Room

REFERENCE: dict[str, Any] = json.loads(
    (Path(__file__).parents[1] / "reference" / "reference_values.json").read_text()
)
BANDS = ("125", "250", "500", "1000", "2000", "4000", "8000")


@pytest.fixture(scope="session")
def decay_of(room_of: Callable[..., Room], catalogue: Catalogue) -> Callable[..., Reverberation]:
    def made(over: dict[str, Any] | None = None) -> Reverberation:
        return reverberation.predict(room_of(over), catalogue)

    return made


@pytest.fixture(scope="session")
def empty(decay_of: Callable[..., Reverberation]) -> Reverberation:
    """The reference room: nobody in it but a standing point that is not there when it is empty."""
    return decay_of(
        {
            "people": {
                "seats": "absent",
                "standing": {"p": {"outline": [[1, 1], [2, 1], [2, 2], [1, 2]], "facing": 0}},
            }
        }
    )


def test_the_reference_room_rings_as_printed(empty: Reverberation) -> None:
    """6 × 4.5 × 2.7 m, plasterboard, thin carpet, fissured tile, 20 °C 50 % [L computed].

    Printed with air at nominal frequencies; here exact mid-bands, under 0.1 % apart.
    """
    printed = REFERENCE["check_cases"]["octave_room"]
    assert empty.sabine[:6] == pytest.approx(printed["sabine_air"], rel=0.002)
    assert empty.eyring[:6] == pytest.approx(printed["eyring_air"], rel=0.002)
    for area, mean in zip(printed["area"], empty.mean_absorption[:6], strict=True):
        assert mean * empty.surface == pytest.approx(area, rel=1e-4)
    assert empty.volume == pytest.approx(72.9)
    assert empty.surface == pytest.approx(110.7)


def test_the_prediction_is_arau_puchades_of_the_three_pairs(empty: Reverberation) -> None:
    """At 1 kHz by hand: walls .04, floor and ceiling (.20 + .75)/2 = .475 (Arau-Puchades 1988)."""
    volume, total = 72.9, 110.7
    air = 4 * empty.air_power_attenuation[3] * volume
    constant = 24 * math.log(10) / 343.2
    expected = 1.0
    for area, alpha in ((24.3, 0.04), (32.4, 0.04), (54.0, 0.475)):
        pair = constant * volume / (-total * math.log(1 - alpha) + air)
        expected *= pair ** (area / total)
    assert empty.time[3] == pytest.approx(expected, rel=1e-6)
    assert empty.model == "Arau-Puchades"


def test_even_absorption_makes_all_models_but_sabine_one(
    decay_of: Callable[..., Reverberation],
) -> None:
    """Room A of the reference: α 0.20 everywhere, 6 × 5 × 3 m, Sabine 0.5754, Eyring 0.5157 [L].

    Printed without air at c = 343; here the room is dry of people, and air and c are taken out.
    """
    even = {"absorption": dict.fromkeys(BANDS, 0.2)}
    found = decay_of(
        {
            "space": {
                "outline": [[0, 0], [6, 0], [6, 5], [0, 5]],
                "height": 3.0,
                "finishes": {"floor": even, "ceiling": even, "walls": even},
            },
            "people": {
                "seats": "absent",
                "standing": {"p": {"outline": [[1, 1], [2, 1], [2, 2], [1, 2]], "facing": 0}},
            },
        }
    )
    assert found.arau_puchades == pytest.approx(found.eyring)
    assert found.fitzroy == pytest.approx(found.eyring)
    air = 4 * found.air_power_attenuation[2] * 90
    for time, printed in ((found.sabine[2], 0.5754), (found.eyring[2], 0.5157)):
        without = 1 / (1 / time - air / (24 * math.log(10) / 343.2 * 90))
        assert without * 343.2 / 343 == pytest.approx(printed, rel=2e-4)


def test_people_shorten_the_decay_and_an_empty_room_is_longer(
    decay_of: Callable[..., Reverberation],
) -> None:
    seats = {f"s{i}": {"at": [0.5 + 0.6 * i, 1]} for i in range(8)}
    found = decay_of({"people": {"seats": seats, "occupancy": 1.0}})
    # Textile chairs and suits (DIN 18041 list): the suit absorbs more from 500 Hz up.
    assert all(o < e for o, e in zip(found.time[2:], found.unoccupied[2:], strict=True))


def test_a_softer_finish_never_lengthens_the_decay(decay_of: Callable[..., Reverberation]) -> None:
    hard = decay_of({"space": {"finishes": {"ceiling": "ceiling-plasterboard"}}})
    soft = decay_of({"space": {"finishes": {"ceiling": "ceiling-mineral-tile"}}})
    assert all(s < h for s, h in zip(soft.time, hard.time, strict=True))


def test_measured_times_replace_the_predicted_and_narrow_the_range(
    decay_of: Callable[..., Reverberation],
) -> None:
    times = [0.8, 0.7, 0.6, 0.55, 0.5, 0.45, 0.4]
    told = decay_of()
    found = decay_of({"space": {"measured_reverberation": dict(zip(BANDS, times, strict=True))}})
    assert found.measured
    assert found.model == "measured"
    assert found.time == tuple(times)
    assert found.arau_puchades == told.arau_puchades
    for a, b in zip(found.log_sigma, told.log_sigma, strict=True):
        assert a < b
    for low, value, high in zip(found.low, found.time, found.high, strict=True):
        assert low < value < high
        assert high / value == pytest.approx(value / low)


def test_the_range_holds_ten_to_ninety_percent_of_the_stated_spread(
    decay_of: Callable[..., Reverberation],
) -> None:
    """±1.2816 σ of ln T; blind σ .5 .25 .2 .2 .2 .25 .5, with the models' own disagreement."""
    found = decay_of({"basis": {"space.finishes": "told"}})
    blind = (0.5, 0.25, 0.2, 0.2, 0.2, 0.25, 0.5)
    for k in range(7):
        apart = math.log(found.arau_puchades[k] / found.eyring[k]) / (2 * 1.28155)
        assert found.log_sigma[k] == pytest.approx(math.hypot(blind[k], apart), rel=1e-4)
        assert math.log(found.high[k] / found.time[k]) == pytest.approx(
            1.28155 * found.log_sigma[k], rel=1e-4
        )


def test_assumed_finishes_are_surer_of_nothing(decay_of: Callable[..., Reverberation]) -> None:
    sigma = {
        basis: decay_of({"basis": {"space.finishes": basis}}).log_sigma[3]
        for basis in ("measured", "drawing", "told", "assumed")
    }
    assert sigma["measured"] < sigma["drawing"] == sigma["told"] < sigma["assumed"]


def test_the_schroeder_frequency_and_free_path_are_those_of_the_books(
    empty: Reverberation,
) -> None:
    """2000 √(T/V) and 4V/S (Kuttruff); room B of the reference has 4V/S = 2.634 m [L].

    The critical distance goes with the level, so with Eyring's time, here as printed.
    """
    mid = (empty.time[2] + empty.time[3]) / 2
    assert empty.schroeder_frequency == pytest.approx(2000 * math.sqrt(mid / 72.9))
    assert empty.mean_free_path == pytest.approx(2.634, abs=5e-4)
    printed = REFERENCE["check_cases"]["octave_room"]["eyring_air"]
    area = 24 * math.log(10) / 343.2 * 72.9 / ((printed[2] + printed[3]) / 2)
    assert empty.critical_distance == pytest.approx(math.sqrt(area / (16 * math.pi)), rel=0.002)


def test_the_level_goes_by_eyring_and_by_a_measured_decay_where_that_says_more(
    decay_of: Callable[..., Reverberation], oracle: Any
) -> None:
    """Shorter than Eyring's: itself. Up to Arau-Puchades': Eyring's. Longer: in proportion."""
    sides = (6.0, 4.5, 2.7)
    even = oracle.eyring(sides, chairs=1)
    uneven = oracle.arau_puchades(sides, chairs=1)
    assert decay_of().level_time == pytest.approx(even, rel=1e-3)

    def level_of(times: list[float]) -> tuple[float, ...]:
        told = {"measured_reverberation": dict(zip(BANDS, times, strict=True))}
        return decay_of({"space": told}).level_time

    assert level_of([0.9 * t for t in even]) == pytest.approx([0.9 * t for t in even], rel=1e-3)
    between = [math.sqrt(e * u) for e, u in zip(even, uneven, strict=True)]
    assert level_of(between) == pytest.approx(even, rel=1e-3)
    assert level_of([1.2 * t for t in uneven]) == pytest.approx([1.2 * t for t in even], rel=1e-3)
