"""Places that can be set out with a tape: whole steps from two walls, and whole steps down or up.

Every place that is weighed is such a place already, so that what is proven is what is written,
drawn, judged and built.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from functools import cache
from typing import TypeVar

import numpy as np

from wellheard.geometry.points import distance_to_edges
from wellheard.geometry.polygons import TOUCH
from wellheard.geometry.setting_out import Plan, places_near
from wellheard.place.places import Standing
from wellheard.predict.evidence import Point
from wellheard.room.document import Room
from wellheard.units import SET_OUT_STEP, format_length

_One = TypeVar("_One")

STANDS = ("lectern",)
"""Mountings that stand where something of the document stands, and are set out by that."""
AT_WALL = ("front", "wall")


class Tape:
    """The steps of one document, from the walls of its undivided room."""

    def __init__(self, room: Room) -> None:
        self.step = SET_OUT_STEP[room.units]
        self.outline = room.space.outline
        self.height = room.space.height
        self.longest = room.choices.max_drop
        # Every drop and product asks again for the same place on the plan.
        self._near: Callable[[Plan], tuple[Plan, ...]] = cache(self._plain_near)

    def around(self, candidate: Standing) -> Iterator[tuple[Point, float | None]]:
        """Places round a candidate with their drops, the nearest first.

        The one where it is, where that is such a place; else the four round it on the plan. What
        is mounted on a wall never comes nearer to it.
        """
        height, drop = self._level(candidate)
        x, y, _ = candidate.at
        if candidate.mounting in STANDS:
            yield (x, y, height), drop
            return
        spots = self._near((x, y))
        if candidate.mounting in AT_WALL:
            gap = self._gap((x, y))
            spots = tuple(one for one in spots if self._gap(one) > gap - TOUCH)
        for spot in spots:
            yield (*spot, height), drop

    def _level(self, candidate: Standing) -> tuple[float, float | None]:
        """Height and drop: of what hangs the drop is whole, of what is on a wall the height."""
        if candidate.mounting == "ceiling" and candidate.drop is not None:
            drop = self._whole(candidate.drop)
            if self.longest is not None and drop > self.longest + TOUCH >= candidate.drop:
                drop -= self.step
            return self.height - drop, drop
        if candidate.mounting in AT_WALL:
            return self._whole(candidate.at[2]), candidate.drop
        return candidate.at[2], candidate.drop

    def _whole(self, metres: float) -> float:
        return round(self.step * round(metres / self.step), 9)

    def _plain_near(self, plan: Plan) -> tuple[Plan, ...]:
        return places_near(self.outline, plan, self.step)

    def _gap(self, plan: Plan) -> float:
        outline = np.asarray(self.outline, dtype=np.float64)
        return float(distance_to_edges(np.asarray(plan), outline).min())


def first_allowed(
    tried: Iterable[_One], refuses: Callable[[_One], str]
) -> tuple[tuple[_One, ...], str]:
    """The first that no rule refuses, and the code of the rule that refuses the nearest.

    None of them where all are refused; the code is empty where none is.
    """
    refused = ""
    for one in tried:
        broken = refuses(one)
        if not broken:
            return (one,), ""
        refused = refused or broken
    return (), refused


def step_in_words(room: Room) -> str:
    """What places are rounded to, for the scope of a proof."""
    step = SET_OUT_STEP[room.units]
    said = f"{1000 * step:.0f} mm" if room.units == "m" else format_length(step, unit="ft")
    return f"each rounded to {said} from two walls"
