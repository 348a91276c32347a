"""Where laptops and papers lie on a table, and how far microphones are from them."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from wellheard.checks.seating import Sitting, sittings
from wellheard.predict.evidence import Evidence, PlacedMicrophone

DEPTH = "working-place-depth"
WIDTH = "working-place-width"


@dataclass(frozen=True)
class Nearby:
    """A table microphone and the working place nearest to it; 0 m is inside. [m]"""

    microphone: PlacedMicrophone
    sitting: Sitting
    distance: float


def nearest_working_places(evidence: Evidence) -> Iterator[Nearby]:
    """Each microphone on a table with the working place that it is nearest to.

    A working place lies before a seat from the edge of its table inwards.
    """
    house = evidence.room.targets.house_limit
    deep, wide = house(DEPTH) or 0.0, house(WIDTH) or 0.0
    lying = [one for one in evidence.microphones if one.mounting == "table"]
    people = sittings(evidence) if lying else ()
    if not people:
        return
    front = np.array([one.front for one in people])
    edge = np.array([one.edge for one in people])
    tops = np.array([_top(evidence, one.table) for one in people])
    for microphone in lying:
        offset = np.asarray(microphone.at[:2]) - edge
        inwards = (offset * front).sum(axis=1)
        across = offset[:, 1] * front[:, 0] - offset[:, 0] * front[:, 1]
        beyond = np.maximum(np.maximum(-inwards, inwards - deep), 0.0)
        aside = np.maximum(np.abs(across) - wide / 2, 0.0)
        over = np.maximum(microphone.at[2] - tops, 0.0)
        distance = np.sqrt(beyond**2 + aside**2 + over**2)
        nearest = int(np.argmin(np.round(distance, 9)))
        yield Nearby(microphone, people[nearest], float(distance[nearest]))


def _top(evidence: Evidence, table: str) -> float:
    item = evidence.room.furniture[table]
    return item.height if item.kind == "table" else math.inf
