"""Maps: the same figures as the ledger at its seats, NaN where nobody can be, honest low ends."""

from __future__ import annotations

import math
from collections.abc import Callable
from statistics import NormalDist
from typing import Any

import numpy as np
import pytest

from wellheard.errors import InputError
from wellheard.predict import ledger
from wellheard.predict.coverage import QUANTITIES, at_talkers, coverage, usual_facing
from wellheard.predict.evidence import Evidence
from wellheard.predict.planes import Plane, free, section_plane
from wellheard.predict.scene import Scene

SceneOf = Callable[[dict[str, Any]], Scene]
Made = tuple[Scene, Evidence]

ROOM: dict[str, Any] = {
    "space": {
        "outline": [[0, 0], [7.0, 0], [7.0, 5.0], [4.0, 5.0], [4.0, 3.0], [0, 3.0]],
        "height": 2.8,
        "obstacles": {"column": {"outline": [[5.0, 1.0], [5.6, 1.0], [5.6, 1.6], [5.0, 1.6]]}},
    },
    "furniture": {
        "table": {"kind": "table", "outline": [[1.5, 1.0], [3.5, 1.0], [3.5, 2.0], [1.5, 2.0]]},
    },
    "people": {
        "seats": {
            "s1": {"at": [1.7, 0.6], "facing": "across"},
            "s2": {"at": [3.1, 2.4], "facing": "across"},
            "s3": {"at": [6.2, 4.1], "height": 1.5, "facing": [200, "across"]},
        }
    },
    "noise": {"background": {"nc": 30}},
    "devices": {
        "m1": {"kind": "microphone", "product": "ceiling-head-3", "at": [2.5, 1.5, 2.8]},
        "m2": {"kind": "microphone", "product": "ceiling-head-3", "at": [5.9, 3.6, 2.8]},
    },
}


@pytest.fixture
def made(scene_of: SceneOf) -> Made:
    scene = scene_of(ROOM)
    return scene, ledger.evidence(scene, assumptions=False)


def spot(at: tuple[float, float, float]) -> Plane:
    """A tiny plane whose four points are within 2 cm of a mouth."""
    x, y, z = at
    return Plane((x - 0.01, y - 0.01, z), (1, 0, 0), (0, 1, 0), (0.02, 0.02))


@pytest.mark.parametrize(
    ("room", "ratio_db", "sti"),
    [
        # A box whose scattered sound is the same everywhere: one and the same figure.
        ({"space": {"obstacles": {}, "outline": [[0, 0], [7, 0], [7, 5], [0, 5]]}}, 0.1, 0.005),
        # Elsewhere it is traced from seats for the ledger and from microphones for a map: two
        # standard deviations of the model's own error in a ratio, 0.6 dB.
        ({}, 1.2, 0.02),
    ],
)
def test_at_a_seat_the_map_has_the_figures_of_the_ledger(
    room: dict[str, Any], ratio_db: float, sti: float, scene_of: SceneOf
) -> None:
    whole = {**ROOM, **({"space": {**ROOM["space"], **room["space"]}} if room else {})}
    scene = scene_of(whole)
    evidence = ledger.evidence(scene, assumptions=False)
    assert len(evidence.outbound) == 3
    for row in evidence.outbound:
        facing = (row.path.facing_deg,)
        plane = spot(row.talker.at)
        maps = coverage(scene, evidence, plane=plane, spacing=0.01, facing=facing)
        for quantity in row.quantities:
            near = sti if quantity.name == "sti_outbound" else ratio_db
            values = maps[quantity.name]
            assert values.values.mean() == pytest.approx(quantity.value, abs=near)
            assert values.low.mean() == pytest.approx(quantity.low, abs=near)


def test_figures_at_talkers_are_those_of_their_rows(made: Made) -> None:
    scene, evidence = made
    found = at_talkers(scene, evidence)
    assert list(found) == [row.talker.id for row in evidence.outbound]
    for row in evidence.outbound:
        mine = found[row.talker.id]
        for quantity in row.quantities:
            assert mine[quantity.name].value == pytest.approx(quantity.value, abs=1e-9)
            assert mine[quantity.name].low == pytest.approx(quantity.low, abs=1e-9)
        assert mine["speech_level_dba"].value == pytest.approx(row.path.speech_level_dba)
        speech = row.path.c50_db[2:6]  # 500 Hz to 4 kHz
        assert mine["c50_db"].value == pytest.approx(sum(speech) / 4)
        assert mine["c50_db"].state is None


def test_a_state_is_that_of_the_quantity_alone(scene_of: SceneOf) -> None:
    scene = scene_of({**ROOM, "targets": {"sti_outbound": 0.1, "speech_to_noise_db": 60}})
    found = at_talkers(scene, ledger.evidence(scene, assumptions=False))
    assert {each["sti_outbound"].state for each in found.values()} == {"kept"}
    assert {each["speech_to_noise_db"].state for each in found.values()} == {"broken"}


def test_nobody_is_mapped_outside_the_room_or_in_what_is_solid(made: Made) -> None:
    scene, evidence = made
    for plane in (None, section_plane(scene.room, (0.5, 0.5), (7.5, 4.9))):
        maps = coverage(scene, evidence, plane=plane, spacing=0.2)
        assert set(maps) == set(QUANTITIES)
        for cover in maps.values():
            inside = free(scene.room, cover.points)
            assert 0.3 < inside.mean() < 1.0
            np.testing.assert_array_equal(np.isfinite(cover.values), inside)
            np.testing.assert_array_equal(np.isfinite(cover.low), inside)


def test_nine_of_ten_reach_the_low_end(made: Made) -> None:
    scene, evidence = made
    # The 10 % point of a normal spread lies Φ⁻¹(0.1) = −1.2816 standard deviations off the middle.
    deviations = -NormalDist().inv_cdf(0.1)
    found = at_talkers(scene, evidence)
    for row in evidence.outbound:
        for quantity in row.quantities:
            one = found[row.talker.id][quantity.name]
            assert (one.value - one.low) / quantity.sigma == pytest.approx(deviations)
    for cover in coverage(scene, evidence, spacing=0.3).values():
        assert (cover.known(low=True) < cover.known()).all()


def test_the_low_end_of_the_level_is_never_nearer_than_people_differ(made: Made) -> None:
    scene, evidence = made
    level = coverage(scene, evidence, spacing=0.3)["speech_level_dba"]
    # People differ by 3 dB at one vocal effort [C]; 1.2816 of them is 3.84 dB.
    assert (level.known() - level.known(low=True)).min() >= 3.84 - 0.01


def test_of_several_facings_the_worst_counts_for_each_quantity(made: Made) -> None:
    scene, evidence = made
    one, other, both = (
        coverage(scene, evidence, spacing=0.4, facing=ways)
        for ways in ((0.0,), (135.0,), (0.0, 135.0))
    )
    for quantity in QUANTITIES:
        least = np.fmin(one[quantity].values, other[quantity].values)
        np.testing.assert_allclose(both[quantity].values, least)
        assert (one[quantity].values != other[quantity].values).any()


def test_a_talker_who_turns_away_is_heard_worse(made: Made) -> None:
    scene, evidence = made
    plane = spot((1.0, 1.5, 1.2))  # m1 is east of it
    towards, away = (
        coverage(scene, evidence, plane=plane, spacing=0.01, facing=(way,)) for way in (0.0, 180.0)
    )
    # A mouth sends less behind than in front (any directivity table).
    for quantity in QUANTITIES:
        assert (towards[quantity].values > away[quantity].values).all()


def test_the_words_of_the_seats_are_the_usual_facing(made: Made, scene_of: SceneOf) -> None:
    assert usual_facing(made[0]) == ("across",)
    assert usual_facing(scene_of({"people": {"seats": {}}})) == ("across",)


def test_points_come_row_by_row_on_a_turned_plane(made: Made) -> None:
    scene, evidence = made
    turn = math.radians(-20)
    plane = Plane((0.5, 2.5, 1.0), (math.cos(turn), math.sin(turn), 0.0), (0, 0, 1), (4.0, 1.2))
    cover = coverage(scene, evidence, plane=plane, spacing=0.2)["sti_outbound"]
    assert cover.values.shape == (len(cover.up), len(cover.along)) == cover.points.shape[:2]
    again = coverage(
        scene,
        evidence,
        plane=Plane(plane.origin, plane.across, plane.up, (2.0, 0.6)),
        spacing=0.2,
    )["sti_outbound"]
    rows, columns = again.values.shape
    np.testing.assert_allclose(again.values, cover.values[:rows, :columns])


def test_a_map_without_microphones_display_or_air_is_refused(made: Made, scene_of: SceneOf) -> None:
    scene, evidence = made
    with pytest.raises(InputError, match="no display to face; across, or an azimuth"):
        coverage(scene, evidence, facing=("display",))
    outside = Plane((20, 20, 1), (1, 0, 0), (0, 1, 0), (2.0, 2.0))
    with pytest.raises(InputError, match="no point of the plane is inside the room"):
        coverage(scene, evidence, plane=outside)
    bare = scene_of({**ROOM, "devices": {}})
    with pytest.raises(InputError, match="no microphone is placed"):
        coverage(bare, ledger.evidence(bare, assumptions=False))
