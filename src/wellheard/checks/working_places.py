"""How far microphones on a table are from laptops and papers."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from wellheard.predict.evidence import Evidence, PlacedMicrophone
from wellheard.predict.seating import DEPTH, WIDTH, Sitting, WorkingPlaces

__all__ = ["DEPTH", "WIDTH", "Nearby", "nearest_working_places"]


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
    lying = [one for one in evidence.microphones if one.mounting == "table"]
    if not lying:
        return
    places = WorkingPlaces.of(evidence.room, evidence.talkers)
    for microphone in lying:
        found = places.nearest(microphone.at)
        if found is not None:
            yield Nearby(microphone, *found)
