"""From the far end to ears, and back again: levels, evenness, echo."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Any

import pytest

from tests.proving.given import ROOM, Proved, echo, response, steady, trial
from wellheard.measurement.results import Calibration, Fault
from wellheard.measurement.taken import Taken
from wellheard.proving.verdict import Compared, Verdict

pytestmark = pytest.mark.usefixtures("few_rays_here")

CALIBRATED = {"calibration": {"cal": {"full_scale_db": 120}}}
AS_PROMISED: dict[str, Any] = {"occupancy": 0.5, "climate": ROOM["space"]["climate"]}

Recorded = tuple[dict[str, Any], Taken]


def dba(level: float) -> float:
    """Octave level that is so many dBA where all seven octaves have it: the weights by hand."""
    weights = (-16.1, -8.6, -3.2, 0.0, 1.2, 1.0, -1.1)  # IEC 61672-1 [L]
    return level - 10 * math.log10(sum(10 ** (w / 10) for w in weights))


def speech(
    to: str, level_dba: float, *, calibrated: bool = True, source: str = "far-end"
) -> Recorded:
    said = {"kind": "speech", "from": source, "to": to}
    if calibrated:
        said["calibration"] = "cal"
    return said, Taken("speech", noise=steady(dba(level_dba), calibrated=calibrated))


def silence(to: str, level_dba: float) -> Recorded:
    said = {"kind": "noise", "to": to, "calibration": "cal"}
    return said, Taken("noise", noise=steady(dba(level_dba)))


def row(found: Verdict, quantity: str, place: str = "") -> Compared:
    one = found.at(quantity, place)
    assert one is not None
    return one


def test_a_calibrated_level_at_a_seat_is_held_against_both_ends(proved: Proved) -> None:
    for level, word in ((70.0, "kept"), (60.0, "broken"), (80.0, "broken"), (65.0, "cannot tell")):
        found = proved({"l": speech("s1", level)}, **CALIBRATED, **AS_PROMISED)
        one = row(found, "listening_level_dba", "s1")
        assert one.measured == pytest.approx(level, abs=0.01)
        assert (one.measured_sigma, one.word) == (1.0, word)


def test_noise_of_the_room_is_taken_out_of_a_level(proved: Proved) -> None:
    # 70 dBA over 64 dBA of noise: 10·lg(10^7 − 10^6.4) = 68.74 dBA.
    recordings = {"l": speech("s1", 70.0), "n": silence("s1", 64.0)}
    one = row(proved(recordings, **CALIBRATED), "listening_level_dba", "s1")
    assert one.measured == pytest.approx(10 * math.log10(10**7 - 10**6.4), abs=0.01)


def test_without_calibration_no_level_is_told(proved: Proved) -> None:
    recordings = {f"l{i}": speech(f"s{i}", 70.0, calibrated=False) for i in (1, 2)}
    found = proved(recordings)
    for quantity, place in (
        ("listening_level_dba", "s1"),
        ("playback_level_dba", ""),
        ("uniformity_db", ""),
    ):
        one = row(found, quantity, place)
        assert one.word == "cannot tell"
        assert "calibration" in one.why
        assert "calibrator" in one.decide


def test_playback_is_the_mean_of_energies_over_the_seats(proved: Proved) -> None:
    # 68 and 74 dBA: 10·lg((10^6.8 + 10^7.4)/2) = 71.96 dBA; arithmetic would give 71.
    recordings = {"a": speech("s1", 68.0), "b": speech("s2", 74.0)}
    one = row(proved(recordings, **CALIBRATED), "playback_level_dba")
    assert one.measured == pytest.approx(10 * math.log10((10**6.8 + 10**7.4) / 2), abs=0.01)
    assert one.recordings == ("a", "b")


def test_a_mean_over_some_seats_is_less_sure_and_asks_for_the_others(proved: Proved) -> None:
    every = {"a": speech("s1", 70.0), "b": speech("s2", 70.0)}
    all_seats = row(proved(every, **CALIBRATED), "playback_level_dba")
    some = row(proved({"a": every["a"]}, **CALIBRATED), "playback_level_dba")
    assert all_seats.word == "kept"
    assert some.measured_sigma is not None
    assert all_seats.measured_sigma is not None
    assert some.measured_sigma > all_seats.measured_sigma
    assert "s2" in some.why
    assert "s2" in some.decide


def test_two_seats_break_evenness_and_all_seats_keep_it(proved: Proved) -> None:
    seats = {f"s{i}": {"at": [1.5 + i, 1.5], "facing": 0} for i in (1, 2, 3)}
    room = {"people": {**ROOM["people"], "seats": seats}}

    def evenness(*levels: float) -> Compared:
        recordings = {f"l{i}": speech(f"s{i}", v) for i, v in enumerate(levels, start=1)}
        return row(proved(recordings, room=room, **CALIBRATED, **AS_PROMISED), "uniformity_db")

    broken = evenness(64.0, 72.0)  # 8 dB where 6 are promised
    assert broken.word == "broken"
    assert broken.measured == pytest.approx(8.0, abs=0.01)
    some = evenness(69.0, 71.0)
    assert (some.word, some.chance) == ("cannot tell", None)
    assert "s3" in some.decide
    assert evenness(69.0, 71.0, 70.0).word == "kept"


def test_one_of_two_loudspeakers_is_not_what_is_promised(proved: Proved) -> None:
    one = row(
        proved({"l": speech("s1", 70.0, source="l1")}, **CALIBRATED),
        "listening_level_dba",
        "s1",
    )
    assert one.word == "cannot tell"
    assert "one of several loudspeakers" in one.why


def test_the_only_loudspeaker_is_the_far_end(proved: Proved) -> None:
    devices = {k: v for k, v in ROOM["devices"].items() if k != "l2"}
    recordings = {"l": speech("s1", 70.0, source="l1")}
    found = proved(recordings, room={"devices": devices}, **CALIBRATED)
    assert row(found, "listening_level_dba", "s1").measured is not None


def sti_in(found: Verdict) -> Compared:
    return row(found, "sti_inbound", "s1")


def sweep(to: str, **over: Any) -> Recorded:
    said = {"kind": "sweep", "from": "far-end", "to": to}
    return said, Taken("sweep", response=response(**over))


def test_noise_that_was_measured_lowers_intelligibility(proved: Proved) -> None:
    quiet, loud = (
        sti_in(
            proved(
                {"r": sweep("s1", time=0.4), "l": speech("s1", 70.0), "n": silence("s1", level)},
                **CALIBRATED,
            )
        )
        for level in (30.0, 66.0)
    )
    assert quiet.measured is not None
    assert loud.measured is not None
    assert loud.measured < quiet.measured - 0.1
    assert quiet.recordings == ("r", "l", "n")
    assert quiet.why.endswith("Modulation, level and noise as measured.")


def test_what_of_a_transmission_index_is_predicted_is_said(proved: Proved) -> None:
    one = sti_in(proved({"r": sweep("s1", time=0.4)}))
    assert one.why.endswith("Modulation as measured, level and noise as predicted.")


def test_a_response_without_modulation_gives_no_index(proved: Proved) -> None:
    one = sti_in(proved({"r": sweep("s1", modulation=())}))
    assert one.word == "cannot tell"
    assert "gives no modulation" in one.why
    fault = Fault("no-sti", "note", "the response is 0.7 s long", "play a longer sweep")
    said, taken = sweep("s1", modulation=())
    told = sti_in(proved({"r": (said, replace(taken, faults=(fault,)))}))
    assert (told.why, told.decide) == ("r: the response is 0.7 s long.", "Play a longer sweep.")


def test_without_loudspeakers_nothing_is_promised_of_the_way_in(proved: Proved) -> None:
    devices = {"m1": ROOM["devices"]["m1"]}
    found = proved({"r": sweep("s1")}, room={"devices": devices})
    assert found.at("sti_inbound", "s1") is None
    assert any("No loudspeaker is placed" in note for note in found.notes)


# Echo --------------------------------------------------------------------------------------------

PROCESSED = {
    "devices": {
        **ROOM["devices"],
        "dsp": {"kind": "processor", "product": "processor-4", "equipment": "rack"},
        "amp": {"kind": "amplifier", "product": "amplifier-2x40", "equipment": "rack"},
    },
    "equipment": {"rack": {"kind": "rack", "at": [5.5, 0.3, 0.5]}},
    "targets": {"echo_loss_db": 45},
}


def back(loss_db: float, **over: Any) -> Recorded:
    said = {"kind": "sweep", "from": "far-end", "to": "m1"}
    return said, Taken("sweep", response=response(), echo=echo(loss_db, **over))


def cancelled(before_db: float, added_db: float, *faults: Fault) -> Recorded:
    said = {"kind": "echo", "from": "far-end", "to": "m1", "processing": ["canceller"]}
    return said, Taken("echo", trial=trial(before_db, added_db, *faults))


def test_what_the_room_and_the_canceller_take_away_adds_up(proved: Proved) -> None:
    found = proved({"r": back(18.0), "t": cancelled(17.0, 36.0)}, room=PROCESSED, **AS_PROMISED)
    one = row(found, "echo_loss_db", "m1")
    assert one.promised == (45.0, None)
    assert one.measured == pytest.approx(54.0)
    # 1 dB of the level, 3 dB of the canceller
    assert one.measured_sigma == pytest.approx(math.sqrt(10))
    assert one.word == "kept"
    # 9 dB at σ 3.16 dB clears 1.2816·σ = 4.05 dB; 3 dB does not.
    near = proved({"r": back(18.0), "t": cancelled(17.0, 30.0)}, room=PROCESSED, **AS_PROMISED)
    assert row(near, "echo_loss_db", "m1").word == "cannot tell"


def test_a_room_that_loses_enough_by_itself_needs_no_canceller(proved: Proved) -> None:
    found = proved({"r": back(50.0)}, room=PROCESSED, **AS_PROMISED)
    assert row(found, "echo_loss_db", "m1").word == "kept"


def test_without_a_trial_of_the_canceller_echo_is_not_decided(proved: Proved) -> None:
    one = row(proved({"r": back(18.0)}, room=PROCESSED), "echo_loss_db", "m1")
    assert (one.word, one.measured) == ("cannot tell", 18.0)
    assert "ten seconds or longer" in one.decide


def test_where_nothing_cancels_the_room_alone_decides(proved: Proved) -> None:
    found = proved({"r": back(18.0)}, room={"targets": {"echo_loss_db": 45}}, **AS_PROMISED)
    assert row(found, "echo_loss_db", "m1").word == "broken"


def test_a_trial_alone_has_the_loss_of_the_room_in_it(proved: Proved) -> None:
    one = row(proved({"t": cancelled(20.0, 40.0)}, room=PROCESSED), "echo_loss_db", "m1")
    assert (one.measured, one.recordings) == (60.0, ("t",))


def test_a_response_without_an_octave_has_no_echo_loss(proved: Proved) -> None:
    fault = Fault("no-octave", "error", "no echo loss at all", "play the sweep louder")
    nothing = back(math.inf, faults=(fault,))
    one = row(proved({"r": nothing}, room=PROCESSED), "echo_loss_db", "m1")
    assert (one.word, one.measured) == ("cannot tell", None)
    assert (one.why, one.decide) == ("r: no echo loss at all.", "Play the sweep louder.")


@pytest.mark.parametrize("code", ["echo-in-noise", "near-end-talks"])
def test_a_loss_that_noise_hides_keeps_a_promise_and_breaks_none(proved: Proved, code: str) -> None:
    # What is left is noise or less: the loss is that much at least (no upper end is known).
    hidden = Fault(code, "warning", "the loss is 40 dB at least", "play louder")

    def at(added_db: float) -> Compared:
        recordings = {"r": back(18.0), "t": cancelled(17.0, added_db, hidden)}
        return row(proved(recordings, room=PROCESSED, **AS_PROMISED), "echo_loss_db", "m1")

    assert at(36.0).word == "kept"
    low = at(10.0)
    assert (low.word, low.measured) == ("cannot tell", 28.0)
    assert "at least" in low.why
    assert "louder" in low.decide


def test_a_canceller_that_had_converged_before_shows_nothing_of_what_it_adds(
    proved: Proved,
) -> None:
    # Its loss is the same from beginning to end, whatever it adds: by the definition of what is
    # added, the difference of the two.
    idle = Fault("nothing-added", "note", "it adds 0.2 dB", "reset it before the far end begins")
    trials = {"t": cancelled(50.0, 0.2, idle)}
    for recordings in ({"r": back(18.0), **trials}, trials):
        one = row(proved(recordings, room=PROCESSED, **AS_PROMISED), "echo_loss_db", "m1")
        assert one.word == "cannot tell"
        assert one.why == "t: it adds 0.2 dB."
        assert one.decide.startswith("Reset it before")


# How sure ----------------------------------------------------------------------------------------


def stated(sigma_db: float) -> dict[str, Calibration]:
    return {"cal": Calibration(1.0, "stated", sigma_db)}


def heard(sigma_db: float) -> Taken:
    return Taken("speech", noise=steady(dba(70.0), sigma_db=sigma_db))


def test_a_mean_of_recordings_lessens_chance_and_no_calibration(proved: Proved) -> None:
    # JCGM 100 (GUM), 4.3 and 5.2: what recordings have in common does not average out.
    # σ of each √(2² + 1.5²) = 2.5 dB; of four √(2² + 1.5²/4) = 2.136 dB, not 1.25.
    said, _ = speech("s1", 70.0)
    four = {f"l{i}": (said, heard(2.5)) for i in range(4)}
    found = proved(four, calibrations=stated(2.0), **CALIBRATED, **AS_PROMISED)
    one = row(found, "listening_level_dba", "s1")
    assert one.measured_sigma == pytest.approx(math.hypot(2.0, 0.75))


def test_a_calibration_that_speech_and_noise_share_leaves_intelligibility_alone(
    proved: Proved,
) -> None:
    # What both have too much of leaves their ratio, and so the index, as it is.
    def sigma(calibration_db: float) -> float:
        each = math.hypot(calibration_db, 0.5)
        noise = Taken("noise", noise=steady(dba(55.0), sigma_db=each))
        recordings = {
            "r": sweep("s1", time=0.4),
            "l": (speech("s1", 70.0)[0], heard(each)),
            "n": (silence("s1", 55.0)[0], noise),
        }
        found = proved(recordings, calibrations=stated(calibration_db), **CALIBRATED)
        return sti_in(found).measured_sigma or 0.0

    assert sigma(3.0) == pytest.approx(sigma(0.0))


def test_a_level_that_is_predicted_is_less_sure_than_one_that_was_measured(
    proved: Proved,
) -> None:
    noise = silence("s1", 58.0)
    measured = {"r": sweep("s1", time=0.4), "l": speech("s1", 70.0), "n": noise}
    without = {"r": sweep("s1", time=0.4), "n": noise}
    one, other = (sti_in(proved(r, **CALIBRATED)).measured_sigma for r in (measured, without))
    assert one is not None
    assert other is not None
    assert other > one


def test_speech_that_noise_hides_has_no_level(proved: Proved) -> None:
    # 1 dB over noise: less than 3 dB is not reported [M, as ISO standards take out background].
    recordings = {"l": speech("s1", 66.0), "n": silence("s1", 65.0)}
    one = row(proved(recordings, **CALIBRATED, **AS_PROMISED), "listening_level_dba", "s1")
    assert (one.word, one.measured) == ("cannot tell", None)
    assert "not 3 dB over the noise" in one.why


def test_people_who_come_after_the_level_was_set_make_it_softer(proved: Proved) -> None:
    # Set and measured in the empty room, promised full: the reverberant level falls with
    # absorption by 10·lg of it, the direct level does not, and nobody turns the volume.
    many = {f"s{i}": {"at": [0.8 + 0.55 * i, 1.0 + 1.2 * (i % 3)], "facing": 0} for i in range(9)}
    people = {"occupancy": 1.0, "seats": many}
    recordings = {f"l{i}": speech(f"s{i}", 70.0) for i in range(9)}
    found = proved(
        recordings,
        room={"people": people},
        climate=ROOM["space"]["climate"],
        occupancy=0.0,
        **CALIBRATED,
    )
    for quantity, place in (("playback_level_dba", ""), ("listening_level_dba", "s4")):
        one = row(found, quantity, place)
        assert one.estimate is not None
        assert 69.0 < one.estimate < 69.95
    same = proved(recordings, room={"people": people}, occupancy=1.0, **CALIBRATED)
    assert row(same, "playback_level_dba").estimate == pytest.approx(70.0, abs=0.02)
