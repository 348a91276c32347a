"""One room, one question, two answers: what the tests and the benches compare."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from functools import cache

import numpy as np

from tests.oracle import complete, engine, simulator
from tests.oracle.complete import Echogram
from tests.oracle.rooms import Drawn, random_box, random_l_shape
from wellheard.acoustics.image_ways import arrivals
from wellheard.acoustics.response import LIMIT
from wellheard.arrays import Array

SPEED = simulator.SPEED
STEP = 0.001
"""Of the histograms of rays. [s]"""

AIR = np.array([0.1, 0.3, 0.6, 1.1, 2.2, 6.5, 23.0]) * 1e-3
"""Power that air takes, about that of 20 °C and 50 %. [1/m]"""

FACING = np.array([0.8, -0.6, 0.0])
ORDER, FARTHEST = 4, 16.0
"""Up to which images are compared one by one. [m]"""

MAKERS: dict[str, Callable[..., Drawn]] = {"box": random_box, "l-shape": random_l_shape}


@dataclass(frozen=True, eq=False)
class Compared:
    """One room as both have it, P pairs."""

    drawn: Drawn
    engine: engine.Answer
    complete: list[Echogram]

    @property
    def speech_transmission(self) -> Array:
        return np.array([complete.speech_transmission(echo) for echo in self.complete])

    @property
    def clarity_db(self) -> Array:
        return np.array([complete.clarity_db(echo) for echo in self.complete])


def talker(cosine: Array) -> Array:
    """First-order lobes that narrow from octave to octave: no person's, but about as strong."""
    a = np.linspace(0.9, 0.6, 7)
    return np.square(a + (1 - a) * cosine[:, None])


def cardioid(cosine: Array) -> Array:
    return np.repeat(np.square(0.5 + 0.5 * cosine)[:, None], 7, axis=1)


def compare(drawn: Drawn, *, directional: bool = False) -> Compared:
    room = drawn.enclosure
    size = np.array([*room.outline[2], room.height])
    until = complete.rings_until(size, room.absorption, speed=SPEED, air=AIR)
    echoes = [
        complete.echogram(
            size,
            room.absorption,
            source,
            microphone,
            until=until,
            speed=SPEED,
            air=AIR,
            facing=FACING,
            talker=talker if directional else None,
            axis=engine.DOWN,
            microphone=cardioid if directional else None,
        )
        for source in drawn.sources
        for microphone in drawn.microphones
    ]
    asked = engine.answer(
        drawn,
        air=AIR,
        facing=np.tile(FACING, (len(drawn.sources), 1)),
        talker=talker if directional else None,
        microphone=cardioid if directional else None,
    )
    return Compared(drawn, asked, echoes)


def decay_errors(room: Compared) -> Iterator[Array]:
    """T20 of images up to the limit and the engine's mean decay after it, pair by pair.

    The images are the oracle's: those of the engine end in the same energies.
    """
    table = engine.table(room.drawn)
    step = complete.STEP
    split = round(LIMIT / step)
    gain = 4 * np.pi * SPEED / room.drawn.enclosure.volume * step
    distances = room.engine.response.distance
    for echo, distance in zip(room.complete, distances, strict=True):
        joined = echo.reflected.copy()
        time = distance / SPEED + echo.time[split:]
        air = np.exp(-np.multiply.outer(SPEED * time, AIR))
        for octave in range(7):
            joined[split:, octave] = gain * np.interp(time, table.times, table.total[:, octave])
        joined[split:] *= air
        both = (np.vstack([echo.direct, one]) for one in (joined, echo.reflected))
        ours, theirs = (complete.decay_time(one, step=step) for one in both)
        yield ours / theirs - 1


@dataclass(frozen=True, eq=False)
class Traced:
    """One room as both have it."""

    drawn: Drawn
    engine: engine.Answer
    energy: Array  # (P, bins, 7)

    @property
    def level_db(self) -> Array:
        """Of all but the direct sound, engine over simulator, with full scattering (P, 7)."""
        r = self.engine.response
        return np.asarray(10 * np.log10((r.joined + r.early + r.late) / self.energy.sum(axis=1)))

    @property
    def clarity_db(self) -> Array:
        """Early over late without the direct sound, engine over simulator (P, 7)."""
        r = self.engine.response
        ours = (r.joined + r.early) / r.late
        until = r.distance / simulator.SPEED + 0.05
        middle = (np.arange(self.energy.shape[1]) + 0.5) * STEP
        early = np.where(middle[:, None] < until[:, None, None], self.energy, 0.0).sum(axis=1)
        return np.asarray(10 * np.log10(ours / (early / (self.energy.sum(axis=1) - early))))


def traced(kind: str, scattering: float, seed: int, *, by_place: bool = False) -> Traced:
    """A random room of a kind, and what the simulator's rays bring to its microphones."""
    drawn = MAKERS[kind](seed, sources=2, microphones=6, scattering=scattering)
    asked = engine.answer(drawn, by_place=by_place)
    until = 2.0 * float(asked.times.max())
    return Traced(drawn, asked, _caught(kind, scattering, seed, until))


@cache
def _caught(kind: str, scattering: float, seed: int, until: float) -> Array:
    drawn = MAKERS[kind](seed, sources=2, microphones=6, scattering=scattering)
    count, radius = (6_000, 0.5) if scattering == 0.0 else (2_000, 0.1)
    histograms = [
        simulator.rays(
            drawn.enclosure,
            source,
            drawn.microphones,
            count=count,
            until=until,
            radius=radius,
            step=STEP,
        )
        for source in drawn.sources
    ]
    return np.concatenate([one.energy for one in histograms])


def image_sets(drawn: Drawn, source: Array, microphone: Array) -> tuple[Array, Array]:
    """Every image up to an order and a distance: ours, and those of the simulator.

    Distance and energy in seven octaves of each, shape (images, 8), the nearest first.
    """
    found = arrivals(drawn.enclosure, source, microphone, limit_path=FARTHEST).found
    ours = np.array([[w.length, *(w.energy / w.length**2)] for w in found if w.order <= ORDER])
    images = simulator.images(drawn.enclosure, source, microphone, order=ORDER)
    theirs = np.column_stack([images.distance, images.energy])
    theirs = theirs[images.distance <= FARTHEST]
    return _sorted(ours), _sorted(theirs)


def _sorted(images: Array) -> Array:
    """By distance; to a tenth of a millimetre, then by energy."""
    keys = [*images[:, 1:].T, np.round(images[:, 0], 4)]
    return np.asarray(images[np.lexsort(keys)])
