"""Hum of the mains: lines at 50 or 60 Hz and their harmonics that rise out of what is around."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

import numpy as np

from wellheard.acoustics.waveform import fast_length
from wellheard.arrays import Array
from wellheard.measurement.results import Fault
from wellheard.measurement.spectra import piece_powers
from wellheard.units import level_db

MAINS: Final = (50.0, 60.0)
"""Of the world's grids [Hz]."""

_HARMONICS = 8
_FIRST = 2  # harmonic that there has to be at least one up to
_PIECES = 1.5, 4.0  # shortest and longest, three of them at least wanted [s]
_SHORTEST = 3.0  # recording that lines can be told in [s]
_OFF = 0.005  # how far a grid and a recorder's clock together stray, as a ratio
_HALF_LINE = 0.5  # the same where a spectrum's lines are no closer
_BESIDE = (1.5, 8.0)  # where a line's neighbourhood begins and ends [Hz]
_QUIETER = 90  # percentile of the neighbourhood that a line is compared with
_LINE_DB = 10.0  # over it is a line,
_ALONE_DB = 20.0  # and over this one alone is enough
_TINY = float(np.finfo(np.float64).tiny)
_SMALL_DB = 40.0  # below everything else it is only worth a note,
_NOTHING_DB = 80.0  # and this far below it is none


@dataclass(frozen=True)
class _Line:
    harmonic: int
    over_db: float
    power: float


def hum(samples: Array, rate: float) -> Fault | None:
    """Hum of the mains in a recording, and which mains.

    Parameters
    ----------
    samples : ndarray, shape (samples,)
        Re full scale.
    rate : float
        [Hz]

    Returns
    -------
    Fault or None
        A warning, or a note where it is 40 dB below everything else.

    Notes
    -----
    Lines have to be there in most pieces of 1.5 to 4 s, so that sweeps passing by, music and
    voices are none, and 10 dB above nine tenths of what lies within 8 Hz on the louder side, so
    that a comb of many lines is none. A tone at 50 Hz that someone played cannot be told from hum.
    """
    if len(samples) < _SHORTEST * rate or rate < 4.0 * MAINS[-1]:
        return None
    about = min(max(len(samples) / 3.0, _PIECES[0] * rate), _PIECES[1] * rate)
    length = min(fast_length(round(about)), len(samples))
    kept = math.ceil((_HARMONICS * MAINS[-1] + 2.0 * _BESIDE[1]) * length / rate)
    steady = samples - samples.mean()
    pieces = np.concatenate(
        [rows[:, :kept] for rows in piece_powers(steady, length=length, hop=length // 2)]
    )
    powers = np.median(pieces, axis=0)
    found = {mains: _lines(powers, length / rate, mains) for mains in MAINS}
    mains = max(found, key=lambda m: sum(line.over_db for line in found[m]))
    lines = found[mains]
    alone = len(lines) == 1 and lines[0].over_db < _ALONE_DB
    if not lines or lines[0].harmonic > _FIRST or alone:
        return None
    under_db = level_db(float(np.mean(np.square(steady))) / sum(line.power for line in lines))
    return _fault(mains, lines, under_db) if under_db < _NOTHING_DB else None


def _lines(powers: Array, seconds: float, mains: float) -> list[_Line]:
    """Harmonics that rise out; ``seconds`` is how many lines of the spectrum a hertz has."""
    near, far = (round(b * seconds) for b in _BESIDE)
    lines = []
    for harmonic in range(1, _HARMONICS + 1):
        wanted = harmonic * mains * seconds
        off = max(_HALF_LINE, _OFF * wanted)
        first, last = math.floor(wanted - off), math.ceil(wanted + off)
        if last + far >= len(powers):
            break
        peak = first + int(np.argmax(powers[first : last + 1]))
        beside = powers[peak - 1 : peak + 2]
        middle = peak + float(beside @ (-1.0, 0.0, 1.0)) / max(float(beside.sum()), _TINY)
        if abs(middle - wanted) > off:
            continue
        sides = powers[max(0, peak - far) : peak - near], powers[peak + near : peak + far]
        around = max(float(np.percentile(side, _QUIETER)) for side in sides)
        power = float(beside.sum())
        over_db = level_db(float(powers[peak]) / around) if around > 0.0 else math.inf
        if power > 0.0 and over_db >= _LINE_DB:
            lines.append(_Line(harmonic, over_db, power))
    return lines


def _fault(mains: float, lines: list[_Line], under_db: float) -> Fault:
    shown = [f"{line.harmonic * mains:g}" for line in lines]
    listed = shown[0] if len(shown) == 1 else ", ".join(shown[:-1]) + f" and {shown[-1]}"
    over = max(line.over_db for line in lines)
    high = f"{over:.0f} dB" if math.isfinite(over) else "out of nothing"
    total = f"{level_db(sum(line.power for line in lines)):.0f} dB".replace("-", "−")
    return Fault(
        "hum",
        "note" if under_db > _SMALL_DB else "warning",
        f"hum of {mains:g} Hz mains: {listed} Hz rise up to {high} over what is around, "
        f"{total} re full scale together",
        "use balanced cables, power all devices from one outlet, keep signal cables away from "
        "power cables and transformers; if it is heard in the room too, it is noise of the room",
    )
