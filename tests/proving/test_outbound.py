"""From talkers to microphones: measured in closed form, brought to what is promised."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any

import pytest

from tests.proving.given import (
    BROKEN,
    MODULATIONS,
    ROOM,
    Proved,
    response,
    steady,
)
from wellheard.measurement.results import Calibration
from wellheard.measurement.taken import Taken
from wellheard.proving.compare_outbound import unshared_db
from wellheard.proving.verdict import Compared, Verdict

pytestmark = pytest.mark.usefixtures("few_rays_here")

# IEC 60268-16:2020, male [L]; the reference values of the tests have them too.
ALPHA = (0.085, 0.127, 0.230, 0.233, 0.309, 0.224, 0.173)
BETA = (0.085, 0.078, 0.065, 0.011, 0.047, 0.095)
THRESHOLD_DB = (46, 27, 12, 6.5, 7.5, 8, 12)
A_WEIGHT_DB = (-16.1, -8.6, -3.2, 0, 1.2, 1.0, -1.1)  # IEC 61672-1 [L]
NAMES = ("125", "250", "500", "1000", "2000", "4000", "8000")
IMPORTANCE = (0.0617, 0.1671, 0.2373, 0.2648, 0.2142)  # ANSI S3.5-1997, 250 Hz to 4 kHz [L]
NORMAL_DB = (49.0, 57.23, 59.75, 53.49, 48.80, 43.81, 38.61)  # ANSI S3.5-1997 [L]; 125 Hz [C]
NC_30_DB = (48, 41, 35, 31, 29, 28, 27)  # ANSI/ASA S12.2, 125 Hz to 8 kHz [L]


def sti_by_hand(time: float, speech: Sequence[float], noise: Sequence[float]) -> float:
    """The full method of the standard for an ideal exponential decay, with plain loops."""
    index: list[float] = []
    below = 0.0
    for k in range(7):
        signal, total = 10 ** (speech[k] / 10), 10 ** (speech[k] / 10) + 10 ** (noise[k] / 10)
        masking = 0.0
        if k:
            level = 10 * math.log10(below)
            assert level < 63 or level >= 67  # the two lines that this case needs
            slope = 0.5 * level - 65 if level < 63 else 0.5 * level - 59.8
            masking = below * 10 ** (slope / 10)
        below = total
        heard = signal / (total + masking + 10 ** (THRESHOLD_DB[k] / 10))
        parts = []
        for frequency in MODULATIONS:
            m = heard / math.sqrt(1 + (2 * math.pi * frequency * time / 13.8155) ** 2)
            effective = max(-15.0, min(15.0, 10 * math.log10(m / (1 - m))))
            parts.append((effective + 15) / 30)
        index.append(sum(parts) / len(parts))
    shared = sum(b * math.sqrt(index[k] * index[k + 1]) for k, b in enumerate(BETA))
    return sum(a * i for a, i in zip(ALPHA, index, strict=True)) - shared


def sweep(at: str, time: float, *, ratio: float = 0.0, **said: Any) -> tuple[dict[str, Any], Taken]:
    recording = {"kind": "sweep", "from": at, "to": "m1", **said}
    return recording, Taken("sweep", response=response(time=time, ratio=ratio))


BOTH = {
    "sp": (
        {"kind": "speech", "from": "s1", "to": "m1"},
        Taken("speech", noise=steady(50.0, calibrated=False)),
    ),
    "no": ({"kind": "noise", "to": "m1"}, Taken("noise", noise=steady(20.0, calibrated=False))),
}


def row(found: Verdict, quantity: str, place: str = "s1") -> Compared:
    one = found.at(quantity, place)
    assert one is not None
    return one


def moved(one: Compared) -> float:
    """What the steps to the promised conditions bring."""
    assert one.estimate is not None
    assert one.measured is not None
    return one.estimate - one.measured


def test_measured_sti_of_an_exponential_decay_is_that_of_the_standard(proved: Proved) -> None:
    # Source at the promised effort: then what comes out is what is promised. 50 dB flat less the
    # 20 dB of noise, set to 65 dBA at the far end, whose room is NC-30 (the defaults).
    source = dict(
        zip(("125", "250", "500", "1000", "2000", "4000", "8000"), NORMAL_DB, strict=True)
    )
    found = proved({"r": sweep("s1", 0.6), **BOTH}, source={"levels_db_at_1m": source})
    out = [10 * math.log10(10**5 - 10**2)] * 7
    total = 10 * math.log10(
        sum(10 ** ((v + a) / 10) for v, a in zip(out, A_WEIGHT_DB, strict=True))
    )
    gain = 65.0 - total
    speech = [v + gain for v in out]
    noise = [10 * math.log10(10 ** ((20.0 + gain) / 10) + 10 ** (far / 10)) for far in NC_30_DB]
    one = row(found, "sti_outbound")
    assert one.measured == pytest.approx(sti_by_hand(0.6, speech, noise), abs=5e-4)
    assert one.recordings == ("r", "sp", "no")


def test_speech_to_noise_falls_by_as_much_as_the_source_is_too_loud(proved: Proved) -> None:
    # By octave: 50 less noise, less source over promised effort, less 20 dB of noise.
    source = [60.0 + 3 * k for k in range(7)]
    found = proved(BOTH, source={"levels_db_at_1m": dict(zip(NAMES, source, strict=True))})
    heard = 10 * math.log10(10**5 - 10**2)
    each = [heard - source[k] + NORMAL_DB[k] - 20.0 for k in range(1, 6)]
    expected = sum(w * v for w, v in zip(IMPORTANCE, each, strict=True)) / sum(IMPORTANCE)
    assert row(found, "speech_to_noise_db").measured == pytest.approx(expected, abs=0.02)


def test_every_way_that_a_source_faced_has_its_own_level(proved: Proved) -> None:
    # 50 dB facing the microphone, 40 dB facing away, 20 dB of noise: the worse counts, by itself
    # and not mixed with the better. By hand as above.
    each = {
        f"sp{angle}": (
            {"kind": "speech", "from": "s1", "to": "m1", "facing_deg": angle},
            Taken("speech", noise=steady(level, calibrated=False)),
        )
        for angle, level in ((0, 50.0), (180, 40.0))
    }
    source = dict(zip(NAMES, NORMAL_DB, strict=True))
    found = proved({**each, "no": BOTH["no"]}, source={"levels_db_at_1m": source})
    one = row(found, "speech_to_noise_db")
    assert one.measured == pytest.approx(10 * math.log10(10**4 - 10**2) - 20.0, abs=0.02)
    assert one.recordings == ("sp180", "no")


def test_a_microphone_of_unknown_sensitivity_says_the_same(proved: Proved) -> None:
    louder = {
        name: (recording, Taken(taken.kind, noise=steady(level + 17.0, calibrated=False)))
        for (name, (recording, taken)), level in zip(BOTH.items(), (50.0, 20.0), strict=True)
    }
    source = {"dba_at_1m": 70}
    one, other = (row(proved(r, source=source), "speech_to_noise_db") for r in (BOTH, louder))
    assert one.measured == pytest.approx(other.measured)
    assert one.estimate == pytest.approx(other.estimate)


def test_speech_to_noise_needs_no_sensitivity_and_no_doubt_of_it_counts(proved: Proved) -> None:
    # One instrument for both: what is not known of it cancels (JCGM 100, 5.2). σ is that of the
    # source, 1 dB, and of chance, 0.5 dB each.
    said = {name: {**r, "calibration": "cal"} for name, (r, _) in BOTH.items()}
    each = {
        "sp": (said["sp"], Taken("speech", noise=steady(50.0, sigma_db=math.hypot(2.0, 0.5)))),
        "no": (said["no"], Taken("noise", noise=steady(20.0, sigma_db=math.hypot(2.0, 0.5)))),
    }
    found = proved(
        each,
        source={"dba_at_1m": 70},
        calibration={"cal": {"full_scale_db": 120}},
        calibrations={"cal": Calibration(1.0, "stated", 2.0)},
    )
    one = row(found, "speech_to_noise_db")
    assert one.measured_sigma == pytest.approx(math.sqrt(1.0 + 0.5**2 + 0.5**2))


def test_speech_that_noise_hides_breaks_a_promise_and_keeps_none(proved: Proved) -> None:
    # At 4 kHz 1 dB over the noise: less than 3 dB is not reported, it is that much at most
    # [M, as ISO standards take background noise out of a level].
    def at(others_db: float) -> Compared:
        speech = dict.fromkeys((125.0, 250.0, 500.0, 1000.0, 2000.0), others_db)
        speech |= {4000.0: 21.0, 8000.0: others_db}
        each = {**BOTH, "sp": (BOTH["sp"][0], Taken("speech", noise=steady(speech)))}
        source = dict(zip(NAMES, NORMAL_DB, strict=True))
        return row(proved(each, source={"levels_db_at_1m": source}), "speech_to_noise_db")

    high, low = at(60.0), at(24.0)
    assert (high.word, low.word) == ("cannot tell", "broken")
    assert "At 4 kHz speech is not 3 dB over the noise." in high.why
    assert "louder" in high.decide


def test_the_far_ends_own_room_is_no_doubt_of_what_was_measured(proved: Proved) -> None:
    # Noise that is sent lies far under that of the far end's room (NC-30 by default): how far it
    # is off moves nothing, and what is left is the repeatability of the index.
    quiet = {**BOTH, "no": (BOTH["no"][0], Taken("noise", noise=steady(-30.0, calibrated=False)))}
    found = proved({"r": sweep("s1", 0.6), **quiet}, source={"dba_at_1m": 60, "sigma_db": 3.0})
    assert row(found, "sti_outbound").measured_sigma == pytest.approx(0.02, abs=1e-4)


def test_a_ratio_is_the_less_sure_the_farther_clarity_is_off(proved: Proved) -> None:
    # C50 = 10·lg((g + 1 − e^−x)/e^−x), x = 13.8155·0.05/T, and g the ratio: of g = 1/4 and T =
    # 0.5 s a direct sound that is 3 dB weaker takes off 0.58 dB only; all the decay from 0.5 to
    # 0.6 s takes off 1.5 dB, and 0.8 dB of the ratio. So C50 alone does not tell the ratio.
    late = math.exp(-13.8155 * 0.05 / 0.5)
    felt = 10 * math.log10((0.25 + 1 - late) / (0.125 + 1 - late))
    assert felt == pytest.approx(0.58, abs=0.01)
    assert unshared_db(-felt, 10 * math.log10(0.25), 10 * math.log10(1.25 / late - 1)) > 0.9
    assert unshared_db(0.0, -6.0, 6.0) == 0.0
    near, off = (
        row(proved({"r": sweep("s1", time)}), "direct_to_reverberant_db").measured_sigma
        for time in (0.5, 1.5)
    )
    assert near is not None
    assert off is not None
    assert off > near


def test_an_omnidirectional_source_flatters_a_talker_who_faces_away(proved: Proved) -> None:
    # A mouth sends less behind than in front in every octave of speech, so that less direct sound
    # comes than of a source that sends alike all round (Kocon & Monson 2018; common knowledge).
    away = {**ROOM["people"], "seats": {"s1": {"at": [2.0, 2.25], "facing": 180}}}
    found = proved(
        {"r": sweep("s1", 0.4, ratio=0.3)},
        room={"people": away},
        occupancy=0.5,
        source={"directivity": "omni"},
        climate=ROOM["space"]["climate"],
    )
    assert moved(row(found, "direct_to_reverberant_db")) < -1.0
    assert moved(row(found, "sti_outbound")) < 0.0


def test_an_omnidirectional_source_does_not_do_a_talker_justice_who_faces_the_microphone(
    proved: Proved,
) -> None:
    # On a table before the mouth: a talker's directivity index is 2 to 8 dB (same source).
    near = {
        "m1": {"kind": "microphone", "product": "table-boundary", "at": [3.2, 2.25, 0.74]},
    }
    people = {**ROOM["people"], "seats": {"s1": {"at": [2.0, 2.25], "facing": 0}}}
    table = {
        "t": {
            "kind": "table",
            "outline": [[2.4, 1.5], [4.4, 1.5], [4.4, 3.0], [2.4, 3.0]],
            "height": 0.74,
        }
    }
    found = proved(
        {"r": sweep("s1", 0.4, ratio=0.8)},
        room={"people": people, "devices": near, "furniture": table},
        occupancy=0.5,
        source={"directivity": "omni"},
        climate=ROOM["space"]["climate"],
    )
    assert moved(row(found, "direct_to_reverberant_db")) > 0.5


def test_nothing_is_added_where_all_is_as_promised(proved: Proved) -> None:
    found = proved({"r": sweep("s1", 0.4)}, occupancy=0.5, climate=ROOM["space"]["climate"])
    one = row(found, "sti_outbound")
    assert one.estimate == pytest.approx(one.measured, abs=1e-9)
    assert one.estimate_sigma == pytest.approx(one.measured_sigma)


def test_the_direct_to_reverberant_ratio_moves_with_what_clarity_is_off(proved: Proved) -> None:
    one, other = (
        row(proved({"r": sweep("s1", time)}), "direct_to_reverberant_db") for time in (0.4, 0.6)
    )
    # C50 of an ideal decay: 10·lg(e^(13.8155·0.05/T) − 1): 6.65 dB at 0.4 s, 3.35 dB at 0.6 s.
    assert one.measured is not None
    assert other.measured is not None
    assert one.measured - other.measured == pytest.approx(6.646 - 3.349, abs=0.01)
    assert "Inferred" in one.why


def test_two_recordings_of_one_path_are_surer_than_one(proved: Proved) -> None:
    one = row(proved({"r": sweep("s1", 0.4)}), "sti_outbound")
    two = row(proved({"r": sweep("s1", 0.4), "q": sweep("s1", 0.4)}), "sti_outbound")
    assert one.measured == pytest.approx(two.measured)
    assert two.measured_sigma is not None
    assert one.measured_sigma is not None
    assert two.measured_sigma < one.measured_sigma
    assert two.recordings == ("r", "q")


def test_of_two_ways_that_a_source_faced_the_worse_counts(proved: Proved) -> None:
    found = proved(
        {
            "good": sweep("s1", 0.3, ratio=1.0, facing_deg=0),
            "bad": sweep("s1", 0.9, ratio=0.1, facing_deg=90),
        }
    )
    assert row(found, "sti_outbound").recordings == ("bad",)


@pytest.mark.parametrize("active", ["canceller", "gate", "leveller", "noise-reduction", "codec"])
def test_through_what_is_not_linear_nothing_can_be_told(proved: Proved, active: str) -> None:
    found = proved({"r": sweep("s1", 0.3, ratio=9.0)}, processing=[active])
    for quantity in ("sti_outbound", "direct_to_reverberant_db"):
        one = row(found, quantity)
        assert one.word == "cannot tell"
        assert one.measured is None
        assert f"{active} switched off" in one.decide


def test_noise_that_was_recorded_through_noise_reduction_is_none(proved: Proved) -> None:
    said, taken = BOTH["no"]
    reduced = ({**said, "processing": ["noise-reduction"]}, taken)
    found = proved({**BOTH, "no": reduced}, source={"dba_at_1m": 60})
    one = row(found, "speech_to_noise_db")
    assert (one.word, one.measured) == ("cannot tell", None)
    assert one.decide == "Record again with noise-reduction switched off."


def test_a_mixer_that_is_held_open_is_linear(proved: Proved) -> None:
    found = proved({"r": sweep("s1", 0.3, ratio=9.0)}, processing=["mixer"])
    assert row(found, "sti_outbound").measured is not None


def test_a_recording_that_clips_says_what_to_do(proved: Proved) -> None:
    recording, _ = sweep("s1", 0.3)
    found = proved({"r": (recording, Taken("sweep", faults=(BROKEN,)))})
    one = row(found, "sti_outbound")
    assert one.word == "cannot tell"
    assert "it clips for 3 s" in one.why
    assert one.decide == "Record at a lower gain."


def test_what_was_not_measured_says_what_to_record(proved: Proved) -> None:
    found = proved({"r": sweep("s1", 0.3)})
    one = row(found, "sti_outbound", "s2")
    assert (one.word, one.measured, one.why) == ("cannot tell", None, "Not measured.")
    assert one.decide == "Record a sweep from s2 at the output of m1."
    lacking = row(found, "speech_to_noise_db")
    assert "state the level of the source at 1 m" in lacking.decide


def test_without_the_level_of_the_source_there_is_no_speech_to_noise(proved: Proved) -> None:
    one = row(proved(BOTH), "speech_to_noise_db")
    assert one.word == "cannot tell"
    assert "level of the source at 1 m" in one.why


def test_many_places_that_were_not_measured_are_told_together(proved: Proved) -> None:
    seats = {f"s{i}": {"at": [1.0 + 0.8 * i, 1.5], "facing": 0} for i in range(1, 6)}
    found = proved({"r": sweep("s1", 0.3)}, room={"people": {**ROOM["people"], "seats": seats}})
    one = row(found, "sti_outbound", "")
    assert one.why == "Not measured at 4 places: s2, s3, s4 and s5."
    assert found.at("sti_outbound", "s2") is None


def test_another_microphone_than_the_one_that_serves_decides_only_if_it_is_enough(
    proved: Proved,
) -> None:
    devices = {
        **ROOM["devices"],
        "m2": {"kind": "microphone", "product": "ceiling-head-3", "at": [5.5, 4.0, 2.7]},
    }

    def at_m2(time: float, ratio: float) -> Verdict:
        recording, taken = sweep("s1", time, ratio=ratio)
        return proved({"r": ({**recording, "to": "m2"}, taken)}, room={"devices": devices})

    poor = row(at_m2(1.5, 0.0), "sti_outbound")
    assert poor.word == "cannot tell"
    assert "Measured at m2 only" in poor.why
    assert poor.decide == "Record a sweep from s1 at the output of m1."
    assert row(at_m2(0.2, 4.0), "sti_outbound").word == "kept"


def test_a_source_beside_a_seat_stands_for_it_and_one_far_off_for_nobody(proved: Proved) -> None:
    def at(x: float) -> Verdict:
        recording, taken = sweep("s1", 0.3, ratio=2.0)
        return proved({"r": ({**recording, "from": [x, 1.5, 1.2]}, taken)})

    assert row(at(2.2), "sti_outbound").measured is not None
    far = at(3.2)
    assert row(far, "sti_outbound").measured is None
    assert any(note.startswith("Of the decay alone") for note in far.notes)


def test_what_is_not_in_the_document_is_noted(proved: Proved) -> None:
    found = proved({"r": sweep("s9", 0.3)})
    assert "Recording r names s9, which the document does not have." in found.notes


def test_recordings_that_are_not_there_are_noted_by_their_reason(proved: Proved) -> None:
    found = proved(
        {"a": sweep("s1", 0.3), "b": sweep("s2", 0.3)},
        refused={"a": "not recorded yet", "b": "not recorded yet"},
    )
    assert "a and b: not recorded yet." in found.notes
    assert row(found, "sti_outbound").why == "Not measured."
