"""Findings of a room that divides: each once, with the arrangement it holds in."""

from __future__ import annotations

from typing import Any

from wellheard.checks.arranged import WHOLE, findings_of_part, findings_of_parts
from wellheard.checks.model import Finding
from wellheard.checks.registry import rules
from wellheard.checks.run import findings

TROUBLED = {
    "room": {
        "devices": {"m1": {"kind": "microphone", "product": "ceiling-head-3", "at": [0.1, 0.1, 2]}}
    }
}


def finding(message: str, **changes: Any) -> Finding:
    plain: dict[str, Any] = {
        "code": "below-schroeder",
        "severity": "note",
        "status": "fail",
        "strength": "house",
        "at": "space",
        "message": message,
        "value": None,
        "limit": None,
        "unit": "",
        "remedy": "",
        "source": "a test",
    }
    return Finding(**(plain | changes))


def test_the_rules_that_judge_the_document_once_are_rules() -> None:
    assert set(rules()) >= WHOLE


def test_a_rule_of_the_whole_is_silent_in_a_part_and_speaks_once(evidence_of: Any) -> None:
    evidence = evidence_of(TROUBLED)
    part = findings_of_part(evidence)
    assert {f.code for f in part}.isdisjoint(WHOLE)
    told = findings_of_parts(evidence, {"joined": part, "split.a": part})
    assert [f for f in told if f.code in WHOLE] == [
        f for f in findings(evidence) if f.code in WHOLE
    ]
    assert any(f.code in WHOLE for f in told)


def test_what_holds_everywhere_is_told_once_and_without_a_place(evidence_of: Any) -> None:
    """Then the answer is that of the same evidence of a room that does not divide."""
    evidence = evidence_of(TROUBLED)
    part = findings_of_part(evidence)
    assert findings_of_parts(evidence, {"joined": part, "split.a": part}) == findings(evidence)


def test_what_holds_in_some_parts_names_them_in_their_order(evidence_of: Any) -> None:
    one, two = finding("Zebra."), finding("Ant.")
    told = findings_of_parts(
        evidence_of({}), {"joined": (one,), "split.a": (two,), "split.b": (two, one)}
    )
    mine = [f for f in told if f.code not in WHOLE]
    assert [(f.message, f.arrangements) for f in mine] == [
        ("Zebra.", ("joined", "split.b")),
        ("Ant.", ("split.a", "split.b")),
    ]


def test_json_names_the_arrangements_only_where_there_are_some() -> None:
    assert "arrangements" not in finding("Ant.").as_json()
    assert finding("Ant.", arrangements=("split.a",)).as_json()["arrangements"] == ["split.a"]
