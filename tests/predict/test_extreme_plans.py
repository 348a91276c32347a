"""Plans at the limits of a document end in figures: finite, ordered, in bounded work."""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np
import pytest

from wellheard.catalog.catalogue import Catalogue
from wellheard.predict import ledger
from wellheard.room.document import Room

RoomOf = Callable[..., Room]
Points = list[list[float]]


def ring(count: int, *radii: float) -> Points:
    """A plan of so many walls round (20, 20), its corners at these radii by turns."""
    return [
        [
            20 + radii[i % len(radii)] * math.cos(2 * math.pi * i / count),
            20 + radii[i % len(radii)] * math.sin(2 * math.pi * i / count),
        ]
        for i in range(count)
    ]


# Outline, ceiling, seats, microphone. A document takes 200 walls and places up to 200 m away.
PLANS: dict[str, tuple[Points, float, Points, list[float]]] = {
    "200 walls, round": (ring(200, 9.0), 3.0, [[18, 18], [22, 19]], [20, 20, 2.8]),
    "200 walls, a star": (ring(200, 9.0, 6.0), 3.0, [[18, 18], [22, 19]], [20, 20, 2.8]),
    "a hall": ([[-190, 0], [190, 0], [190, 90], [-190, 90]], 12.0, [[0, 45], [2, 45]], [4, 45, 6]),
    "walls that all but touch": (
        [[0, 0], [4, 0], [4, 2], [2, 2], [4, 2.0002], [4, 4], [0, 4]],
        2.7,
        [[1, 1], [1, 3]],
        [2, 1, 2.7],
    ),
    "people on walls": ([[0, 0], [6, 0], [6, 5], [0, 5]], 2.7, [[0, 2.5], [6, 5]], [3, 0, 2.7]),
}


@pytest.mark.parametrize("name", PLANS)
def test_every_plan_that_a_document_takes_is_predicted(
    room_of: RoomOf, catalogue: Catalogue, name: str
) -> None:
    outline, height, seats, microphone = PLANS[name]
    room = room_of(
        {
            "space": {
                "outline": outline,
                "walls": "absent",
                "height": height,
                "ceiling": {"kind": "hard"},
                "finishes": {"walls": "plasterboard"},
            },
            "furniture": {},
            "people": {"seats": {f"s{i}": {"at": at, "facing": 0} for i, at in enumerate(seats)}},
            "devices": {
                "m1": {"kind": "microphone", "product": "omni-reference", "at": microphone}
            },
        }
    )
    found = ledger.predict(room, catalogue, assumptions=False)
    assert np.all(np.isfinite(found.reverberation.time))
    # Sabine's time bounds the order of magnitude of any decay of such walls (Kuttruff).
    assert 0.2 < found.reverberation.time[3] / found.reverberation.sabine[3] < 5.0
    for row in found.outbound:
        assert 0.0 <= row.sti.low <= row.sti.value <= row.sti.high <= 1.0
        assert math.isfinite(row.direct_to_reverberant.value)
        assert math.isfinite(row.speech_to_noise.value)
