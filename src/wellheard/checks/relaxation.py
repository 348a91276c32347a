"""Which house rules a document relaxes, and the limits of those in force."""

from __future__ import annotations

from wellheard.checks.registry import Rule
from wellheard.predict.evidence import Evidence


def is_granted(evidence: Evidence, rule: Rule) -> bool:
    """Whether ``rule`` is out of force: asked for, and a house rule that can be relaxed.

    Another limit keeps a rule in force.
    """
    entry = evidence.room.targets.house_rules.get(rule.code)
    return rule.relaxable and entry is not None and entry.relaxed and entry.limit is None


def limit_in_force(evidence: Evidence, code: str) -> float:
    """The limit a rule judges by when it runs: the document's own, else the usual one. [SI]

    A rule that runs is in force, so that a relaxation does not lift the limit here: it keeps
    the rule from running. Second limits of a rule, which a document lifts by themselves, are
    read by ``targets.house_limit``.
    """
    return evidence.room.targets.limit_in_force(code)
