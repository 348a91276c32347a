"""Octaves in which the room has too few modes for statistics."""

from __future__ import annotations

from collections.abc import Iterator

from wellheard.bands import EXACT_OCTAVES, OCTAVES
from wellheard.checks.model import Draft
from wellheard.checks.registry import rule
from wellheard.checks.wording import listed
from wellheard.predict.evidence import Evidence

HALF_OCTAVE = 10**0.15
"""From an exact mid-band to its edge (IEC 61260-1)."""


@rule(
    "below-schroeder",
    "note",
    strength="house",
    cites="Schroeder frequency, via Kuttruff, Room Acoustics; octave edges of IEC 61260-1:2014",
)
def below_schroeder(evidence: Evidence) -> Iterator[Draft]:
    """The predicted octaves lie above the Schroeder frequency.

    Below 2000·√(T/V) a room answers with single resonances: a reverberation time, and any ratio
    or STI derived from it, is nominal there. Named are the octaves that lie below it wholly
    (upper edge, 178 Hz for the 125 Hz octave) or in part (lower edge, 89 Hz).
    """
    frequency = evidence.reverberation.schroeder_frequency
    wholly = _names(frequency, HALF_OCTAVE)
    partly = [name for name in _names(frequency, 1 / HALF_OCTAVE) if name not in wholly]
    if not wholly and not partly:
        return
    parts = []
    if wholly:
        lie = "octaves lie" if len(wholly) > 1 else "octave lies"
        parts.append(f"the {listed(wholly)} Hz {lie} below it")
    if partly:
        parts.append(f"the {listed(partly)} Hz octave lies partly below it")
    yield Draft(
        at="space",
        message=(
            f"The Schroeder frequency is {frequency:.0f} Hz: {' and '.join(parts)}; figures "
            "there are nominal."
        ),
        value=frequency,
        limit=EXACT_OCTAVES[0] / HALF_OCTAVE,
        unit="Hz",
        remedy="Trust the octaves above; measure the lowest ones.",
    )


def _names(frequency: float, edge: float) -> list[str]:
    exact = zip(OCTAVES, EXACT_OCTAVES, strict=True)
    return [f"{nominal:g}" for nominal, middle in exact if middle * edge <= frequency]
