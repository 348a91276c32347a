"""Every rule against rooms that it must pass and rooms that it must fail.

The cases are in tests/cases/rules/<code>.yaml. A passing room gives no finding of that code, a
failing one exactly those under ``finds``: each names place, severity and status, the value within
half its last printed digit, and words that the message or the remedy must contain.
"""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
import yaml

from wellheard.checks import registry
from wellheard.checks.model import Finding
from wellheard.checks.run import findings

FOLDER = Path(__file__).parents[1] / "cases" / "rules"
SAFE = getattr(yaml, "CSafeLoader", yaml.SafeLoader)  # compiled where it is there
CASES = {p.stem: yaml.load(p.read_text("utf-8"), Loader=SAFE) for p in FOLDER.glob("*.yaml")}
EACH = [(code, name) for code, cases in sorted(CASES.items()) for name in cases]


@pytest.mark.parametrize(("code", "name"), EACH)
def test_rule_finds_exactly_what_its_case_says(code: str, name: str, evidence_of: Any) -> None:
    case = CASES[code][name]
    found = [f for f in findings(evidence_of(case)) if f.code == code]
    wanted = case.get("finds", [])
    assert (name.split("_")[0] == "fail") == bool(wanted), "a fail_ case says what it finds"
    assert [(f.at, f.severity, f.status) for f in found] == [
        (w["at"], w.get("severity", registry.rules()[code].severity), w.get("status", "fail"))
        for w in wanted
    ], [f.message for f in found]
    for finding, expected in zip(found, wanted, strict=True):
        _matches(finding, expected)


def _matches(finding: Finding, expected: dict[str, Any]) -> None:
    for name in ("value", "limit"):
        if name in expected:
            printed = str(expected[name])
            half_last_digit = 0.5 * 10.0 ** -len(printed.partition(".")[2])
            assert getattr(finding, name) == pytest.approx(float(printed), abs=half_last_digit), (
                name,
                finding.message,
            )
    if "unit" in expected:
        assert finding.unit == expected["unit"]
    for words in expected.get("says", []):
        assert words in f"{finding.message} {finding.remedy}", finding.message + finding.remedy
    for words in expected.get("never_says", []):
        assert words not in f"{finding.message} {finding.remedy}"


def test_every_rule_has_a_case_that_passes_and_one_that_fails() -> None:
    assert set(CASES) == set(registry.rules())
    for code, cases in CASES.items():
        kinds = {name.split("_")[0] for name in cases}
        assert kinds == {"pass", "fail"}, code
