"""How loudly each microphone hears each loudspeaker, re what it hears of its talkers.

::

    reference ──► loudspeaker ~~~~ direct, early, late ~~~~► element or beam ──► microphone's signal
    −20 dBFS          level of playback                       gain to −20 dBFS        −20 dBFS + G
                                                              for its mean talker
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from wellheard.acoustics.levels import a_weighted_level_db, energy, energy_level_db
from wellheard.arrays import Array
from wellheard.catalog.products import Microphone
from wellheard.predict import noise, outbound
from wellheard.predict.evidence import Outbound, PlacedMicrophone
from wellheard.predict.loudspeakers import capsules, played, radiated
from wellheard.predict.pickup import pickup
from wellheard.predict.scene import Scene
from wellheard.predict.wayback import PlacedLoudspeaker, Playback
from wellheard.predict.working_level import heard, input_gain

SAME_BEAM = 6
"""Decimals of a beam's axis that tell two beams apart."""


@dataclass(frozen=True, eq=False)
class Coupled:
    """One microphone: what of each loudspeaker its elements or beams in use hear.

    Attributes
    ----------
    microphone : str
        Of the document.
    talkers : tuple of str
        The n talking points whose element or beam is in use: those that it serves, or all where it
        serves nobody.
    serves : bool
        Whether it serves anybody.
    gains_db : ndarray, shape (n, L, 7)
        Level in its signal re that in the reference, both at working level. [dB]
    echo_db : ndarray, shape (n, L, 7)
        Far-end speech at the capsule at playback level. [dB re 20 µPa]
    direct_ratio : ndarray, shape (n, L, 7)
        Direct over reflected energy of each loudspeaker there.
    arrival : ndarray, shape (n, L)
        Distance that its direct sound travels. [m]
    working_dba : float
        Level at the capsule that lies at working level.
    speech_dba : ndarray, shape (n,)
        Of each of the talkers at the capsule, one microphone open. [dB(A)]
    """

    microphone: str
    talkers: tuple[str, ...]
    serves: bool
    gains_db: Array
    echo_db: Array
    direct_ratio: Array
    arrival: Array
    working_dba: float
    speech_dba: Array

    @property
    def gain_bands_db(self) -> Array:
        """Of all loudspeakers together, shape (n, 7). [dB]"""
        return energy_level_db(energy(self.gains_db).sum(axis=1))

    @property
    def ratio(self) -> Array:
        """Direct over reflected energy of all loudspeakers together, shape (n, 7)."""
        whole = energy(self.echo_db)
        direct = (whole * self.direct_ratio / (1.0 + self.direct_ratio)).sum(axis=1)
        return np.asarray(direct / np.maximum(whole.sum(axis=1) - direct, outbound.LEAST_ENERGY))


@dataclass(frozen=True, eq=False)
class Coupling:
    """Of every microphone, in the order that they were given; of none where nobody talks."""

    loudspeakers: tuple[PlacedLoudspeaker, ...]
    microphones: tuple[Coupled, ...]

    def of(self, microphone: str) -> Coupled:
        """Of one microphone; KeyError where there is none."""
        for one in self.microphones:
            if one.microphone == microphone:
                return one
        raise KeyError(microphone)


def coupling(
    scene: Scene,
    microphones: Sequence[PlacedMicrophone],
    rows: Sequence[Outbound],
    playback: Playback,
) -> Coupling:
    """Return gain of every loudspeaker in every microphone.

    Parameters
    ----------
    scene : Scene
        The room.
    microphones : sequence of PlacedMicrophone
        M of them.
    rows : sequence of Outbound
        The ledger: who is served by what.
    playback : Playback
        The loudspeakers as they are set.

    Returns
    -------
    Coupling

    Notes
    -----
    A microphone's gain is set so that the mean of the A-weighted levels of the talkers that it
    serves, before it is mixed, lies at working level, where the reference lies too while the
    loudspeakers play at playback level. So ``G = L − S − W`` in each octave, with L of far-end
    speech at the capsule, S the octaves of that speech at 0 dB(A), and W the level at the capsule
    that lies at working level. Gains that the document states for the microphone shift W.

    What shares the housing of a combined device is coupled as its sheet rates it, and hears of the
    room's reverberation what stands anywhere in it.
    """
    return Coupling(
        loudspeakers=playback.loudspeakers,
        microphones=tuple(
            _coupled(scene, one, rows, playback) for one in microphones if scene.talkers
        ),
    )


def _coupled(
    scene: Scene,
    microphone: PlacedMicrophone,
    rows: Sequence[Outbound],
    playback: Playback,
) -> Coupled:
    talking = heard(scene, microphone, rows)
    mean_dba = talking.mean_dba
    working = mean_dba - input_gain(scene.signal, microphone, mean_dba).shift_db
    direct, reflected, arrival = _energies(
        scene, microphone, np.array(talking.at), playback.loudspeakers
    )
    trim_db = np.array([one.trim_db for one in playback.loudspeakers])
    speech_db = np.asarray(playback.speech_1m_db)
    echo_db = speech_db + trim_db[:, None] + energy_level_db(direct + reflected)
    return Coupled(
        microphone=microphone.id,
        talkers=talking.talkers,
        serves=talking.serves,
        gains_db=echo_db - speech_db + a_weighted_level_db(speech_db) - working,
        echo_db=echo_db,
        direct_ratio=direct / reflected,
        arrival=arrival,
        working_dba=working,
        speech_dba=talking.speech_dba,
    )


def _energies(
    scene: Scene,
    microphone: PlacedMicrophone,
    points: Array,
    loudspeakers: Sequence[PlacedLoudspeaker],
) -> tuple[Array, Array, Array]:
    """Direct and reflected energy, shape (n, L, 7), and the way of the direct sound (n, L) [m]."""
    taken = pickup(microphone.product)
    towards = points - np.asarray(microphone.at)
    towards = towards / np.maximum(np.linalg.norm(towards, axis=1), outbound.NEAREST)[:, None]
    chosen = taken.choose(np.array([microphone.aim_deg]), towards[:, None])
    alike = np.column_stack(
        [chosen.pattern.ravel(), np.round(chosen.axis.reshape(-1, 3), SAME_BEAM)]
    )
    _, first, back = np.unique(alike, axis=0, return_index=True, return_inverse=True)
    few = type(chosen)(*(each[first] for each in vars(chosen).values()))
    listening = capsules(taken, np.broadcast_to(microphone.at, (len(first), 3)), few)
    sound = played(scene, loudspeakers, listening)
    direct, reflected = sound.direct.copy(), sound.early + sound.late
    for index, one in enumerate(loudspeakers):
        if one.device == microphone.id:
            direct[index], reflected[index] = _own(scene, one, taken.diffuse[few.pattern[:, 0]])
    reflected = np.maximum(reflected, outbound.LEAST_ENERGY)
    order = back.ravel()
    return (
        np.swapaxes(direct, 0, 1)[order],
        np.swapaxes(reflected, 0, 1)[order],
        np.swapaxes(sound.distance, 0, 1)[order],
    )


def _own(scene: Scene, own: PlacedLoudspeaker, efficiency: Array) -> tuple[Array, Array]:
    """A combined device's own loudspeaker at its own microphone, by its rated coupling.

    To the room's reverberation goes what the first reflection leaves, as in the room constant.
    """
    assert isinstance(own.product, Microphone)
    assert own.product.built_in is not None
    rated = energy(np.full(efficiency.shape, own.product.built_in.coupling_db))
    _, diffuse = radiated(own.product, own.flush)
    around = noise.diffuse_gain(np.array([outbound.NEAREST]), scene.reverberation)
    left = 1.0 - np.asarray(scene.reverberation.mean_absorption)
    return rated, around * left * diffuse * efficiency
