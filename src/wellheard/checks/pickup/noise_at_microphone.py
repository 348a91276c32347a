"""Noise at a microphone above that at the seats."""

from __future__ import annotations

import math
from collections.abc import Iterator

from wellheard.acoustics.levels import a_weighted_level_db
from wellheard.checks.model import Draft
from wellheard.checks.registry import rule
from wellheard.checks.relaxation import limit_in_force
from wellheard.checks.wording import decibels
from wellheard.predict.evidence import Evidence

CODE = "noise-at-microphone"
EVERYWHERE = frozenset({"background", "self-noise"})
"""Parts of the noise that have no place."""


@rule(CODE, "warning", strength="house", cites="", thresholds=(CODE,))
def noise_at_microphone(evidence: Evidence) -> Iterator[Draft]:
    """It is no noisier at a microphone than where people sit.

    Where the noise at a microphone is more than 3 dB above that at the seats a source is too
    near; the message names the one that contributes most. The microphone's own noise is left
    out.
    """
    limit = limit_in_force(evidence, CODE)
    seats_dba = evidence.noise.dba
    for microphone in evidence.microphones:
        there_dba = evidence.microphone_noise_dba.get(microphone.id)
        if there_dba is None:
            yield Draft(
                at=f"devices.{microphone.id}",
                message=f"The noise at {microphone.id} was not predicted: not assessed.",
                limit=limit,
                unit="dB",
                remedy="Place a seat or a standing area, so that there is somebody to hear.",
                severity="note",
                status="not-assessed",
            )
            continue
        excess = there_dba - seats_dba
        if excess <= limit:
            continue
        name = _loudest(evidence, microphone.id)
        yield Draft(
            at=f"devices.{microphone.id}",
            message=(
                f"At microphone {microphone.id} the noise is {there_dba:.0f} dBA, "
                f"{decibels(excess)} above the {seats_dba:.0f} dBA at the seats"
                f"{f', mostly from {name}' if name else ''}."
            ),
            value=excess,
            limit=limit,
            unit="dB",
            remedy=f"Move {microphone.id} away from {name or 'the source'}, or quieten it.",
        )


def _loudest(evidence: Evidence, microphone: str) -> str:
    """Id of the located source that is loudest at a microphone, '' if there is none."""
    loudest, most = "", -math.inf
    for path in evidence.paths:
        if path.microphone != microphone:
            continue
        for name, levels in path.noise_parts_db.items():
            level = float(a_weighted_level_db(levels))
            if name not in EVERYWHERE and level > most:
                loudest, most = name, level
    return loudest
