"""Microphones near a projector, a fan coil or another fan."""

from __future__ import annotations

import math
from collections.abc import Iterator

from wellheard.checks.model import Draft
from wellheard.checks.registry import rule
from wellheard.checks.relaxation import limit_in_force
from wellheard.checks.separation import TOUCH, prism_distance
from wellheard.checks.wording import length
from wellheard.predict.evidence import Evidence

CODE = "microphone-near-fan"
FANS = {"projector": "projector fan", "fan-coil": "fan coil"}
"""Sources whose air moves, as the message calls them."""


@rule(CODE, "error", strength="house", cites="", thresholds=(CODE,))
def microphone_near_fan(evidence: Evidence) -> Iterator[Draft]:
    """Every microphone keeps away from projectors and fan coils.

    Both blow as well as hum. Displays are judged by their noise alone, see
    `noise-at-microphone`. A projector that stands only under `overhead`, without a noise
    figure, is a warning.
    """
    limit = limit_in_force(evidence, CODE)
    room = evidence.room
    stated = {source.kind for source in room.noise.sources.values()}
    for microphone in evidence.microphones:
        for name, source in room.noise.sources.items():
            if source.kind not in FANS:
                continue
            distance = math.dist(microphone.at, source.at)
            if distance < limit - TOUCH:
                yield Draft(
                    at=f"devices.{microphone.id}",
                    message=(
                        f"Microphone {microphone.id} is {length(evidence, distance)} from "
                        f"{FANS[source.kind]} {name}; at least {length(evidence, limit)} is wanted."
                    ),
                    value=distance,
                    limit=limit,
                    unit="m",
                    remedy=(
                        f"Move {microphone.id} or {name} apart by "
                        f"{length(evidence, limit - distance)}."
                    ),
                )
        for name, item in room.overhead.items():
            if item.kind != "projector" or "projector" in stated:
                continue
            height = room.space.height
            bottom = height if item.bottom is None else item.bottom
            distance = prism_distance(microphone.at, item.outline, bottom=bottom, top=height)
            if distance < limit - TOUCH:
                yield Draft(
                    at=f"devices.{microphone.id}",
                    message=(
                        f"Microphone {microphone.id} is {length(evidence, distance)} from the "
                        f"projector overhead {name}, whose noise is not stated; at least "
                        f"{length(evidence, limit)} is wanted."
                    ),
                    value=distance,
                    limit=limit,
                    unit="m",
                    remedy=f"Move {microphone.id} away, and enter {name} under noise.sources.",
                    severity="warning",
                )
