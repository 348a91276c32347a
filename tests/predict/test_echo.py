"""Needed loss against ITU-T G.131 rows, bounds of a canceller against closed forms."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from wellheard.catalog.products import Loudspeaker
from wellheard.predict import echo, ledger
from wellheard.predict.coupling import Coupled, coupling
from wellheard.predict.loudspeakers import placed_loudspeakers
from wellheard.predict.scene import Scene
from wellheard.predict.wayback import Echo, Playback
from wellheard.room.document import Room
from wellheard.room.house_limits import HOUSE_LIMITS

Levels = Callable[[Scene, float], Playback]
Rooms = Callable[[dict[str, Any]], Scene]

MICROPHONE = {"kind": "microphone", "product": "omni-reference", "at": [8, 8, 1.2]}
BOX = {"kind": "loudspeaker", "product": "wall-8", "at": [10.4, 8, 1.2]}
PLACES: dict[str, Any] = {
    "people": {"seats": {"s1": {"at": [6, 8], "facing": 0}}},
    "devices": {
        "m1": MICROPHONE,
        "l1": BOX,
        "p1": {"kind": "processor", "product": "processor-4"},
    },
}


def _all(scene: Scene, playback: Playback | None) -> tuple[Echo, ...]:
    found = ledger.evidence(scene, assumptions=False)
    return echo.echoes(scene, found.microphones, found.outbound, found.paths, playback)


def _coupled(scene: Scene, playback: Playback) -> Coupled:
    found = ledger.evidence(scene, assumptions=False)
    return coupling(scene, found.microphones, found.outbound, playback).of("m1")


def _energies_add(*losses_db: float) -> float:
    return -10.0 * math.log10(sum(10.0 ** (-loss / 10.0) for loss in losses_db))


def _distorting(
    scene: Scene, playback_at: Levels, distortion: float, *, level_db: float = 70.0
) -> tuple[Scene, Playback]:
    changed = replace(
        scene.catalogue,
        loudspeakers=tuple(
            replace(one, distortion=distortion) for one in scene.catalogue.loudspeakers
        ),
    )
    other = replace(scene, catalogue=changed)
    playback = replace(
        playback_at(other, level_db),
        loudspeakers=placed_loudspeakers(other.room, changed, other.talkers),
    )
    return other, playback


def _laid(**over: Any) -> dict[str, Any]:
    return {**PLACES, **over}


# Talker echo loudness rating of the G.107 relation held at 14.4 dB, which passes the acceptable
# curve of ITU-T G.131 at 300 ms and 55 dB [L relation, M anchor]; less 8 + 2 dB of G.107 Table 3.
@pytest.mark.parametrize(
    ("one_way_ms", "rating_db"),
    [(25, 33.5), (50, 40.5), (100, 47.2), (150, 50.5), (200, 52.6), (300, 55.0), (400, 56.3)],
)
def test_the_delay_of_the_document_asks_for_the_loss_of_the_acceptable_curve(
    one_way_ms: float, rating_db: float, room_of: Callable[..., Room]
) -> None:
    room = room_of({"far_end": {"one_way_delay_ms": one_way_ms}})
    needed, source = echo.needed_loss_db(room)
    assert needed == pytest.approx(rating_db - 10.0, abs=0.05)
    assert source == "far_end.one_way_delay_ms"


def test_a_promise_goes_before_the_delay(room_of: Callable[..., Room]) -> None:
    room = room_of({"targets": {"echo_loss_db": 46}})
    assert echo.needed_loss_db(room) == (46.0, "targets.echo_loss_db")


def test_the_worked_example_asks_for_half_a_hundred_decibels(
    dead_room_of: Rooms, playback_at: Levels
) -> None:
    """70 dBA at 1.5 m, microphone 2.4 m away, talker of normal effort 2 m away.

    By hand: echo 65.9 dBA, speech 59.5 − 6.0 = 53.4, so the return loss is −12.5 dB, the same in
    all octaves but for air; at 150 ms 40.5 dB are needed, so 53 must be added [L].
    """
    scene = dead_room_of(_laid())
    (found,) = _all(scene, playback_at(scene, 70.0 + 20 * math.log10(1.5)))
    assert found.echo_to_speech_db == pytest.approx(12.5, abs=0.1)
    assert found.return_loss_db == pytest.approx(-12.5, abs=0.1)
    assert found.must_add_db == pytest.approx(53.0, abs=0.15)
    assert dict(found.by_loudspeaker_db) == pytest.approx({"l1": found.return_loss_db})


def test_an_echo_that_the_room_loses_by_itself_asks_for_nothing(
    dead_room_of: Rooms, playback_at: Levels
) -> None:
    scene = dead_room_of(_laid(targets={"echo_loss_db": 10}))
    (found,) = _all(scene, playback_at(scene, 45.0))
    assert found.return_loss_db > 10.0
    assert found.must_add_db == 0.0
    assert found.state == "kept"


@pytest.fixture(scope="module")
def lively(scene_of: Callable[..., Scene]) -> Scene:
    """A room of which a decay of 0.512 s was measured, so that 256 ms are 30 dB of decay."""
    return scene_of(
        {
            "space": {
                "measured_reverberation": dict.fromkeys(
                    (125, 250, 500, 1000, 2000, 4000, 8000), 0.512
                )
            },
            "devices": {
                "m1": {**MICROPHONE, "at": [1, 1, 1.2]},
                "l1": {**BOX, "at": [5, 4, 1.2]},
                "p1": {"kind": "processor", "product": "processor-4"},
            },
        }
    )


def test_the_tail_bounds_by_the_decay_that_is_left_after_the_way_there(
    lively: Scene, playback_at: Levels
) -> None:
    """60·t/T + 10 lg(1 + g): 30.0 dB of decay in 256 ms at T 0.512 s, less 5 m of air."""
    playback = playback_at(lively, 70.0)
    (found,) = _all(lively, playback)
    ratio = _coupled(lively, playback).ratio[0, 2:5]
    late = math.dist((1, 1), (5, 4)) / lively.propagation.speed
    by_hand = 30.0 - 60.0 * late / 0.512 + 10 * np.log10(1 + ratio)
    assert found.tail == 0.256
    assert found.bound_tail_db == pytest.approx(by_hand.min(), abs=0.1)


def test_the_tail_that_is_needed_is_the_one_that_would_reach_it(
    lively: Scene, playback_at: Levels
) -> None:
    playback = playback_at(lively, 70.0)
    (found,) = _all(lively, playback)
    linear = found.must_add_db - found.suppression_db
    assert found.bound_tail_db is not None
    assert found.tail is not None
    lacking = (found.tail_needed - found.tail) * 60.0 / 0.512
    residues = (
        found.bound_tail_db + lacking,
        found.bound_distortion_db,
        found.bound_noise_db,
    )
    assert _energies_add(*residues) == pytest.approx(linear, abs=0.1)


def test_a_tail_is_asked_for_itself_alone_where_others_leave_too_much_already(
    lively: Scene, playback_at: Levels
) -> None:
    """10 % of distortion leave 20 dB, and more are asked: 60 dB of decay in T give the rest."""
    scene, playback = _distorting(lively, playback_at, 0.10)
    (found,) = _all(scene, playback)
    linear = found.must_add_db - found.suppression_db
    assert linear > found.bound_distortion_db
    assert found.bound_tail_db is not None
    assert found.tail is not None
    lacking = (found.tail_needed - found.tail) * 60.0 / 0.512
    assert found.bound_tail_db + lacking == pytest.approx(linear, abs=0.1)


def test_noise_bounds_at_a_slow_filter_below_the_noise(lively: Scene, playback_at: Levels) -> None:
    (found,) = _all(lively, playback_at(lively, 70.0))
    assert found.bound_noise_db == pytest.approx(found.echo_dba - found.noise_dba + 10.0)


def test_what_can_be_added_is_what_all_residues_leave_and_suppression(
    lively: Scene, playback_at: Levels
) -> None:
    (found,) = _all(lively, playback_at(lively, 70.0))
    assert found.bound_tail_db is not None
    left = _energies_add(found.bound_tail_db, found.bound_distortion_db, found.bound_noise_db)
    assert left < found.bound_tail_db < found.bound_practice_db
    assert found.can_add_db == pytest.approx(left + 20.0)
    assert echo.held_by(found) == "tail"


# Of two alike 10 lg 2, of three 10 lg 3 is lost; one 20 dB below the other takes 10 lg 1.01.
@pytest.mark.parametrize(
    ("losses_db", "together_db"),
    [((30.0, 30.0), 26.99), ((30.0, 30.0, 30.0), 25.23), ((20.0, 40.0), 19.96), ((0.0, 0.0), 0.0)],
)
def test_residues_of_unlike_causes_add_as_energies(
    losses_db: tuple[float, ...], together_db: float
) -> None:
    assert echo.together_db(*losses_db) == pytest.approx(together_db, abs=0.005)


@pytest.mark.parametrize(
    ("bounds_db", "held_by"),
    [
        ((33.0, 40.0, 44.0, 38.0), "tail"),
        ((40.0, 33.0, 44.0, 38.0), "distortion"),
        ((None, 40.0, 33.0, 38.0), "noise"),
        ((60.0, 50.0, 60.0, 38.0), "rated"),
        # 41 and 41 dB leave 38.0: the sheet's 39 dB are not reached.
        ((41.0, 41.0, 70.0, 39.0), "tail"),
    ],
)
def test_the_largest_residue_or_the_sheet_holds_a_canceller(
    bounds_db: tuple[float | None, float, float, float],
    held_by: str,
    lively: Scene,
    playback_at: Levels,
) -> None:
    tail_db, distortion_db, noise_db, rated_db = bounds_db
    (found,) = _all(lively, playback_at(lively, 70.0))
    given = replace(
        found,
        bound_tail_db=tail_db,
        bound_distortion_db=distortion_db,
        bound_noise_db=noise_db,
        bound_practice_db=rated_db,
    )
    assert echo.held_by(given) == held_by


def test_the_filter_is_given_what_the_sheet_states_less_suppression(
    dead_room_of: Rooms, playback_at: Levels
) -> None:
    """No decay, no distortion to speak of, no noise: 58 dB of the sheet are what is reached."""
    scene, playback = _distorting(dead_room_of(_laid()), playback_at, 1e-4, level_db=90.0)
    (found,) = _all(scene, playback)
    assert (found.stated_db, found.bound_practice_db) == (58.0, 38.0)
    assert found.bound_practice_from == "rated"
    assert found.can_add_db == pytest.approx(58.0)
    assert echo.held_by(found) == "rated"


@pytest.mark.parametrize(
    ("own", "linear_db", "suppression_db", "source"),
    [
        # What was measured in the room goes before the sheet.
        ({"canceller-linear-db": {"limit": 26, "because": "measured"}}, 26.0, 20.0, "practice"),
        # Of 58 dB in all the filter has the rest.
        ({"canceller-suppression-db": {"limit": 12, "because": "gentle"}}, 46.0, 12.0, "rated"),
        # A relaxed limit of the house is no better product.
        ({"canceller-linear-db": {"relaxed": True, "because": "rated"}}, 38.0, 20.0, "rated"),
        ({"canceller-suppression-db": {"relaxed": True, "because": "any"}}, 38.0, 20.0, "rated"),
    ],
)
def test_limits_of_the_document_and_the_sheet_go_together(
    own: dict[str, Any],
    linear_db: float,
    suppression_db: float,
    source: str,
    dead_room_of: Rooms,
    playback_at: Levels,
) -> None:
    scene = dead_room_of(_laid(targets={"house_rules": own}))
    (found,) = _all(scene, playback_at(scene, 70.0))
    assert (found.bound_practice_db, found.suppression_db) == (linear_db, suppression_db)
    assert found.bound_practice_from == source


def test_a_sheet_that_states_nothing_is_worth_what_practice_reaches(
    lively: Scene, playback_at: Levels
) -> None:
    """30 dB by the filter, 20 to 35 in practice [C]."""
    silent = replace(
        lively.catalogue,
        processors=tuple(
            replace(one, canceller_loss_db=None) for one in lively.catalogue.processors
        ),
    )
    (found,) = _all(replace(lively, catalogue=silent), playback_at(lively, 70.0))
    assert found.stated_db is None
    assert (found.bound_practice_db, found.bound_practice_from) == (30.0, "practice")


# 20 lg of the amplitude ratio: 1 % leaves 40 dB, 3 % 30.5, 10 % 20 [L derived].
@pytest.mark.parametrize(("distortion", "bound_db"), [(0.01, 40.0), (0.03, 30.5), (0.10, 20.0)])
def test_distortion_of_the_sheet_bounds(
    distortion: float, bound_db: float, lively: Scene, playback_at: Levels
) -> None:
    (found,) = _all(*_distorting(lively, playback_at, distortion))
    assert found.bound_distortion_db == pytest.approx(bound_db, abs=0.05)


def test_distortion_of_two_loudspeakers_counts_by_their_share(lively: Scene) -> None:
    """Equally loud, 1 % and 3 %: √((1 + 9)/2) = 2.24 %."""
    (one,) = placed_loudspeakers(lively.room, lively.catalogue, lively.talkers)
    product = one.product
    assert isinstance(product, Loudspeaker)
    clean, dirty = (
        replace(one, product=replace(product, distortion=share)) for share in (0.01, 0.03)
    )
    found = echo.distortion(lively.room, np.full((2, 7), 60.0), (clean, dirty))
    assert found == pytest.approx(0.0224, abs=5e-5)


@pytest.mark.practice
def test_a_loudspeaker_ten_decibels_over_the_talker_is_about_what_can_be_cancelled() -> None:
    """Practice's fine limit is 10 dB [C], and 150 ms ask 40.5 dB: filter and suppression reach it.

    Hands-free terminals in cars, where the loudspeaker is as loud as the talker, are asked for
    46 dB and aim at 50 (ITU-T P.1110 [L]).
    """
    both = sum(HOUSE_LIMITS[f"canceller-{name}-db"].limit for name in ("linear", "suppression"))
    over = HOUSE_LIMITS["loudspeaker-over-talker-db"].limit
    assert both == pytest.approx(40.5 + over, abs=1.0)


def test_a_document_may_expect_more_of_its_canceller_with_a_reason(
    dead_room_of: Rooms, playback_at: Levels
) -> None:
    own = {"canceller-suppression-db": {"limit": 25, "because": "measured on this processor"}}
    scene = dead_room_of(_laid(targets={"house_rules": own}))
    (found,) = _all(scene, playback_at(scene, 70.0))
    assert found.suppression_db == 25.0


def test_without_a_canceller_nothing_can_be_added(dead_room_of: Rooms, playback_at: Levels) -> None:
    mixer = {"kind": "processor", "product": "mixer-4"}
    bridge = {"kind": "bridge", "product": "usb-bridge"}
    scene = dead_room_of(_laid(devices={**PLACES["devices"], "p1": mixer, "b1": bridge}))
    (found,) = _all(scene, playback_at(scene, 70.0))
    assert found.canceller is None
    assert found.can_add_db is None
    assert found.state == "broken"


def test_a_canceller_that_does_not_hear_the_far_end_takes_nothing_of_it_away(
    dead_room_of: Rooms, playback_at: Levels
) -> None:
    """What is not in the reference has no filter: common practice, no source [C]."""

    def found(reference: str) -> Echo:
        laptop = {"laptop": {"kind": "computer", "at": [6, 9, 0.7]}}
        stage = {"kind": "canceller", "on": "p1.mic-1", "reference": reference}
        scene = dead_room_of(_laid(equipment=laptop, processing={"aec": stage}))
        (one,) = _all(scene, playback_at(scene, 70.0))
        return one

    right, wrong, absent = (found(f"p1.{port}") for port in ("far-end", "mic-2", "mic-99"))
    assert right.canceller == "p1.mic-1"
    assert right.state == "kept"
    assert (wrong.canceller, wrong.can_add_db, wrong.state) == (None, None, "broken")
    assert absent.state == "not assessed"


def test_of_a_canceller_in_the_computer_neither_tail_nor_loss_is_known(
    dead_room_of: Rooms, playback_at: Levels
) -> None:
    scene = dead_room_of(
        _laid(
            equipment={"laptop": {"kind": "computer", "at": [6, 9, 0.7]}},
            processing={
                "own": {"kind": "canceller", "on": "p1.mic-1", "bypassed": True},
                "client": {"kind": "canceller", "on": "laptop.usb"},
            },
        )
    )
    (found,) = _all(scene, playback_at(scene, 60.0))
    assert found.canceller == "laptop.usb"
    assert (found.tail, found.stated_db, found.bound_practice_from) == (None, None, "practice")
    assert found.state == "not assessed"


def test_where_no_way_to_the_far_end_is_known_nothing_is_judged(
    dead_room_of: Rooms, playback_at: Levels
) -> None:
    scene = dead_room_of(_laid(devices={"m1": MICROPHONE, "l1": BOX}))
    (found,) = _all(scene, playback_at(scene, 70.0))
    assert found.state == "not assessed"


def test_a_bar_cancels_by_itself_with_the_tail_of_its_sheet(
    dead_room_of: Rooms, playback_at: Levels
) -> None:
    bar = {"bar": {"kind": "combined", "product": "front-bar", "at": [8, 0.1, 1.2]}}
    scene = dead_room_of(_laid(devices=bar))
    (found,) = _all(scene, playback_at(scene, 70.0))
    assert found.canceller == "bar"
    assert found.tail == 0.2


def test_microphones_are_told_worst_first(dead_room_of: Rooms, playback_at: Levels) -> None:
    near = {**MICROPHONE, "at": [9.4, 8, 1.2]}
    scene = dead_room_of(_laid(devices={**PLACES["devices"], "m2": near}))
    found = _all(scene, playback_at(scene, 70.0))
    assert [one.microphone for one in found] == ["m2", "m1"]


def test_without_a_loudspeaker_there_is_no_echo(dead_room_of: Rooms) -> None:
    scene = dead_room_of(_laid(devices={"m1": MICROPHONE}))
    assert _all(scene, None) == ()
