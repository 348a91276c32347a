"""One voice path at a time against a second program written from published formulas."""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import Any

import numpy as np
import pytest

from wellheard.catalog.catalogue import Catalogue
from wellheard.predict import ledger
from wellheard.predict.evidence import Evidence, Path
from wellheard.predict.scene import Scene

TIMES = [0.62, 0.55, 0.5, 0.46, 0.42, 0.38, 0.3]
HALF_SECOND = [0.5] * 7
OMNI = [1.0] * 7
NO_INDEX = [0.0] * 7
BOX = {"space": {"outline": [[0, 0], [5, 0], [5, 4], [0, 4]], "height": 3.0}}
SIDES = (5.0, 4.0, 3.0)
VOLUME = 60.0


def measured(times: list[float]) -> dict[str, float]:
    return dict(zip(("125", "250", "500", "1000", "2000", "4000", "8000"), times, strict=True))


def path_room(
    at: tuple[float, float, float],
    *,
    times: list[float] = HALF_SECOND,
    product: str = "omni-reference",
    facing: float = 0.0,
    directivity: str = "human",
    **more: Any,
) -> dict[str, Any]:
    """One talker at (2, 2, 1.2), one microphone, decay given so that only the path is tried."""
    device = {"kind": "microphone", "product": product, "at": list(at), **more.pop("device", {})}
    return {
        "space": {
            **BOX["space"],
            "walls": "absent",
            "ceiling": {"kind": "hard"},
            "measured_reverberation": measured(times),
        },
        "people": {
            "occupancy": 0,
            "directivity": directivity,
            "seats": {"s1": {"at": [2, 2], "facing": facing}},
        },
        "devices": {"m1": device},
        **more,
    }


@pytest.fixture(scope="session")
def evidence_of(scene_of: Callable[..., Scene]) -> Callable[..., Evidence]:
    def made(over: Any) -> Evidence:
        return ledger.evidence(scene_of(over), assumptions=False)

    return made


def level_time(oracle: Any, times: list[float]) -> list[float]:
    """Decay time of the level in that box, with its one empty chair."""
    found: list[float] = oracle.level_time(times, SIDES, chairs=1)
    return found


def only(evidence: Evidence) -> Path:
    (path,) = evidence.paths
    return path


@pytest.mark.parametrize(
    ("at", "facing", "distance", "off_mouth_deg", "times"),
    [
        ((3.5, 2.0, 1.2), 0.0, 1.5, 0.0, HALF_SECOND),
        ((2.0, 3.0, 1.2), 0.0, 1.0, 90.0, TIMES),
        ((0.5, 2.0, 1.2), 0.0, 1.5, 180.0, TIMES),
        ((3.0, 3.0, 1.2), 0.0, math.sqrt(2), 45.0, HALF_SECOND),
        ((2.0, 2.0, 2.7), 77.0, 1.5, 90.0, TIMES),
        ((3.2, 2.0, 2.8), 180.0, 2.0, math.degrees(math.acos(-0.6)), TIMES),
    ],
    ids=["in front", "beside", "behind", "between angles", "overhead", "above and behind"],
)
def test_an_omni_path_equals_the_second_program(
    evidence_of: Callable[..., Evidence],
    oracle: Any,
    at: tuple[float, float, float],
    facing: float,
    distance: float,
    off_mouth_deg: float,
    times: list[float],
) -> None:
    path = only(evidence_of(path_room(at, facing=facing, times=times)))
    direct = oracle.direct(distance, off_mouth_deg, 1.0)
    diffuse = oracle.diffuse(
        distance,
        time=level_time(oracle, times),
        volume=VOLUME,
        index_db=oracle.talker_index(),
        efficiency=OMNI,
    )
    # The ideal microphone has a rated self-noise of 0 dBA: -7 dB in every octave.
    noise = [10 * math.log10(10 ** (v / 10) + 10 ** (-0.7)) for v in oracle.nc(25)]
    expected = oracle.path(
        direct=direct, diffuse=diffuse, time=times, speech=oracle.speech("normal"), noise=noise
    )
    assert path.distance == pytest.approx(distance)
    assert path.off_axis_deg == pytest.approx(off_mouth_deg, abs=1e-4)
    assert path.direct_db == pytest.approx([10 * math.log10(d) for d in direct], abs=0.01)
    assert path.reverberant_db == pytest.approx([10 * math.log10(d) for d in diffuse], abs=0.01)
    assert path.direct_to_reverberant_db == pytest.approx(
        expected["direct_to_reverberant_db"], abs=0.01
    )
    assert path.speech_to_noise_db == pytest.approx(expected["speech_to_noise_db"], abs=0.02)
    assert path.far_end_gain_db == pytest.approx(expected["gain"], abs=0.02)
    assert path.sti == pytest.approx(expected["sti"], abs=0.0005)


def test_in_front_at_a_metre_and_a_half_the_ratio_is_what_paper_gives(
    evidence_of: Callable[..., Evidence],
) -> None:
    """By hand at 1 kHz: 40 m² of mean 0.475, 54 m² of 0.04: ᾱ = 0.225 of 94 m², −S ln(1 − ᾱ) =
    24.0, a chair 0.35, air 0.26: Eyring 0.1610·60/24.6 = 0.393 s (by pairs 0.158^0.426 ·
    2.17^0.574 = 0.71 s, so 0.5 s is what this absorption makes). A = 24.6 m²; 10 lg(16π/24.6) =
    3.10, DI 1.6, e^(−0.153) = −0.66 dB; direct −20 lg 1.5 = −3.52: −3.52 − (3.10 − 1.6 − 0.66)
    = −4.36 dB."""
    path = only(evidence_of(path_room((3.5, 2.0, 1.2))))
    assert path.direct_to_reverberant_bands_db[3] == pytest.approx(-4.36, abs=0.05)


def test_an_omnidirectional_source_has_no_facing_and_feeds_the_room_fully(
    evidence_of: Callable[..., Evidence], oracle: Any
) -> None:
    behind = path_room((0.5, 2.0, 1.2), directivity="omni")
    path = only(evidence_of(behind))
    diffuse = oracle.diffuse(
        1.5, time=level_time(oracle, HALF_SECOND), volume=VOLUME, index_db=NO_INDEX, efficiency=OMNI
    )
    assert path.direct_db == pytest.approx(
        [10 * math.log10(d) for d in oracle.direct(1.5, None, 1.0)], abs=0.01
    )
    assert path.reverberant_db == pytest.approx([10 * math.log10(d) for d in diffuse], abs=0.01)


def test_a_pendant_overhead_hears_by_its_cardioid(
    evidence_of: Callable[..., Evidence], oracle: Any
) -> None:
    """Straight down: a talker 45° off hears 0.5 + 0.5 cos 45° = −1.4 dB; REE 1/3."""
    path = only(evidence_of(path_room((3.0, 2.0, 2.2), product="pendant-cardioid")))
    gain = 0.5 + 0.5 * math.sqrt(0.5)
    assert path.pattern_db == pytest.approx(20 * math.log10(gain))
    direct = oracle.direct(math.sqrt(2), 45.0, gain)
    diffuse = oracle.diffuse(
        math.sqrt(2),
        time=level_time(oracle, HALF_SECOND),
        volume=VOLUME,
        index_db=oracle.talker_index(),
        efficiency=[1 / 3] * 7,
    )
    assert path.direct_db == pytest.approx([10 * math.log10(d) for d in direct], abs=0.01)
    assert path.reverberant_db == pytest.approx([10 * math.log10(d) for d in diffuse], abs=0.01)
    own = oracle.nc(25)
    assert path.noise_parts_db["background"] == pytest.approx(
        [v - 10 * math.log10(3) for v in own], abs=0.01
    )
    assert path.noise_parts_db["self-noise"] == pytest.approx([24.0 - 7.0] * 7)


@pytest.mark.parametrize("azimuth_deg", range(0, 360, 15))
def test_a_head_uses_the_capsule_that_faces_the_talker(
    evidence_of: Callable[..., Evidence], azimuth_deg: int
) -> None:
    """Three cardioids at 0°, 120°, 240°, 30° down: the nearest in azimuth has the most."""
    towards = math.radians(azimuth_deg)
    at = (2 - math.cos(towards), 2 - math.sin(towards), 2.2)  # the talker lies at azimuth_deg
    path = only(evidence_of(path_room(at, product="ceiling-head-3")))
    down = math.radians(30)
    gains = []
    for own in (0.0, 120.0, 240.0):
        turn = math.radians(azimuth_deg - own)
        cosine = math.cos(down) * math.cos(turn) * math.sqrt(0.5) + math.sin(down) * math.sqrt(0.5)
        gains.append(0.5 + 0.5 * cosine)
    assert gains[path.element] == pytest.approx(max(gains))
    assert path.pattern_db == pytest.approx(20 * math.log10(max(gains)), abs=1e-6)


def test_turning_a_head_turns_its_capsules(evidence_of: Callable[..., Evidence]) -> None:
    """Two capsules along x lose a talker across; turned by a quarter they face her."""
    across = (2.0, 3.0, 2.2)
    plain = only(evidence_of(path_room(across, product="ceiling-head-2")))
    turned = only(
        evidence_of(path_room(across, product="ceiling-head-2", device={"rotation_deg": 90}))
    )
    assert turned.pattern_db > plain.pattern_db + 1.0


def test_a_steered_beam_reaches_to_its_limit_and_not_beyond(
    evidence_of: Callable[..., Evidence],
) -> None:
    """Limit 70° off the vertical: at 2.2 m, 1 m above the mouth, that is 2.75 m aside."""
    rise = 1.0
    limit = rise * math.tan(math.radians(70.0))
    inside = path_room((2.0 + limit - 0.02, 2.0, 2.2), product="ceiling-array-16")
    outside = path_room((2.0 + limit + 0.02, 2.0, 2.2), product="ceiling-array-16")
    assert only(evidence_of(inside)).pattern_db == pytest.approx(0.0)
    assert only(evidence_of(outside)).pattern_db == pytest.approx(-12.0)


def test_a_beam_takes_less_of_the_room_by_its_directivity_index(
    evidence_of: Callable[..., Evidence], oracle: Any
) -> None:
    index = [0.5, 1.7, 5.3, 6.9, 9.3, 9.1, 9.7]  # product data of the array
    path = only(evidence_of(path_room((2.0, 2.0, 2.2), product="ceiling-array-16")))
    diffuse = oracle.diffuse(
        1.0,
        time=level_time(oracle, HALF_SECOND),
        volume=VOLUME,
        index_db=oracle.talker_index(),
        efficiency=[10 ** (-v / 10) for v in index],
    )
    assert path.reverberant_db == pytest.approx([10 * math.log10(d) for d in diffuse], abs=0.01)


def test_a_capsule_in_the_table_hears_half_of_the_room(
    evidence_of: Callable[..., Evidence], catalogue: Catalogue
) -> None:
    """Half-omni: REE 1/2, so 3 dB less reverberation than the ideal omni at the same place."""
    table: dict[str, Any] = {
        "furniture": {
            "table": {"kind": "table", "outline": [[2.3, 1], [4, 1], [4, 3], [2.3, 3]], "height": 1}
        }
    }
    at = (2.8, 2.0, 1.0)
    boundary = only(evidence_of(path_room(at, product="table-boundary", **table)))
    omni = only(evidence_of(path_room(at, **table)))
    assert np.subtract(boundary.reverberant_db, omni.reverberant_db) == pytest.approx(
        [-10 * math.log10(2)] * 7
    )
    assert boundary.direct_db == pytest.approx(omni.direct_db)


def test_two_microphones_raise_reverberation_and_noise_by_the_mixers_leak(
    evidence_of: Callable[..., Evidence],
) -> None:
    one = path_room((3.5, 2.0, 1.2))
    two = path_room((3.5, 2.0, 1.2))
    two["devices"]["m2"] = {"kind": "microphone", "product": "omni-reference", "at": [1, 3.5, 1.2]}
    alone = only(evidence_of(one))
    both = evidence_of(two).path("s1", "m1")
    leak = 10 * math.log10(1 + 10**-1.5)
    assert np.subtract(both.reverberant_db, alone.reverberant_db) == pytest.approx([leak] * 7)
    assert np.subtract(both.noise_db, alone.noise_db) == pytest.approx([leak] * 7)
    assert both.direct_db == alone.direct_db


def test_a_source_is_loud_near_and_diffuse_far(
    evidence_of: Callable[..., Evidence], oracle: Any
) -> None:
    """Level at 1 m + 10 lg(1/r² + 16π/A e^(−0.04 r/T)) at an omni (steady field, Kuttruff)."""
    levels = [40.0, 38, 36, 34, 32, 30, 28]
    room = path_room(
        (3.5, 2.0, 1.2),
        noise={
            "background": {"nc": 25},
            "sources": {
                "case": {"kind": "other", "at": [4.5, 2, 1.2], "levels_db_at_1m": measured(levels)}
            },
        },
    )
    path = only(evidence_of(room))
    diffuse = oracle.diffuse(
        1.0, time=level_time(oracle, HALF_SECOND), volume=VOLUME, index_db=NO_INDEX, efficiency=OMNI
    )
    assert path.noise_parts_db["case"] == pytest.approx(
        [v + 10 * math.log10(1 + d) for v, d in zip(levels, diffuse, strict=True)], abs=0.01
    )


def test_a_source_behind_a_cardioid_arrives_only_by_the_room(
    evidence_of: Callable[..., Evidence], oracle: Any
) -> None:
    """A pendant that looks straight down has its null straight up: diffuse/3 is all."""
    levels = [40.0] * 7
    room = path_room(
        (2.0, 2.0, 2.0),
        product="pendant-cardioid",
        noise={
            "background": {"nc": 15},
            "sources": {
                "fan": {"kind": "projector", "at": [2, 2, 2.9], "levels_db_at_1m": measured(levels)}
            },
        },
    )
    path = only(evidence_of(room))
    diffuse = oracle.diffuse(
        0.9,
        time=level_time(oracle, HALF_SECOND),
        volume=VOLUME,
        index_db=NO_INDEX,
        efficiency=[1 / 3] * 7,
    )
    assert path.noise_parts_db["fan"] == pytest.approx(
        [40 + 10 * math.log10(d) for d in diffuse], abs=0.01
    )


def test_the_far_ends_own_room_masks_too(evidence_of: Callable[..., Evidence]) -> None:
    quiet = path_room((3.5, 2.0, 1.2), far_end={"noise": {"nc": 15}})
    loud = path_room((3.5, 2.0, 1.2), far_end={"noise": {"nc": 50}})
    near, far = only(evidence_of(quiet)), only(evidence_of(loud))
    assert near.speech_to_noise_db == far.speech_to_noise_db
    assert near.sti > far.sti + 0.05


def test_a_louder_voice_changes_noise_and_not_reverberation(
    evidence_of: Callable[..., Evidence], oracle: Any
) -> None:
    normal = path_room((3.5, 2.0, 1.2))
    raised = path_room((3.5, 2.0, 1.2))
    raised["people"]["effort"] = "raised"
    a, b = only(evidence_of(normal)), only(evidence_of(raised))
    assert a.direct_to_reverberant_db == b.direct_to_reverberant_db
    lift = [r - n for r, n in zip(oracle.speech("raised"), oracle.speech("normal"), strict=True)]
    assert np.subtract(b.speech_db, a.speech_db)[1:] == pytest.approx(lift[1:], abs=0.01)
    assert b.speech_to_noise_db > a.speech_to_noise_db
