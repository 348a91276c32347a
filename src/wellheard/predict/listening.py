"""What ears hear of several loudspeakers together, in arrays.

Shapes: L loudspeakers, E ears, 7 octaves, 14 modulation frequencies. Energies of loudspeakers add:
a room mixes their phases within every octave.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from wellheard.acoustics import levels, speech
from wellheard.acoustics.indices import indices
from wellheard.acoustics.modulation import MODULATION_FREQUENCIES, noise_and_hearing_factor
from wellheard.arrays import Array
from wellheard.predict import noise, outbound
from wellheard.predict.delays import LOUDSPEAKER, inbound_parts
from wellheard.predict.loudspeakers import Played
from wellheard.predict.outbound import LEAST_ENERGY, LEVEL_DECIMALS, STI_DECIMALS, Index
from wellheard.predict.scene import Scene
from wellheard.predict.wayback import PlacedLoudspeaker

EARLY = 0.050
"""What comes within this of the first direct sound helps speech [s]."""

ONSET_DB = 20.0
"""A direct sound that is weaker than the loudest by more than this begins nothing: the start of a
response after ISO 3382-1."""


@dataclass(frozen=True, eq=False)
class Together:
    """L loudspeakers with their trims and delays at E ears, re the free field 1 m before one.

    Attributes
    ----------
    distance, time : ndarray, shape (L, E)
        [m]; direct sound since it came from the far end: devices, delay stages and air. [s]
    direct, early, late : ndarray, shape (L, E, 7)
        As of `wellheard.predict.loudspeakers.Played`, each re its own direct sound.
    first : ndarray of int, shape (E,)
        Loudspeaker that is heard first.
    modulation : ndarray of complex, shape (E, 14, 7)
        Transform of all of it over the time since the first direct sound.
    """

    distance: Array
    time: Array
    direct: Array
    early: Array
    late: Array
    first: Index
    modulation: npt.NDArray[np.complex128]

    @property
    def share(self) -> Array:
        """Direct and reflected sound of every loudspeaker, shape (L, E, 7)."""
        return self.direct + self.early + self.late

    @property
    def total(self) -> Array:
        """All of it, shape (E, 7)."""
        return np.asarray(self.share.sum(axis=0))

    @property
    def all_direct(self) -> Array:
        """Direct sound of all loudspeakers, shape (E, 7)."""
        return np.asarray(self.direct.sum(axis=0))

    @property
    def lag(self) -> Array:
        """Time of every direct sound re the first, shape (L, E) [s]."""
        return np.asarray(self.time - self.time[self.first, np.arange(len(self.first))])


def far_end_speech_db(level_dba: float = 0.0) -> Array:
    """Octave levels of far-end speech at an A-weighted level, shape (7,) [dB]."""
    return levels.scaled_to_a_weighted_level_db(
        speech.speech_levels_db("normal"), level_dba=level_dba
    )


def together(
    scene: Scene,
    loudspeakers: Sequence[PlacedLoudspeaker],
    heard: Played,
    *,
    delay: Array | None = None,
) -> Together:
    """Loudspeakers with their trims, delays and the time that the air takes.

    Parameters
    ----------
    scene : Scene
        The room.
    loudspeakers : sequence of PlacedLoudspeaker
        L of them.
    heard : Played
        Of these at E ears.
    delay : ndarray, shape (L,), optional
        Without air; by default of `electronics`. [s]

    Notes
    -----
    The modulation of the sum is Σ gᵢ·(Dᵢ + μᵢ)·e^(−j2πF·τᵢ), with gᵢ the trim, Dᵢ the direct sound,
    μᵢ the transform of the reflections and τᵢ the time of the direct sound re the first one.
    """
    gain = levels.energy([one.trim_db for one in loudspeakers])[:, None, None]
    before = electronics(scene, loudspeakers) if delay is None else delay
    time = before[:, None] + heard.distance / scene.propagation.speed
    direct = gain * heard.direct
    first = _first(time, direct)
    lag = time - time[first, np.arange(len(first))]
    turn = np.exp(-2j * np.pi * lag[..., None] * np.array(MODULATION_FREQUENCIES))
    each = direct[:, :, None, :] + gain[..., None] * heard.modulation
    return Together(
        distance=heard.distance,
        time=time,
        direct=direct,
        early=gain * heard.early,
        late=gain * heard.late,
        first=first,
        modulation=np.einsum("lefb,lef->efb", each, turn),
    )


def electronics(scene: Scene, loudspeakers: Sequence[PlacedLoudspeaker]) -> Array:
    """Delay of the far end's way to each loudspeaker, as of `inbound_parts`, shape (L,) [s].

    One that no signal leads to yet, as while it is being placed, is taken to pass what others
    pass at least. A device whose sheet states no delay adds none.
    """
    signal = scene.signal
    wired = {one.loudspeaker for one in signal.playing() if one.far_end is not None}
    each = [inbound_parts(signal, one) for one in loudspeakers]
    own = [sum(part.ms for part in parts if part.name == LOUDSPEAKER) for parts in each]
    whole = [sum(part.ms for part in parts) for parts in each]
    known = [one.device in wired for one in loudspeakers]
    before = [ms - its for ms, its, way in zip(whole, own, known, strict=True) if way]
    least = min(before, default=0.0)
    found = [ms if way else least + ms for ms, way in zip(whole, known, strict=True)]
    return np.array(found) / 1000.0


def _first(time: Array, direct: Array) -> Index:
    """Which loudspeaker begins the response at every ear, shape (E,)."""
    loud = direct_dba(direct)
    begins = loud >= loud.max(axis=0) - ONSET_DB
    return np.argmin(np.where(begins, time, np.inf), axis=0)


def direct_dba(energy: Array, speech_db: Array | None = None) -> Array:
    """A-weighted level of far-end speech that arrives with some energy, collapses the bands [dBA].

    Parameters
    ----------
    energy : ndarray, shape (..., 7)
        Re the free field 1 m before a loudspeaker.
    speech_db : ndarray, shape (7,), optional
        There; by default 0 dBA. [dB]
    """
    shape_db = far_end_speech_db() if speech_db is None else speech_db
    heard = shape_db + 10.0 * np.log10(np.maximum(energy, LEAST_ENERGY**2))
    return levels.a_weighted_level_db(heard)


def level_for_mean(heard: Together, mean_dba: float) -> float:
    """A-weighted level 1 m before a loudspeaker without trim that gives the ears a mean [dBA].

    The mean is of energies: the level of the mean of 10^(L/10) over the ears.
    """
    return mean_dba - levels.mean_level_db(direct_dba(heard.total))


def noise_db(scene: Scene, at: Array) -> Array:
    """Octave levels of background and located sources at omnidirectional ears, shape (E, 7)."""
    energy = np.broadcast_to(levels.energy(scene.background_db), (len(at), 7)).copy()
    for source in scene.sources:
        distance = np.linalg.norm(at - np.asarray(source.at), axis=1)
        gain = noise.source_gain(
            np.maximum(distance, noise.NEAREST),
            scene.reverberation,
            directivity_index_db=source.directivity_index_db,
        )
        energy += levels.energy(source.speech_octaves_db()) * gain
    return levels.energy_level_db(energy)


def clarity_db(heard: Together) -> Array:
    """C50 per octave re the first direct sound, shape (E, 7) [dB].

    Notes
    -----
    Where 50 ms after the first direct sound cut the reflections of another loudspeaker is told by
    the exponential decay that its own early and late energies define: they fall off as
    1/τ = ln(1 + early/late)/50 ms. Of the first loudspeaker they are cut where they are split.
    """
    late = np.maximum(heard.late, LEAST_ENERGY)
    reflected = heard.early + late
    rate = np.log1p(heard.early / late) / EARLY
    left = np.maximum(EARLY - heard.lag, 0.0)[..., None]
    in_time = heard.direct * (heard.lag < EARLY)[..., None]
    early = (in_time + reflected * -np.expm1(-rate * left)).sum(axis=0)
    return levels.energy_level_db(early / np.maximum(heard.total - early, LEAST_ENERGY))


@dataclass(frozen=True, eq=False)
class Heard:
    """The quantities of E ears in the middle of their ranges.

    Attributes
    ----------
    speech_db, noise_db : ndarray, shape (E, 7)
        At the ear. [dB]
    level_dba, sti, direct_to_reverberant_db, speech_to_noise_db : ndarray, shape (E,)
        Ratios as means of 500 Hz–4 kHz and weighted by importance for speech. [dB]
    modulation_transfer_index : ndarray, shape (E, 7)
    """

    speech_db: Array
    noise_db: Array
    level_dba: Array
    sti: Array
    modulation_transfer_index: Array
    direct_to_reverberant_db: Array
    speech_to_noise_db: Array


def middle(heard: Together, *, speech_1m_db: Array, noise_db: Array) -> Heard:
    """Level, STI with hearing threshold and masking, and ratios.

    Parameters
    ----------
    heard : Together
        At E ears.
    speech_1m_db : ndarray, shape (7,)
        Far-end speech 1 m before a loudspeaker without trim. [dB]
    noise_db : ndarray, shape (E, 7)
        At the ears. [dB]
    """
    total = heard.total
    speech_db = speech_1m_db + levels.energy_level_db(total)
    ears = np.arange(len(heard.first))
    begins = heard.direct[heard.first, ears]
    mti, sti = indices(
        begins,
        total - begins,
        heard.modulation - begins[:, None, :],
        factor=noise_and_hearing_factor(speech_db, noise_db=noise_db),
    )
    ratio_db = levels.energy_level_db(ratio(heard))
    return Heard(
        speech_db=speech_db,
        noise_db=noise_db,
        level_dba=np.round(levels.a_weighted_level_db(speech_db), LEVEL_DECIMALS),
        sti=np.round(sti, STI_DECIMALS),
        modulation_transfer_index=mti,
        direct_to_reverberant_db=outbound.speech_band_mean(ratio_db),
        speech_to_noise_db=outbound.importance_mean(speech_db - noise_db),
    )


def ratio(heard: Together) -> Array:
    """Direct over reflected energy of all loudspeakers, shape (E, 7)."""
    direct = heard.all_direct
    return np.asarray(direct / np.maximum(heard.total - direct, LEAST_ENERGY))
