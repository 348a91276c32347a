"""How sure level and STI at the ears are: their spread and what it is made of.

As for the outbound path the middle values come from the field itself; how they move with what is
not known is taken from the closed form of a direct sound and one exponential decay.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np

from wellheard.acoustics import field, intelligibility, levels
from wellheard.arrays import Array
from wellheard.predict.listening import Heard, Together
from wellheard.predict.outbound import LEAST_ENERGY
from wellheard.predict.scene import Scene
from wellheard.predict.spread import MODEL_STI

CALIBRATION_SIGMA_DB: Final = 1.0
"""σ of the playback level as somebody sets it by meter or ear (common practice) [dB]."""

MODEL_LEVEL_SIGMA_DB: Final = 1.0
"""σ of the model's own error in the level at one ear re the mean of all: what a loudspeaker
radiates off its axis, and interference from place to place (common practice) [dB]."""


@dataclass(frozen=True, eq=False)
class Sigmas:
    """One standard deviation of each quantity at E ears, shape (E,).

    Attributes
    ----------
    sti : ndarray
    level_db : ndarray
    apart_db : ndarray
        Of the level re the mean of all ears: without what moves all of them together.
    """

    sti: Array
    level_db: Array
    apart_db: Array


@dataclass(frozen=True, eq=False)
class Part:
    """What one cause adds, shape (E,) each."""

    sti: Array
    apart_db: Array


def sigmas(
    scene: Scene,
    heard: Together,
    found: Heard,
    *,
    speech_1m_db: Array,
    set_by: slice = slice(None),
) -> Sigmas:
    """Spread of middle values that are worked out already.

    Parameters
    ----------
    scene : Scene
        The room.
    heard : Together
        At E ears.
    found : Heard
        The middle values there.
    speech_1m_db : ndarray, shape (7,)
        Far-end speech 1 m before a loudspeaker without trim. [dB]
    set_by : slice
        Ears whose mean the playback level is set to.

    Notes
    -----
    Independent causes: decay time with the energy that goes with it (the mean of the ears is set
    again in the room as it is, so the level moves re that mean), the ear's place, noise with the
    setting of the playback level, and the model's own error; each by a one-sided difference of
    one standard deviation, see :mod:`wellheard.predict.tolerances`.
    """
    moves = _Moves(scene, heard, found, speech_1m_db, set_by)
    parts = (moves.by_decay(), moves.by_place(), moves.by_noise_and_setting(), moves.by_model())
    apart = np.sqrt(sum(np.square(part.apart_db) for part in parts))
    return Sigmas(
        sti=np.sqrt(sum(np.square(part.sti) for part in parts)),
        level_db=np.hypot(apart, CALIBRATION_SIGMA_DB),
        apart_db=apart,
    )


class _Moves:
    """How the quantities move with one cause at a time."""

    def __init__(
        self, scene: Scene, heard: Together, found: Heard, speech_1m_db: Array, set_by: slice
    ) -> None:
        self._scene, self._heard, self._found = scene, heard, found
        self._speech_1m_db, self._set_by = speech_1m_db, set_by
        self._direct = heard.all_direct
        self._reflected = np.maximum(heard.total - self._direct, LEAST_ENERGY)
        self._sti_now = self._sti(self._direct / self._reflected, scene.time, found.noise_db)
        self._none = np.zeros(len(heard.first))

    def by_decay(self) -> Part:
        """A decay that is longer and holds more energy."""
        decays = self._scene.reverberation
        distance = self._heard.distance[self._heard.first, np.arange(len(self._heard.first))]
        slope = 1 + field.BARRON_SLOPE * distance[:, None] / self._scene.level_time
        reflected = self._reflected * np.exp(slope * np.asarray(decays.level_log_sigma))
        time = self._scene.time * np.exp(np.asarray(decays.log_sigma))
        level = self._level(self._direct + reflected)
        moved = level - self._found.level_dba
        together = levels.mean_level_db(level[self._set_by])
        together -= levels.mean_level_db(self._found.level_dba[self._set_by])
        sti = self._sti(self._direct / reflected, time, self._found.noise_db)
        return Part(np.abs(sti - self._sti_now), np.abs(moved - together))

    def by_place(self) -> Part:
        """An ear that is farther from every loudspeaker than it was told."""
        farther = 1 + self._scene.position_sigma() / self._heard.distance
        direct = (self._heard.direct / np.square(farther)[..., None]).sum(axis=0)
        sti = self._sti(direct / self._reflected, self._scene.time, self._found.noise_db)
        moved = self._level(direct + self._reflected) - self._found.level_dba
        return Part(np.abs(sti - self._sti_now), np.abs(moved))

    def by_noise_and_setting(self) -> Part:
        """Noise louder, and playback set too low: the index feels their distance."""
        louder = float(np.hypot(self._scene.noise_sigma_db(), CALIBRATION_SIGMA_DB))
        ratio = self._direct / self._reflected
        sti = self._sti(ratio, self._scene.time, self._found.noise_db + louder)
        return Part(np.abs(sti - self._sti_now), self._none)

    def by_model(self) -> Part:
        """The model's own error."""
        return Part(self._none + MODEL_STI, self._none + MODEL_LEVEL_SIGMA_DB)

    def _level(self, energy: Array) -> Array:
        return levels.a_weighted_level_db(self._speech_1m_db + levels.energy_level_db(energy))

    def _sti(self, ratio: Array, time: Array, noise_db: Array) -> Array:
        return intelligibility.speech_transmission_index_of_path(
            ratio, reverberation_time=time, speech_db=self._found.speech_db, noise_db=noise_db
        )
