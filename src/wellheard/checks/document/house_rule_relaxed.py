"""What the document does with the rules themselves."""

from __future__ import annotations

import difflib
from collections.abc import Iterator

from wellheard.checks import registry
from wellheard.checks.model import Draft
from wellheard.checks.registry import rule
from wellheard.checks.wording import listed
from wellheard.predict.evidence import Evidence
from wellheard.room.house_limits import HOUSE_LIMITS
from wellheard.room.targets import HouseRule

CODE = "house-rule-relaxed"


@rule(
    CODE,
    "note",
    strength="house",
    cites="targets.house_rules of this document",
    relaxable=False,
)
def house_rule_relaxed(evidence: Evidence) -> Iterator[Draft]:
    """Every relaxed house rule is named with its reason.

    A relaxed rule finds nothing; this note takes its place, prints the reason and
    says what it would have found. Another limit is printed beside the usual one. What law or
    a product stands behind, and the promise itself, cannot be relaxed: trying to is an
    error and the rule stays in force. So is a code that no rule has.
    """
    known = registry.rules()
    for code, entry in evidence.room.targets.house_rules.items():
        at = f"targets.house_rules.{code}"
        if code in known:
            yield from _known(evidence, code, entry, at)
        elif code in HOUSE_LIMITS:
            yield from _threshold(code, entry, at)
        else:
            near = difflib.get_close_matches(code, [*known, *HOUSE_LIMITS], n=3)
            yield Draft(
                at=at,
                message=f"There is no rule {code}.",
                remedy=(
                    f"Did you mean {listed(near)}?"
                    if near
                    else "Use the code of a finding, or leave it out."
                ),
                severity="error",
            )


def _known(evidence: Evidence, code: str, entry: HouseRule, at: str) -> Iterator[Draft]:
    its = registry.rules()[code]
    reason = (entry.because or "").strip().rstrip(".")
    if entry.limit is not None:
        if code in HOUSE_LIMITS:
            yield from _threshold(code, entry, at)
        else:
            yield Draft(
                at=at,
                message=f"{code} has no limit of the house that a document could replace.",
                value=entry.limit,
                remedy="Leave limit out.",
                severity="error",
            )
        return
    if not entry.relaxed:
        return
    if not its.relaxable:
        behind = {
            "law": "the law stands behind it",
            "product": "the product's own limit stands behind it",
            "house": "it is the promise, or what keeps the document honest",
        }[its.strength]
        yield Draft(
            at=at,
            message=f"{code} cannot be relaxed: {behind}. It stays in force.",
            remedy=f"Remove {at}.",
            severity="error",
        )
        return
    hidden = list(its.check(evidence))
    places = list(dict.fromkeys(draft.at for draft in hidden))
    would = (
        f"It would have found {len(hidden)}: {listed(places)}."
        if hidden
        else "It would have found nothing."
    )
    yield Draft(
        at=at,
        message=f"{code} is relaxed: {reason}. {would}",
        value=float(len(hidden)),
        remedy="Take the relaxation back once its reason is gone.",
    )


def _threshold(code: str, entry: HouseRule, at: str) -> Iterator[Draft]:
    usual = HOUSE_LIMITS[code]
    reason = (entry.because or "").strip().rstrip(".")
    unit = f" {usual.unit}" if usual.unit else ""
    if entry.limit is not None:
        yield Draft(
            at=at,
            message=(
                f"{code} is set to {entry.limit:g}{unit} instead of {usual.limit:g}{unit}: "
                f"{reason}."
            ),
            value=entry.limit,
            limit=usual.limit,
            unit=usual.unit,
            remedy="Take the limit back once its reason is gone.",
            source=usual.source,
        )
    elif entry.relaxed:
        yield Draft(
            at=at,
            message=f"{code} ({usual.means}) is relaxed: {reason}.",
            limit=usual.limit,
            unit=usual.unit,
            remedy="Take the relaxation back once its reason is gone.",
            source=usual.source,
        )
