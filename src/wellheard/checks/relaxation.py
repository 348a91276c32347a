"""Which house rules a document relaxes, and what evidence reads as if it did not."""

from __future__ import annotations

from dataclasses import replace

from wellheard.checks.registry import Rule
from wellheard.predict.evidence import Evidence


def is_asked(evidence: Evidence, code: str) -> bool:
    """Whether the document asks to relax ``code``; another limit keeps the rule in force."""
    entry = evidence.room.targets.house_rules.get(code)
    return entry is not None and entry.relaxed and entry.limit is None


def is_granted(evidence: Evidence, rule: Rule) -> bool:
    """Whether ``rule`` is out of force: asked for, and a house rule that can be relaxed."""
    return rule.relaxable and is_asked(evidence, rule.code)


def as_in_force(evidence: Evidence, code: str) -> Evidence:
    """The same evidence without the document's entry for ``code``."""
    targets = evidence.room.targets
    others = {key: entry for key, entry in targets.house_rules.items() if key != code}
    room = evidence.room.model_copy(
        update={"targets": targets.model_copy(update={"house_rules": others})}
    )
    return replace(evidence, room=room)
