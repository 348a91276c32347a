"""Ceiling microphones behind the people they serve.

::

            ● microphone
             ╲  angle > 100°
              ╲⌒
       chair ▐ ○ ──►  looks along
"""

from __future__ import annotations

import math
from collections.abc import Iterator

import numpy as np

from wellheard.checks.model import Draft
from wellheard.checks.registry import rule
from wellheard.checks.relaxation import limit_in_force
from wellheard.checks.separation import TOUCH, plan_distance
from wellheard.checks.wording import length, place
from wellheard.geometry import contains_points, distance_to_edges
from wellheard.predict.evidence import Evidence, PlacedMicrophone, Talker

CODE = "microphone-behind-talker"
WALL = "microphone-near-wall"
LAST = "pickup-last"
STEP = 0.1
"""Steps in which a place before a talker is looked for. [m]"""


@rule(CODE, "warning", strength="house", cites="", thresholds=(CODE, WALL, LAST))
def microphone_behind_talker(evidence: Evidence) -> Iterator[Draft]:
    """Ceiling microphones hang over the front of talkers, not behind their chairs.

    The angle between where a talker looks and the ceiling microphone that serves them is at most
    100°; straight overhead is 90°, and 0.3 m behind a mouth 1.5 m below is 101°. Of several facings
    the first counts, which is the main one; that a head turns is in the prediction. No
    finding where another microphone is in front within its usual distance, nor where the ceiling
    ahead has no free place: the remedy names the nearest one, clear of walls and of what is
    overhead.
    People walk about in a standing area: it has a finding where the microphone is behind them in
    more than half of it.
    """
    limit = limit_in_force(evidence, CODE)
    microphones = {one.id: one for one in evidence.microphones}
    samples: dict[str, list[tuple[float, str, Talker, PlacedMicrophone]]] = {}
    for row in evidence.outbound:
        serving, talker = microphones[row.path.microphone], row.talker
        angle = _angle_deg(talker, serving)
        samples.setdefault(talker.owner, []).append((round(angle, 6), talker.id, talker, serving))
    for owner, points in samples.items():
        angle, _, talker, serving = sorted(points, key=lambda one: one[:2])[(len(points) - 1) // 2]
        if serving.mounting != "ceiling" or angle <= limit + 1e-6:
            continue
        if any(_hears_in_front(talker, one, limit) for one in evidence.microphones):
            continue
        ahead = _free_place_ahead(evidence, talker, serving)
        if ahead is None:
            continue
        behind, (distance, x, y) = _behind(talker, serving), ahead
        yield Draft(
            at=owner,
            message=(
                f"Microphone {serving.id} is {length(evidence, behind)} behind the mouth of "
                f"{place(talker)}, {angle:.0f}° from where they look; over the front of a talker "
                f"it is {limit:g}° at most."
            ),
            value=angle,
            limit=limit,
            unit="deg",
            remedy=(
                f"Move {serving.id}, or add a microphone: the nearest free place ahead of "
                f"{place(talker)} is {length(evidence, distance)} before the mouth, at "
                f"{length(evidence, x)}, {length(evidence, y)} on the plan."
            ),
        )


def _looks(talker: Talker) -> tuple[float, float]:
    azimuth = math.radians(talker.facings_deg[0])
    return math.cos(azimuth), math.sin(azimuth)


def _behind(talker: Talker, microphone: PlacedMicrophone) -> float:
    """How far back from the mouth on the plan, along the facing; negative is in front. [m]"""
    x, y = _looks(talker)
    return -(x * (microphone.at[0] - talker.at[0]) + y * (microphone.at[1] - talker.at[1]))


def _angle_deg(talker: Talker, microphone: PlacedMicrophone) -> float:
    distance = math.dist(talker.at, microphone.at)
    if distance < TOUCH:
        return 0.0
    return math.degrees(math.acos(max(-1.0, min(1.0, -_behind(talker, microphone) / distance))))


def _hears_in_front(talker: Talker, microphone: PlacedMicrophone, limit: float) -> bool:
    near = math.dist(talker.at, microphone.at) <= microphone.product.usual_distance + TOUCH
    return near and _angle_deg(talker, microphone) <= limit + 1e-6


def _free_place_ahead(
    evidence: Evidence, talker: Talker, microphone: PlacedMicrophone
) -> tuple[float, float, float] | None:
    """Nearest free place of the ceiling straight ahead: how far, and where on the plan. [m]"""
    house = evidence.room.targets.house_limit
    up = microphone.at[2] - talker.at[2]
    reach = min(microphone.product.usual_distance, house(LAST) or math.inf)
    if not math.isfinite(reach) or reach <= abs(up):
        return None
    ahead = np.arange(STEP, math.sqrt(reach**2 - up**2), STEP)
    plan = np.asarray(talker.at[:2]) + ahead[:, None] * np.asarray(_looks(talker))
    outline = np.asarray(evidence.room.space.outline, dtype=np.float64)
    clear = contains_points(outline, plan)
    clear &= distance_to_edges(plan, outline).min(axis=1) >= (house(WALL) or 0.0) - TOUCH
    half = max(microphone.product.size[:2]) / 2
    for i in np.flatnonzero(clear).tolist():
        x, y = float(plan[i, 0]), float(plan[i, 1])
        if all(
            plan_distance((x, y, 0.0), item.outline) - half >= item.clearance - TOUCH
            for item in evidence.room.overhead.values()
        ):
            return float(ahead[i]), x, y
    return None
