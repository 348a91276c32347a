"""What a second model finds when nobody knows the room exactly.

Each draw is the same room with its absorption, its places, the talker's turn and the loudness off
by as much as predictions say that they may be, and with chance interference. Without scattering
complete image sources tell where the energy goes, with full scattering the rays of pyroomacoustics.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np

from tests.oracle import complete, simulator
from tests.oracle.complete import Echogram
from tests.oracle.rooms import Drawn
from wellheard.acoustics.enclosure import Enclosure
from wellheard.arrays import Array
from wellheard.bands import EXACT_OCTAVES

SPEED = simulator.SPEED
LEFT_DB = -40.0
"""Until when complete image sources are followed."""

RAYS = 1500
RADIUS = 0.1
OCTAVE_WIDTH = np.array(EXACT_OCTAVES) * (2**0.5 - 2**-0.5)
NEAREST_WALL = 0.15


@dataclass(frozen=True, eq=False)
class Unknown:
    """By how much things are off, one standard deviation each."""

    log_time: Array
    """Of decays, shape (7,), all octaves together."""
    place: float
    """Of a mouth, along each axis. [m]"""
    turn_db: float
    """Of the direct sound."""


def draws(drawn: Drawn, unknown: Unknown, *, count: int, seed: int) -> Iterator[list[Echogram]]:
    """Echograms of every pair, microphones running fastest, as often as asked."""
    rng = np.random.default_rng(seed)
    for _ in range(count):
        room = _off(drawn, unknown, rng)
        turned = 10.0 ** (unknown.turn_db * rng.normal(size=len(room.sources)) / 10.0)
        yield [
            Echogram(echo.direct * turned[row], _by_chance(echo.reflected, rng))
            for row, source in enumerate(room.sources)
            for echo in _echoes(room, source)
        ]


def _off(drawn: Drawn, unknown: Unknown, rng: np.random.Generator) -> Drawn:
    room = drawn.enclosure
    exponent = np.exp(-unknown.log_time * rng.normal())
    size = np.array([*room.outline[2], room.height])
    moved = drawn.sources + unknown.place * rng.normal(size=drawn.sources.shape)
    return Drawn(
        enclosure=replace(room, absorption=1.0 - (1.0 - room.absorption) ** exponent),
        sources=np.clip(moved, NEAREST_WALL, size - NEAREST_WALL),
        microphones=drawn.microphones,
    )


def _echoes(drawn: Drawn, source: Array) -> list[Echogram]:
    room = drawn.enclosure
    if np.all(room.scattering == 0.0):
        return _by_images(room, source, drawn.microphones)
    until = _until(room)
    caught = simulator.rays(
        room,
        source,
        drawn.microphones,
        count=RAYS,
        until=until,
        radius=RADIUS,
        step=0.001,
    )
    return [
        _from_the_click(energy, source, microphone)
        for energy, microphone in zip(caught.energy, drawn.microphones, strict=True)
    ]


def _by_images(room: Enclosure, source: Array, microphones: Array) -> list[Echogram]:
    size = np.array([*room.outline[2], room.height])
    until = complete.rings_until(size, room.absorption, speed=SPEED, left_db=LEFT_DB)
    return [
        complete.echogram(size, room.absorption, source, one, until=until, speed=SPEED)
        for one in microphones
    ]


def _until(room: Enclosure) -> float:
    """Twice what Eyring's decay takes."""
    size = np.array([*room.outline[2], room.height])
    x, y, z = size
    areas = np.array([x * y, x * y, x * z, y * z, x * z, y * z])
    mean = areas @ room.absorption / areas.sum()
    return float((2 * 55.3 * room.volume / (SPEED * -np.log1p(-mean) * areas.sum())).max())


def _from_the_click(energy: Array, source: Array, microphone: Array) -> Echogram:
    """Bins of rays, moved so that the direct sound is their begin, and spread over finer ones."""
    distance = float(np.linalg.norm(microphone - source))
    finer = np.repeat(energy, round(0.001 / complete.STEP), axis=0) * complete.STEP / 0.001
    first = int(distance / SPEED / complete.STEP)
    return Echogram(np.full(7, distance**-2.0), finer[first:])


def _by_chance(energy: Array, rng: np.random.Generator) -> Array:
    """Energy that interferes: in a bin of T a noise of width B has about 2BT free values."""
    freedom = 2.0 * OCTAVE_WIDTH * complete.STEP
    return np.asarray(energy * rng.gamma(freedom / 2.0, 2.0 / freedom, energy.shape))
