"""How much a lift can bring and how much is needed, by the rule of four distances.

::

                 Ds                                  D1
    talker ●────────► microphone ◄───────────── loudspeaker
           │                                          │
           └───────────────► listener ◄───────────────┘
                 D0                        D2
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from wellheard.acoustics import acoustic_gain
from wellheard.acoustics.levels import a_weighted_level_db, energy, energy_level_db
from wellheard.arrays import Array
from wellheard.predict.coupling import Coupled
from wellheard.predict.evidence import PlacedMicrophone
from wellheard.predict.lift_feeds import Feeds
from wellheard.predict.lift_heard import Heard
from wellheard.predict.lift_loop import Loop
from wellheard.predict.outbound import NEAREST
from wellheard.predict.scene import Scene
from wellheard.predict.wayback import FarthestPair, Playback

QUIET, NOISY = "acoustic-distance-quiet", "acoustic-distance-noisy"
"""House limits: equivalent acoustic distance where it is quiet, and where it is noisy."""

QUIET_DBA, NOISY_DBA = 30.0, 50.0
"""Noise that is called quiet, and noisy (common practice, no source [C]). [dB(A)]"""


def equivalent_distance(scene: Scene) -> float:
    """Distance at which a talker is heard well in the noise of the seats [m].

    Between quiet and noisy it falls evenly with the level.
    """
    ends = [scene.room.targets.limit_in_force(code) for code in (QUIET, NOISY)]
    found = float(np.interp(scene.noise.dba, [QUIET_DBA, NOISY_DBA], ends))
    return max(found, NEAREST)


@dataclass(frozen=True)
class Reach:
    """Everything that the farthest pair is worked out from."""

    heard: Heard
    sent: Feeds
    loop: Loop
    coupled: Sequence[Coupled]
    microphones: Sequence[PlacedMicrophone]
    playback: Playback
    own: tuple[bool, ...]
    """Whether each talker is one that the microphone is meant for."""
    open_microphones: float
    margin_db: float


def farthest_pair(scene: Scene, given: Reach) -> FarthestPair:
    """The talker and listener that are farthest apart, of talkers whose own microphone is sent.

    Parameters
    ----------
    scene : Scene
        The room.
    given : Reach
        Voices, loop and loudspeakers.

    Notes
    -----
    Distances are those to the nearest loudspeaker that plays the talker; level changes are of
    all such loudspeakers together, of A-weighted speech, in the room as it is and with whatever
    directs sound.
    """
    heard, playback = given.heard, given.playback
    speaker, ear, mic = _who(given)
    loud = np.flatnonzero(given.sent.sent[:, mic])
    places = [playback.loudspeakers[i] for i in loud]
    to_ear = heard.to_ear[loud, ear]
    d0, ds = float(heard.distance[speaker, ear]), float(heard.to_microphone[speaker, mic])
    d1 = min(math.dist(one.at, given.microphones[mic].at) for one in places)
    d2 = float(to_ear.min())
    speech, aloud = energy(scene.speech_db), energy(playback.level_1m_dba)
    at_work = energy(given.coupled[mic].working_dba)
    wanted = equivalent_distance(scene)
    natural = heard.natural[speaker, ear] / speech
    near = np.exp(-scene.propagation.air * wanted) / wanted**2
    needed = near + heard.reflected[speaker, ear] / speech
    return FarthestPair(
        speaker=heard.talkers[speaker].id,
        listener=heard.talkers[ear].id,
        microphone=given.microphones[mic].id,
        loudspeaker=places[int(np.argmin(to_ear.round(6)))].id,
        talker_to_listener=d0,
        talker_to_microphone=ds,
        loudspeaker_to_listener=d2,
        loudspeaker_to_microphone=d1,
        talker_to_listener_db=_change_db(scene, natural),
        talker_to_microphone_db=_change_db(scene, heard.alone[speaker, mic] / speech),
        loudspeaker_to_listener_db=_change_db(scene, heard.way[loud, ear].sum(axis=0) / aloud),
        loudspeaker_to_microphone_db=_change_db(
            scene, given.loop.room[mic, loud].sum(axis=0) * at_work / aloud
        ),
        needed_db=_change_db(scene, needed) - _change_db(scene, natural),
        direct_potential_db=float(
            acoustic_gain.potential_gain_db(
                talker_to_listener=d0,
                talker_to_microphone=ds,
                loudspeaker_to_listener=d2,
                loudspeaker_to_microphone=d1,
                open_microphones=given.open_microphones,
                margin_db=given.margin_db,
            )
        ),
        direct_needed_db=float(acoustic_gain.needed_gain_db(d0, equivalent_distance=wanted)),
    )


def potential_db(pair: FarthestPair, *, open_microphones: float, margin_db: float) -> float:
    """Potential acoustic gain of a pair with the level changes of its room [dB].

    Parameters
    ----------
    pair : FarthestPair
        With its four ways.
    open_microphones : float
        Equivalent number of them.
    margin_db : float
        Feedback stability margin. [dB]
    """
    return float(
        acoustic_gain.potential_gain_of_changes_db(
            talker_to_listener_db=pair.talker_to_listener_db,
            talker_to_microphone_db=pair.talker_to_microphone_db,
            loudspeaker_to_listener_db=pair.loudspeaker_to_listener_db,
            loudspeaker_to_microphone_db=pair.loudspeaker_to_microphone_db,
            open_microphones=open_microphones,
            margin_db=margin_db,
        )
    )


def _who(given: Reach) -> tuple[int, int, int]:
    """Talker, listener and the talker's microphone; the nearest that is sent, if it is not."""
    heard = given.heard
    fed = np.asarray(given.sent.sent.any(axis=0))
    away = np.where(np.isfinite(heard.distance), heard.distance, -np.inf).round(6)
    served = fed[heard.serving]
    among = next(
        np.where(who[:, None], away, -np.inf)
        for who in (served & np.array(given.own), served, np.ones_like(served))
        if np.isfinite(away[who]).any()
    )
    speaker, ear = (int(i) for i in np.unravel_index(int(np.argmax(among)), away.shape))
    mic = int(heard.serving[speaker])
    if not fed[mic]:
        mic = int(np.argmin(np.where(fed, heard.to_microphone[speaker], np.inf)))
    return speaker, ear, mic


def _change_db(scene: Scene, ratio: Array) -> float:
    """A-weighted level of speech after a way, re that at 1 m [dB]."""
    after = a_weighted_level_db(scene.speech_db + energy_level_db(ratio))
    return float(after - a_weighted_level_db(scene.speech_db))
