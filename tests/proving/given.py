"""What somebody might have recorded: figures from closed forms, not from us.

Sound of every response is a direct sound followed at once by an exponential decay (Houtgast and
Steeneken's relation for m, the definition of C50 in ISO 3382-1): plain numbers and loops.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import replace
from typing import Any

from wellheard.measurement.results import (
    Arrival,
    CancellerResult,
    Decay,
    EchoLoss,
    Fault,
    NoiseResult,
    ResponseResult,
)
from wellheard.proving.verdict import Verdict

OCTAVES = (125.0, 250.0, 500.0, 1000.0, 2000.0, 4000.0, 8000.0)
MODULATIONS = (0.63, 0.8, 1.0, 1.25, 1.6, 2.0, 2.5, 3.15, 4.0, 5.0, 6.3, 8.0, 10.0, 12.5)
"""Frequencies of the full method [L IEC 60268-16:2020]."""

A_WEIGHT = dict(zip(OCTAVES, (-16.1, -8.6, -3.2, 0, 1.2, 1.0, -1.1), strict=True))
"""By octave [L IEC 61672-1]; 31.5 Hz has −39.4."""

ROOM: dict[str, Any] = {
    "wellheard": 1,
    "title": "Reading Nook",
    "space": {
        "outline": [[0, 0], [6, 0], [6, 4.5], [0, 4.5]],
        "walls": ["south", "east", "north", "west"],
        "height": 2.7,
        "climate": {"temperature_c": 20, "humidity": 0.5},
        "finishes": {
            "floor": "carpet-tile",
            "ceiling": "ceiling-mineral-tile",
            "walls": "plasterboard",
        },
    },
    "people": {
        "occupancy": 0.5,
        "seats": {
            "s1": {"at": [2.0, 1.5], "facing": 0},
            "s2": {"at": [2.0, 3.0], "facing": 0},
        },
    },
    "noise": {"background": {"nc": 25}},
    "devices": {
        "m1": {"kind": "microphone", "product": "ceiling-head-3", "at": [3, 2.25, 2.7]},
        "l1": {"kind": "loudspeaker", "product": "ceiling-4", "at": [1.5, 1.0, 2.7]},
        "l2": {"kind": "loudspeaker", "product": "ceiling-4", "at": [4.5, 3.5, 2.7]},
    },
    "targets": {"reverberation": 0.6},
}
"""Invented: two people, a microphone and two loudspeakers."""


def response(
    *, time: float = 0.5, ratio: float = 1.0, time_250: float | None = None, **over: Any
) -> ResponseResult:
    """A response of direct sound over exponential decay, ``ratio`` of energies, T in seconds."""
    decays, modulation = [], []
    for octave in OCTAVES:
        t = time_250 if time_250 is not None and octave == 250.0 else time
        late = math.exp(-13.8155 * 0.05 / t) / (1 + ratio)
        decays.append(
            Decay(octave, t, t, t, 60.0, 0.0, 0.0, t, 10 * math.log10((1 - late) / late), 1 - late)
        )
        row = []
        for frequency in MODULATIONS:
            tail = 1 / complex(1, 2 * math.pi * frequency * t / 13.8155)
            row.append(abs(ratio + tail) / (1 + ratio))
        modulation.append(tuple(row))
    fields: dict[str, Any] = {
        "decays": tuple(decays),
        "modulation": tuple(modulation),
        "sti": None,
        "arrival": Arrival(0.0, None, 1),
        "gain_db": (0.0,) * 7,
        "direct_gain_db": (None,) * 7,
    }
    return ResponseResult(**{**fields, **over})


def steady(
    levels: Mapping[float, float] | float, *, calibrated: bool = True, sigma_db: float = 0.5
) -> NoiseResult:
    """A steady recording of octave levels; of one figure the same in every octave."""
    each = {f: levels for f in OCTAVES} if isinstance(levels, float) else dict(levels)
    return NoiseResult(
        levels_db=each,
        calibrated=calibrated,
        dba=10
        * math.log10(sum(10 ** ((v + A_WEIGHT.get(f, -39.4)) / 10) for f, v in each.items())),
        dbc=0.0,
        nc=None,
        nc_governing=None,
        nc_label="",
        rc_label="",
        seconds=15.0,
        spread_db=0.5,
        sigma_db=sigma_db,
    )


def echo(loss_db: float, **over: Any) -> EchoLoss:
    return replace(EchoLoss((loss_db,) * 7, loss_db, 0.3, 0.01), **over)


def trial(before_db: float, added_db: float, *faults: Fault) -> CancellerResult:
    return CancellerResult(before_db, before_db + added_db, added_db, 2.0, 0.0, 0.0, faults=faults)


BROKEN = Fault("clipping", "error", "it clips for 3 s", "record at a lower gain")


Proved = Callable[..., Verdict]
"""Holds the room against recordings, each with what it says."""
