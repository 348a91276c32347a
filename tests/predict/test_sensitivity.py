"""Assumed inputs, by how far they move the worst seat."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest

from wellheard.predict import ledger
from wellheard.predict.evidence import Assumed, Evidence
from wellheard.predict.scene import Scene

DEVICES = {"m1": {"kind": "microphone", "product": "ceiling-head-3", "at": [3, 2.1, 2.7]}}


@pytest.fixture(scope="session")
def assumed_of(
    scene_of: Callable[..., Scene],
) -> Callable[..., tuple[Evidence, dict[str, Assumed]]]:
    def made(over: Any) -> tuple[Evidence, dict[str, Assumed]]:
        found = ledger.evidence(scene_of(over))
        return found, {row.path: row for row in found.assumptions}

    return made


def test_the_input_that_moves_the_worst_seat_most_comes_first(
    assumed_of: Callable[..., Any],
) -> None:
    found, _ = assumed_of(
        {
            "devices": DEVICES,
            "noise": "absent",
            "space": {"finishes": {"walls": "absent"}},
        }
    )
    weights = [abs(a.effect_db or 0) + abs(a.effect_sti or 0) / 0.02 for a in found.assumptions]
    assert weights == sorted(weights, reverse=True)
    assert weights[0] > 0


def test_an_assumed_background_is_tried_five_points_louder(
    assumed_of: Callable[..., Any], scene_of: Callable[..., Scene]
) -> None:
    _, rows = assumed_of({"devices": DEVICES, "noise": "absent"})
    effect = rows["noise.background"]
    quiet = ledger.evidence(scene_of({"devices": DEVICES, "noise": {"background": {"nc": 30}}}))
    loud = ledger.evidence(scene_of({"devices": DEVICES, "noise": {"background": {"nc": 35}}}))
    assert effect.effect_sti == pytest.approx(
        loud.outbound[0].path.sti - quiet.outbound[0].path.sti, abs=1e-9
    )
    assert effect.effect_sti is not None
    assert effect.effect_sti < 0
    assert effect.effect_db == pytest.approx(0)


FLAT = ("125", "250", "500", "1000", "2000", "4000", "8000")


@pytest.mark.parametrize(
    ("told", "louder"),
    [
        ({"nc": 25}, {"nc": 30}),
        ({"dba": 42}, {"dba": 47}),
        ({"levels_db": dict.fromkeys(FLAT, 25)}, {"levels_db": dict.fromkeys(FLAT, 30)}),
    ],
    ids=["nc", "dba", "levels"],
)
def test_far_end_noise_is_tried_louder_in_the_form_it_was_told(
    assumed_of: Callable[..., Any],
    scene_of: Callable[..., Scene],
    told: dict[str, Any],
    louder: dict[str, Any],
) -> None:
    found, rows = assumed_of(
        {
            "devices": DEVICES,
            "far_end": {"noise": told},
            "basis": {"far_end.noise": "assumed"},
        }
    )
    other = ledger.evidence(
        scene_of({"devices": DEVICES, "far_end": {"noise": louder}}), assumptions=False
    )
    expected = other.outbound[0].path.sti - found.outbound[0].path.sti
    assert expected < 0
    assert rows["far_end.noise"].effect_sti == pytest.approx(expected, abs=1e-9)


def test_assumed_finishes_are_tried_one_deviation_longer(assumed_of: Callable[..., Any]) -> None:
    found, rows = assumed_of({"devices": DEVICES, "basis": {"space.finishes": "assumed"}})
    effect = rows["space.finishes"]
    row, decay = found.outbound[0], found.reverberation
    assert effect.effect_db == pytest.approx(
        -sum(
            4.342945
            * (1 + 0.04 * row.path.distance / decay.level_time[k])
            * decay.level_log_sigma[k]
            for k in range(2, 6)
        )
        / 4,
        rel=1e-5,
    )
    assert effect.effect_sti is not None
    assert effect.effect_sti < 0


def test_without_a_microphone_no_effect_is_claimed(assumed_of: Callable[..., Any]) -> None:
    _, rows = assumed_of({"noise": "absent"})
    assert rows["noise.background"].effect_db is None
    assert rows["noise.background"].effect_sti is None


@pytest.mark.parametrize(
    ("over", "path", "edited"),
    [
        ({}, "people.seats.s1.height", {"people": {"seats": {"s1": {"height": 1.2 - 0.1281552}}}}),
        ({}, "space.ceiling.kind", {"space": {"ceiling": {"kind": "open"},
                                              "finishes": {"ceiling": "concrete"}}}),
        (
            {"people": {"occupancy": "absent"}},
            "people.occupancy",
            {"people": {"occupancy": 0.4}},
        ),
    ],
    ids=["height", "ceiling", "occupancy"],
)  # fmt: skip
def test_an_assumption_is_judged_by_its_worst_alternative(
    assumed_of: Callable[..., Any],
    scene_of: Callable[..., Scene],
    over: dict[str, Any],
    path: str,
    edited: dict[str, Any],
) -> None:
    found, rows = assumed_of({"devices": DEVICES, **over})
    other = ledger.evidence(scene_of({"devices": DEVICES, **edited}), assumptions=False)
    now, then = found.outbound[0].path, other.outbound[0].path
    assert rows[path].effect_db == pytest.approx(
        then.direct_to_reverberant_db - now.direct_to_reverberant_db, abs=1e-6
    )
    assert rows[path].effect_db < 0
