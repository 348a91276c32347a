"""Findings of a room that divides: each told once, with the arrangement it was found in."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

from wellheard.checks.model import Finding
from wellheard.checks.run import findings, in_order
from wellheard.predict.evidence import Evidence

WHOLE: frozenset[str] = frozenset(
    {
        "amplifier-load-too-low",
        "arrangements-not-assessed",
        "assistive-listening",
        "assumed-inputs",
        "bundle-heating",
        "cable-too-long",
        "cable-too-thin",
        "canceller-missing",
        "canceller-of-computer",
        "canceller-twice",
        "circuit-overloaded",
        "cord-too-short",
        "furniture-across-partition",
        "gain-changes-before-canceller",
        "grid-mixed",
        "jacket-too-low",
        "line-overloaded",
        "link-ports-mismatch",
        "loudspeaker-without-amplifier",
        "mixer-before-canceller",
        "mute-before-canceller",
        "network-ports-exceeded",
        "not-used-yet",
        "poe-budget-exceeded",
        "poe-class-exceeded",
        "port-unknown",
        "ports-exceeded",
        "price-old",
        "product-discontinued",
        "rack-full",
        "rack-heat",
        "reference-holds-microphone",
        "reference-lacks-far-end",
        "reference-lacks-programme",
        "region-unknown",
        "safety-bond",
        "space-without-loudspeaker",
        "space-without-microphone",
        "switch-unmanaged",
        "tile-load",
        "void-air-return",
        "volume-after-reference",
    }
)
"""Rules that judge the document, its devices and its wiring once, whatever is open or closed."""


def findings_of_part(evidence: Evidence) -> tuple[Finding, ...]:
    """What the rules find in one space of one arrangement."""
    return tuple(f for f in findings(evidence) if f.code not in WHOLE)


def findings_of_parts(
    whole: Evidence, parts: Mapping[str, tuple[Finding, ...]]
) -> tuple[Finding, ...]:
    """Everything that the rules find in a room that divides.

    Parameters
    ----------
    whole : Evidence
        Of the undivided room, with all its devices.
    parts : mapping of str to tuple of Finding
        Of `findings_of_part`, by the name of the part.

    Returns
    -------
    tuple of Finding
        In the order of `wellheard.checks.run.findings`. Findings of several parts that say the
        same are one.
    """
    once = [f for f in findings(whole) if f.code in WHOLE]
    where: dict[Finding, list[str]] = {}
    for name, found in parts.items():
        for finding in found:
            where.setdefault(finding, []).append(name)
    told = [
        replace(finding, arrangements=() if len(names) == len(parts) else tuple(names))
        for finding, names in where.items()
    ]
    return in_order([*once, *told], parts=tuple(parts))
