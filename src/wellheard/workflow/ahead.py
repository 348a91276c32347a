"""Where a microphone that is being dragged will be next: where ceiling tiles draw it to."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence

from wellheard.room.document import Room
from wellheard.workflow.dragged import DEVICES, Move

NEAR = 0.002
"""How far from a middle or a crossing of tiles something still lies on it. [m]"""

Plan = tuple[float, float]


def next_places(
    room: Room, moves: Mapping[str, Move], before: Plan | None
) -> list[dict[str, Move]]:
    """The middles and crossings of tiles round a ceiling microphone, the likeliest first.

    Parameters
    ----------
    room : Room
        Its ceiling says where tiles lie.
    moves : mapping of str to Move
        What the hand holds now.
    before : pair of float, optional
        Where that was a moment ago: a hand goes on the way it went. [m]

    Returns
    -------
    list of mapping
        Empty where the next place is anybody's guess: several things, no tiles, or a place between.

    Examples
    --------
    >>> room = Room.model_validate(
    ...     {
    ...         "wellheard": 1,
    ...         "space": {
    ...             "outline": [[0, 0], [6, 0], [6, 4], [0, 4]],
    ...             "height": 2.7,
    ...             "ceiling": {"kind": "tiles", "module": 0.6},
    ...         },
    ...         "people": {"seats": {"s1": {"at": [1, 1]}}},
    ...     }
    ... )
    >>> found = next_places(room, {"devices.m1": [0.9, 0.9, 2.7]}, before=(0.6, 0.6))
    >>> len(found), [round(v, 6) for v in found[0]["devices.m1"]]
    (8, [1.2, 1.2, 2.7])
    """
    ceiling = room.space.ceiling
    if len(moves) != 1 or ceiling.kind != "tiles" or ceiling.module is None:
        return []
    ((path, to),) = moves.items()
    if not path.startswith(DEVICES) or isinstance(to, Mapping) or len(to) != 3:
        return []
    x, y, z = to
    along, across = ceiling.module
    turn = math.radians(ceiling.rotation_deg)
    cos, sin = math.cos(turn), math.sin(turn)
    dx, dy = x - ceiling.origin[0], y - ceiling.origin[1]
    u, v = (dx * cos + dy * sin) / along, (dy * cos - dx * sin) / across
    half_u, half_v = round(2 * u), round(2 * v)
    off = math.hypot((u - half_u / 2) * along, (v - half_v / 2) * across)
    if off > NEAR or (half_u + half_v) % 2:
        return []
    steps = [(i, j) for i in (-2, -1, 0, 1, 2) for j in (-2, -1, 0, 1, 2) if abs(i) + abs(j) == 2]
    found = []
    for i, j in steps:
        a, b = i / 2 * along, j / 2 * across
        found.append((x + a * cos - b * sin, y + a * sin + b * cos))
    if before is not None:
        went = (x - before[0], y - before[1])

        def on_the_way(at: Plan) -> float:
            step = (at[0] - x, at[1] - y)
            return (step[0] * went[0] + step[1] * went[1]) / math.hypot(*step)

        found.sort(key=on_the_way, reverse=True)
    return [{path: [a, b, z]} for a, b in found]


def named(moves: Mapping[str, Move]) -> str:
    """Name of some moves, the same for places that no drawing tells apart (a tenth of 1 mm)."""

    def rounded(values: Sequence[float]) -> list[float]:
        return [round(v, 4) + 0.0 if isinstance(v, float) else v for v in values]

    return repr(
        sorted(
            (path, sorted((k, rounded(v)) for k, v in to.items()))
            if isinstance(to, Mapping)
            else (path, rounded(to))
            for path, to in moves.items()
        )
    )
