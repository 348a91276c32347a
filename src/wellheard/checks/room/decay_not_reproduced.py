"""A measured decay that no absorption of the stated surfaces makes."""

from __future__ import annotations

from collections.abc import Iterator

from wellheard.bands import OCTAVES
from wellheard.checks.model import Draft
from wellheard.checks.registry import rule
from wellheard.predict.evidence import Evidence

CODE = "decay-not-reproduced"
FAR_OFF = (0.33, 3.0)
"""Factors on the absorption exponents beyond which finishes were told wrong (common practice)."""


@rule(
    CODE,
    "warning",
    strength="house",
    cites="the calibration of traced rays; bounds common practice [C]",
    relaxable=False,
)
def decay_not_reproduced(evidence: Evidence) -> Iterator[Draft]:
    """The stated surfaces can decay as was measured.

    A measured reverberation scales all absorption, octave by octave, until traced rays decay as
    measured. Where the air alone absorbs more than that, or where the stated finishes would need a
    third or three times of their absorption exponents, the figure and the finishes do not belong
    to the same room.
    """
    decay = evidence.reverberation
    if not decay.measured:
        return
    least, most = FAR_OFF
    odd = [
        (octave, factor)
        for octave, factor in zip(OCTAVES, decay.exponent, strict=True)
        if not least <= factor <= most
    ]
    if decay.reproduced and not odd:
        return
    if not decay.reproduced:
        message = (
            "The measured decay cannot be reproduced in every octave: the air of the room alone "
            "absorbs more than such a decay leaves."
        )
        factor = max(decay.exponent, key=lambda one: abs(one - 1.0))
    else:
        octave, factor = max(odd, key=lambda pair: max(pair[1], 1 / pair[1]))
        message = (
            f"The measured decay needs {factor:.2f} times the absorption exponents of the stated "
            f"finishes at {octave:g} Hz: finishes and measurement do not seem to be of one room."
        )
    yield Draft(
        at="space.measured_reverberation",
        message=message,
        value=factor,
        limit=most if factor > 1 else least,
        remedy="Check octaves and units of the measured times, and what the surfaces are made of.",
    )
