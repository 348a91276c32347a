"""One voice path at a time, against published formulas and a complete sum over image sources."""

from __future__ import annotations

import math
from collections.abc import Callable
from functools import partial
from typing import Any

import numpy as np
import pytest

from tests.oracle import complete
from tests.oracle.complete import Echogram
from wellheard.arrays import Array
from wellheard.predict import ledger
from wellheard.predict.evidence import Evidence, Path
from wellheard.predict.scene import Scene

SIDES = (5.0, 4.0, 3.0)
MOUTH = (2.0, 2.0, 1.2)
OCTAVES = ("125", "250", "500", "1000", "2000", "4000", "8000")
# Uneven over surfaces and octaves, but soft enough that images die out before they are too many.
ABSORPTION = {
    "floor": (0.15, 0.2, 0.25, 0.3, 0.35, 0.4, 0.4),
    "ceiling": (0.3, 0.35, 0.4, 0.45, 0.5, 0.5, 0.5),
    "walls": (0.25, 0.25, 0.2, 0.2, 0.2, 0.2, 0.2),
}


def octaves(values: Any) -> dict[str, float]:
    return dict(zip(OCTAVES, values, strict=True))


def path_room(
    at: tuple[float, float, float],
    *,
    product: str = "omni-reference",
    facing: float = 0.0,
    directivity: str = "human",
    **more: Any,
) -> dict[str, Any]:
    """One talker at (2, 2, 1.2) in a box that mirrors all it does not absorb, one microphone."""
    device = {"kind": "microphone", "product": product, "at": list(at), **more.pop("device", {})}
    x, y, z = SIDES
    finishes = {name: {"absorption": octaves(values)} for name, values in ABSORPTION.items()}
    return {
        "space": {
            "outline": [[0, 0], [x, 0], [x, y], [0, y]],
            "height": z,
            "walls": "absent",
            "ceiling": {"kind": "hard"},
            "scattering": 0.0,
            "finishes": finishes,
        },
        "people": {
            "occupancy": 0,
            "directivity": directivity,
            "seats": {"s1": {"at": list(MOUTH[:2]), "facing": facing}},
        },
        "devices": {"m1": device},
        **more,
    }


@pytest.fixture(scope="session")
def evidence_of(scene_of: Callable[..., Scene]) -> Callable[..., Evidence]:
    def made(over: Any) -> Evidence:
        return ledger.evidence(scene_of(over), assumptions=False)

    return made


@pytest.fixture(scope="session")
def bare_evidence_of(bare_of: Callable[..., Scene]) -> Callable[..., Evidence]:
    def made(over: Any) -> Evidence:
        return ledger.evidence(bare_of(over), assumptions=False)

    return made


def only(evidence: Evidence) -> Path:
    (path,) = evidence.paths
    return path


def lg(energies: Any) -> list[float]:
    return [10 * math.log10(v) for v in energies]


def energy(levels_db: Any) -> list[float]:
    return [10 ** (v / 10) for v in levels_db]


PLACES = pytest.mark.parametrize(
    ("at", "facing", "distance", "off_mouth_deg"),
    [
        ((3.5, 2.0, 1.2), 0.0, 1.5, 0.0),
        ((2.0, 3.0, 1.2), 0.0, 1.0, 90.0),
        ((0.5, 2.0, 1.2), 0.0, 1.5, 180.0),
        ((3.0, 3.0, 1.2), 0.0, math.sqrt(2), 45.0),
        ((2.0, 2.0, 2.3), 77.0, 1.1, 90.0),
        ((2.9, 2.0, 2.4), 180.0, 1.5, math.degrees(math.acos(-0.6))),
    ],
    ids=["in front", "beside", "behind", "between angles", "overhead", "above and behind"],
)


@PLACES
def test_the_direct_sound_is_directivity_distance_and_air(
    evidence_of: Callable[..., Evidence],
    oracle: Any,
    at: tuple[float, float, float],
    facing: float,
    distance: float,
    off_mouth_deg: float,
) -> None:
    path = only(evidence_of(path_room(at, facing=facing)))
    assert path.distance == pytest.approx(distance)
    assert path.off_axis_deg == pytest.approx(off_mouth_deg, abs=1e-4)
    assert path.direct_db == pytest.approx(
        lg(oracle.direct(distance, off_mouth_deg, 1.0)), abs=0.01
    )
    assert not path.screened


def test_what_arrives_within_a_millisecond_joins_the_direct_sound(
    bare_evidence_of: Callable[..., Evidence], oracle: Any
) -> None:
    """0.2 m under a mirror: 2.00 m straight, √(1.2² + 2²) = 2.33 m by the ceiling, 0.97 ms later.

    Both go off the mouth by 90° and more: acos(−0.6) and acos(−1.2/2.332)."""
    path = only(bare_evidence_of(path_room((3.2, 2.0, 2.8), facing=180.0)))
    way = math.hypot(1.2, 2.0)
    straight = oracle.direct(2.0, math.degrees(math.acos(-0.6)), 1.0)
    mirrored = oracle.direct(way, math.degrees(math.acos(-1.2 / way)), 1.0)
    both = [
        d + r * (1 - a) for d, r, a in zip(straight, mirrored, ABSORPTION["ceiling"], strict=True)
    ]
    assert path.direct_db == pytest.approx(lg(both), abs=0.02)


@PLACES
def test_levels_ratios_and_the_index_follow_from_direct_and_reflected_sound(
    evidence_of: Callable[..., Evidence],
    oracle: Any,
    at: tuple[float, float, float],
    facing: float,
    distance: float,
    off_mouth_deg: float,
) -> None:
    path = only(evidence_of(path_room(at, facing=facing)))
    # The ideal microphone has a rated self-noise of 0 dBA: -7 dB in every octave.
    noise = [10 * math.log10(10 ** (v / 10) + 10 ** (-0.7)) for v in oracle.nc(25)]
    expected = oracle.path(
        direct=energy(path.direct_db),
        reflected=energy(path.reverberant_db),
        transfer=path.room_transfer,
        speech=oracle.speech("normal"),
        noise=noise,
    )
    early_and_late = [
        a + b for a, b in zip(energy(path.early_db), energy(path.late_db), strict=True)
    ]
    assert path.reverberant_db == pytest.approx(lg(early_and_late), abs=1e-9)
    assert path.speech_db == pytest.approx(expected["capsule"], abs=0.02)
    assert path.direct_to_reverberant_db == pytest.approx(
        expected["direct_to_reverberant_db"], abs=0.001
    )
    assert path.speech_to_noise_db == pytest.approx(expected["speech_to_noise_db"], abs=0.02)
    assert path.far_end_gain_db == pytest.approx(expected["gain"], abs=0.02)
    assert path.sti == pytest.approx(expected["sti"], abs=0.001)


def echogram(room: dict[str, Any], oracle: Any, *, talks_everywhere: bool = False) -> Echogram:
    """Every image of the bare box until it has died away, by the talker's measured pattern."""
    floor, ceiling, walls = (1 * np.array(ABSORPTION[k]) for k in ("floor", "ceiling", "walls"))
    absorption = np.array([floor, ceiling, walls, walls, walls, walls])
    size = np.array(SIDES)
    air = np.array(oracle.air())
    facing = math.radians(room["people"]["seats"]["s1"]["facing"])
    cardioid = room["devices"]["m1"]["product"] == "pendant-cardioid"
    speed = 343.2  # 20 °C, ISO 9613-1 [L]
    return complete.echogram(
        size,
        absorption,
        np.array(MOUTH),
        np.array(room["devices"]["m1"]["at"]),
        until=complete.rings_until(size, absorption, speed=speed, air=air),
        speed=speed,
        air=air,
        facing=np.array([math.cos(facing), math.sin(facing), 0.0]),
        talker=None if talks_everywhere else partial(_talker, oracle),
        axis=np.array([0.0, 0.0, -1.0]),
        microphone=_cardioid if cardioid else None,
    )


def _talker(oracle: Any, cosine: Array) -> Array:
    off = np.degrees(np.arccos(np.clip(cosine, -1, 1)))
    angles = oracle.reference["talker_directivity"]["angles_deg"]
    rows = oracle.reference["talker_directivity"]["measured_speech"]["db"]
    return np.stack([10 ** (np.interp(off, angles, row) / 10) for row in rows], axis=-1)


def _cardioid(cosine: Array) -> Array:
    return np.repeat(np.square(0.5 + 0.5 * cosine)[:, None], 7, axis=1)


@pytest.mark.parametrize(
    ("at", "facing", "product", "directivity", "index"),
    [
        ((3.5, 2.0, 1.2), 0.0, "omni-reference", "omni", 0.012),
        ((0.5, 2.0, 1.2), 0.0, "omni-reference", "human", 0.02),
        ((3.2, 3.1, 2.2), 60.0, "omni-reference", "human", 0.02),
        ((3.0, 2.6, 2.3), 0.0, "pendant-cardioid", "human", 0.02),
        ((1.1, 2.6, 2.3), 0.0, "pendant-cardioid", "human", 0.02),
    ],
)
def test_reflections_are_those_of_every_image_of_the_box(
    bare_evidence_of: Callable[..., Evidence],
    oracle: Any,
    at: tuple[float, float, float],
    facing: float,
    product: str,
    directivity: str,
    index: float,
) -> None:
    """Image sources without any limit (Allen & Berkley 1979) in the box with nobody in it.

    Up to 50 ms one by one the same; then a mean over the room is predicted, to within 1 dB in
    every octave; in STI .012 of an omnidirectional source, .02 of directional ones.
    """
    room = path_room(at, facing=facing, product=product, directivity=directivity)
    path = only(bare_evidence_of(room))
    echo = echogram(room, oracle, talks_everywhere=directivity == "omni")
    split, joined = round(0.05 / complete.STEP), round(0.001 / complete.STEP)
    assert echo.reflected[:joined].sum() == 0.0
    assert path.direct_db == pytest.approx(lg(echo.direct), abs=0.02)
    assert path.early_db == pytest.approx(lg(echo.reflected[:split].sum(axis=0)), abs=0.05)
    assert path.late_db == pytest.approx(lg(echo.reflected[split:].sum(axis=0)), abs=1.0)
    both = echo.direct + echo.reflected.sum(axis=0)
    transfer = np.abs(echo.direct + complete.modulation(echo)) / both
    expected = oracle.path(
        direct=list(echo.direct),
        reflected=list(echo.reflected.sum(axis=0)),
        transfer=transfer.T.tolist(),
        speech=oracle.speech("normal"),
        noise=list(path.noise_db),
    )
    assert path.sti == pytest.approx(expected["sti"], abs=index)
    assert path.direct_to_reverberant_db == pytest.approx(
        expected["direct_to_reverberant_db"], abs=0.3
    )


def test_in_an_even_room_the_reverberant_level_is_that_of_the_books(
    bare_evidence_of: Callable[..., Evidence],
) -> None:
    """4/R, that is 16π(1 − ᾱ)/(S ᾱ) re the direct sound at 1 m (Kuttruff; Beranek's room constant).

    By hand, α 0.25 everywhere, all scattered, S = 94 m²: 16π·0.75/23.5 = 1.604, 2.05 dB; air at
    1 kHz takes 4mV = 0.3 m² beside 23.5. A source in the open room; mean of three places.
    """
    even = {"absorption": octaves([0.25] * 7)}
    finishes = {name: even for name in ABSORPTION}
    found = []
    for at in ((3.9, 2.9, 1.9), (3.4, 1.0, 2.1), (0.8, 3.1, 1.7)):
        room = path_room(at, directivity="omni")
        room["space"] |= {"finishes": finishes, "scattering": 1.0}
        found.append(only(bare_evidence_of(room)).reverberant_db[3])
    assert sum(found) / 3 == pytest.approx(2.05, abs=1.0)
    assert found == pytest.approx([2.05] * 3, abs=1.5)


def test_an_omnidirectional_source_has_no_facing(
    evidence_of: Callable[..., Evidence], oracle: Any
) -> None:
    one, other = (
        only(evidence_of(path_room((0.5, 2.0, 1.2), facing=f, directivity="omni")))
        for f in (0.0, 90.0)
    )
    assert one.direct_db == pytest.approx(lg(oracle.direct(1.5, None, 1.0)), abs=0.01)
    assert one.reverberant_db == other.reverberant_db


def test_a_talker_feeds_the_room_less_than_a_source_that_radiates_all_round(
    evidence_of: Callable[..., Evidence], oracle: Any
) -> None:
    """By the directivity index, in reflections that come from everywhere: those after 50 ms."""
    at = (3.2, 3.1, 2.2)
    human = only(evidence_of(path_room(at)))
    omni = only(evidence_of(path_room(at, directivity="omni")))
    less = np.subtract(omni.late_db, human.late_db)
    assert less == pytest.approx(oracle.talker_index(), abs=0.7)


def test_a_pendant_overhead_hears_by_its_cardioid(
    evidence_of: Callable[..., Evidence], oracle: Any
) -> None:
    """Straight down: a talker 45° off hears 0.5 + 0.5 cos 45° = −1.4 dB; REE 1/3."""
    path = only(evidence_of(path_room((3.0, 2.0, 2.2), product="pendant-cardioid")))
    gain = 0.5 + 0.5 * math.sqrt(0.5)
    assert path.pattern_db == pytest.approx(20 * math.log10(gain))
    direct = oracle.direct(math.sqrt(2), 45.0, gain)
    assert path.direct_db == pytest.approx([10 * math.log10(d) for d in direct], abs=0.01)
    omni = only(evidence_of(path_room((3.0, 2.0, 2.2))))
    late = np.subtract(path.late_db, omni.late_db)
    assert late == pytest.approx([-10 * math.log10(3)] * 7, abs=0.7)
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


def test_the_beam_of_a_sheet_reaches_to_its_limit_and_not_beyond(
    evidence_of: Callable[..., Evidence],
) -> None:
    """A bar at the east wall that looks west, 60° each way: at 1 m aside 1.73 m across."""
    across = math.tan(math.radians(60.0))

    def at(y: float) -> Path:
        device = {"aim_deg": 180}
        return only(evidence_of(path_room((3.0, y, 1.2), product="front-bar", device=device)))

    assert at(2.0 + across - 0.02).pattern_db == pytest.approx(0.0)
    assert at(2.0 + across + 0.02).pattern_db == pytest.approx(-12.0)


def test_a_beam_takes_less_of_the_room_by_its_directivity_index(
    evidence_of: Callable[..., Evidence],
) -> None:
    """Where all is scattered and comes from everywhere, what its sheet says it takes."""
    index = [0.5, 1.5, 3.0, 5.5, 7.0, 7.5, 7.0]  # product data of the bar
    beam = path_room((3.4, 2.6, 1.2), product="front-bar", device={"aim_deg": 180})
    plain = path_room((3.4, 2.6, 1.2))
    for room in (beam, plain):
        room["space"]["scattering"] = 1.0
    path, omni = only(evidence_of(beam)), only(evidence_of(plain))
    assert np.subtract(omni.late_db, path.late_db) == pytest.approx(index, abs=0.05)
    assert np.subtract(omni.early_db, path.early_db) == pytest.approx(index, abs=0.05)


def test_a_capsule_in_the_table_hears_half_of_the_room(
    evidence_of: Callable[..., Evidence],
) -> None:
    """Half-omni: REE 1/2, so 3 dB less of what comes from everywhere than an ideal omni there."""
    table: dict[str, Any] = {
        "furniture": {
            "table": {"kind": "table", "outline": [[2.3, 1], [4, 1], [4, 3], [2.3, 3]], "height": 1}
        }
    }
    at = (2.8, 2.0, 1.0)
    boundary = only(evidence_of(path_room(at, product="table-boundary", **table)))
    omni = only(evidence_of(path_room(at, **table)))
    late = np.subtract(boundary.late_db, omni.late_db)
    assert late == pytest.approx([-10 * math.log10(2)] * 7, abs=0.3)
    # No image below the floor reaches it, no other is lost: at most 3 dB and more are gone.
    assert np.all(np.subtract(boundary.early_db, omni.early_db) < -0.5)
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


def noisy(kind: str, at: list[float], levels: list[float], nc: int) -> dict[str, Any]:
    return {
        "noise": {
            "background": {"nc": nc},
            "sources": {"it": {"kind": kind, "at": at, "levels_db_at_1m": octaves(levels)}},
        }
    }


def test_a_source_is_loud_near_and_diffuse_far(
    evidence_of: Callable[..., Evidence], oracle: Any
) -> None:
    """Level at 1 m + 10 lg(1/r² + 16π/A e^(−0.04 r/T)) at an omni (steady field, Kuttruff).

    A is that of the decay that rays in this room leave; they are tried against others elsewhere.
    """
    levels = [40.0, 38, 36, 34, 32, 30, 28]
    found = evidence_of(path_room((3.5, 2.0, 1.2), **noisy("other", [4.5, 2, 1.2], levels, 25)))
    diffuse = oracle.diffuse(1.0, time=list(found.reverberation.level_time), volume=60.0)
    assert only(found).noise_parts_db["it"] == pytest.approx(
        [v + 10 * math.log10(1 + d) for v, d in zip(levels, diffuse, strict=True)], abs=0.01
    )


def test_a_source_behind_a_cardioid_arrives_only_by_the_room(
    evidence_of: Callable[..., Evidence], oracle: Any
) -> None:
    """A pendant that looks straight down has its null straight up: diffuse/3 is all."""
    fan = noisy("projector", [2, 2, 2.9], [40.0] * 7, 15)
    found = evidence_of(path_room((2.0, 2.0, 2.0), product="pendant-cardioid", **fan))
    diffuse = oracle.diffuse(0.9, time=list(found.reverberation.level_time), volume=60.0)
    assert only(found).noise_parts_db["it"] == pytest.approx(
        [40 + 10 * math.log10(d / 3) for d in diffuse], abs=0.01
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
