"""Invented rooms for treatments, plain and random."""

from __future__ import annotations

import math

import numpy as np

from wellheard.room import codec
from wellheard.room.document import Room

BARE = """\
wellheard: 1
space:
  outline: [[0, 0], [8, 0], [8, 6], [0, 6]]
  walls: [south, east, north, west]
  height: 3.0
  ceiling: {kind: hard}
  finishes:
    floor: concrete-floor
    ceiling: concrete
    walls: concrete
    patches:
      door: {wall: south, from: 0.5, to: 1.4, top: 2.1, finish: wood-door}
      window: {wall: north, from: 2, to: 6, bottom: 0.9, top: 2.2, finish: window-glass-ordinary}
furniture:
  table: {kind: table, outline: [[2, 2], [6, 2], [6, 4], [2, 4]]}
  picture: {kind: display, wall: west, centre: [3, 1.5], size: [2, 1.1]}
  sideboard: {kind: cupboard, outline: [[7.5, 2], [8, 2], [8, 4], [7.5, 4]], height: 0.9}
people:
  seats: {a: {at: [3, 1.5]}, b: {at: [5, 1.5]}, c: {at: [3, 4.5]}, d: {at: [5, 4.5]}}
overhead:
  lamp: {kind: luminaire, outline: [[3, 2.8], [5, 2.8], [5, 3.2], [3, 3.2]], clearance: 0.3}
  head: {kind: sprinkler, outline: [[1.4, 1.4], [1.6, 1.4], [1.6, 1.6], [1.4, 1.6]], clearance: 0.5}
"""
"""Concrete all round: it rings for about three seconds."""


def random_room(seed: int) -> Room:
    """A room of a random size, shape, kind of ceiling and set of things on its walls."""
    random = np.random.default_rng(seed)
    wide, deep = (float(v) for v in np.round(random.uniform(4.0, 11.0, 2), 1))
    cut = random.uniform() < 0.4
    corners: list[list[float]] = [[0, 0], [wide, 0], [wide, deep], [0, deep]]
    if cut:  # an L
        half = [round(wide * 0.6, 1), round(deep * 0.5, 1)]
        corners = [[0, 0], [wide, 0], [wide, half[1]], half, [half[0], deep], [0, deep]]
    turn = float(random.choice([0.0, 0.3]))
    c, s = math.cos(turn), math.sin(turn)
    outline = [[round(c * x - s * y, 4), round(s * x + c * y, 4)] for x, y in corners]
    kind = str(random.choice(["hard", "tiles", "open"]))
    height = round(float(random.uniform(2.6, 3.4)), 2)
    seat = [round(c * 1.5 - s * 1.5, 3), round(s * 1.5 + c * 1.5, 3)]
    lamp_here = ((1.5, 1.5), (2.7, 1.5), (2.7, 1.8), (1.5, 1.8))
    lamp = [[round(c * x - s * y, 3), round(s * x + c * y, 3)] for x, y in lamp_here]
    start = round(float(random.uniform(0.3, 1.5)), 2)
    return codec.from_data(
        {
            "wellheard": 1,
            "space": {
                "outline": outline,
                "height": height,
                "ceiling": {"kind": kind, "rotation_deg": round(float(np.degrees(turn)), 4)},
                "finishes": {
                    "floor": "vinyl-floor",
                    "ceiling": "plasterboard" if kind != "open" else "concrete",
                    "walls": "plasterboard",
                    "patches": {
                        "door": {
                            "wall": "w0", "from": start, "to": start + 0.9, "top": 2.1,
                            "finish": "wood-door",
                        },
                        "window": {
                            "wall": "w1", "from": 0.5, "to": 1.7, "bottom": 0.9, "top": 2.1,
                            "finish": "window-glass-ordinary",
                        },
                    },
                },
            },
            "people": {"seats": {"s": {"at": seat}}},
            "furniture": {
                "picture": {
                    "kind": "display", "wall": f"w{len(corners) - 1}", "centre": [1.5, 1.5],
                    "size": [1.4, 0.8],
                }
            },
            "overhead": {"lamp": {"kind": "luminaire", "outline": lamp, "clearance": 0.2}},
            "targets": {"reverberation": round(float(random.uniform(0.45, 0.8)), 2)},
        }
    )  # fmt: skip
