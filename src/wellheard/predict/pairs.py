"""Where the two of a pair of loudspeakers stand.

::

        ◁┌─────────────┐◁
         │   picture   │        on both sides of it, or a span apart where there is none
         └─────────────┘
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from wellheard.arrays import Array
from wellheard.geometry.polygons import edge_lengths, edge_normals
from wellheard.predict.talkers import display_place
from wellheard.room.document import Room

BESIDE = 0.15
"""From the edge of a picture to the middle of a loudspeaker beside it (common practice) [m]."""

PAIR_SPAN = 1.2
"""Between the two of a pair where there is no picture between them (common practice) [m]."""

PAIR_AT_PICTURE = 1.0
"""A pair this near to a picture on the plan stands on both sides of it [m]."""

ON_WALL = 0.05
"""A picture this near to the line of a wall hangs on it [m]."""


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

    Notes
    -----
    Pictures of that wall with no room for a loudspeaker between them count as one. Where the wall
    ends too soon, a loudspeaker stands at its end.
    """
    outline = np.asarray(room.space.outline, dtype=np.float64)
    middle = np.asarray(at[:2])
    length = edge_lengths(outline)
    along = (np.roll(outline, -1, axis=0) - outline) / length[:, None]
    off = np.abs(np.einsum("wi,wi->w", middle - outline, edge_normals(outline)))
    share = np.einsum("wi,wi->w", middle - outline, along)
    on = (share >= -1e-9) & (share <= length + 1e-9)
    wall = int(np.argmin(np.where(on, off, np.inf)))
    here = float(share[wall])
    first, last = here - PAIR_SPAN / 2, here + PAIR_SPAN / 2
    between = (
        _pictures(room, outline[wall], along[wall], here) if off[wall] <= PAIR_AT_PICTURE else None
    )
    if between is not None:
        first, last = between[0] - BESIDE, between[1] + BESIDE
    end = min(BESIDE, float(length[wall]) / 2)
    # Seen from the room the wall runs from right to left.
    right, left = np.clip([first, last], end, float(length[wall]) - end)
    return tuple(
        (side, (float(x), float(y), at[2]))
        for side, (x, y) in (
            ("left", middle + along[wall] * (left - here)),
            ("right", middle + along[wall] * (right - here)),
        )
    )


def _pictures(room: Room, start: Array, along: Array, here: float) -> tuple[float, float] | None:
    """From where to where along a wall the pictures reach that a pair stands at [m]."""
    found: tuple[float, float] | None = None
    for low, high in sorted(_spans(room, start, along), key=lambda one: abs(sum(one) / 2 - here)):
        near = abs((low + high) / 2 - here) <= max(PAIR_AT_PICTURE, (high - low) / 2 + BESIDE)
        if found is None:
            found = (low, high) if near else None
        elif low < found[1] + 2 * BESIDE and high > found[0] - 2 * BESIDE:
            found = (min(low, found[0]), max(high, found[1]))
    return found


def _spans(room: Room, start: Array, along: Array) -> Iterator[tuple[float, float]]:
    """Both edges of every picture on the line of a wall, along it [m]."""
    for name, item in room.furniture.items():
        if item.kind in ("display", "screen"):
            x, y, _ = display_place(room, name)
            way = np.array([x, y]) - start
            centre = float(way @ along)
            if abs(along[0] * way[1] - along[1] * way[0]) <= ON_WALL:
                yield centre - item.size[0] / 2, centre + item.size[0] / 2
