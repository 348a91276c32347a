"""What the neighbours get to hear of a room, wall by wall."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from wellheard.acoustics import field, isolation, levels, speech
from wellheard.acoustics.directivity import TALKER_DIRECTIVITY_INDEX_DB
from wellheard.arrays import Array
from wellheard.bands import OCTAVES
from wellheard.geometry.points import distance_to_edges
from wellheard.predict import devices, noise
from wellheard.predict.evidence import Bands, Evidence
from wellheard.predict.surfaces import bands
from wellheard.room.noise import Background

LOUDSPEAKERS = "loudspeakers"


@dataclass(frozen=True)
class Leak:
    """Speech of one room behind one of its walls.

    ``voice`` is the talker who is loudest there, or :data:`LOUDSPEAKERS`. Levels are octave
    levels, 125 Hz to 8 kHz [dB]; ``margin_db`` says how far the speech lies below the noise.
    """

    wall: str
    voice: str
    inside_db: Bands
    behind_db: Bands
    noise_db: Bands
    margin_db: float


BEST_CLASS = 90
"""No wall has a better one."""


def leak(evidence: Evidence, wall: str, *, stc: float | None = None) -> Leak | None:
    """What is heard behind one wall; None where its class or the noise beyond is unknown.

    ``stc`` is tried in place of the wall's own class.

    The louder of two voices counts: the reverberant level that a talker makes at the wall, each
    talking alone at the document's vocal effort, and far-end speech at the promised playback
    level where anything plays it. The room beyond is taken to absorb as much as an open window
    of the wall's size, so that the level falls by the reduction of the wall itself.
    """
    told = evidence.room.space.isolation.get(wall)
    if told is None or told.stc is None or told.outside is None:
        return None
    own = told.stc if stc is None else stc
    there = _octaves(told.outside)
    area = math.dist(*evidence.room.space.wall_ends(wall)) * evidence.room.space.height
    reduction_db = isolation.level_difference_db(
        isolation.contour_reduction_db(own), area=area, absorption_area=area
    )
    return min(
        (
            Leak(
                wall=wall,
                voice=voice,
                inside_db=bands(inside),
                behind_db=bands(inside - reduction_db),
                noise_db=bands(there),
                margin_db=float(isolation.privacy_margin_db(inside - reduction_db, noise_db=there)),
            )
            for voice, inside in _voices(evidence, wall)
        ),
        key=lambda one: one.margin_db,
        default=None,
    )


def class_needed(evidence: Evidence, wall: str, *, margin_db: float) -> int | None:
    """Least whole class of a wall that gives a margin; None where none does or too little is known.

    All else stays as it is.
    """
    for stc in range(BEST_CLASS + 1):
        found = leak(evidence, wall, stc=float(stc))
        if found is not None and found.margin_db >= margin_db:
            return stc
    return None


def plays(evidence: Evidence) -> bool:
    """Whether anything in the room plays the far end."""
    return bool(devices.loudspeaker_places(evidence.room, evidence.catalogue))


def _voices(evidence: Evidence, wall: str) -> list[tuple[str, Array]]:
    """Each voice with its octave levels in the room, at the wall. [dB]"""
    room = evidence.room
    found: list[tuple[str, Array]] = []
    if evidence.talkers:
        places = np.array([talker.at[:2] for talker in evidence.talkers])
        outline = np.asarray(room.space.outline, dtype=np.float64)
        away = distance_to_edges(places, outline)[:, room.space.walls.index(wall)]
        nearest = int(np.argmin(away))
        gain = field.diffuse_energy(
            away[nearest],
            reverberation_time=np.asarray(evidence.reverberation.level_time),
            volume=evidence.reverberation.volume,
            directivity_index_db=_directivity_index_db(evidence),
            speed_of_sound=evidence.reverberation.speed_of_sound,
        )
        found.append(
            (
                evidence.talkers[nearest].id,
                speech.speech_levels_db(room.people.effort) + levels.energy_level_db(gain),
            )
        )
    if plays(evidence) and room.targets.playback_level_dba is not None:
        shape = speech.speech_levels_db("normal")
        at_seats = levels.scaled_to_a_weighted_level_db(
            shape, level_dba=room.targets.playback_level_dba
        )
        found.append((LOUDSPEAKERS, at_seats))
    return found


def _directivity_index_db(evidence: Evidence) -> Array:
    if evidence.room.people.directivity == "omni":
        return np.zeros(len(OCTAVES))
    return np.asarray(TALKER_DIRECTIVITY_INDEX_DB)


def _octaves(background: Background) -> Array:
    told = noise.background_db(background)
    return np.array([told[octave] for octave in OCTAVES])
