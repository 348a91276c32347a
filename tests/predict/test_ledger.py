"""The seat ledger: ranges, chances, states, and which microphone serves."""

from __future__ import annotations

import math
from collections.abc import Callable
from statistics import NormalDist
from typing import Any

import pytest

from wellheard.predict import ledger, promises
from wellheard.predict.evidence import Evidence
from wellheard.predict.scene import Scene

SEATS = {
    "s1": {"at": [1.5, 1.5], "facing": 0},
    "s2": {"at": [3.0, 1.5], "facing": [0, 90, 180]},
    "s3": {"at": [4.5, 3.0], "facing": 270},
}
HEADS = {
    "m1": {"kind": "microphone", "product": "ceiling-head-3", "at": [2.1, 2.1, 2.7]},
    "m2": {"kind": "microphone", "product": "ceiling-head-3", "at": [4.5, 2.1, 2.7]},
}


@pytest.fixture(scope="session")
def evidence_of(scene_of: Callable[..., Scene]) -> Callable[..., Evidence]:
    def made(**over: Any) -> Evidence:
        people = over.pop("people", {"seats": SEATS})
        devices = over.pop("devices", HEADS)
        return ledger.evidence(
            scene_of({"people": people, "devices": devices, **over}), assumptions=False
        )

    return made


def test_ranges_are_ten_to_ninety_percent_of_a_normal_spread(
    evidence_of: Callable[..., Evidence],
) -> None:
    reach = NormalDist().inv_cdf(0.9)
    for row in evidence_of().outbound:
        for quantity in row.quantities:
            assert quantity.high - quantity.value == pytest.approx(reach * quantity.sigma)
            assert quantity.value - quantity.low == pytest.approx(reach * quantity.sigma)


def test_the_range_of_sti_stays_within_nothing_and_all() -> None:
    assert promises.quantity("sti_outbound", 0.98, 0.1, 0.6).high == 1.0
    assert promises.quantity("sti_outbound", 0.03, 0.1, 0.6).low == 0.0
    assert promises.quantity("speech_to_noise_db", 0.98, 1.0, None).high > 1.0


def test_a_chance_is_the_share_of_the_spread_beyond_the_target(
    evidence_of: Callable[..., Evidence],
) -> None:
    for row in evidence_of().outbound:
        for quantity in row.quantities:
            assert quantity.target is not None
            expected = NormalDist(quantity.value, quantity.sigma).cdf(quantity.target)
            assert quantity.chance == pytest.approx(1 - expected, abs=1e-9)
        assert row.chance == min(q.chance for q in row.quantities if q.chance is not None)
        least = next(q for q in row.quantities if q.chance == row.chance)
        assert row.binds == least.name


def test_a_place_is_kept_at_risk_or_broken_by_value_and_chance(
    evidence_of: Callable[..., Evidence],
) -> None:
    value = evidence_of().outbound[0].direct_to_reverberant.value
    states = {
        margin: evidence_of(targets={"direct_to_reverberant_db": value - margin}).outbound[0].state
        for margin in (6.0, 0.3, -0.3)
    }
    assert states == {6.0: "kept", 0.3: "at risk", -0.3: "broken"}
    sure = evidence_of(targets={"direct_to_reverberant_db": value - 0.3, "chance": None})
    assert sure.outbound[0].state == "kept"


def test_nothing_promised_is_not_assessed(evidence_of: Callable[..., Evidence]) -> None:
    none = evidence_of(
        targets={
            "sti_outbound": None,
            "direct_to_reverberant_db": None,
            "speech_to_noise_db": None,
        }
    )
    for row in none.outbound:
        assert row.state == "not assessed"
        assert row.binds == ""
        assert all(q.chance is None for q in row.quantities)


def test_without_microphones_there_is_no_row_and_no_path(
    evidence_of: Callable[..., Evidence],
) -> None:
    found = evidence_of(devices={})
    assert found.outbound == ()
    assert found.paths == ()
    assert found.worst() is None


def test_every_talker_has_a_path_to_every_microphone(evidence_of: Callable[..., Evidence]) -> None:
    found = evidence_of()
    assert {(p.talker, p.microphone) for p in found.paths} == {(s, m) for s in SEATS for m in HEADS}
    with pytest.raises(KeyError):
        found.path("s1", "m9")


def test_the_microphone_with_the_greatest_margin_serves(
    evidence_of: Callable[..., Evidence],
) -> None:
    found = evidence_of()
    by_talker = {o.talker.id: o.path.microphone for o in found.outbound}
    assert by_talker["s1"] == "m1"
    assert by_talker["s3"] == "m2"
    for row in found.outbound:
        others = [p for p in found.paths if p.talker == row.talker.id]
        assert row.path.direct_to_reverberant_db == max(p.direct_to_reverberant_db for p in others)


def test_one_within_its_usual_distance_serves_before_a_clearer_one_beyond(
    evidence_of: Callable[..., Evidence],
) -> None:
    """A pendant is rated to 2.0 m as a rule: at 2.3 m the head at 2.6 m goes before it."""
    devices = {
        "far": {"kind": "microphone", "product": "pendant-cardioid", "at": [3.9, 1.5, 2.2]},
        "rated": {"kind": "microphone", "product": "ceiling-head-3", "at": [3.45, 3.0, 2.7]},
    }
    seat = {"seats": {"s1": {"at": [1.5, 1.5], "facing": 0}}}
    found = evidence_of(people=seat, devices=devices)
    assert found.path("s1", "far").distance > 2.0
    assert found.path("s1", "rated").distance < 3.0
    assert found.outbound[0].path.microphone == "rated"
    near = {**devices, "far": {**devices["far"], "at": [3.0, 1.5, 2.2]}}
    assert evidence_of(people=seat, devices=near).outbound[0].path.microphone == "far"


def test_one_that_a_loudspeaker_is_nearer_to_serves_only_where_no_other_can(
    evidence_of: Callable[..., Evidence],
) -> None:
    speaker = {"kind": "loudspeaker", "product": "ceiling-6", "at": [1.0, 3.0, 2.7]}
    seat = {"seats": {"s1": {"at": [1.5, 1.5], "facing": 0}}}
    plain = evidence_of(people=seat)
    assert plain.outbound[0].path.microphone == "m1"
    assert plain.outbound[0].path.distance > 1.5  # the loudspeaker is 1.42 m from m1
    played = evidence_of(people=seat, devices={**HEADS, "ls": speaker})
    assert played.outbound[0].path.microphone == "m1"  # m2 is beyond its usual 3.0 m
    nearer = {**HEADS, "m2": {**HEADS["m2"], "at": [3.3, 2.1, 2.7]}, "ls": speaker}
    assert evidence_of(people=seat, devices=nearer).outbound[0].path.microphone == "m2"
    relaxed = {
        "house_rules": {"loudspeaker-nearer-than-talkers": {"relaxed": True, "because": "x"}}
    }
    freed = evidence_of(people=seat, devices=nearer, targets=relaxed)
    assert freed.outbound[0].path.microphone == "m1"


def test_worst_first_is_by_chance(evidence_of: Callable[..., Evidence]) -> None:
    found = evidence_of()
    chances = [row.chance for row in found.worst_first()]
    assert chances == sorted(chances)
    assert found.worst() == found.worst_first()[0]


def test_spreads_combine_as_independent(evidence_of: Callable[..., Evidence]) -> None:
    """σ² of the ratio by hand: decay 4.343·(1 + 0.04 r/Tₗ)·σ_lnE, turn 1 dB, place, model.

    Place: 20 lg(1 + σ/r), one standard deviation farther off. Model: 0.6 dB systematic, and chance
    interference of 4.34·√((12 + 6.9/T)/B) dB in each of four octaves of the width B = .707 f.
    """
    found = evidence_of()
    row = found.outbound[0]
    r = row.path.distance
    decay = found.reverberation
    octaves = range(2, 6)
    by_decay = (
        sum(
            10
            * math.log10(math.e)
            * (1 + 0.04 * r / decay.level_time[k])
            * decay.level_log_sigma[k]
            for k in octaves
        )
        / 4
    )
    place = 20 * math.log10(1 + 0.15 / r)  # seats told: 15 cm
    mid = (125.89, 251.19, 501.19, 1000.0, 1995.26, 3981.07)  # IEC 61260-1, exact to base ten [L]
    chance = (
        math.sqrt(sum(4.34**2 * (12 + 6.9 / decay.time[k]) / (0.707 * mid[k]) for k in octaves)) / 4
    )
    expected = math.sqrt(by_decay**2 + 1.0 + place**2 + 0.6**2 + chance**2)
    assert row.direct_to_reverberant.sigma == pytest.approx(expected, rel=1e-4)


@pytest.mark.parametrize("away", [0.05, 0.1, 0.4])
def test_a_mouth_close_by_is_not_spread_without_end(
    evidence_of: Callable[..., Evidence], away: float
) -> None:
    """15 cm farther than 5 cm is 12.0 dB, than 10 cm 8.0 dB; 8.69 σ/r would make it 26 and 13."""
    near = {"m1": {"kind": "microphone", "product": "omni-reference", "at": [1.5 + away, 1.5, 1.2]}}
    seat = {"seats": {"s1": {"at": [1.5, 1.5], "facing": 0}}}
    row = evidence_of(people=seat, devices=near).outbound[0]
    # Decay σ is below 1.3 dB there, turn 1 dB, model 0.7 dB.
    place = 20 * math.log10(1 + 0.15 / away)
    assert place < row.direct_to_reverberant.sigma < math.hypot(place, 1.8)


def test_knowing_more_narrows_every_range(evidence_of: Callable[..., Evidence]) -> None:
    times = {"125": 0.5, "250": 0.5, "500": 0.5, "1000": 0.4, "2000": 0.3, "4000": 0.3, "8000": 0.2}
    told = evidence_of(space={"measured_reverberation": times})
    basis = {"noise.background": "measured", "people.seats": "measured"}
    sure = evidence_of(space={"measured_reverberation": times}, basis=basis)
    vague = evidence_of()
    for a, b in zip(sure.outbound, told.outbound, strict=True):
        for p, q in zip(a.quantities, b.quantities, strict=True):
            assert p.sigma < q.sigma
            assert p.value == q.value
    for a, b in zip(told.outbound, vague.outbound, strict=True):
        assert a.direct_to_reverberant.sigma < b.direct_to_reverberant.sigma


def test_noise_at_a_microphones_place_is_that_of_the_room_there(
    evidence_of: Callable[..., Evidence],
) -> None:
    """Whatever the microphone's pattern.

    NC-25 is 35.6 dBA over 63 Hz to 8 kHz [L], and 65 − 39.4 dB at 31.5 Hz make it 36.0.
    """
    found = evidence_of()
    for level in found.microphone_noise_dba.values():
        assert level == pytest.approx(36.0, abs=0.1)
        assert level == pytest.approx(found.noise.dba)


def test_a_microphone_beside_a_fan_stands_in_its_noise(
    evidence_of: Callable[..., Evidence],
) -> None:
    """45 dBA at 1 m, half a metre away: 10 lg(4 + 16π/24) = 7.9 dB more, A about 24 m²."""
    fan = {"kind": "projector", "at": [2.1, 2.1, 2.2], "dba_at_1m": 45}
    found = evidence_of(noise={"sources": {"fan": fan}})
    assert found.microphone_noise_dba["m1"] == pytest.approx(52.9, abs=0.4)
    assert found.microphone_noise_dba["m2"] < found.microphone_noise_dba["m1"] - 4.0
