"""A second program for one voice path, from published formulas, with plain numbers and loops.

The oracle shares nothing with the package. Tables are read from the reference values, whose source
stands beside each; formulas name theirs.
"""

from __future__ import annotations

import json
import math
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from wellheard.acoustics.levels import scaled_to_a_weighted_level_db
from wellheard.acoustics.speech import speech_levels_db
from wellheard.catalog.catalogue import Catalogue
from wellheard.predict.evidence import Quantity
from wellheard.predict.loudspeakers import placed_loudspeakers
from wellheard.predict.propagation import propagation
from wellheard.predict.scene import Scene, build
from wellheard.predict.surfaces import bands
from wellheard.predict.wayback import Playback
from wellheard.room.document import Room

REFERENCE: dict[str, Any] = json.loads(
    (Path(__file__).parents[1] / "reference" / "reference_values.json").read_text()
)

ALPHA = (0.085, 0.127, 0.230, 0.233, 0.309, 0.224, 0.173)  # IEC 60268-16:2020, male [L]
BETA = (0.085, 0.078, 0.065, 0.011, 0.047, 0.095)
THRESHOLD_DB = (46, 27, 12, 6.5, 7.5, 8, 12)
A_WEIGHT_DB = (-16.1, -8.6, -3.2, 0, 1.2, 1.0, -1.1)  # IEC 61672-1, 125 Hz to 8 kHz [L]
SII_IMPORTANCE = (0.0617, 0.1671, 0.2373, 0.2648, 0.2142)  # ANSI S3.5-1997, 250 Hz to 4 kHz [L]


class Oracle:
    """Published relations; levels are lists of seven octaves, 125 Hz to 8 kHz."""

    reference = REFERENCE

    def speech(self, effort: str) -> list[float]:
        """Octave levels at 1 m: spectrum level + 10 lg bandwidth; 125 Hz is common practice."""
        levels = REFERENCE["speech_s35"]["octave_band_level_1m_db"][effort]
        return [49.0, *levels]

    def nc(self, number: int) -> list[float]:
        return [float(v) for v in REFERENCE["nc_curves"]["curves"][str(number)][3:]]

    def air(self) -> list[float]:
        """Power attenuation at 20 °C, 50 %, exact mid-bands [1/m] (ISO 9613-1:1993 [L])."""
        db_per_km = REFERENCE["air_absorption_db_per_km"]["cases"][0]["exact_midband"][1:]
        return [v / 1000 / (10 * math.log10(math.e)) for v in db_per_km]

    def talker(self, angle_deg: float) -> list[float]:
        """Measured speech off the mouth axis, linear between angles (Kocon & Monson 2018 [L])."""
        angles = REFERENCE["talker_directivity"]["angles_deg"]
        rows = REFERENCE["talker_directivity"]["measured_speech"]["db"]
        for i in range(len(angles) - 1):
            if angles[i] <= angle_deg <= angles[i + 1]:
                part = (angle_deg - angles[i]) / (angles[i + 1] - angles[i])
                return [row[i] + part * (row[i + 1] - row[i]) for row in rows]
        raise ValueError(angle_deg)

    def talker_index(self) -> list[float]:
        return list(REFERENCE["talker_directivity"]["measured_speech"]["di_db"])

    def direct(self, distance: float, off_mouth_deg: float | None, gain: float) -> list[float]:
        """Energy re 1 m in front: directivity, inverse square law, air."""
        level = [0.0] * 7 if off_mouth_deg is None else self.talker(off_mouth_deg)
        return [
            10 ** (d / 10) * gain**2 * math.exp(-m * distance) / distance**2
            for d, m in zip(level, self.air(), strict=True)
        ]

    def diffuse(
        self, distance: float, *, time: list[float], volume: float, index_db: float = 0.0
    ) -> list[float]:
        """16π/A after Kuttruff, A from ``time``, with Barron's distance term (1988 [M]); 20 °C."""
        speed = 343.2  # ISO 9613-1 [L]
        found = []
        for t in time:
            area = 24 * math.log(10) / speed * volume / t
            spread = math.exp(-0.04 * distance / t)
            found.append(16 * math.pi / area * 10 ** (-index_db / 10) * spread)
        return found

    def a_weighted(self, levels: list[float]) -> float:
        return 10 * math.log10(
            sum(10 ** ((v + a) / 10) for v, a in zip(levels, A_WEIGHT_DB, strict=True))
        )

    def sti(self, transfer: list[list[float]], speech: list[float], noise: list[float]) -> float:
        """IEC 60268-16:2020, full method [L]; ``transfer`` of the room, 7 by 14, then noise,
        masking by the next lower octave, and threshold."""
        index = []
        before = 0.0
        for k in range(7):
            signal = 10 ** (speech[k] / 10)
            total = signal + 10 ** (noise[k] / 10)
            masking = 0.0
            if k:
                level = 10 * math.log10(before)
                if level < 63:
                    slope = 0.5 * level - 65
                elif level < 67:
                    slope = 1.8 * level - 146.9
                else:
                    slope = 0.5 * level - 59.8
                masking = before * 10 ** (slope / 10)
            before = total
            heard = signal / (total + masking + 10 ** (THRESHOLD_DB[k] / 10))
            parts = []
            for room in transfer[k]:
                m = room * heard
                effective = 10 * math.log10(m / (1 - m)) if m < 1 else 15.0
                parts.append((min(15.0, max(-15.0, effective)) + 15) / 30)
            index.append(sum(parts) / len(parts))
        own = sum(a * i for a, i in zip(ALPHA, index, strict=True))
        shared = sum(b * math.sqrt(index[k] * index[k + 1]) for k, b in enumerate(BETA))
        return min(1.0, own - shared)

    def path(
        self,
        *,
        direct: list[float],
        reflected: list[float],
        transfer: list[list[float]],
        speech: list[float],
        noise: list[float],
        listening: float = 65.0,
        far_noise: list[float] | None = None,
        opened: float = 1.0,
    ) -> dict[str, Any]:
        """Everything promised of a path; ``reflected`` and ``noise`` of one open microphone."""
        reverberant = [r * opened for r in reflected]
        mixed = [n + 10 * math.log10(opened) for n in noise]
        ratio = [d / r for d, r in zip(direct, reverberant, strict=True)]
        capsule = [
            s + 10 * math.log10(d + r) for s, d, r in zip(speech, direct, reverberant, strict=True)
        ]
        gain = listening - self.a_weighted(capsule)
        there = self.nc(30) if far_noise is None else far_noise
        ear = [
            10 * math.log10(10 ** ((n + gain) / 10) + 10 ** (f / 10))
            for n, f in zip(mixed, there, strict=True)
        ]
        total = sum(SII_IMPORTANCE)
        return {
            "direct_to_reverberant_db": sum(10 * math.log10(ratio[k]) for k in range(2, 6)) / 4,
            "speech_to_noise_db": sum(
                w / total * (capsule[k] - mixed[k])
                for k, w in zip(range(1, 6), SII_IMPORTANCE, strict=True)
            ),
            "sti": self.sti(transfer, [c + gain for c in capsule], ear),
            "capsule": capsule,
            "gain": gain,
        }


@pytest.fixture(scope="session")
def oracle() -> Oracle:
    return Oracle()


@pytest.fixture(scope="session")
def bare_of(scene_of: Callable[..., Scene]) -> Callable[..., Scene]:
    """Give the function that makes a room ready with nothing in it: no body, no furniture.

    Only then does a published sum over image sources hold exactly.
    """

    def made(over: dict[str, Any] | None = None) -> Scene:
        scene = scene_of(over)
        empty = replace(scene.propagation.enclosure, objects=())
        told = scene.room.space.measured_reverberation
        sound = propagation(
            empty,
            speed=scene.propagation.speed,
            air=scene.propagation.air,
            measured_time=None if told is None else np.array(told),
        )
        return replace(scene, propagation=sound)

    return made


@pytest.fixture(scope="session")
def playback_at() -> Callable[..., Playback]:
    """Give the function that has a room's loudspeakers play speech at a level 1 m before each."""

    def made(scene: Scene, level_1m_dba: float) -> Playback:
        found = placed_loudspeakers(scene.room, scene.catalogue, scene.talkers)
        speech_db = scaled_to_a_weighted_level_db(
            speech_levels_db("normal"), level_dba=level_1m_dba
        )
        return Playback(
            loudspeakers=found,
            rows=(),
            target_dba=level_1m_dba,
            mean_dba=level_1m_dba,
            level_1m_dba=level_1m_dba,
            speech_1m_db=bands(speech_db),
            uniformity=Quantity("uniformity_db", 0.0, 0.0, 0.0, 0.0, "dB", None, None),
            uniformity_speech_db=0.0,
            drives=(),
        )

    return made


@pytest.fixture(scope="session")
def dead_room_of(
    room_of: Callable[..., Room], catalogue: Catalogue
) -> Callable[[dict[str, Any]], Scene]:
    """Give the function that makes a large room that swallows everything, with even loudspeakers.

    People talk alike in all directions too, so that every path is the inverse square law and air.
    """
    even = replace(
        catalogue,
        loudspeakers=tuple(
            replace(one, angle_deg=360.0, polar=None, drops=()) for one in catalogue.loudspeakers
        ),
    )
    swallows = {"absorption": dict.fromkeys((125, 250, 500, 1000, 2000, 4000, 8000), 1.0)}
    space = {
        "outline": [[0, 0], [16, 0], [16, 16], [0, 16]],
        "height": 6,
        "finishes": {"floor": swallows, "ceiling": swallows, "walls": swallows},
    }

    def made(over: dict[str, Any]) -> Scene:
        people = {"directivity": "omni", **over.pop("people")}
        return build(room_of({"space": space, "people": people, **over}), even)

    return made
