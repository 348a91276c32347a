"""Lift against closed forms of the free field, the rule of four distances and facts of the trade.

Rooms and devices are invented. Where nothing is reflected, every way is the inverse square law and
the air of ISO 9613-1, so that each figure can be worked out by hand.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import Any

import numpy as np
import pytest

from wellheard.predict import ledger
from wellheard.predict.evidence import Evidence
from wellheard.predict.lift import HOST_NOT_INCLUDED, lift
from wellheard.predict.scene import Scene
from wellheard.predict.wayback import Lift, Playback

ALOUD = 66.0
"""Level of the far end 1 m before every loudspeaker [dB(A)]."""

Made = tuple[Scene, Evidence, Lift]


@pytest.fixture(scope="session")
def lifted_of(
    dead_room_of: Callable[[dict[str, Any]], Scene],
    playback_at: Callable[[Scene, float], Playback],
) -> Callable[..., Made]:
    """Give the function that lifts in a room that swallows everything."""

    def made(
        people: dict[str, list[float]],
        microphones: dict[str, list[float]],
        loudspeakers: dict[str, list[float]],
        **over: Any,
    ) -> Made:
        devices: dict[str, Any] = {
            name: {"kind": "microphone", "product": "omni-reference", "at": at}
            for name, at in microphones.items()
        }
        devices |= {
            name: {"kind": "loudspeaker", "product": "wall-8", "at": at}
            for name, at in loudspeakers.items()
        }
        seats: dict[str, Any] = {"s1": "absent"}
        seats |= {name: {"at": at[:2], "height": at[2], "facing": 0} for name, at in people.items()}
        devices |= over.pop("devices", {})
        scene = dead_room_of({"people": {"seats": seats}, "devices": devices, **over})
        return lifted_in(scene, playback_at(scene, ALOUD))

    return made


def lifted_in(scene: Scene, playback: Playback) -> Made:
    found = ledger.evidence(scene, assumptions=False)
    answer = lift(scene, found.microphones, found.outbound, found.paths, playback)
    assert answer is not None
    return scene, found, answer


def stage(on: str, *sources: str, gain_db: float | None = 0.0) -> dict[str, Any]:
    stated = {} if gain_db is None else {"gain_db": gain_db}
    return {"kind": "lift", "on": on, "sources": list(sources), **stated}


def fallen(oracle: Any, distance: float) -> list[float]:
    """Energy at a distance re 1 m, by octave: inverse square law and air."""
    return [math.exp(-m * distance) / distance**2 for m in oracle.air()]


def spoken(oracle: Any, distance: float) -> float:
    """A-weighted speech of normal effort at a distance [dB(A)]."""
    levels = oracle.speech("normal")
    ways = fallen(oracle, distance)
    return float(
        oracle.a_weighted([v + 10 * math.log10(w) for v, w in zip(levels, ways, strict=True)])
    )


TALKER, LISTENER = [4.0, 8.0, 1.2], [10.0, 8.0, 1.2]


def test_loop_gain_of_two_loudspeakers_is_the_sum_of_two_ways_by_hand(
    lifted_of: Callable[..., Made], oracle: Any
) -> None:
    # From the microphone 3 m and 4 m; the talker 0.6 m from it, the listener 5.4 m.
    _, _, found = lifted_of(
        {"a": TALKER, "b": LISTENER},
        {"m1": [4.6, 8.0, 1.2]},
        {"l1": [4.6, 5.0, 1.2], "l2": [4.6, 12.0, 1.2]},
        processing={
            "one": stage("l1.in", "m1.link", gain_db=-8.0),
            "two": stage("l2.in", "m1.link", gain_db=-5.0),
        },
    )
    # Its mean talker lies at working level: the far end, at −20 dBFS, plays with 66 dB(A) at 1 m.
    working = (spoken(oracle, 0.6) + spoken(oracle, 5.4)) / 2
    near, far = fallen(oracle, 3.0), fallen(oracle, 4.0)
    each = {
        "l1": [ALOUD - 8.0 - working + 10 * math.log10(w) for w in near],
        "l2": [ALOUD - 5.0 - working + 10 * math.log10(w) for w in far],
    }
    for pair in found.pairs:
        assert pair.gain_bands_db == pytest.approx(each[pair.loudspeaker], abs=0.02)
    k = (125, 250, 500, 1000, 2000, 4000, 8000).index(int(found.octave))
    both = 10 * math.log10(sum(10 ** (each[name][k] / 10) for name in each))
    assert found.loop_gain_db == pytest.approx(both, abs=0.02)
    assert found.in_use
    assert found.stated
    assert found.gain_db == pytest.approx(-5.0)
    assert found.margin_db == pytest.approx(-(found.loop_gain_db + found.excess_db))


# D0, D1, D2, Ds and potential gain of one open microphone, 6 dB margin; equivalent distance 2.4 m
# and needed gain. Potential and needed acoustic gain after Davis & Patronis, Sound System
# Engineering, via an open room-acoustics code [L]; rows are arithmetic by hand.
FOUR_DISTANCES = [(6.0, 3.0, 2.5, 0.6, 15.58, 7.96), (4.0, 2.0, 2.0, 1.2, 4.46, 4.44)]


@pytest.mark.parametrize(("d0", "d1", "d2", "ds", "potential", "needed"), FOUR_DISTANCES)
def test_room_model_gives_the_rule_of_four_distances_in_the_free_field(
    d0: float,
    d1: float,
    d2: float,
    ds: float,
    potential: float,
    needed: float,
    lifted_of: Callable[..., Made],
) -> None:
    along = d0 - ds  # microphone and listener are two points of a triangle, the loudspeaker
    x = (d1**2 - d2**2 + along**2) / (2 * along)  # the third
    y = math.sqrt(d1**2 - x**2)
    both = {"limit": 2.4, "because": "as in the worked example"}
    _, _, found = lifted_of(
        {"a": [4.0, 8.0, 1.2], "b": [4.0 + d0, 8.0, 1.2]},
        {"m1": [4.0 + ds, 8.0, 1.2]},
        {"l1": [4.0 + ds + x, 8.0 + y, 1.2]},
        targets={"house_rules": {"acoustic-distance-quiet": both, "acoustic-distance-noisy": both}},
    )
    pair = found.farthest
    assert pair is not None
    assert (pair.speaker, pair.listener) == ("a", "b")
    assert pair.direct_potential_db == pytest.approx(potential, abs=0.005)
    assert pair.direct_needed_db == pytest.approx(needed, abs=0.005)
    assert found.equivalent_distance == pytest.approx(2.4)
    # Air over some metres is what the rule leaves out: 0.005 dB/m at 1 kHz.
    assert found.potential_gain_db == pytest.approx(potential, abs=0.05)
    assert found.needed_gain_db == pytest.approx(needed, abs=0.05)


def test_gain_at_a_seat_is_the_energy_of_both_voices_over_the_natural_one(
    lifted_of: Callable[..., Made], oracle: Any
) -> None:
    gain_db = -4.0
    _, _, found = lifted_of(
        {"a": TALKER, "b": LISTENER},
        {"m1": [4.6, 8.0, 1.2]},
        {"l1": [10.0, 6.0, 1.2]},
        processing={"lift": stage("l1.in", "m1.link", gain_db=gain_db)},
    )
    row = found.row("b")
    working = (spoken(oracle, 0.6) + spoken(oracle, 5.4)) / 2
    at_ear = [
        level - working + gain_db + ALOUD + 10 * math.log10(to_mic * to_ear)
        for level, to_mic, to_ear in zip(
            oracle.speech("normal"), fallen(oracle, 0.6), fallen(oracle, 2.0), strict=True
        )
    ]
    natural, brought = spoken(oracle, 6.0), oracle.a_weighted(at_ear)
    assert row.speaker == "a"
    assert row.loudspeaker == "l1"
    # A surface swallows 99 % at most: over 6 m what is left of reflections is 0.08 dB.
    assert row.natural_dba == pytest.approx(natural, abs=0.1)
    assert row.brought_dba == pytest.approx(brought, abs=0.05)
    both = 10 * math.log10(10 ** (natural / 10) + 10 ** (brought / 10))
    assert row.gain_db == pytest.approx(both - natural, abs=0.1)
    # 0.6 m to the microphone and 2 m from the loudspeaker, against 6 m: the lifted one is first.
    assert row.after == pytest.approx((0.6 + 2.0 - 6.0) / 343.2, abs=1e-4)


def test_lifted_voice_is_late_by_what_the_devices_take(lifted_of: Callable[..., Made]) -> None:
    devices = {"p": {"kind": "processor", "product": "processor-4", "equipment": "rack"}}
    equipment = {"rack": {"kind": "rack", "at": [15.0, 15.0, 0.5]}}
    places = ({"a": TALKER, "b": LISTENER}, {"m1": [4.6, 8.0, 1.2]}, {"l1": [10.0, 6.0, 1.2]})
    scene, _, found = lifted_of(*places, devices=devices, equipment=equipment)
    late = scene.catalogue.processor("processor-4").latency_ms / 1000.0
    assert late > 0.0
    assert found.electronics >= late
    assert found.row("b").after == pytest.approx(
        found.electronics + (0.6 + 2.0 - 6.0) / 343.2, abs=1e-4
    )


def test_without_a_lift_the_figures_are_the_most_that_the_margin_leaves(
    lifted_of: Callable[..., Made],
) -> None:
    places = ({"a": TALKER, "b": LISTENER}, {"m1": [4.6, 8.0, 1.2]}, {"l1": [10.0, 5.0, 1.2]})
    _, _, found = lifted_of(*places)
    assert not found.in_use
    assert found.margin_db == pytest.approx(found.wanted_margin_db) == pytest.approx(6.0)
    _, _, stated = lifted_of(
        *places, processing={"lift": stage("l1.in", "m1.link", gain_db=found.gain_db)}
    )
    assert stated.in_use
    assert stated.margin_db == pytest.approx(found.margin_db)
    _, _, more = lifted_of(
        *places, processing={"lift": stage("l1.in", "m1.link", gain_db=found.gain_db + 2.5)}
    )
    assert more.margin_db == pytest.approx(found.margin_db - 2.5)


def test_gain_that_a_document_leaves_open_fills_what_the_stated_one_leaves(
    lifted_of: Callable[..., Made],
) -> None:
    _, _, found = lifted_of(
        {"a": TALKER, "b": LISTENER},
        {"m1": [4.6, 8.0, 1.2]},
        {"l1": [4.6, 5.0, 1.2], "l2": [10.0, 6.0, 1.2]},
        processing={
            "one": stage("l1.in", "m1.link", gain_db=-30.0),
            "two": stage("l2.in", "m1.link", gain_db=None),
        },
    )
    by_name = {pair.loudspeaker: pair for pair in found.pairs}
    assert by_name["l1"].lift_db == pytest.approx(-30.0)
    assert found.margin_db == pytest.approx(6.0, abs=1e-4)
    assert not found.stated


def test_nobody_to_listen_is_no_lift(
    dead_room_of: Callable[[dict[str, Any]], Scene],
    playback_at: Callable[[Scene, float], Playback],
) -> None:
    devices = {
        "m1": {"kind": "microphone", "product": "omni-reference", "at": [4.6, 8.0, 1.2]},
        "l1": {"kind": "loudspeaker", "product": "wall-8", "at": [4.6, 5.0, 1.2]},
    }
    scene = dead_room_of(
        {"people": {"seats": {"s1": {"at": [4.0, 8.0], "facing": 0}}}, "devices": devices}
    )
    found = ledger.evidence(scene, assumptions=False)
    playing = playback_at(scene, ALOUD)
    assert lift(scene, found.microphones, found.outbound, found.paths, playing) is None
    assert lift(scene, (), (), (), playing) is None
    assert lift(scene, found.microphones, found.outbound, found.paths, None) is None


TWO_TABLES = (
    {"w1": [2.0, 8.0, 1.2], "w2": [3.0, 8.0, 1.2], "e1": [12.0, 8.0, 1.2], "e2": [13.0, 8.0, 1.2]},
    {"west": [2.5, 8.0, 1.6], "east": [12.5, 8.0, 1.6]},
    {"lw": [2.5, 8.0, 3.6], "le": [12.5, 8.0, 3.6]},
)


def test_zone_minus_plays_no_microphone_above_its_own_talkers(
    lifted_of: Callable[..., Made],
) -> None:
    _, _, found = lifted_of(*TWO_TABLES)
    assert set(found.left_out) == {("west", "lw"), ("east", "le")}
    assert {(p.microphone, p.loudspeaker) for p in found.pairs} == {("west", "le"), ("east", "lw")}
    assert found.over_head == ()
    assert {row.talker.id: row.loudspeaker for row in found.rows} == {
        "w1": "lw", "w2": "lw", "e1": "le", "e2": "le"
    }  # fmt: skip
    assert all(row.gain_db > 0.0 for row in found.rows)


def test_lift_over_the_own_head_is_told_seat_by_seat(lifted_of: Callable[..., Made]) -> None:
    _, _, found = lifted_of(
        *TWO_TABLES, processing={"lift": stage("lw.in", "west.link", "east.link", gain_db=-20.0)}
    )
    assert {(o.talker, o.microphone, o.loudspeaker) for o in found.over_head} == {
        ("w1", "west", "lw"),
        ("w2", "west", "lw"),
    }
    assert found.over_head[0].distance == pytest.approx(math.hypot(0.5, 2.4))
    assert {("west", "le"), ("east", "le")} <= set(found.left_out)


@pytest.mark.practice
def test_zone_minus_leaves_more_gain_than_the_same_everywhere(
    lifted_of: Callable[..., Made],
) -> None:
    # What a microphone hears most of is the loudspeaker above it: common practice, no source [C].
    everywhere = {
        "one": stage("lw.in", "west.link", "east.link"),
        "two": stage("le.in", "west.link", "east.link"),
    }
    _, _, minus = lifted_of(*TWO_TABLES)
    _, _, plain = lifted_of(*TWO_TABLES, processing=everywhere)
    most = plain.gain_db + plain.margin_db - plain.wanted_margin_db
    assert minus.gain_db > most + 3.0


@pytest.mark.practice
def test_a_microphone_at_the_lips_lifts_more_than_one_above_the_table(
    lifted_of: Callable[..., Made],
) -> None:
    # Halving the talker's distance is worth 6 dB before howling: common practice, no source [C].
    near = lifted_of({"a": TALKER, "b": LISTENER}, {"m1": [4.4, 8.0, 1.2]}, {"l1": [10, 8, 4.2]})
    far = lifted_of({"a": TALKER, "b": LISTENER}, {"m1": [4.8, 8.0, 1.2]}, {"l1": [10, 8, 4.2]})
    gained = near[2].potential_gain_db - far[2].potential_gain_db
    nearer = 20 * math.log10(math.dist((4.4, 1.2), (10, 4.2)) / math.dist((4.8, 1.2), (10, 4.2)))
    assert gained == pytest.approx(20 * math.log10(2.0) + nearer, abs=0.05)


@pytest.mark.practice
def test_noise_asks_a_talker_to_be_acoustically_nearer(lifted_of: Callable[..., Made]) -> None:
    # Quiet 3 m, noisy 1.2 to 2.4 m: common practice, no source [C].
    places = ({"a": TALKER, "b": LISTENER}, {"m1": [4.6, 8.0, 1.2]}, {"l1": [10.0, 5.0, 1.2]})
    quiet, usual, noisy = (
        lifted_of(*places, noise={"background": {"nc": "absent", "dba": level}})[2]
        for level in (25, 40, 55)
    )
    assert quiet.equivalent_distance == pytest.approx(3.0)
    assert 1.2 < usual.equivalent_distance < 2.4
    assert noisy.equivalent_distance == pytest.approx(1.2)
    assert quiet.needed_gain_db < usual.needed_gain_db < noisy.needed_gain_db


def test_advice_keeps_margin_increase_and_level(lifted_of: Callable[..., Made]) -> None:
    places = ({"a": TALKER, "b": LISTENER}, {"m1": [4.1, 8.0, 1.2]}, {"l1": [10.0, 6.5, 1.2]})
    _, _, most = lifted_of(*places)
    assert most.row("b").gain_db > 6.0
    _, _, advised = lifted_of(
        *places, processing={"lift": stage("l1.in", "m1.link", gain_db=most.advised_gain_db)}
    )
    assert max(row.gain_db for row in advised.rows) == pytest.approx(6.0, abs=1e-6)
    assert advised.margin_db > 6.0
    assert advised.advised_gain_db == pytest.approx(most.advised_gain_db)


def test_what_the_host_does_is_said_to_be_left_out() -> None:
    assert "not included" in HOST_NOT_INCLUDED
    assert np.isfinite(ALOUD)


LECTERN = {
    "people": {"host": [1.0, 8.0, 1.6], "near": [4.0, 8.0, 1.2], "far": [13.0, 8.0, 1.2]},
    "g": {"kind": "microphone", "product": "gooseneck", "at": [1.35, 8.0, 1.4], "aim_deg": 180},
}


@pytest.mark.practice
def test_a_lectern_lifts_its_speaker_and_not_the_last_row(lifted_of: Callable[..., Made]) -> None:
    # A gooseneck is for whoever stands at it: common practice, no source [C].
    _, found, lifted = lifted_of(
        LECTERN["people"], {}, {"l1": [4.0, 8.0, 3.2], "l2": [12.0, 8.0, 3.2]},
        devices={"g": LECTERN["g"]},
    )  # fmt: skip
    assert {row.path.microphone for row in found.outbound} == {"g"}
    assert {row.talker.id: row.speaker for row in lifted.rows}["far"] == "host"
    assert lifted.left_out == ()
    assert lifted.farthest is not None
    assert (lifted.farthest.speaker, lifted.farthest.listener) == ("host", "far")
    assert lifted.row("far").gain_db > lifted.row("near").gain_db


def test_a_lift_to_a_loudspeaker_without_a_place_is_none(
    dead_room_of: Callable[[dict[str, Any]], Scene],
    playback_at: Callable[[Scene, float], Playback],
) -> None:
    scene = dead_room_of(
        {
            "people": {"seats": {"a": {"at": [4, 8], "facing": 0}}},
            "equipment": {"rack": {"kind": "rack", "at": [15.0, 15.0, 0.5]}},
            "devices": {
                "m1": {"kind": "microphone", "product": "omni-reference", "at": [4.6, 8.0, 1.2]},
                "l1": {"kind": "loudspeaker", "product": "wall-8", "at": [4.6, 5.0, 1.2]},
                "l2": {"kind": "loudspeaker", "product": "wall-8", "equipment": "rack"},
            },
            "processing": {"lift": stage("l2.in", "m1.link")},
        }
    )
    found = ledger.evidence(scene, assumptions=False)
    playing = playback_at(scene, ALOUD)
    assert lift(scene, found.microphones, found.outbound, found.paths, playing) is None


@pytest.mark.parametrize(
    ("code", "limit"),
    [("lift-increase-db", 0.0), ("lift-increase-db", -10.0), ("acoustic-distance-noisy", 0.0)],
)
def test_a_limit_at_its_end_still_has_an_answer(
    code: str, limit: float, lifted_of: Callable[..., Made]
) -> None:
    rules = {code: {"limit": limit, "because": "to see what it says"}}
    if code.startswith("acoustic"):
        rules["acoustic-distance-quiet"] = dict(rules[code])
    _, _, lifted = lifted_of(
        {"a": [4.0, 8.0, 1.2], "b": [12.0, 8.0, 1.2]},
        {"m1": [4.6, 8.0, 1.2]},
        {"l1": [11.0, 8.0, 1.2]},
        targets={"house_rules": rules},
    )
    assert math.isfinite(lifted.advised_gain_db)
    assert math.isfinite(lifted.needed_gain_db)
    if code == "lift-increase-db":
        # No increase at all is wanted: as good as nothing is advised.
        assert lifted.advised_gain_db < -90.0
