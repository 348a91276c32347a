"""The room itself: noise by its curves, decay by its mean, and how it stood."""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import Any

import pytest

from tests.proving.given import OCTAVES, ROOM, Proved, response, steady
from wellheard.errors import DocumentError
from wellheard.measurement.session import Recording, SessionFolder
from wellheard.measurement.taken import Taken
from wellheard.proving.conditions import as_measured
from wellheard.proving.verdict import Compared, Verdict
from wellheard.room.document import Room

pytestmark = pytest.mark.usefixtures("few_rays_here")

# ANSI/ASA S12.2, Table 1 [L]: 125 Hz to 8 kHz.
NC = {
    25: (44, 37, 31, 27, 24, 22, 21),
    30: (48, 41, 35, 31, 29, 28, 27),
    35: (52, 45, 40, 36, 34, 33, 32),
}
CALIBRATED = {"calibration": {"cal": {"full_scale_db": 120}}}
AS_PROMISED: dict[str, Any] = {"occupancy": 0.5, "climate": ROOM["space"]["climate"]}

Recorded = tuple[dict[str, Any], Taken]


def row(found: Verdict, quantity: str, place: str = "") -> Compared:
    one = found.at(quantity, place)
    assert one is not None
    return one


def silence(curve: int, *, to: Any = "s1", above: float = 0.0) -> Recorded:
    levels = {f: v + above for f, v in zip(OCTAVES, NC[curve], strict=True)}
    said = {"kind": "noise", "to": to, "calibration": "cal"}
    return said, Taken("noise", noise=steady(levels, sigma_db=0.3))


@pytest.mark.parametrize(("curve", "word"), [(25, "kept"), (30, "cannot tell"), (35, "broken")])
def test_noise_on_a_curve_is_that_curve(proved: Proved, curve: int, word: str) -> None:
    found = proved({"n": silence(curve)}, **CALIBRATED, **AS_PROMISED)
    one = row(found, "noise_nc", "s1")
    assert one.measured == pytest.approx(curve, abs=0.05)
    # NC-30 is promised, and what rounds to it keeps it.
    assert (one.promised, one.word) == ((None, 30.5), word)


def test_a_decibel_is_more_than_one_number_where_curves_lie_close(proved: Proved) -> None:
    # ANSI/ASA S12.2, Table 1: at 31.5 Hz NC-25, 30 and 35 are 65, 68 and 71 dB, so that 1 dB is
    # 5/3 of a number; at 1 kHz 27, 32 and 36 dB, so that it is 1.25 upwards.
    low = {31.5: 68.0, **dict(zip(OCTAVES, (36, 28, 22, 18, 14, 12, 11), strict=True))}
    said = {"kind": "noise", "to": "s1", "calibration": "cal"}
    rumble = said, Taken("noise", noise=steady(low, sigma_db=0.3))
    one = row(proved({"n": rumble}, **CALIBRATED), "noise_nc", "s1")
    assert one.measured == pytest.approx(30.0, abs=0.01)
    assert one.measured_sigma == pytest.approx(5 / 3, abs=0.01)


def test_noise_below_the_curves_keeps_what_they_promise(proved: Proved) -> None:
    one = row(proved({"n": silence(25, above=-20.0)}, **CALIBRATED), "noise_nc", "s1")
    assert one.word == "kept"
    assert "below NC-15" in one.why
    lower = proved(
        {"n": silence(25, above=-20.0)}, room={"targets": {"noise_nc": 10}}, **CALIBRATED
    )
    assert row(lower, "noise_nc", "s1").word == "cannot tell"


def test_noise_without_calibration_is_shown_and_not_judged(proved: Proved) -> None:
    said, taken = silence(25)
    del said["calibration"]
    found = proved({"n": (said, Taken("noise", noise=steady(20.0, calibrated=False)))})
    assert row(found, "noise_nc", "s1").word == "cannot tell"
    assert [one.place for one in found.noise] == ["s1"]
    assert taken.kind == "noise"


def test_what_a_microphone_puts_out_decides_no_noise_of_the_room(proved: Proved) -> None:
    found = proved({"n": silence(35, to="m1")}, **CALIBRATED)
    assert row(found, "noise_nc").why == "Not measured."
    assert [one.place for one in found.noise] == ["m1"]
    assert any("decides no NC number" in note for note in found.notes)


def test_noise_may_be_taken_anywhere_in_the_room(proved: Proved) -> None:
    found = proved({"n": silence(35, to=[5.0, 4.0, 1.2])}, **CALIBRATED, **AS_PROMISED)
    one = row(found, "noise_nc", "5.00 m / 4.00 m / 1.20 m")
    assert one.word == "broken"


def sweeps(*times: float) -> dict[str, Recorded]:
    points = [[1.5 + 0.5 * i, 1.0 + 0.4 * i, 1.5] for i in range(len(times))]
    return {
        f"r{i}": (
            {"kind": "impulse-response", "from": [0.8, 0.8, 1.5], "to": points[i]},
            Taken("impulse-response", response=response(time=time)),
        )
        for i, time in enumerate(times)
    }


def test_the_decay_is_the_mean_over_places_with_the_deviation_of_the_standard(
    proved: Proved,
) -> None:
    one = row(proved(sweeps(*[0.5] * 6), **AS_PROMISED), "reverberation")
    assert one.measured == pytest.approx(0.5)
    # ISO 3382-2 clause 7, T30, six places: .0090 at 500 Hz, .0064 at 1 kHz [L, worked table].
    assert one.measured_sigma == pytest.approx(math.hypot(0.0090, 0.0064) / 2, abs=5e-5)
    assert (one.promised, one.word) == ((None, 0.6), "kept")
    mixed = row(proved(sweeps(0.4, 0.5, 0.6), **AS_PROMISED), "reverberation")
    assert mixed.measured == pytest.approx(0.5)
    assert row(proved(sweeps(0.7, 0.7), **AS_PROMISED), "reverberation").word == "broken"


def test_a_second_recording_of_a_pair_is_no_second_place(proved: Proved) -> None:
    # ISO 3382-2, 4.3.1 counts combinations of source and microphone [L].
    (said, taken), *_ = sweeps(0.5).values()
    twice = {"a": (said, taken), "b": (said, taken)}
    assert row(proved(twice), "reverberation").word == "cannot tell"
    both = sweeps(0.4, 0.6)
    again = {**both, "again": both["r0"]}
    one, other = (row(proved(r, **AS_PROMISED), "reverberation") for r in (both, again))
    assert one.measured == pytest.approx(0.5)
    assert (one.measured, one.measured_sigma) == (other.measured, other.measured_sigma)


def test_one_place_is_no_mean_over_a_room(proved: Proved) -> None:
    one = row(proved(sweeps(0.5)), "reverberation")
    assert one.word == "cannot tell"
    assert "ISO 3382-2" in one.decide


def test_people_who_are_to_come_shorten_the_decay(proved: Proved) -> None:
    # Measured empty, promised full: a seated person absorbs more than an empty chair.
    many = {f"s{i}": {"at": [0.8 + 0.55 * i, 1.0 + 1.2 * (i % 3)], "facing": 0} for i in range(9)}
    people = {"occupancy": 1.0, "seats": many}
    found = proved(sweeps(0.5, 0.5), room={"people": people}, climate=ROOM["space"]["climate"])
    one = row(found, "reverberation")
    assert one.estimate is not None
    assert one.estimate < 0.49
    assert "people and air −" in one.why


def test_decays_stand_beside_what_was_predicted_as_tested(proved: Proved) -> None:
    found = proved(sweeps(0.5, 0.5))
    assert [one.octave for one in found.decays] == list(OCTAVES)
    assert all(one.low < one.predicted < one.high for one in found.decays)
    assert {one.count for one in found.decays} == {2}
    assert proved({}).decays == ()


def test_nothing_is_decided_by_no_recording(proved: Proved) -> None:
    found = proved({})
    assert found.word == "cannot tell"
    assert {one.word for one in found.rows} == {"cannot tell"}
    assert all(one.decide for one in found.rows)


def test_rows_are_read_worst_first(proved: Proved) -> None:
    found = proved({**sweeps(0.9, 0.9), "n": silence(25)}, **CALIBRATED)
    words = [one.word for one in found.rows]
    assert words == sorted(words, key=["broken", "cannot tell", "kept"].index)
    assert found.word == words[0] == "broken"


def test_the_price_is_no_matter_of_measurement(proved: Proved) -> None:
    found = proved({}, room={"targets": {"price": 9000}})
    assert "The price that is promised is no matter of measurement." in found.notes


# As it was measured ------------------------------------------------------------------------------


def test_the_room_as_measured_has_the_conditions_of_the_session(
    room_with: Callable[..., Room], session_of: Callable[..., SessionFolder]
) -> None:
    stages = {
        "aec": {"kind": "canceller", "on": "dsp.send"},
        "mix": {"kind": "mixer", "on": "dsp.send"},
    }
    room = room_with(
        devices={
            **ROOM["devices"],
            "dsp": {"kind": "processor", "product": "processor-4", "equipment": "rack"},
        },
        equipment={"rack": {"kind": "rack", "at": [5.5, 0.3, 0.5]}},
        processing=stages,
    )
    folder = session_of(
        {
            "a": {"kind": "sweep", "from": "s1", "to": "m1", "facing_deg": 45},
            "b": {"kind": "sweep", "from": "s1", "to": "m1", "facing_deg": 90},
            "c": {"kind": "sweep", "from": "s2", "to": "m1"},
        },
        occupancy=0.25,
        climate={"temperature_c": 24, "humidity": 0.3},
        source={"directivity": "omni"},
        processing=["mixer"],
    )
    made = as_measured(room, folder.session, folder.session.recordings)
    assert made.people.directivity == "omni"
    assert made.people.occupancy == 0.25
    assert made.space.climate.temperature_c == 24
    assert made.people.seats["s1"].facing == (45.0, 90.0)
    assert made.people.seats["s2"].facing == room.people.seats["s2"].facing
    assert {k: one.bypassed for k, one in made.processing.items()} == {"aec": True, "mix": False}
    # Chairs stay, whoever measures; promises and devices are those of the document.
    assert set(made.people.seats) == set(room.people.seats)
    assert (made.targets, made.devices) == (room.targets, room.devices)


def test_a_facing_that_one_recording_leaves_open_stays_as_the_document_has_it(
    room_with: Callable[..., Room], session_of: Callable[..., SessionFolder]
) -> None:
    folder = session_of(
        {
            "a": {"kind": "sweep", "from": "s1", "to": "m1", "facing_deg": 45},
            "b": {"kind": "sweep", "from": "s1", "to": "m1"},
        }
    )
    recordings: dict[str, Recording] = folder.session.recordings
    made = as_measured(room_with(), folder.session, recordings)
    assert made.people.seats["s1"].facing == (0.0,)


def test_what_was_set_alike_is_said(proved: Proved) -> None:
    found = proved(
        {}, source={"directivity": "omni", "dba_at_1m": 72}, occupancy=0.25, processing=["mixer"]
    )
    said = "\n".join(found.alike)
    assert "alike in all directions, promised with the directivity of a talker" in said
    assert "72.0 dBA at 1 m" in said
    assert "25 % of the seats taken, promised with 50 % of the seats taken" in said
    assert "21 °C and 45 % relative humidity, promised with 20 °C and 50 %" in said
    assert "mixer active" in said


# Rooms that divide -------------------------------------------------------------------------------

DIVIDED: dict[str, Any] = {
    "partitions": {"fold": {"from": [3, 0], "to": [3, 4.5]}},
    "arrangements": {"joined": {"open": ["fold"]}, "split": {"closed": ["fold"]}},
    "people": {
        "occupancy": 0.5,
        "seats": {"a": {"at": [1.5, 2.0], "facing": 0}, "b": {"at": [4.5, 2.0], "facing": 180}},
    },
    "devices": {
        "m1": {"kind": "microphone", "product": "ceiling-head-3", "at": [1.5, 2.6, 2.7]},
        "m2": {"kind": "microphone", "product": "ceiling-head-3", "at": [4.5, 2.6, 2.7]},
    },
}


def near(talker: str, microphone: str) -> dict[str, Recorded]:
    said = {"kind": "sweep", "from": talker, "to": microphone}
    return {f"{talker}-{microphone}": (said, Taken("sweep", response=response(ratio=4.0)))}


def test_how_a_room_that_divides_stood_must_be_said(proved: Proved) -> None:
    with pytest.raises(DocumentError, match="joined or split"):
        proved(near("a", "m1"), room=DIVIDED)
    with pytest.raises(DocumentError, match="no arrangement halves"):
        proved(near("a", "m1"), room=DIVIDED, arrangement="halves")
    with pytest.raises(DocumentError, match="does not divide"):
        proved({}, arrangement="joined")


def test_what_was_measured_in_one_arrangement_is_brought_to_the_worst(proved: Proved) -> None:
    found = proved(near("a", "m1"), room=DIVIDED, arrangement="joined")
    one = row(found, "sti_outbound", "a")
    assert one.measured is not None
    assert "promised in every one, the worst counts" in "\n".join(found.alike)


def test_across_a_closed_partition_there_is_no_path(proved: Proved) -> None:
    found = proved(near("a", "m2"), room=DIVIDED, arrangement="split")
    one = row(found, "sti_outbound", "a")
    assert one.word == "cannot tell"
    assert "different spaces" in one.why


def test_each_space_has_its_own_decay(proved: Proved) -> None:
    def at(x: float, time: float, name: str) -> dict[str, Recorded]:
        return {
            f"{name}{i}": (
                {"kind": "impulse-response", "from": [x, 0.8, 1.5], "to": [x, y, 1.5]},
                Taken("impulse-response", response=response(time=time)),
            )
            for i, y in enumerate((2.0, 3.5))
        }

    found = proved(
        {**at(1.0, 0.3, "a"), **at(4.0, 0.9, "b")},
        room={**DIVIDED, "targets": {"reverberation": 0.6}},
        arrangement="split",
    )
    assert row(found, "reverberation", "split.a").measured == pytest.approx(0.3)
    assert row(found, "reverberation", "split.b").measured == pytest.approx(0.9)
