"""An opened path adds up: every number is what its formula makes of the numbers before it."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np
import pytest

from wellheard.predict import ledger, working
from wellheard.predict.evidence import Evidence, Outbound
from wellheard.predict.scene import Scene
from wellheard.predict.stages import Stage

FAN = {"kind": "projector", "at": [3.0, 3.0, 2.4], "dba_at_1m": 38}
VENT = {"kind": "air-outlet", "at": [5.0, 1.0, 2.7], "dba_at_1m": 30}
TABLE = {"kind": "table", "outline": [[2.3, 1.5], [4, 1.5], [4, 2.5], [2.3, 2.5]]}
ROOMS: dict[str, dict[str, Any]] = {
    "a head": {"m1": {"kind": "microphone", "product": "ceiling-head-3", "at": [2.7, 2.4, 2.7]}},
    "two heads": {
        "m1": {"kind": "microphone", "product": "ceiling-head-6", "at": [2.7, 2.4, 2.1]},
        "m2": {"kind": "microphone", "product": "ceiling-head-2", "at": [4.5, 2.4, 2.7]},
    },
    "an array": {"m1": {"kind": "microphone", "product": "ceiling-array-16", "at": [3, 2, 2.7]}},
    "a table capsule": {
        "m1": {"kind": "microphone", "product": "table-boundary", "at": [2.6, 2, 0.74]}
    },
}


@dataclass
class Opened:
    """Stages of one path and what they were opened from."""

    scene: Scene
    evidence: Evidence
    row: Outbound
    stages: tuple[Stage, ...]

    def __getitem__(self, start: str) -> Any:
        (found,) = [r for s in self.stages for r in s.rows if r.quantity.startswith(start)]
        return np.asarray(found.value) if isinstance(found.value, tuple) else found.value

    def inputs(self, start: str) -> dict[str, str]:
        (found,) = [r for s in self.stages for r in s.rows if r.quantity.startswith(start)]
        return dict(found.inputs)


def opened(scene_of: Callable[..., Scene], devices: Any, **people: Any) -> Opened:
    scene = scene_of(
        {
            "devices": devices,
            "furniture": {"table": TABLE},
            "people": {"seats": {"s1": {"facing": [0, 40]}}, **people},
            "noise": {"sources": {"fan": FAN, "vent": VENT}},
        }
    )
    evidence = ledger.evidence(scene, assumptions=False)
    (row,) = evidence.outbound
    return Opened(scene, evidence, row, working.outbound_stages(scene, evidence, row))


@pytest.fixture(params=ROOMS, scope="module")
def path(request: pytest.FixtureRequest, scene_of: Callable[..., Scene]) -> Opened:
    return opened(scene_of, ROOMS[request.param])


def lg(energy: Any) -> Any:
    return 10 * np.log10(energy)


def test_every_number_has_its_formula_and_its_source(path: Opened) -> None:
    assert [s.name for s in path.stages] == [
        "Mouth",
        "Air",
        "Early",
        "Late",
        "Capsule",
        "Noise",
        "Mixer",
        "Far end",
        "Promise",
    ]
    for stage in path.stages:
        for row in stage.rows:
            assert row.quantity, stage.name
            assert row.formula, row.quantity
            assert row.source, row.quantity
            assert np.all(np.isfinite(row.value)), row.quantity


def test_direct_sound_follows_from_angle_distance_and_air(path: Opened) -> None:
    """And what joins it within a millisecond from the ceiling that a head is set into.

    What the ceiling mirrors, (1 − α)(1 − s), as the cardioid hears it from above.
    """
    r = path["distance to the microphone"]
    expected = (
        path["talker's directivity towards"]
        + path["microphone's response"]
        - 20 * math.log10(r)
        - 10 * math.log10(math.e) * path["power attenuation"] * r
    )
    placed = path.evidence.microphones[0]
    joined = np.zeros(7)
    if placed.at[2] == 2.7 and placed.product.beam is None:
        # Fissured tile: Vorländer 2008, via pyroomacoustics [L].
        tile = np.array([0.49, 0.53, 0.53, 0.75, 0.92, 0.99, 0.99])
        axis = np.array(placed.product.axes(placed.aim_deg)[path.row.path.element])
        below = (np.array(path.row.talker.at) - np.array(placed.at)) / r
        gain, mirrored = (0.5 + 0.5 * float(axis @ (below * [1, 1, side])) for side in (1, -1))
        joined = lg(1 + (mirrored / gain) ** 2 * (1 - tile) * (1 - 0.3))
    # A beam's table is about its axis: a little of its lobe reaches through the ceiling.
    off = 0.05 if placed.product.beam is None else 0.3
    assert path["direct sound re"] == pytest.approx(expected + joined, abs=off)


def test_the_late_field_goes_by_the_decay_and_the_capsule(path: Opened) -> None:
    """4πc/V·∫e dt re direct at 1 m is 16π/A with A from the decay that holds as much energy.

    Of it the exponential decay leaves e^(−13.8 t/T) from 50 ms on; a room that is not diffuse, and
    images at the microphone's own place, less or more: to within 3 dB.
    """
    decay = path.evidence.reverberation
    time = path["decay time that sets the level"]
    area = 24 * math.log(10) / decay.speed_of_sound * decay.volume / time
    index = np.array(
        [float(v) for v in path.inputs("late reflections re")["DI of the talker"][:-3].split(", ")]
    )
    begins = 0.05 + path["distance to the microphone"] / decay.speed_of_sound
    expected = lg(
        16
        * math.pi
        / area
        * 10 ** (-index / 10)
        * np.exp(-13.8155 * begins / time)
        * path["random energy efficiency"]
        * path["equivalent open microphones"]
    )
    assert path["late reflections re"] == pytest.approx(expected, abs=3.0)
    assert path.inputs("late reflections re")["n"].startswith(
        f"{path['equivalent open microphones']:.3f}"
    )
    assert path.inputs("reverberation time")["S"] == "110.7 m²"
    assert path.inputs("reverberation time")["V"] == "72.9 m³"


def test_ratio_and_clarity_follow_from_direct_early_and_late(path: Opened) -> None:
    direct, early, late = (
        10 ** (path[f"{name} re 1 m in front"] / 10)
        for name in ("direct sound", "early reflections", "late reflections")
    )
    assert path["direct-to-reverberant ratio by"] == pytest.approx(lg(direct / (early + late)))
    assert path["C50 by octave"] == pytest.approx(lg((direct + early) / late))


def test_the_strongest_reflections_come_first_and_within_50_ms(path: Opened) -> None:
    rows = [r for r in path.stages[2].rows if r.quantity.startswith("reflection ")]
    assert len(rows) == 5
    strength = [float(np.mean(np.asarray(r.value)[2:6])) for r in rows]
    assert strength == sorted(strength, reverse=True)
    names = {"floor", "ceiling", *(f"wall {side}" for side in ("south", "east", "north", "west"))}
    for row in rows:
        assert set(row.quantity.split(": ")[1].split(", ")) <= names
        later = float(dict(row.inputs)["later by"].removesuffix(" ms"))
        way = float(dict(row.inputs)["its way"].removesuffix(" m"))
        assert 1 <= later <= 50
        straight = path["distance to the microphone"]
        speed = path.evidence.reverberation.speed_of_sound
        assert later == pytest.approx(1000 * (way - straight) / speed, abs=0.08)


def test_the_capsules_response_follows_from_its_angle(path: Opened) -> None:
    product = path.evidence.microphones[0].product
    if product.beam is not None:
        (row,) = [r for r in path.stages[4].rows if r.quantity.startswith("microphone's response")]
        theta = float(path.inputs("microphone's response")["θ"].rstrip("°"))
        within = theta <= product.beam.steer_limit_deg
        assert within
        assert path["microphone's response"] == pytest.approx(0.0)
        # No pattern of first order, and not out of a book.
        assert "first-order" not in row.source
        assert "[L]" not in row.source
        limit = path.inputs("microphone's response")["steering limit"]
        assert limit.startswith(f"{product.beam.steer_limit_deg:g}°")
        return
    a = product.elements[0].pattern_a
    theta = math.radians(float(path.inputs("microphone's response")["θ"].rstrip("°")))
    gain = abs(a + (1 - a) * math.cos(theta))
    assert path["microphone's response"] == pytest.approx(20 * math.log10(gain), abs=0.02)
    half = 0.5 if product.boundary else 1.0
    assert path["random energy efficiency"] == pytest.approx(half * (a**2 + (1 - a) ** 2 / 3))
    (row,) = [r for r in path.stages[4].rows if r.quantity == "random energy efficiency"]
    assert ("/2" in row.formula) is product.boundary


def test_speech_after_the_mixer_follows_from_the_mouth(path: Opened) -> None:
    parts = ("direct sound re", "early reflections re", "late reflections re")
    energy = sum(10 ** (path[name] / 10) for name in parts)
    expected = path["speech in front of the lips"] + lg(energy)
    assert path["speech after the mixer"] == pytest.approx(expected)


def test_each_noise_follows_from_what_was_told(path: Opened) -> None:
    efficiency = path["random energy efficiency"]
    background = np.array([44, 37, 31, 27, 24, 22, 22])  # NC-25, ANSI/ASA S12.2-2019 [L]
    assert path["noise at the capsule from background"] == pytest.approx(
        background + lg(efficiency)
    )
    product = path.evidence.microphones[0].product
    rated = float(path.inputs("noise at the capsule from self-noise")["rated self-noise"][:-4])
    assert rated == product.self_noise_dba
    assert path["noise at the capsule from self-noise"] == pytest.approx(rated - 7.0)
    placed = path.evidence.microphones[0]
    time = path["decay time that sets the level"]
    decay = path.evidence.reverberation
    area = 24 * math.log(10) / decay.speed_of_sound * decay.volume / time
    for name, source in (("fan", FAN), ("vent", VENT)):
        told = path.inputs(f"noise at the capsule from {name}")
        r = math.dist(source["at"], placed.at)  # type: ignore[arg-type]
        assert float(told["r"][:-2]) == pytest.approx(r, abs=0.006)
        level = np.array([float(v) for v in told["level at 1 m"][:-3].split(", ")])
        di = {"fan": 0.0, "vent": 3.0103}[name]
        diffuse = 16 * math.pi / area * 10 ** (-di / 10) * np.exp(-0.04 * r / time) * efficiency
        if product.beam is not None:
            # The beam is tried elsewhere; here it hears the source, and no better than its talker.
            found = 10 ** ((path[f"noise at the capsule from {name}"] - level) / 10) - diffuse
            assert np.all((found > 0) & (found < 1.02 / r**2))
            continue
        axis = np.array(product.axes(placed.aim_deg)[path.row.path.element])
        heading = (np.array(source["at"]) - np.array(placed.at)) / r
        a = product.elements[0].pattern_a
        gain = np.full(7, (a + (1 - a) * float(axis @ heading)) ** 2)
        assert path[f"noise at the capsule from {name}"] == pytest.approx(
            level + lg(gain / r**2 + diffuse), abs=0.06
        )


def test_the_mixer_adds_what_the_capsules_hear(path: Opened) -> None:
    count = len(path.evidence.microphones)
    n = path["equivalent open microphones"]
    assert n == pytest.approx(1 + (count - 1) * 10**-1.5)
    parts = [path[f"noise at the capsule from {k}"] for k in path.row.path.noise_parts_db]
    total = lg(n * sum(10 ** (p / 10) for p in parts))
    assert path["noise after the mixer"] == pytest.approx(total)
    assert path["speech over noise"] == pytest.approx(
        path["speech after the mixer"] - path["noise after the mixer"]
    )


def test_the_far_end_is_brought_to_its_level_and_hears_its_own_room(path: Opened) -> None:
    gain = path["gain to the listening level"]
    speech = path["speech after the mixer"] + gain
    assert path["speech at the far ear"] == pytest.approx(speech)
    weights = np.array([-16.1, -8.6, -3.2, 0, 1.2, 1.0, -1.1])  # IEC 61672-1 [L]
    assert lg(np.sum(10 ** ((speech + weights) / 10))) == pytest.approx(65.0, abs=0.03)
    own = path["noise of the far-end room"]
    assert own == pytest.approx([48, 41, 35, 32, 29, 28, 27])  # NC-30
    expected = lg(10 ** ((path["noise after the mixer"] + gain) / 10) + 10 ** (own / 10))
    assert path["noise at the far ear"] == pytest.approx(expected)


def test_the_promise_follows_from_the_far_ear(path: Opened, oracle: Any) -> None:
    sti = oracle.sti(
        path.row.path.room_transfer,
        list(path["speech at the far ear"]),
        list(path["noise at the far ear"]),
    )
    assert path["STI"] == pytest.approx(sti, abs=2e-4)
    (found,) = [
        r for s in path.stages for r in s.rows if r.quantity == "direct-to-reverberant ratio"
    ]
    mean = float(np.mean(path["direct-to-reverberant ratio by"][2:6]))
    assert found.value == pytest.approx(mean, abs=5.1e-4)  # three decimals count
    importance = np.array([0.0617, 0.1671, 0.2373, 0.2648, 0.2142])  # ANSI S3.5-1997 [L]
    assert path["speech to noise"] == pytest.approx(
        float(path["speech over noise"][1:6] @ importance / importance.sum()), abs=5.1e-4
    )
    alpha = np.array([0.085, 0.127, 0.230, 0.233, 0.309, 0.224, 0.173])  # IEC 60268-16 [L]
    beta = np.array([0.085, 0.078, 0.065, 0.011, 0.047, 0.095])
    index = path["modulation transfer index"]
    assert path["STI"] == pytest.approx(
        float(alpha @ index - beta @ np.sqrt(index[:-1] * index[1:])), abs=5.1e-5
    )


def test_an_omnidirectional_source_does_not_cite_measured_talkers(
    scene_of: Callable[..., Scene],
) -> None:
    path = opened(scene_of, ROOMS["a head"], directivity="omni")
    (row,) = [r for s in path.stages for r in s.rows if r.quantity.startswith("talker's")]
    assert "Kocon" not in row.source
    assert path.inputs("late reflections re")["DI of the talker"] == "0 dB"
