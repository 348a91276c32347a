"""Where the two of a pair of loudspeakers stand.

::

        ◁┌─────────────┐◁
         │   picture   │        on both sides of it, or a span apart where there is none
         └─────────────┘
"""

from __future__ import annotations

import math

import numpy as np

from wellheard.geometry.polygons import edge_lengths, edge_normals
from wellheard.predict.talkers import display_place
from wellheard.room.document import Room

BESIDE = 0.15
"""From the edge of a picture to the middle of a loudspeaker beside it (common practice) [m]."""

PAIR_SPAN = 1.2
"""Between the two of a pair where there is no picture between them (common practice) [m]."""

PAIR_AT_PICTURE = 1.0
"""A pair this near to a picture on the plan stands on both sides of it [m]."""


def pair_places(
    room: Room, at: tuple[float, float, float]
) -> tuple[tuple[str, tuple[float, float, float]], ...]:
    """Places of the two of a pair, along the wall that they are nearest to.

    Parameters
    ----------
    room : Room
        With the pictures that it may stand at.
    at : tuple of 3 floats
        Where the document has the pair. [m]

    Returns
    -------
    tuple of (str, tuple of 3 floats)
        ``left`` and ``right``, as seen from the room.
    """
    outline = np.asarray(room.space.outline, dtype=np.float64)
    middle = np.asarray(at[:2])
    along = (np.roll(outline, -1, axis=0) - outline) / edge_lengths(outline)[:, None]
    off = np.abs(np.einsum("wi,wi->w", middle - outline, edge_normals(outline)))
    share = np.einsum("wi,wi->w", middle - outline, along)
    on = (share >= -1e-9) & (share <= edge_lengths(outline) + 1e-9)
    wall = int(np.argmin(np.where(on, off, np.inf)))
    span = PAIR_SPAN
    for name, item in room.furniture.items():
        if item.kind in ("display", "screen"):
            x, y, _ = display_place(room, name)
            if math.dist((x, y), at[:2]) <= PAIR_AT_PICTURE:
                middle = middle + along[wall] * float((np.array([x, y]) - middle) @ along[wall])
                span = item.size[0] + 2 * BESIDE
    # Seen from the room the wall runs from right to left.
    left, right = middle + along[wall] * span / 2, middle - along[wall] * span / 2
    return (
        ("left", (float(left[0]), float(left[1]), at[2])),
        ("right", (float(right[0]), float(right[1]), at[2])),
    )
