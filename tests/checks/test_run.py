"""Running the rules: order, determinism, relaxing, and the shape that leaves the program."""

from __future__ import annotations

from typing import Any

import pytest

from wellheard.checks import registry
from wellheard.checks.model import ORDER
from wellheard.checks.run import findings

TROUBLED: dict[str, Any] = {
    "room": {
        "site": {"region": "unknown", "seismic": "unknown"},
        "people": {"seats": {f"s{i}": {"at": [1.0 + 0.4 * i, 1.4]} for i in range(1, 13)}},
        "noise": {
            "sources": {"vent": {"kind": "air-outlet", "at": [2.6, 2.3, 2.7], "dba_at_1m": 30}}
        },
        "devices": {
            "m2": {"kind": "microphone", "product": "ceiling-head-3", "at": [2.0, 2.3, 2.4]},
            "m10": {"kind": "microphone", "product": "ceiling-head-3", "at": [2.3, 2.3, 2.4]},
            "ls1": {"kind": "loudspeaker", "product": "ceiling-6", "at": [2.9, 2.3, 2.7]},
        },
    },
    "figures": {f"s{i}": {"sti_outbound": 0.4} for i in range(1, 13)},
}


def test_plain_room_without_devices_has_only_open_questions(evidence_of: Any) -> None:
    assert {f.status for f in findings(evidence_of())} == {"not-assessed"}


def test_findings_come_worst_first_then_by_code_then_by_place(evidence_of: Any) -> None:
    found = findings(evidence_of(TROUBLED))
    assert len({f.severity for f in found}) == 3
    ranks = [(ORDER[f.severity], f.code) for f in found]
    assert ranks == sorted(ranks)


def test_second_place_comes_before_the_tenth(evidence_of: Any) -> None:
    found = findings(evidence_of(TROUBLED))
    seats = [f.at for f in found if f.code == "target-missed-sti"]
    assert seats == [f"people.seats.s{i}" for i in range(1, 13)]
    near = [f.at for f in found if f.code == "microphone-near-loudspeaker"]
    assert near == ["devices.m2", "devices.m10"]


def test_same_evidence_gives_the_same_findings(evidence_of: Any) -> None:
    assert findings(evidence_of(TROUBLED)) == findings(evidence_of(TROUBLED))


def test_order_of_the_document_does_not_matter_to_the_order_of_findings(evidence_of: Any) -> None:
    turned = {**TROUBLED, "room": dict(TROUBLED["room"])}
    turned["room"]["devices"] = dict(reversed(TROUBLED["room"]["devices"].items()))
    one, other = findings(evidence_of(TROUBLED)), findings(evidence_of(turned))
    assert [(f.code, f.at) for f in one] == [(f.code, f.at) for f in other]


@pytest.mark.parametrize(
    "code",
    [
        "microphone-near-loudspeaker",
        "microphone-near-air-outlet",
        "loudspeaker-nearer-than-talkers",
    ],
)
def test_relaxed_rule_is_silent_and_its_reason_speaks(code: str, evidence_of: Any) -> None:
    before = [f for f in findings(evidence_of(TROUBLED)) if f.code == code]
    entry = {"relaxed": True, "because": "the customer knows"}
    room = {**TROUBLED["room"], "targets": {"house_rules": {code: entry}}}
    after = findings(evidence_of({**TROUBLED, "room": room}))
    assert before
    assert not [f for f in after if f.code == code]
    (note,) = [f for f in after if f.code == "house-rule-relaxed"]
    assert note.severity == "note"
    assert note.value == len(before)
    assert "the customer knows" in note.message


@pytest.mark.parametrize(
    "code", sorted(code for code, one in registry.rules().items() if not one.relaxable)
)
def test_what_cannot_be_relaxed_finds_the_same_and_an_error_says_so(
    code: str, evidence_of: Any
) -> None:
    before = [f for f in findings(evidence_of(TROUBLED)) if f.code == code]
    entry = {"relaxed": True, "because": "we would rather not know"}
    room = {**TROUBLED["room"], "targets": {"house_rules": {code: entry}}}
    after = findings(evidence_of({**TROUBLED, "room": room}))
    refusals = [f for f in after if f.code == "house-rule-relaxed"]
    assert [f.severity for f in refusals] == ["error"]
    assert [f for f in after if f.code == code and f not in refusals] == before


def test_every_finding_says_where_what_and_what_next(evidence_of: Any) -> None:
    for finding in findings(evidence_of(TROUBLED)):
        assert finding.at
        assert finding.message.endswith(".")
        assert finding.remedy.endswith(".")
        assert finding.source
        assert finding.status == "fail" or finding.severity == "note"


def test_finding_leaves_the_program_in_the_promised_shape(evidence_of: Any) -> None:
    (first, *_) = findings(evidence_of(TROUBLED))
    assert list(first.as_json()) == [
        "code",
        "severity",
        "status",
        "strength",
        "at",
        "message",
        "value",
        "limit",
        "unit",
        "remedy",
        "change",
        "source",
    ]
