"""Microphones near an air outlet, or in the stream below one."""

from __future__ import annotations

import math
from collections.abc import Iterator

from wellheard.checks.model import Draft
from wellheard.checks.registry import rule
from wellheard.checks.relaxation import limit_in_force
from wellheard.checks.separation import TOUCH, prism_distance
from wellheard.checks.wording import length
from wellheard.predict.evidence import Evidence, Point

CODE = "microphone-near-air-outlet"
JET = "microphone-in-air-jet"
ANGLE = "air-jet-angle-deg"


@rule(CODE, "error", strength="house", cites="", thresholds=(CODE, JET, ANGLE))
def microphone_near_air_outlet(evidence: Evidence) -> Iterator[Draft]:
    """Every microphone keeps away from air outlets and out of their streams.

    Air that blows on a capsule makes noise below 500 Hz that no figure of the
    outlet's sound tells. Around an outlet 1.0 m is kept; below it, within 30° of
    the vertical, 1.5 m. An outlet that stands only under `overhead`, without a noise
    figure, is a warning, since its stream is unknown.
    """
    limit = limit_in_force(evidence, CODE)
    for microphone in evidence.microphones:
        for name, source in evidence.room.noise.sources.items():
            if source.kind != "air-outlet":
                continue
            distance = math.dist(microphone.at, source.at)
            reach = _jet_reach(evidence, microphone.at, source.at)
            wanted = max(limit, reach)
            if distance < wanted - TOUCH:
                how = "in the stream below" if reach else "from"
                yield Draft(
                    at=f"devices.{microphone.id}",
                    message=(
                        f"Microphone {microphone.id} is {length(evidence, distance)} {how} air "
                        f"outlet {name}; at least {length(evidence, wanted)} is wanted there."
                    ),
                    value=distance,
                    limit=wanted,
                    unit="m",
                    remedy=(
                        f"Move {microphone.id} sideways, to {length(evidence, limit)} or more from "
                        f"{name} and out from under it, or have {name} moved."
                    ),
                )
        for name, item in evidence.room.overhead.items():
            if item.kind != "air-outlet" or _is_a_source(evidence, item.outline):
                continue
            height = evidence.room.space.height
            bottom = height if item.bottom is None else item.bottom
            distance = prism_distance(microphone.at, item.outline, bottom=bottom, top=height)
            if distance < limit - TOUCH:
                yield Draft(
                    at=f"devices.{microphone.id}",
                    message=(
                        f"Microphone {microphone.id} is {length(evidence, distance)} from the air "
                        f"outlet overhead {name}, whose noise is not stated; at least "
                        f"{length(evidence, limit)} is wanted."
                    ),
                    value=distance,
                    limit=limit,
                    unit="m",
                    remedy=f"Move {microphone.id} away, and enter {name} under noise.sources.",
                    severity="warning",
                )


def _jet_reach(evidence: Evidence, at: Point, outlet: Point) -> float:
    """How far the stream counts at this microphone: 0 outside its cone. [m]"""
    jet = evidence.room.targets.house_limit(JET)
    angle = evidence.room.targets.house_limit(ANGLE)
    if jet is None or angle is None:
        return 0.0
    below = outlet[2] - at[2]
    aside = math.dist(at[:2], outlet[:2])
    return jet if below > 0 and aside <= below * math.tan(math.radians(angle)) else 0.0


def _is_a_source(evidence: Evidence, outline: tuple[tuple[float, float], ...]) -> bool:
    """Whether a stated source of noise sits in this part of the ceiling."""
    return any(
        source.kind == "air-outlet"
        and prism_distance((*source.at[:2], 0.0), outline, bottom=0.0, top=0.0) < TOUCH
        for source in evidence.room.noise.sources.values()
    )
