"""A finding: what is wrong, where, against which limit, and what would mend it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

Severity = Literal["error", "warning", "note"]
Status = Literal["fail", "not-assessed"]
Strength = Literal["law", "product", "house"]

ORDER: dict[str, int] = {"error": 0, "warning": 1, "note": 2}


@dataclass(frozen=True)
class Finding:
    """One thing found by a rule.

    ``at`` is a path in the document, ``value`` and ``limit`` are in ``unit``
    (SI where the unit is empty). ``message`` is a sentence for the engineer,
    ``remedy`` what to do next, ``source`` where the limit comes from.
    ``arrangements`` names the parts of a divided room that it was found in;
    empty where it holds in all of them, or the room does not divide.
    """

    code: str
    severity: Severity
    status: Status
    strength: Strength
    at: str
    message: str
    value: float | None
    limit: float | None
    unit: str
    remedy: str
    source: str
    arrangements: tuple[str, ...] = ()

    def as_json(self) -> dict[str, object]:
        """The finding as ``check --format json`` prints it, without a computed change."""
        found: dict[str, object] = {
            "code": self.code,
            "severity": self.severity,
            "status": self.status,
            "strength": self.strength,
            "at": self.at,
            "message": self.message,
            "value": self.value,
            "limit": self.limit,
            "unit": self.unit,
            "remedy": self.remedy,
            "change": None,
            "source": self.source,
        }
        return found | {"arrangements": list(self.arrangements)} if self.arrangements else found


@dataclass(frozen=True)
class Draft:
    """What a rule yields: the finding without what the registry knows of the rule.

    ``severity`` and ``source`` are those of the rule unless given here; a
    ``status`` of ``not-assessed`` says that evidence is lacking, which is
    never a pass.
    """

    at: str
    message: str
    value: float | None = None
    limit: float | None = None
    unit: str = ""
    remedy: str = ""
    severity: Severity | None = None
    status: Status = "fail"
    source: str | None = None
