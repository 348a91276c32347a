"""What the trade holds of cancelling echo, against the rules and the signal graph.

Every fact here is common practice, no source. Rooms and devices are invented.
"""

from __future__ import annotations

from typing import Any

import pytest

from wellheard.checks.run import findings

pytestmark = pytest.mark.practice

ARRAY = {"kind": "microphone", "product": "ceiling-array-16", "at": [2.0, 2.3, 2.7]}
HEAD = {"kind": "microphone", "product": "ceiling-head-3", "at": [2.0, 2.3, 2.4]}
BAR = {"kind": "combined", "product": "front-bar", "at": [0.1, 2.3, 1.0]}
MIXER = {"kind": "processor", "product": "processor-4", "equipment": "rack"}
SPEAKER = {"kind": "loudspeaker", "product": "wall-5-active", "at": [6.2, 2.3, 1.6]}

ECHO = {
    "canceller-missing",
    "canceller-twice",
    "gain-changes-before-canceller",
    "mixer-before-canceller",
    "mute-before-canceller",
    "reference-holds-microphone",
    "reference-lacks-far-end",
    "reference-lacks-programme",
    "volume-after-reference",
}


def _found(evidence_of: Any, devices: dict[str, Any], **parts: Any) -> set[str]:
    evidence = evidence_of({"room": {"devices": devices, **parts}})
    return {f.code for f in findings(evidence)} & ECHO


def _cancellers(evidence_of: Any, devices: dict[str, Any], **parts: Any) -> list[int]:
    graph = evidence_of({"room": {"devices": devices, **parts}}).signal
    return [len(path.cancellers) for m in graph.microphones for path in graph.paths_of(m)]


SENT: dict[str, Any] = {
    "array": {"kind": "canceller", "on": "m1.link", "reference": "mixer.line-out-1"},
    "own": {"kind": "canceller", "on": "mixer.mic-1", "bypassed": True},
}
"""A microphone that cancels by the reference that is sent to it, and a processor that does not."""


def test_echo_is_cancelled_once_where_a_reference_is_sent_to_the_microphone(
    evidence_of: Any,
) -> None:
    devices = {"m1": ARRAY, "mixer": MIXER, "ls1": SPEAKER}
    assert _cancellers(evidence_of, devices, processing=SENT) == [1]
    assert _found(evidence_of, devices, processing=SENT) == set()


def test_echo_is_cancelled_once_where_no_reference_is_sent_to_the_device(evidence_of: Any) -> None:
    assert _cancellers(evidence_of, {"bar": BAR}) == [1]
    assert _found(evidence_of, {"bar": BAR}) == set()


def test_echo_is_cancelled_once_where_the_processor_cancels(evidence_of: Any) -> None:
    devices = {"m1": HEAD, "mixer": MIXER, "ls1": SPEAKER}
    assert _cancellers(evidence_of, devices) == [1]
    assert _found(evidence_of, devices) == set()


def test_echo_is_cancelled_twice_where_microphone_and_processor_both_cancel(
    evidence_of: Any,
) -> None:
    devices = {"m1": ARRAY, "mixer": MIXER, "ls1": SPEAKER}
    both = {"array": SENT["array"]}
    assert _cancellers(evidence_of, devices, processing=both) == [2]
    assert _found(evidence_of, devices, processing=both) == {"canceller-twice"}


def test_a_bar_and_the_client_of_its_computer_are_one_canceller_too_many(evidence_of: Any) -> None:
    computer = {"laptop": {"kind": "computer", "at": [3.2, 2.3, 0.75]}}
    client = {"client": {"kind": "canceller", "on": "laptop.usb"}}
    found = _found(evidence_of, {"bar": BAR}, equipment=computer, processing=client)
    assert found == {"canceller-twice"}


@pytest.mark.parametrize(
    ("order", "code"),
    [
        (["canceller", "mute"], None),
        (["mute", "canceller"], "mute-before-canceller"),
        (["gain", "canceller", "noise-reduction", "leveller"], None),
        (["gain", "leveller", "canceller"], "gain-changes-before-canceller"),
        (["noise-reduction", "canceller"], "gain-changes-before-canceller"),
    ],
)
def test_the_order_on_a_microphone_port_is_gain_canceller_and_then_the_rest(
    order: list[str], code: str | None, evidence_of: Any
) -> None:
    stages = {f"p{i}": {"kind": kind, "on": "mixer.mic-1"} for i, kind in enumerate(order)}
    found = _found(evidence_of, {"m1": HEAD, "mixer": MIXER}, processing=stages)
    assert found == ({code} if code else set())


def test_echo_is_cancelled_before_the_automatic_mixer(evidence_of: Any) -> None:
    devices = {"m1": HEAD, "m2": {**HEAD, "at": [4.0, 2.3, 2.4]}, "mixer": MIXER}
    behind = {"aec": {"kind": "canceller", "on": "mixer.usb", "reference": "mixer.far-end"}}
    assert _found(evidence_of, devices) == set()
    assert _found(evidence_of, devices, processing=behind) == {"mixer-before-canceller"}


@pytest.mark.parametrize(
    ("volume", "reference", "kept"),
    [
        ("mixer.far-end", "mixer.line-out-1", True),
        ("mixer.line-out-1", "mixer.line-out-1", True),
        ("mixer.far-end", "mixer.far-end", True),
        ("mixer.line-out-1", "mixer.far-end", False),
        ("ls1.in", "mixer.line-out-1", False),
        ("ls1.in", "mixer.far-end", False),
    ],
)
def test_volume_sits_before_the_place_where_the_reference_is_picked_off(
    volume: str, reference: str, kept: bool, evidence_of: Any
) -> None:
    stages = {
        "aec": {"kind": "canceller", "on": "mixer.mic-1", "reference": reference},
        "knob": {"kind": "volume", "on": volume},
    }
    devices = {"m1": HEAD, "mixer": MIXER, "ls1": SPEAKER}
    found = _found(evidence_of, devices, processing=stages)
    assert found == (set() if kept else {"volume-after-reference"})


def test_a_lift_is_played_but_not_in_the_reference(evidence_of: Any) -> None:
    devices = {"m1": HEAD, "mixer": MIXER, "ls1": SPEAKER}
    aec = {"kind": "canceller", "on": "mixer.mic-1", "reference": "mixer.line-out-1"}
    lift = {"kind": "lift", "sources": ["m1.link"], "gain_db": -6}
    behind = {"aec": aec, "up": {**lift, "on": "ls1.in"}}
    before = {"aec": aec, "up": {**lift, "on": "mixer.line-out-1"}}
    assert _found(evidence_of, devices, processing=behind) == set()
    assert _found(evidence_of, devices, processing=before) == {"reference-holds-microphone"}


def test_the_mix_that_is_sent_is_no_reference(evidence_of: Any) -> None:
    devices = {"m1": HEAD, "mixer": MIXER, "ls1": SPEAKER}
    stages = {"aec": {"kind": "canceller", "on": "mixer.mic-1", "reference": "mixer.send"}}
    found = _found(evidence_of, devices, processing=stages)
    assert found == {"reference-holds-microphone", "reference-lacks-far-end"}
