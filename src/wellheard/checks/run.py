"""Every rule against one evidence: the findings, worst first."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from wellheard.checks import relaxation
from wellheard.checks.model import ORDER, Draft, Finding
from wellheard.checks.registry import Rule, rules
from wellheard.predict.evidence import Evidence
from wellheard.schedules.labels import natural_order


def findings(evidence: Evidence) -> tuple[Finding, ...]:
    """Everything that the rules find in ``evidence``.

    Parameters
    ----------
    evidence : Evidence
        What was predicted, with the document it was predicted for.

    Returns
    -------
    tuple of Finding
        Errors first, then warnings, then notes; among these by code, then by place
        in the document (``s2`` before ``s10``). The same evidence gives the same
        findings. A relaxed house rule is silent; ``house-rule-relaxed`` speaks for it.
    """
    found: list[Finding] = []
    for rule in rules().values():
        if relaxation.is_granted(evidence, rule):
            continue
        found.extend(_finding(rule, draft) for draft in rule.check(evidence))
    return in_order(found)


def in_order(found: Iterable[Finding], *, parts: Sequence[str] = ()) -> tuple[Finding, ...]:
    """Errors first, then warnings, then notes; among these by code, place and part of the room."""

    def key(finding: Finding) -> tuple[int, str, list[tuple[int, int, str]], int, str]:
        part = parts.index(finding.arrangements[0]) if finding.arrangements else -1
        return (
            ORDER[finding.severity],
            finding.code,
            natural_order(finding.at),
            part,
            finding.message,
        )

    return tuple(sorted(found, key=key))


def _finding(rule: Rule, draft: Draft) -> Finding:
    return Finding(
        code=rule.code,
        severity=draft.severity or rule.severity,
        status=draft.status,
        strength=rule.strength,
        at=draft.at,
        message=draft.message,
        value=draft.value,
        limit=draft.limit,
        unit=draft.unit,
        remedy=draft.remedy,
        source=rule.source if draft.source is None else draft.source,
    )
