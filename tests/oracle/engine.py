"""The engine, asked as the oracles are: every source to every microphone of a drawn room."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from tests.oracle.complete import Pattern
from tests.oracle.rooms import Drawn
from tests.oracle.simulator import SPEED
from wellheard.acoustics.decay_table import DecayTable, decay_table
from wellheard.acoustics.indices import indices
from wellheard.acoustics.late import late_tables, reverberation_times
from wellheard.acoustics.patterns import mean_over_sphere
from wellheard.acoustics.rays import advised_length, trace
from wellheard.acoustics.resolved import needs_resolving, resolve
from wellheard.acoustics.response import LIMIT, Pairs, Receivers, Response, Sources, respond
from wellheard.arrays import Array

ENTRIES = 513
DOWN = np.array([0.0, 0.0, -1.0])
NO_AIR = np.zeros(7)


@dataclass(frozen=True, eq=False)
class Answer:
    """What the engine says of a room, P pairs with the microphones running fastest."""

    response: Response
    times: Array
    """T20 of the room, shape (7,) [s]."""

    @property
    def speech_transmission(self) -> Array:
        """Without noise and without the ear's own limits, shape (P,)."""
        r = self.response
        return indices(r.direct + r.joined, r.early + r.late, r.modulation)[1]

    @property
    def clarity_db(self) -> Array:
        """C50, shape (P, 7) [dB]."""
        r = self.response
        return np.asarray(10.0 * np.log10((r.direct + r.joined + r.early) / r.late))


def table(drawn: Drawn, *, rays: int = 16_000, seed: int = 0) -> DecayTable:
    """Decay of the room's mean."""
    room = drawn.enclosure
    flights = trace(room, rays=rays, length=advised_length(room), seed=seed)
    return decay_table(flights, room.absorption, speed=SPEED)


def answer(
    drawn: Drawn,
    *,
    rays: int = 16_000,
    limit: float = LIMIT,
    air: Array = NO_AIR,
    facing: Array | None = None,
    talker: Pattern | None = None,
    axis: Array = DOWN,
    microphone: Pattern | None = None,
    by_place: bool = False,
) -> Answer:
    """Ask for every pair; without a pattern, talkers and microphones are the same all round.

    Scattered energy is resolved by place where the plan is concave; with ``by_place`` always.
    """
    decay = table(drawn, rays=rays)
    late = late_tables(decay, volume=drawn.enclosure.volume, speed=SPEED, air=air)
    count = len(drawn.sources) * len(drawn.microphones)
    speaks, hears = _entries(talker), _entries(microphone)
    row, column = np.divmod(np.arange(count), len(drawn.microphones))
    resolved = None
    if by_place or needs_resolving(drawn.enclosure):
        resolved = resolve(
            drawn.enclosure,
            drawn.sources,
            drawn.enclosure.absorption,
            late,
            speed=SPEED,
            air=air,
        )
    response = respond(
        drawn.enclosure,
        late,
        Sources(
            at=drawn.sources,
            facing=np.tile(DOWN, (len(drawn.sources), 1)) if facing is None else facing,
            pattern=speaks,
            diffuse=mean_over_sphere(speaks),
        ),
        Receivers(
            at=drawn.microphones,
            patterns=hears[None],
            diffuse=mean_over_sphere(hears)[None],
        ),
        Pairs(
            row=row,
            column=column,
            axis=np.tile(axis, (count, 1)),
            pattern=np.zeros(count, dtype=np.int64),
            upper_only=np.zeros(count, dtype=bool),
        ),
        speed=SPEED,
        air=air,
        limit=limit,
        resolved=resolved,
    )
    return Answer(response, reverberation_times(decay, speed=SPEED, air=air))


def _entries(pattern: Pattern | None) -> Array:
    cosine = np.linspace(-1.0, 1.0, ENTRIES)
    return np.ones((ENTRIES, 7)) if pattern is None else pattern(cosine)
