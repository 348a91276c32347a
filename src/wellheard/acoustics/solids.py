"""What stands in a room by layers of height: things that overlap take their space once.

::

    ────────────────  ceiling
         ┌───┐              layer: the cupboard alone
       ┌─┼───┼──┐           layer: table top and cupboard
         │   │              layer: the cupboard alone
    ─────┴───┴──────  floor
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from functools import lru_cache
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    import shapely

    from wellheard.acoustics.enclosure import Prism


def layers(objects: Sequence[Prism]) -> Iterator[tuple[float, shapely.Geometry]]:
    """Thickness of each layer between two heights where something begins or ends, and its plan.

    Parameters
    ----------
    objects : sequence of Prism
        They may overlap.

    Yields
    ------
    thickness : float
        [m]
    plan : shapely.Geometry
        What is solid in it.
    """
    import shapely

    heights = np.unique([(one.bottom, one.top) for one in objects])
    outlines = [shapely.Polygon(one.outline) for one in objects]
    for bottom, top in pairwise(heights):
        middle = 0.5 * (bottom + top)
        here = [
            outline
            for outline, one in zip(outlines, objects, strict=True)
            if one.bottom < middle < one.top
        ]
        if here:
            yield float(top - bottom), shapely.union_all(here)


def solid_volume(objects: Sequence[Prism]) -> float:
    """Space that objects take [m³], where they overlap once.

    That of the last few sets is remembered: a room with other finishes keeps what stands in it.

    Parameters
    ----------
    objects : sequence of Prism
        They may overlap.

    Examples
    --------
    Two blocks of 1 m × 1 m × 2 m in one place fill 2 m³.

    >>> from wellheard.acoustics.enclosure import Prism
    >>> square = np.array([[0.0, 0.0], [1.0, 0.0], [1.0, 1.0], [0.0, 1.0]])
    >>> solid_volume([Prism(square, 0.0, 2.0, 0), Prism(square, 0.0, 2.0, 0)])
    2.0
    """
    return _solid_volume(
        tuple(
            (np.asarray(one.outline, dtype=np.float64).tobytes(), one.bottom, one.top)
            for one in objects
        )
    )


@lru_cache(maxsize=32)
def _solid_volume(blocks: tuple[tuple[bytes, float, float], ...]) -> float:
    import shapely

    from wellheard.acoustics.enclosure import Prism

    objects = [
        Prism(np.frombuffer(plan).reshape(-1, 2), bottom, top, surface=0)
        for plan, bottom, top in blocks
    ]
    return sum(thickness * float(shapely.area(plan)) for thickness, plan in layers(objects))
