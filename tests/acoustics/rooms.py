"""Rooms, talkers and microphones for tests of the response, and a room's mean of nothing."""

from __future__ import annotations

from typing import Any

import numpy as np
import numpy.typing as npt

from wellheard.acoustics.enclosure import Enclosure
from wellheard.acoustics.late import Late
from wellheard.acoustics.modulation import MODULATION_FREQUENCIES
from wellheard.acoustics.patterns import first_order_pattern, mean_over_sphere
from wellheard.acoustics.response import Pairs, Receivers, Response, Sources, respond
from wellheard.arrays import Array

SPEED = 343.0
OMNI, CARDIOID = 1.0, 0.5
NO_AIR = (0.0,) * 7


def nothing_late(rows: int = 200) -> Late:
    """No energy but that of images, and no object in the way."""
    return Late(
        step=0.001,
        specular_energy=np.zeros((rows, 8), np.float32),
        specular_modulation=np.zeros((rows, 14, 8), np.complex64),
        scattered_energy=np.zeros((rows, 8), np.float32),
        scattered_modulation=np.zeros((rows, 14, 8), np.complex64),
        clear=np.ones(rows, np.float32),
    )


def decaying_late(time: float, level: float, rows: int = 1500) -> Late:
    """Mirrored and scattered energy, both falling by 60 dB in ``time``, as closed forms."""
    rate = np.log(1e6) / time
    left = level * np.exp(-rate * 0.001 * np.arange(rows))[:, None] * np.append(np.ones(7), 0.0)
    turn = 1.0 / (1.0 + 2j * np.pi * np.array(MODULATION_FREQUENCIES) / rate)
    energy, transform = left.astype(np.float32), (left[:, None] * turn[:, None]).astype("c8")
    return Late(0.001, energy, transform, energy, transform, np.ones(rows, np.float32))


def sources(at: Any, facing: Any = (1.0, 0.0, 0.0), a: float = OMNI) -> Sources:
    points = np.asarray(at, dtype=np.float64).reshape(-1, 3)
    ways = np.broadcast_to(np.asarray(facing, dtype=np.float64), points.shape)
    pattern = first_order_pattern(a)
    return Sources(points, ways, pattern, mean_over_sphere(pattern))


def receivers(at: Any, a: float = OMNI) -> Receivers:
    pattern = first_order_pattern(a)
    points = np.asarray(at, dtype=np.float64).reshape(-1, 3)
    return Receivers(points, pattern[None], mean_over_sphere(pattern)[None])


def all_pairs(
    rows: int, columns: int, axis: Any = (0.0, 0.0, -1.0), *, upper_only: bool = False
) -> Pairs:
    count = rows * columns
    return Pairs(
        row=np.repeat(np.arange(rows), columns),
        column=np.tile(np.arange(columns), rows),
        axis=np.broadcast_to(np.asarray(axis, dtype=np.float64), (count, 3)),
        pattern=np.zeros(count, dtype=np.int64),
        upper_only=np.full(count, upper_only),
    )


def one_pair(
    room: Enclosure,
    source: Any,
    microphone: Any,
    *,
    facing: Any = (1.0, 0.0, 0.0),
    axis: Any = (0.0, 0.0, -1.0),
    talker: float = OMNI,
    capsule: float = OMNI,
    upper_only: bool = False,
    late: Late | None = None,
    air: npt.ArrayLike = NO_AIR,
    limit: float = 0.060,
) -> Response:
    return respond(
        room,
        late or nothing_late(),
        sources(source, facing, talker),
        receivers(microphone, capsule),
        all_pairs(1, 1, axis, upper_only=upper_only),
        speed=SPEED,
        air=air,
        limit=limit,
    )


def reflected_energy(response: Response) -> Array:
    return response.joined + response.early + response.late
