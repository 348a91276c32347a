"""Findings as text: every message is said; many of one rule are said together."""

from __future__ import annotations

from wellheard.checks.model import Finding
from wellheard.cli.render import MOST_ALIKE, findings


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
