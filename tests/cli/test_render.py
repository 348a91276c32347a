"""Findings as text: every message is said; many of one rule are said together."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from fractions import Fraction
from typing import Any, Literal

import pytest

from wellheard.catalog.catalogue import Catalogue
from wellheard.checks.model import Finding
from wellheard.cli.render import MOST_ALIKE, findings, ledger, placement, verdict
from wellheard.place.certificate import Certificate
from wellheard.place.proposal import Proof, Proposal, Shortfall
from wellheard.room.document import Room
from wellheard.workflow.bothways import binds_word
from wellheard.workflow.design import judge


def finding(seat: str, value: float) -> Finding:
    return Finding(
        code="target-missed-sti",
        severity="error",
        status="fail",
        strength="house",
        at=f"people.seats.{seat}",
        message=f"{seat} misses STI 0.62: {value}.",
        value=value,
        limit=0.62,
        unit="",
        remedy=f"Bring a microphone nearer to {seat}.",
        source="",
    )


def test_few_findings_of_a_rule_keep_their_own_remedies() -> None:
    text = findings([finding(f"s{i}", 0.5) for i in range(MOST_ALIKE)])
    assert text.count("→") == MOST_ALIKE
    assert text.endswith("3 errors")


def test_many_findings_of_a_rule_stand_together_with_the_remedy_of_the_worst() -> None:
    values = {"s1": 0.55, "s2": 0.41, "s3": 0.52, "s4": 0.6}
    text = findings([finding(seat, value) for seat, value in values.items()])
    assert text.startswith("error  target-missed-sti  4 places\n")
    assert all(f"{seat} misses STI" in text for seat in values)
    assert text.count("→") == 1
    assert "→ s2, the worst: Bring a microphone nearer to s2." in text
    assert text.endswith("4 errors")


@pytest.fixture
def plain(room_of: Callable[..., Room]) -> Room:
    return room_of()


def short(talker: str, best: float, **changes: Any) -> Shortfall:
    """Make a talking point that misses 15 dB of speech to noise at the chance wanted."""
    made = Shortfall(
        talker=talker,
        target="speech_to_noise_db",
        best_value=best,
        target_value=15.0,
        unit="dB",
        best_chance=(best - 10) / 10,
        at=(1.0, 1.0, 2.4),
        product="ceiling-head-3",
        lacking=20 - best,
    )
    return replace(made, **changes)


def proposal(*missing: Shortfall, certificate: Certificate | None = None) -> Proposal:
    proof = Proof(
        status="infeasible" if missing else "optimal",
        scope="these places",
        fewer_is_impossible=False,
        certificate=certificate,
        gap=0.0,
        binding=(),
        fewer=None,
    )
    return Proposal(
        devices=(),
        count=0,
        price=None,
        currency="EUR",
        worst={},
        mean={},
        proof=proof,
        shortfalls=missing,
        would_have_to_give=(),
        candidates=1,
        rejected={},
        seconds=0.0,
    )


def said(*missing: Shortfall, room: Room) -> str:
    return " ".join(placement(proposal(*missing), room).split())


def test_few_who_miss_a_target_have_a_line_each(plain: Room) -> None:
    text = said(*(short(f"s{i}", 15.5) for i in range(MOST_ALIKE)), room=plain)
    assert text.count("reaches 15.50 dB at best, 15.00 dB is promised (chance 55 %).") == 3


def test_many_who_miss_a_target_are_told_at_once_and_counted_in_natural_order(plain: Room) -> None:
    bests = {f"s{i}": 15.6 for i in (350, 35, 3, 2, 10, 36, 37, 38, 39, 40, 41)}
    text = said(*(short(n, b) for n, b in {**bests, "s341": 15.4}.items()), room=plain)
    assert (
        "12 talking points, the worst s341: speech to noise reaches 15.40 dB at best, 15.00 dB is "
        "promised (chance 54 %); also s2, s3, s10, s35, s36, s37 and 5 more."
    ) in text
    assert text.count("at best") == 1


def test_who_only_misses_a_place_beside_the_others_is_told_in_a_sentence(plain: Room) -> None:
    apart = short("s7", 19.99, target="served-together")
    assert (
        "s7: could be kept alone (speech to noise 19.99 dB, 15.00 dB is promised); together with "
        "the others no place is left for it."
    ) in said(apart, room=plain)


def certificate(
    words: str, *, measure: Literal["number", "price"] = "price", verified: bool = True
) -> Certificate:
    return Certificate(
        kind="weights",
        measure=measure,
        claim=str(Fraction(680)),
        counts=(1, 2),
        seats=(0,),
        weights=("1",),
        total="681",
        nodes=0,
        statement=words,
        verified=verified,
    )


@pytest.mark.parametrize(
    ("proof", "words"),
    [
        (certificate("Seat s1 needs a microphone."), "Seat s1 needs a microphone."),
        (
            certificate("Give 1 to s1. " * 40),
            "Proven: no cheaper choice keeps the promise; the certificate in exact arithmetic is "
            "in result.json.",
        ),
        (
            certificate("Give 1 to s1. " * 40, measure="number"),
            "Proven: no choice of fewer microphones keeps the promise; the certificate in exact",
        ),
        (
            certificate("Give 1 to s1. " * 40, verified=False),
            "No cheaper choice keeps the promise: the solver proves it, exact arithmetic only in",
        ),
    ],
)
def test_a_certificate_that_fills_a_page_is_left_to_the_file(
    proof: Certificate, words: str, plain: Room
) -> None:
    text = " ".join(placement(proposal(certificate=proof), plain).split())
    assert words in text
    assert "Give" not in text


@pytest.mark.parametrize(
    ("targets", "said"),
    [({}, False), ({"uniformity_db": None}, False), ({"sti_inbound": 0.6}, True)],
)
def test_a_stated_promise_of_listening_that_nothing_plays_is_in_the_first_line(
    targets: dict[str, Any], said: bool
) -> None:
    """Unknown is never a pass."""
    room = Room.model_validate(
        {
            "wellheard": 1,
            "space": {"outline": [[0, 0], [4, 0], [4, 3], [0, 3]], "height": 2.7},
            "people": {"seats": {"s1": {"at": [1, 1]}, "s2": {"at": [3, 2]}}},
            "devices": {
                "m1": {"kind": "microphone", "product": "ceiling-head-3", "at": [2, 1.5, 2.7]}
            },
            "targets": targets,
        }
    )
    line = verdict(judge(room, Catalogue.shipped()))
    assert ("no loudspeaker is placed" in line) is said


@pytest.mark.parametrize("target", ["direct_to_reverberant_db", "speech_to_noise_db"])
def test_what_binds_in_the_workbench_is_called_as_the_ledger_heads_it(target: str) -> None:
    room = {
        "wellheard": 1,
        "space": {"outline": [[0, 0], [6, 0], [6, 4], [0, 4]], "height": 2.7},
        "people": {"seats": {"s1": {"at": [3, 2], "facing": 0}}},
        "equipment": {"rack": {"kind": "rack", "at": [5.7, 0.4, 0.5]}},
        "devices": {
            "m1": {"kind": "microphone", "product": "ceiling-head-3", "at": [2, 2, 2.4]},
            "p": {"kind": "processor", "product": "bridge-2", "equipment": "rack"},
        },
    }
    judged = judge(Room.model_validate(room), Catalogue.shipped())
    head = ledger(judged.evidence).splitlines()[0]
    assert f"  {binds_word(target)} dB" in head
