"""Reverberation of whole documents against printed values and by hand."""

from __future__ import annotations

import json
import math
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from wellheard.catalog.catalogue import Catalogue
from wellheard.checks.room.uneven_absorption import uneven_absorption
from wellheard.predict import ledger, reverberation
from wellheard.predict.evidence import Reverberation
from wellheard.predict.scene import Scene
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


@pytest.fixture(scope="session")
def even_of(
    bare_of: Callable[..., Scene],
) -> Callable[[float], Reverberation]:
    """Room A of the reference with a stated scattering and nobody in it."""

    def made(scattering: float) -> Reverberation:
        even = {"absorption": dict.fromkeys(BANDS, 0.2)}
        scene = bare_of(
            {
                "space": {
                    "outline": [[0, 0], [6, 0], [6, 5], [0, 5]],
                    "height": 3.0,
                    "scattering": scattering,
                    "finishes": {"floor": even, "ceiling": even, "walls": even},
                },
                "people": {
                    "seats": "absent",
                    "standing": {"p": {"outline": [[1, 1], [2, 1], [2, 2], [1, 2]], "facing": 0}},
                },
            }
        )
        time = tuple(scene.propagation.time.tolist())
        return replace(scene.reverberation, time=time)

    return made


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


def test_beside_the_rays_stands_arau_puchades_of_the_three_pairs(empty: Reverberation) -> None:
    """At 1 kHz by hand: walls .04, floor and ceiling (.20 + .75)/2 = .475 (Arau-Puchades 1988)."""
    volume, total = 72.9, 110.7
    air = 4 * empty.air_power_attenuation[3] * volume
    constant = 24 * math.log(10) / 343.2
    expected = 1.0
    for area, alpha in ((24.3, 0.04), (32.4, 0.04), (54.0, 0.475)):
        pair = constant * volume / (-total * math.log(1 - alpha) + air)
        expected *= pair ** (area / total)
    assert empty.arau_puchades[3] == pytest.approx(expected, rel=1e-6)
    assert empty.model == "ray tracing"
    # Hard walls keep sound going, scattering takes it to ceiling and floor: the rays lie between.
    assert empty.eyring[3] < empty.time[3] < empty.arau_puchades[3]


def test_in_an_even_room_that_mirrors_the_decay_is_somewhat_longer_than_eyrings(
    even_of: Callable[..., Reverberation],
) -> None:
    """Room A of the reference, α 0.20 everywhere, 6 × 5 × 3 m; Eyring's own limits, no air [L].

    Free paths differ in length, and without scattering they stay long or short: 5 to 25 % more.
    """
    found = even_of(0.0)
    for time, eyring in zip(found.time[:5], found.eyring[:5], strict=True):
        assert 1.05 < time / eyring < 1.25


def test_scattering_brings_an_even_room_to_the_formula_for_unequal_free_paths(
    even_of: Callable[..., Reverberation],
) -> None:
    """Kuttruff's form of Eyring's, γ² 0.38, made for walls that scatter all [L]."""
    found = even_of(1.0)
    assert found.time[:5] == pytest.approx(found.kuttruff[:5], rel=0.04)


def test_even_absorption_makes_all_models_but_sabine_one(
    even_of: Callable[..., Reverberation],
) -> None:
    """Room A of the reference: α 0.20 everywhere, 6 × 5 × 3 m, Sabine 0.5754, Eyring 0.5157 [L].

    Printed without air at c = 343; here the room is dry of people, and air and c are taken out.
    """
    found = even_of(0.3)
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
    """±1.2816 σ of ln T; blind σ .5 .25 .2 .2 .2 .25 .5, and what scattering .1 to .5 makes of it.

    The decays at either end of scattering are taken for the 10 and 90 % points.
    """
    found = decay_of({"basis": {"space.finishes": "told"}})
    blind = (0.5, 0.25, 0.2, 0.2, 0.2, 0.25, 0.5)
    for k in range(7):
        apart = math.log(found.smooth[k] / found.rough[k]) / (2 * 1.28155)
        assert found.log_sigma[k] == pytest.approx(math.hypot(blind[k], apart), rel=1e-4)
        # Each end of the range holds its own end of scattering.
        for printed, scattered in (
            (found.high[k], found.smooth[k]),
            (found.low[k], found.rough[k]),
        ):
            off = math.log(scattered / found.time[k])
            assert abs(math.log(printed / found.time[k])) == pytest.approx(
                math.hypot(1.28155 * blind[k], off), rel=1e-4
            )
        assert found.low[k] < found.rough[k] < found.smooth[k] < found.high[k]


def test_the_ends_of_the_range_are_rooms_that_scatter_little_and_much(
    decay_of: Callable[..., Reverberation],
) -> None:
    """.1 and .5, with as many rays as the room itself."""
    found = decay_of()
    for scattering, end in ((0.1, found.smooth), (0.5, found.rough)):
        assert end == pytest.approx(decay_of({"space": {"scattering": scattering}}).time, rel=1e-6)
    assert all(rough < smooth for rough, smooth in zip(found.rough, found.smooth, strict=True))


def uneven(room: Room, catalogue: Catalogue) -> str:
    """What is said of uneven absorption."""
    (draft,) = uneven_absorption(ledger.predict(room, catalogue, assumptions=False))
    return draft.message


def test_a_soft_ceiling_over_hard_walls_rings_longer_than_diffuse_and_is_pointed_out(
    room_of: Callable[..., Room], catalogue: Catalogue
) -> None:
    """Room B of the reference at 1 kHz, .3 scattered: rays 0.45 to 0.50 s; Eyring 0.31, as s = 1.

    With little scattering 0.81 s, with much 0.37: each to the accuracy of some hundred rays.
    """
    nobody = {
        "seats": "absent",
        "standing": {"p": {"outline": [[1, 1], [2, 1], [2, 2], [1, 2]], "facing": 0}},
    }
    room = room_of({"space": {"scattering": 0.3}, "people": nobody})
    found = reverberation.predict(room, catalogue)
    assert 0.45 < found.time[3] < 0.50
    message = uneven(room, catalogue)
    smooth, rough = ((t[2] + t[3]) / 2 for t in (found.smooth, found.rough))
    assert f"{smooth:.2f} s with little scattering and {rough:.2f} s with much" in message
    assert rough < found.time[3] < smooth


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

    The critical distance goes with the level, so with the absorption area: Eyring's is printed,
    and rays that meet a soft ceiling less or more often leave one within a tenth.
    """
    mid = (empty.time[2] + empty.time[3]) / 2
    assert empty.schroeder_frequency == pytest.approx(2000 * math.sqrt(mid / 72.9))
    assert empty.mean_free_path == pytest.approx(2.634, abs=5e-4)
    printed = REFERENCE["check_cases"]["octave_room"]["eyring_air"]
    area = 24 * math.log(10) / 343.2 * 72.9 / ((printed[2] + printed[3]) / 2)
    assert empty.critical_distance == pytest.approx(math.sqrt(area / (16 * math.pi)), rel=0.05)


def test_a_measured_decay_sets_the_level_in_its_proportion(
    decay_of: Callable[..., Reverberation],
) -> None:
    """The same rays with less absorption: half as long again leaves about half as much again."""
    plain = decay_of()
    longer = [1.5 * t for t in plain.time]
    found = decay_of({"space": {"measured_reverberation": dict(zip(BANDS, longer, strict=True))}})
    more = [b / a for a, b in zip(plain.level_time, found.level_time, strict=True)]
    # At 8 kHz the air takes its share whatever the walls do.
    assert more[:6] == pytest.approx([1.5] * 6, rel=0.25)
    same = dict(zip(BANDS, plain.time, strict=True))
    again = decay_of({"space": {"measured_reverberation": same}})
    assert again.level_time == pytest.approx(plain.level_time, rel=0.005)
    assert again.exponent == pytest.approx([1.0] * 7, rel=0.005)
