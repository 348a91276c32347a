"""Groups of surfaces: their areas and what keeps its name."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest

from wellheard.catalog.catalogue import Catalogue
from wellheard.predict import tolerances
from wellheard.proving.as_built_groups import areas, grouped
from wellheard.room.document import Room

PARTS = {
    "space": {
        "obstacles": {
            "column": {"outline": [[4, 3], [4.5, 3], [4.5, 3.5], [4, 3.5]], "finish": "concrete"}
        },
        "finishes": {
            "patches": {
                "board": {"wall": "east", "from": 1, "to": 3, "bottom": 1, "top": 2,
                          "finish": "wood-panel"},
                "rug": {"surface": "floor", "outline": [[1, 1], [3, 1], [3, 2], [1, 2]],
                        "finish": "carpet-heavy"},
            }
        },
    }
}  # fmt: skip


@pytest.fixture
def room(room_of: Callable[..., Room]) -> Room:
    return room_of(PARTS)


def test_areas_are_those_of_a_box_worked_by_hand(room: Room, catalogue: Catalogue) -> None:
    """6 × 4.5 × 2.7 m, a column of 0.5 × 0.5 m, a board of 2 m², a rug of 2 m²."""
    found = grouped(room, catalogue, lambda one: one)
    by_name = {one.name: one.area for one in found.groups}
    assert by_name == pytest.approx(
        {
            "floor": 27.0 - 0.25 - 2.0,
            "ceiling": 27.0 - 0.25,
            "walls south, east, north and west": 2 * (6.0 + 4.5) * 2.7 - 2.0,
            "board": 2.0,
            "rug on the floor": 2.0,
            "column": 4 * 0.5 * 2.7,
        }
    )
    # The seat: a box of 0.45 m square from 0.40 to 1.05 m.
    seat = areas(found.enclosure)[list(found.held[0].surfaces)].sum()
    assert seat == pytest.approx(4 * 0.45 * 0.65 + 2 * 0.45**2)


def test_together_finishes_are_as_unsure_as_a_blind_prediction(
    room: Room, catalogue: Catalogue
) -> None:
    """√Σ(share·σ)² is the σ of a blind decay, the shares those of area · −ln(1 − α) [Eyring]."""
    found = grouped(room, catalogue, lambda one: one)
    own, held = found.sigma()
    plain = areas(found.enclosure)[:, None] * -np.log1p(-found.enclosure.absorption)
    share = np.array([plain[list(one.surfaces)].sum(axis=0) for one in found.members])
    share /= plain.sum(axis=0)
    together = np.sqrt(np.square(share * np.concatenate([own, held])).sum(axis=0))
    assert together == pytest.approx(tolerances.BLIND_LOG_TIME_SIGMA, rel=1e-9)


def test_a_finish_that_was_measured_is_held_tighter(
    room: Room, room_of: Callable[..., Room], catalogue: Catalogue
) -> None:
    known = room.model_copy(update={"basis": {"space.finishes.floor": "measured"}})
    told, measured = (grouped(one, catalogue, lambda x: x).sigma()[0] for one in (room, known))
    assert measured[0] == pytest.approx(0.8 * told[0])
    assert measured[1:] == pytest.approx(told[1:])


@pytest.mark.parametrize(("alpha", "least", "most"), [(0.1, 0.026, 0.344), (0.02, 0.01, 0.078)])
def test_absorption_stays_within_a_factor_of_four_and_its_bounds(
    room_of: Callable[..., Room], catalogue: Catalogue, alpha: float, least: float, most: float
) -> None:
    """1 − 0.9^¼ = 0.026, 1 − 0.9⁴ = 0.344; 1 − 0.98⁴ = 0.078, and 0.01 at least."""
    floor = {"absorption": [alpha] * 7}
    one = grouped(room_of({"space": {"finishes": {"floor": floor}}}), catalogue, lambda x: x)
    low, high = one.groups[0].bounds()
    assert one.groups[0].scaled(low) == pytest.approx([least] * 7, abs=5e-4)
    assert one.groups[0].scaled(high) == pytest.approx([most] * 7, abs=5e-4)
