"""Voices at the ears of a room: natural, and through microphones and loudspeakers."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from wellheard.acoustics import mixing
from wellheard.acoustics.levels import a_weighted_level_db, energy, energy_level_db
from wellheard.arrays import Array, Mask
from wellheard.predict import outbound
from wellheard.predict.coupling import Coupled
from wellheard.predict.evidence import Outbound, Path, PlacedMicrophone, Talker
from wellheard.predict.loudspeakers import ears, played
from wellheard.predict.scene import Scene
from wellheard.predict.wayback import Playback


@dataclass(frozen=True, eq=False)
class Heard:
    """Voices of T talkers at as many ears, natural and through L loudspeakers.

    Attributes
    ----------
    talkers : tuple of Talker
        Of the rows: ears and mouths alike.
    distance : ndarray, shape (T, T)
        From mouth to ear; infinite to the own ear, and between points of one standing area. [m]
    natural, reflected : ndarray, shape (T, T, 7)
        Energies re (20 µPa)² of each talker at each ear, all and without direct sound.
    alone : ndarray, shape (T, M, 7)
        Energies re (20 µPa)² of each talker at each microphone, none other open.
    voice : ndarray, shape (T, M, 7)
        Energies of each talker in the mix by each microphone, re working level.
    way : ndarray, shape (L, T, 7)
        Energy at each ear per energy of the mix, re working level.
    to_ear, to_microphone : ndarray, shapes (L, T) and (T, M)
        Distances from loudspeakers to ears and from mouths to microphones. [m]
    serving : ndarray of int, shape (T,)
        Microphone of each talker.
    """

    talkers: tuple[Talker, ...]
    distance: Array
    natural: Array
    reflected: Array
    alone: Array
    voice: Array
    way: Array
    to_ear: Array
    serving: outbound.Index
    to_microphone: Array

    @classmethod
    def of(
        cls,
        scene: Scene,
        microphones: Sequence[PlacedMicrophone],
        rows: Sequence[Outbound],
        paths: Sequence[Path],
        playback: Playback,
        coupled: Sequence[Coupled],
    ) -> Heard:
        people = tuple(row.talker for row in rows)
        at = np.array([one.at for one in people])
        distance, natural, reflected = _natural(scene, rows, at)
        loud = playback.loudspeakers
        arrived = played(scene, loud, ears(at))
        trim = energy(np.array([one.trim_db for one in loud]))
        index = {one.id: i for i, one in enumerate(microphones)}
        serving = np.array([index[row.path.microphone] for row in rows])
        alone, to_microphone = _alone(scene, microphones, rows, paths)
        return cls(
            talkers=people,
            distance=distance,
            natural=natural,
            reflected=reflected,
            alone=alone,
            voice=_mixed(scene, alone, coupled, serving),
            way=arrived.total * trim[:, None, None] * energy(playback.level_1m_dba),
            to_ear=arrived.distance,
            serving=serving,
            to_microphone=to_microphone,
        )

    def worst(self, lifted: Mask) -> outbound.Index:
        """For each ear the talker that is heard worst there without lift; −1 where there is none.

        Of equals the first, whatever rounding errors say.

        Parameters
        ----------
        lifted : ndarray of bool, shape (T,)
            Talkers whom the lift is meant for. The others count only where none of these is
            somebody else.
        """
        level = a_weighted_level_db(energy_level_db(self.natural)).round(6)
        level = np.where(np.isfinite(self.distance), level, np.inf)
        meant = np.where(np.asarray(lifted)[:, None], level, np.inf)
        level = np.where(np.isfinite(meant).any(axis=0), meant, level)
        return np.asarray(
            np.where(np.isfinite(level.min(axis=0)), np.argmin(level, axis=0), -1), dtype=np.intp
        )

    def brought(self, fed: Array, speaker: int, ear: int) -> Array:
        """What each loudspeaker brings of a talker to an ear, shape (L, 7)."""
        return np.asarray(
            np.einsum("mb,lm,lb->lb", self.voice[speaker], fed, self.way[:, ear], optimize=True)
        )


def _natural(scene: Scene, rows: Sequence[Outbound], at: Array) -> tuple[Array, Array, Array]:
    """Distances and energies of every talker at every other ear.

    An ideal microphone stands in for the ear: it hears alike from all sides, without a head.
    """
    looking = {
        (scene.talkers[who].id, facing): index
        for index, (who, facing) in enumerate(
            zip(scene.row_talker, scene.row_facing_deg, strict=True)
        )
    }
    mouth = [looking[row.talker.id, row.path.facing_deg] for row in rows]
    count = len(rows)
    apart = np.array([[_two_people(a.talker, b.talker) for b in rows] for a in rows])
    speaker, ear = np.nonzero(apart)
    distance = np.full((count, count), np.inf)
    natural, reflected = np.zeros((2, count, count, 7))
    if len(speaker):
        heard = outbound.transfer(
            scene,
            scene.catalogue.microphone("omni-reference"),
            at,
            np.zeros(count),
            row=np.asarray(mouth, dtype=np.intp)[speaker],
            column=ear.astype(np.intp),
        )
        distance[speaker, ear] = heard.distance[0]
        reflected[speaker, ear] = energy(scene.speech_db) * heard.reflected[0]
        natural[speaker, ear] = energy(scene.speech_db) * (heard.direct + heard.reflected)[0]
    return distance, natural, reflected


def _two_people(speaker: Talker, listener: Talker) -> bool:
    """Points of one standing area are the same person."""
    return speaker.owner != listener.owner


def _alone(
    scene: Scene,
    microphones: Sequence[PlacedMicrophone],
    rows: Sequence[Outbound],
    paths: Sequence[Path],
) -> tuple[Array, Array]:
    """Energies of talkers at microphones, shape (T, M, 7), and their distances, (T, M)."""
    by_name = {(path.talker, path.microphone): path for path in paths}
    found = [[by_name[row.talker.id, one.id] for one in microphones] for row in rows]
    parts = energy(np.array([[(p.direct_db, p.reverberant_db) for p in line] for line in found]))
    opened = np.array([[p.open_microphones for p in line] for line in found])
    alone = energy(scene.speech_db) * (parts[:, :, 0] + parts[:, :, 1] / opened[..., None])
    return alone, np.array([[p.distance for p in line] for line in found])


def _mixed(
    scene: Scene, alone: Array, coupled: Sequence[Coupled], serving: outbound.Index
) -> Array:
    """The same in the mix, re working level, shape (T, M, 7)."""
    at_work = alone / energy(np.array([one.working_dba for one in coupled]))[:, None]
    if scene.sharing == "gain-sharing":
        share = mixing.shared_gains(a_weighted_level_db(energy_level_db(at_work)))
    else:
        share = np.full(at_work.shape[:2], float(energy(mixing.CLOSED_CHANNEL_DB)))
        share[np.arange(len(share)), serving] = 1.0
    return np.asarray(at_work * share[..., None])
