"""Maps of what ears hear: the ledger's figures at its seats; how even lattices in a ceiling are."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from wellheard.catalog.catalogue import Catalogue
from wellheard.errors import InputError
from wellheard.predict.inbound import playback
from wellheard.predict.listening_map import QUANTITIES, at_ears, inbound_coverage
from wellheard.predict.loudspeakers import ears, placed_loudspeakers, played
from wellheard.predict.planes import Plane
from wellheard.predict.scene import Scene, build
from wellheard.predict.wayback import Playback
from wellheard.room.document import Room

SceneOf = Callable[[dict[str, Any]], Scene]

ROOM: dict[str, Any] = {
    "space": {
        "outline": [[0, 0], [7.0, 0], [7.0, 5.0], [4.0, 5.0], [4.0, 3.0], [0, 3.0]],
        "height": 2.8,
        "obstacles": {"column": {"outline": [[5.0, 1.0], [5.6, 1.0], [5.6, 1.6], [5.0, 1.6]]}},
    },
    "people": {"seats": {"s1": {"at": [1.7, 0.6]}, "s2": {"at": [6.2, 4.1], "height": 1.5}}},
    "devices": {
        "c1": {"kind": "loudspeaker", "product": "ceiling-6", "at": [2.0, 1.5, 2.8]},
        "c2": {"kind": "loudspeaker", "product": "ceiling-6", "at": [5.6, 3.6, 2.8]},
    },
}


@pytest.fixture(scope="module")
def made(scene_of: SceneOf) -> tuple[Scene, Playback]:
    scene = scene_of(ROOM)
    found = playback(scene)
    assert found is not None
    return scene, found


@pytest.mark.parametrize("talker", ["s1", "s2"])
def test_map_is_the_ledger_at_its_seats(talker: str, made: tuple[Scene, Playback]) -> None:
    scene, found = made
    row = found.row(talker)
    x, y, z = row.talker.at
    spot = Plane((x - 0.01, y - 0.01, z), (1, 0, 0), (0, 1, 0), (0.02, 0.02))
    maps = inbound_coverage(scene, found, plane=spot, spacing=0.01)
    wanted = {"sti_inbound": (row.sti, 0.003), "listening_level_dba": (row.level, 0.1)}
    for name, (quantity, near) in wanted.items():
        assert maps[name].values.mean() == pytest.approx(quantity.value, abs=near)
        assert maps[name].low.mean() == pytest.approx(quantity.low, abs=2 * near)


def test_nobody_listens_outside_the_room_or_in_a_column(made: tuple[Scene, Playback]) -> None:
    scene, found = made
    maps = inbound_coverage(scene, found, spacing=0.25)
    assert set(maps) == set(QUANTITIES)
    for one in maps.values():
        x, y = np.meshgrid(one.x, one.y)
        solid = ((x < 4) & (y > 3)) | ((np.abs(x - 5.3) < 0.3) & (np.abs(y - 1.3) < 0.3))
        assert np.isnan(one.values[solid]).all()
        assert not np.isnan(one.values[~solid]).any()
        assert (one.known(low=True) < one.known()).all()


def test_a_plane_beside_the_room_is_refused(made: tuple[Scene, Playback]) -> None:
    scene, found = made
    beside = Plane((0.5, 3.5, 1.2), (1, 0, 0), (0, 1, 0), (2.0, 1.0))
    with pytest.raises(InputError, match="no point of the plane"):
        inbound_coverage(scene, found, plane=beside)


def test_marks_at_the_seats_have_the_rows_figures(made: tuple[Scene, Playback]) -> None:
    scene, found = made
    marks = at_ears(scene.room, found)
    for row in found.rows:
        assert marks[row.talker.id]["sti_inbound"].value == row.sti.value
        assert marks[row.talker.id]["listening_level_dba"].state == "kept"


def test_level_outside_the_range_on_either_side_is_broken(scene_of: SceneOf) -> None:
    too_loud = {**ROOM, "targets": {"playback_level_dba": 80}}
    too_soft = {**ROOM, "targets": {"playback_level_dba": 60}}
    for room in (too_loud, too_soft):
        scene = scene_of(room)
        found = playback(scene)
        assert found is not None
        marks = at_ears(scene.room, found)
        assert {one["listening_level_dba"].state for one in marks.values()} == {"broken"}


THROW = 1.5
"""From the ceiling to the ears [m]."""


@pytest.mark.parametrize(
    ("angle_deg", "share", "square_db", "hexagon_db"),
    [(90.0, 0.866, 5.96, 4.23), (90.0, 0.707, 3.38, 2.19), (120.0, 0.707, 5.71, 4.37)],
)
def test_ceiling_lattices_vary_as_a_table_of_infinite_ones_says(
    angle_deg: float,
    share: float,
    square_db: float,
    hexagon_db: float,
    room_of: Callable[..., Room],
    catalogue: Catalogue,
) -> None:
    # Direct sound of infinite lattices, cosⁿ in power with −6 dB at half the angle, spacing as a
    # share of the circle D = 2h·tan(φ/2); own computation with 33 × 33 units in a handbook [L]
    spacing = share * 2 * THROW * math.tan(math.radians(angle_deg / 2))
    for wanted, rows_apart, shifted in (
        (square_db, spacing, 0.0),
        (hexagon_db, spacing * math.sqrt(3) / 2, spacing / 2),
    ):
        scene = _lattice(room_of, catalogue, angle_deg, spacing, rows_apart, shifted)
        placed = placed_loudspeakers(scene.room, scene.catalogue, scene.talkers)
        # A cell about the middle loudspeaker, wide enough for the whole of the pattern.
        across = 15 + np.linspace(-0.5, 0.5, 31) * spacing
        along = 15 + np.linspace(0.0, 1.0, 31) * rows_apart
        x, y = np.meshgrid(across, along)
        at = np.stack([x.ravel(), y.ravel(), np.full(x.size, 6.0 - THROW)], axis=-1)
        direct = played(scene, placed, ears(at)).direct[:, :, 4].sum(axis=0)
        assert np.ptp(10 * np.log10(direct)) == pytest.approx(wanted, abs=0.15)


def _lattice(
    room_of: Callable[..., Room],
    catalogue: Catalogue,
    angle_deg: float,
    spacing: float,
    rows_apart: float,
    shifted: float,
) -> Scene:
    """Seven rows of seven loudspeakers in the ceiling of a hall that swallows everything."""
    swallows = {"absorption": dict.fromkeys((125, 250, 500, 1000, 2000, 4000, 8000), 1.0)}
    units = {
        f"c{i}{j}": {
            "kind": "loudspeaker",
            "product": "ceiling-6",
            "at": [15 + (i - 3) * spacing + (j % 2 == 0) * shifted, 15 + (j - 3) * rows_apart, 6.0],
        }
        for i in range(7)
        for j in range(7)
    }
    room = room_of(
        {
            "space": {
                "outline": [[0, 0], [30, 0], [30, 30], [0, 30]],
                "height": 6.0,
                "finishes": {"floor": swallows, "ceiling": swallows, "walls": swallows},
            },
            "devices": units,
        }
    )
    wide = tuple(replace(one, angle_deg=angle_deg, polar=None) for one in catalogue.loudspeakers)
    return build(room, replace(catalogue, loudspeakers=wide))
