"""What the model says of all that is measured, for any absorption and scattering.

::

    rows   0–6 ln T20      7–13 ln(T30/T20), the bend      14–20 C50 of the measured paths
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import Final

import numpy as np

from wellheard.acoustics import air, late
from wellheard.arrays import Array
from wellheard.bands import EXACT_OCTAVES
from wellheard.predict.propagation import Propagation, propagation
from wellheard.proving.as_built_clarity import Clarity
from wellheard.proving.as_built_groups import Grouped
from wellheard.room.space import Climate

T20, BEND, CLARITY = slice(0, 7), slice(7, 14), slice(14, 21)
ROWS: Final = 21

SCATTERING: Final = (0.05, 0.8)
"""Between these a scattering is looked for; common practice, no source [C]."""

NODES: Final = np.geomspace(*SCATTERING, 10)
"""Scattering that rays are followed for while it is looked for; the rest lies between them."""

_STEP = 0.1


@dataclass(frozen=True, eq=False)
class Model:
    """The ray model of a space as it was measured.

    Parameters
    ----------
    grouped : Grouped
        Its surfaces.
    speed : float
        Of sound. [m/s]
    air : ndarray, shape (7,)
        Power attenuation. [1/m]
    stated : float
        Scattering that the document says, within the bounds.
    clarity : Clarity or None
        The paths whose C50 was measured.
    """

    grouped: Grouped
    speed: float
    air: Array
    stated: float
    clarity: Clarity | None = None
    _kept: dict[tuple[bytes, float], Array] = field(default_factory=dict, repr=False)

    def sound(self, log_factor: Array, scattering: float) -> Propagation:
        """Rays and their decay.

        Parameters
        ----------
        log_factor : ndarray, shape (groups + held, 7)
            Logarithm of the factor on −ln(1 − α).
        scattering : float
            Of every surface.
        """
        room = self.grouped.enclosure
        scale = np.ones_like(room.absorption)
        for one, factor in zip(self.grouped.members, log_factor, strict=True):
            scale[list(one.surfaces)] = np.exp(factor)
        return propagation(
            replace(
                room,
                absorption=late.scaled(room.absorption, scale),
                scattering=np.full(len(room.names), scattering),
            ),
            speed=self.speed,
            air=self.air,
        )

    def rows(self, log_factor: Array, scattering: float) -> Array:
        """All that may be measured, shape (21,); 0 for C50 where no path was measured."""
        key = (log_factor.tobytes(), scattering)
        if key not in self._kept:
            self._kept[key] = self._rows(log_factor, scattering)
        return self._kept[key]

    def _rows(self, log_factor: Array, scattering: float) -> Array:
        sound = self.sound(log_factor, scattering)
        t30 = late.reverberation_times(sound.table, speed=self.speed, air=self.air, high_db=-35.0)
        clarity = np.zeros(7) if self.clarity is None else self.clarity.predicted_db(sound)
        return np.concatenate([np.log(sound.time), np.log(t30 / sound.time), clarity])

    def between(self, log_factor: Array, log_scattering: float) -> tuple[Array, Array, float]:
        """The same drawn straight between two `NODES`, its slope there, and the nearer node.

        Notes
        -----
        Rays of other scattering are other rays: a slope over less than such a step would be that
        of chance.
        """
        logs = np.log(NODES)
        upper = int(np.clip(np.searchsorted(logs, log_scattering), 1, len(logs) - 1))
        ends = logs[upper - 1], logs[upper]
        less, more = (self.rows(log_factor, float(np.exp(end))) for end in ends)
        slope = (more - less) / (ends[1] - ends[0])
        near = ends[0] if log_scattering - ends[0] < ends[1] - log_scattering else ends[1]
        return less + slope * (log_scattering - ends[0]), slope, float(np.exp(near))

    def slopes(self, log_factor: Array, scattering: float, count: int) -> Array:
        """Of the rows with the logarithms of the first factors, shape (count, 21)."""
        here = self.rows(log_factor, scattering)
        found = []
        for index in range(count):
            moved = log_factor.copy()
            moved[index] += _STEP
            found.append((self.rows(moved, scattering) - here) / _STEP)
        return np.array(found).reshape(count, ROWS)


def model(grouped: Grouped, climate: Climate, clarity: Clarity | None = None) -> Model:
    """The ray model of a space in the air of a session."""
    return Model(
        grouped,
        speed=float(air.speed_of_sound(climate.temperature_c)),
        air=air.power_attenuation(
            np.asarray(EXACT_OCTAVES),
            temperature_c=climate.temperature_c,
            humidity=climate.humidity,
        ),
        stated=float(np.clip(np.mean(grouped.enclosure.scattering), *SCATTERING)),
        clarity=clarity,
    )
