"""What the rules on listening share: rows by seat, causes, and the trim that would mend a level."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from itertools import groupby

import numpy as np

from wellheard.acoustics.intelligibility import speech_transmission_index
from wellheard.acoustics.modulation import MODULATION_FREQUENCIES, noise_and_hearing_factor
from wellheard.arrays import Array
from wellheard.predict.evidence import Evidence
from wellheard.predict.wayback import Inbound

LEAST_TRIM_DB = 0.1
"""What a trim can be set to: less is nothing. [dB]"""


def worst_of_each(
    evidence: Evidence, badness: Callable[[Inbound], float]
) -> Iterator[tuple[str, Inbound]]:
    """Owner and row of every seat, and of the worst sample of every standing area.

    The greatest badness is the worst, of equals the first by name; nothing without playback.
    """
    if evidence.playback is None:
        return
    rows = sorted(evidence.playback.rows, key=lambda row: row.talker.owner)
    for owner, samples in groupby(rows, key=lambda row: row.talker.owner):
        yield owner, min(samples, key=lambda row: (-badness(row), row.talker.id))


def dba(level_dba: float) -> str:
    """A-weighted level with one decimal.

    Examples
    --------
    >>> dba(70.26)
    '70.3 dBA'
    """
    return f"{level_dba:.1f} dBA"


def sti_without_noise(row: Inbound) -> float:
    """About the STI of an ear if the room made no noise.

    The modulation that an octave's index stands for, freed from what noise leaves of it.
    """
    speech_db, noise_db = np.asarray(row.levels_db), np.asarray(row.noise_db)
    index = np.asarray(row.modulation_transfer_index)
    kept = 1.0 / (1.0 + 10 ** -((30.0 * index - 15.0) / 10))
    quiet = noise_and_hearing_factor(speech_db)
    noisy = noise_and_hearing_factor(speech_db, noise_db=noise_db)
    return _sti(np.minimum(kept * quiet / noisy, 1.0))


def sti_without_reverberation(row: Inbound) -> float:
    """STI of an ear if one direct sound came alone, at the same level."""
    return _sti(
        noise_and_hearing_factor(np.asarray(row.levels_db), noise_db=np.asarray(row.noise_db))
    )


def _sti(modulation: Array) -> float:
    each = np.repeat(modulation[:, None], len(MODULATION_FREQUENCIES), axis=1)
    return float(speech_transmission_index(each))


def brings_most(row: Inbound) -> str:
    """Loudspeaker that brings most of the level at an ear."""
    return max(row.arrivals, key=lambda one: (one.share_dba, one.loudspeaker)).loudspeaker


def trim_for(row: Inbound, moved_db: float) -> float | None:
    """Trim of the loudspeaker that brings most by which an ear's level moves so far.

    Parameters
    ----------
    row : Inbound
        Of the ear.
    moved_db : float
        Wanted change of all that it hears, positive for louder. [dB]

    Returns
    -------
    float or None
        Against the other loudspeakers [dB]; None where no trim of it alone does that.
    """
    most = max(one.share_dba for one in row.arrivals)
    share = min(1.0, 10 ** ((most - row.level.value) / 10))
    factor = 1.0 + (10 ** (moved_db / 10) - 1.0) / share
    if factor <= 0.0 or len(row.arrivals) == 1:
        return None
    return 10.0 * math.log10(factor)
