"""Clarity and speech level at the microphones, with their spread: what maps show beside promises.

Shapes as in :mod:`wellheard.predict.outbound`: R rows, M microphones.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from wellheard.acoustics import decay, levels
from wellheard.arrays import Array
from wellheard.bands import SPEECH_BANDS
from wellheard.predict import tolerances
from wellheard.predict.outbound import FarEnd, Transfer
from wellheard.predict.scene import Scene


@dataclass(frozen=True)
class Heard:
    """Clarity and level of every row at every microphone and their spread, shape (R, M)."""

    c50_db: Array
    """C50, mean of 500 Hz–4 kHz. [dB]"""
    speech_level_dba: Array
    """Speech at the capsule, its pattern included. [dBA]"""
    c50_sigma_db: Array
    speech_level_sigma_db: Array


def heard(scene: Scene, paths: Transfer, found: FarEnd) -> Heard:
    """Clarity C50 and A-weighted speech level at the capsules.

    Notes
    -----
    The spread combines, as independent, decay time, the talker's turn and place and the model's
    own error, for the level vocal effort too; each by a one-sided difference of one standard
    deviation, as in `wellheard.predict.outbound.quantities`.
    """
    log_sigma = np.asarray(scene.reverberation.log_sigma)
    longer = np.exp(paths.diffuse_time_slope * log_sigma)
    turn_db = np.hypot(
        tolerances.TALKER_TURN_SIGMA_DB,
        20 * np.log10(1 + scene.position_sigma() / paths.distance),
    )
    turned = levels.energy(-turn_db)[..., None]

    c50 = _clarity_db(found.ratio, scene.time)
    by_time = _clarity_db(found.ratio / longer, scene.time * np.exp(log_sigma)) - c50
    by_turn = _clarity_db(found.ratio * turned, scene.time) - c50

    share = found.ratio / (1 + found.ratio)
    level = levels.a_weighted_level_db(found.speech_capsule_db)

    def moved(factor: Array) -> Array:
        changed = found.speech_capsule_db + levels.energy_level_db(factor)
        return levels.a_weighted_level_db(changed) - level

    return Heard(
        c50_db=c50,
        speech_level_dba=level,
        c50_sigma_db=np.sqrt(
            np.square(by_time)
            + np.square(by_turn)
            + tolerances.MODEL_DIRECT_TO_REVERBERANT_SIGMA_DB**2
        ),
        speech_level_sigma_db=np.sqrt(
            tolerances.EFFORT_SIGMA_DB**2
            + np.square(moved(share * turned + 1 - share))
            + np.square(moved(share + (1 - share) * longer))
        ),
    )


def _clarity_db(ratio: Array, time: Array) -> Array:
    each = decay.clarity_direct_plus_exponential(ratio, reverberation_time=time)
    return each[..., SPEECH_BANDS].mean(axis=-1)
