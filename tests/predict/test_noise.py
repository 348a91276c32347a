"""Noise of a document: what was told, with its sources, rated."""

from __future__ import annotations

import json
import math
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from wellheard.predict import ledger, noise, working
from wellheard.predict.scene import Scene
from wellheard.room.noise import Background

REFERENCE: dict[str, Any] = json.loads(
    (Path(__file__).parents[1] / "reference" / "reference_values.json").read_text()
)
NC = REFERENCE["nc_curves"]["curves"]
SHAPES = REFERENCE["noise_shapes"]
SPEECH = (125, 250, 500, 1000, 2000, 4000, 8000)


def test_a_background_told_as_nc_is_its_curve() -> None:
    found = noise.background_db(Background(nc=30))
    assert [found[f] for f in SPEECH] == NC["30"][3:]
    assert found[63] == NC["30"][2]


def test_a_background_told_in_dba_adds_up_to_it() -> None:
    """IEC 61672-1 weights at 63 Hz to 8 kHz [L]."""
    found = noise.background_db(Background(dba=34))
    weights = dict(zip((63, *SPEECH), REFERENCE["weighting"]["A"][2:10], strict=True))
    total = 10 * math.log10(sum(10 ** ((found[f] + w) / 10) for f, w in weights.items()))
    assert total == pytest.approx(34, abs=0.1)


def test_a_background_told_by_octaves_is_taken_as_told() -> None:
    told = {float(f): 40.0 - i for i, f in enumerate(SPEECH)}
    assert noise.background_db(Background(levels_db=told)) == told


@pytest.mark.parametrize(
    ("kind", "shape"),
    [
        ("air-outlet", "ceiling_diffuser"),
        ("projector", "projector_fan"),
        ("display", "projector_fan"),
        ("fan-coil", "fan_coil"),
        ("other", "ceiling_diffuser"),
    ],
)
def test_a_source_told_in_dba_takes_the_shape_of_its_kind(
    scene_of: Callable[..., Scene], kind: str, shape: str
) -> None:
    """Octave shapes relative to 0 dBA [C]."""
    scene = scene_of(
        {"noise": {"sources": {"it": {"kind": kind, "at": [3, 3, 2], "dba_at_1m": 40}}}}
    )
    (source,) = scene.sources
    offset = source.levels_db_at_1m[1000] - SHAPES[shape][4]
    assert offset == pytest.approx(40, abs=0.35)  # the printed shapes add up to 0 dBA within that
    assert [source.levels_db_at_1m[f] - offset for f in SPEECH] == pytest.approx(SHAPES[shape][1:])


TIMES = {str(f): 0.5 for f in SPEECH}
OUTLET: dict[str, Any] = {
    "noise": {
        "background": {"nc": 15},
        "sources": {
            "vent": {
                "kind": "air-outlet",
                "at": [4, 2, 2.7],
                "levels_db_at_1m": {str(f): 40.0 for f in SPEECH},
            }
        },
    },
}
PLANE_DB = 10 * math.log10(2)  # directivity factor 2 in a plane (Bies, Hansen & Howard [L])


def diffuse(oracle: Any, scene: Scene, distance: float, index_db: float = 0.0) -> list[float]:
    """Steady field by the formula, of the decay that the rays of this room leave."""
    time = list(scene.reverberation.level_time)
    found: list[float] = oracle.diffuse(distance, time=time, volume=72.9, index_db=index_db)
    return found


def test_an_outlet_feeds_the_room_as_a_source_in_a_plane(
    scene_of: Callable[..., Scene], oracle: Any
) -> None:
    """Half the power of a source that radiates all round for the same level at 1 m.

    8π/A instead of 16π/A; r² = 2² + 1.5².
    """
    scene = scene_of(OUTLET)
    r = 2.5
    for k, late in enumerate(diffuse(oracle, scene, r, PLANE_DB)):
        told = NC["15"][3:][k]
        expected = 10 * math.log10(10 ** (told / 10) + 10**4 * (1 / r**2 + late))
        assert scene.noise.levels_db[SPEECH[k]] == pytest.approx(expected, abs=0.01)


def test_a_fan_that_stands_free_feeds_it_fully(scene_of: Callable[..., Scene], oracle: Any) -> None:
    free = scene_of(
        {
            "noise": {
                "sources": {"vent": {**OUTLET["noise"]["sources"]["vent"], "kind": "other"}},
                "background": {"nc": 15},
            },
        }
    )
    gain = 1 / 2.5**2 + diffuse(oracle, free, 2.5)[3]
    expected = 10 * math.log10(10 ** (NC["15"][6] / 10) + 10**4 * gain)
    assert free.noise.levels_db[1000] == pytest.approx(expected, abs=0.01)


def test_a_source_falls_with_distance_towards_its_diffuse_level(
    scene_of: Callable[..., Scene],
) -> None:
    decay = scene_of({"space": {"measured_reverberation": TIMES}}).reverberation
    gain = noise.source_gain(np.array([0.5, 1.0, 2.0, 4.0]), decay)[:, 3]
    diffuse = noise.diffuse_gain(np.array([0.5, 1.0, 2.0, 4.0]), decay)[:, 3]
    assert np.all(np.diff(gain) < 0)
    assert gain - diffuse == pytest.approx([4.0, 1.0, 0.25, 0.0625])


def test_noise_is_the_energy_mean_over_the_talkers(
    scene_of: Callable[..., Scene], oracle: Any
) -> None:
    """Mouths at 1.2 m, the outlet 1.5 m higher: 2 m and 1.5 m away on the plan."""
    scene = scene_of(OUTLET | {"people": {"seats": {"s1": {"at": [2, 2]}, "s2": {"at": [5.5, 2]}}}})
    each = [
        10 ** (NC["15"][5] / 10) + 10**4 * (1 / r**2 + diffuse(oracle, scene, r, PLANE_DB)[2])
        for r in (2.5, math.hypot(1.5, 1.5))
    ]
    both = scene.noise.levels_db[500]
    assert both == pytest.approx(10 * math.log10(sum(each) / 2), abs=0.01)


def test_the_rating_of_a_curve_is_its_own_number(scene_of: Callable[..., Scene]) -> None:
    """ANSI/ASA S12.2: the NC-35 row is tangent to NC-35 (and NC-36 by its SIL) [L]."""
    rated = scene_of({"noise": {"background": {"nc": 35}}}).noise
    assert rated.nc == pytest.approx(35.0)
    assert rated.told_as == "NC-35"


def test_a_source_in_a_band_that_the_background_does_not_tell_adds_nothing_there(
    scene_of: Callable[..., Scene],
) -> None:
    told = {str(f): 30.0 for f in SPEECH}
    scene = scene_of(
        {
            "noise": {
                "background": {"levels_db": told, "nc": "absent"},
                "sources": {"fan": {"kind": "projector", "at": [3, 3, 2], "dba_at_1m": 40}},
            }
        }
    )
    assert min(scene.noise.levels_db) == 125
    # A projector told in dBA has a shape from 63 Hz up.
    assert scene.noise.label.endswith("; 63 Hz not rated")


def test_a_rating_of_every_octave_that_was_told_says_nothing_of_the_kind(
    scene_of: Callable[..., Scene],
) -> None:
    fan = {"kind": "projector", "at": [3, 3, 2], "dba_at_1m": 40}
    scene = scene_of({"noise": {"background": {"nc": 30}, "sources": {"fan": fan}}})
    assert "not rated" not in scene.noise.label


def test_the_working_says_which_spectrum_was_taken_and_from_where(
    scene_of: Callable[..., Scene],
) -> None:
    measured = {str(f): 30.0 for f in SPEECH}
    scene = scene_of(
        {
            "noise": {
                "background": {"nc": 25},
                "sources": {
                    "vent": {"kind": "air-outlet", "at": [1, 1, 2.7], "dba_at_1m": 30},
                    "fan": {"kind": "projector", "at": [4, 1, 2.4], "dba_at_1m": 34},
                    "coil": {"kind": "fan-coil", "at": [5, 4, 2.7], "dba_at_1m": 34},
                    "known": {"kind": "other", "at": [1, 4, 1], "levels_db_at_1m": measured},
                },
            },
            "far_end": {"noise": {"dba": 38}},
            "devices": {
                "m1": {"kind": "microphone", "product": "ceiling-head-3", "at": [3, 2, 2.7]}
            },
        }
    )
    evidence = ledger.evidence(scene, assumptions=False)
    stages = working.outbound_stages(scene, evidence, evidence.outbound[0])
    said = {row.quantity: row.source for stage in stages for row in stage.rows}
    head = "noise at the capsule from "
    assert said[head + "background"].startswith("NC curve, ANSI/ASA S12.2-2019 Table 1")
    assert "shape of a ceiling diffuser" in said[head + "vent"]
    assert "shape of a projector fan" in said[head + "fan"]
    assert "shape of a fan coil" in said[head + "coil"]
    assert "common practice [C]" in said[head + "coil"]
    assert "octave levels of the document" in said[head + "known"]
    assert "NC curve of that level, a stand-in" in said["noise of the far-end room"]


@pytest.mark.practice
@pytest.mark.parametrize("shape", ["ceiling_diffuser", "duct_rumble", "fan_coil", "projector_fan"])
def test_the_reference_shapes_add_up_to_nothing(shape: str) -> None:
    """IEC 61672-1 weights [L] on the printed shapes [C]: 0 dBA within their rounding."""
    weights = REFERENCE["weighting"]["A"][2:10]
    levels = [v + w for v, w in zip(SHAPES[shape], weights, strict=True)]
    assert 10 * math.log10(sum(10 ** (v / 10) for v in levels)) == pytest.approx(0, abs=0.06)
