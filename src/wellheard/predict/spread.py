"""How sure the promised quantities are: their spread, what it is made of, and what it leaves.

The middle values come from the field itself, see :mod:`wellheard.predict.outbound`. How they
move with what is not known is taken from the closed form of a direct sound and an exponential
decay of the same energies, so that a solver can ask for it a million times.
"""

from __future__ import annotations

from dataclasses import dataclass, fields, replace

import numpy as np

from wellheard.acoustics import decay, intelligibility, levels
from wellheard.arrays import Array
from wellheard.predict import outbound, tolerances
from wellheard.predict.outbound import FarEnd, Middle, Transfer, speech_band_mean
from wellheard.predict.scene import Scene


@dataclass(frozen=True)
class Part:
    """What one cause adds to the spread, one standard deviation, shape (R, M) each."""

    sti: Array
    direct_to_reverberant_db: Array
    speech_to_noise_db: Array
    c50_db: Array
    speech_level_db: Array


@dataclass(frozen=True)
class Quantities:
    """The promised quantities of every row at every microphone and their spread, shape (R, M)."""

    sti: Array
    direct_to_reverberant_db: Array
    speech_to_noise_db: Array
    c50_db: Array
    speech_level_dba: Array
    modulation_transfer_index: Array
    """Shape (R, M, 7)."""
    sti_sigma: Array
    direct_to_reverberant_sigma_db: Array
    speech_to_noise_sigma_db: Array
    c50_sigma_db: Array
    speech_level_sigma_db: Array


def quantities(scene: Scene, paths: Transfer, *, microphones: int) -> Quantities:
    """STI, direct-to-reverberant ratio, speech-to-noise ratio, C50 and level with their spread.

    Notes
    -----
    The spread combines, as independent: decay time (all octaves together), the talker's turn
    and place, vocal effort and noise, and the model's own error, systematic and from place to
    place; each by a one-sided difference of one standard deviation, see
    :mod:`wellheard.predict.tolerances`.
    """
    heard = outbound.far_end(scene, paths, microphones=microphones)
    return spread(scene, paths, heard, outbound.middle(paths, heard))


def spread(scene: Scene, paths: Transfer, heard: FarEnd, found: Middle) -> Quantities:
    """Spread of middle values that are worked out already; see `quantities`."""
    decays = scene.reverberation
    moves = _Moves(scene, paths, heard)
    parts = (
        moves.by_decay(np.asarray(decays.log_sigma), np.asarray(decays.level_log_sigma)),
        moves.by_talker(),
        moves.by_effort_and_noise(tolerances.EFFORT_SIGMA_DB, scene.noise_sigma_db()),
        moves.by_model(),
    )
    return Quantities(
        sti=found.sti,
        direct_to_reverberant_db=found.direct_to_reverberant_db,
        speech_to_noise_db=found.speech_to_noise_db,
        c50_db=found.c50_db,
        speech_level_dba=found.speech_level_dba,
        modulation_transfer_index=found.modulation_transfer_index,
        sti_sigma=_together([p.sti for p in parts]),
        direct_to_reverberant_sigma_db=_together([p.direct_to_reverberant_db for p in parts]),
        speech_to_noise_sigma_db=_together([p.speech_to_noise_db for p in parts]),
        c50_sigma_db=_together([p.c50_db for p in parts]),
        speech_level_sigma_db=_together([p.speech_level_db for p in parts]),
    )


def budget(scene: Scene, paths: Transfer, *, microphones: int) -> dict[str, Part]:
    """Every cause of the spread by name: the working of the σ of :func:`quantities`.

    Notes
    -----
    The squares of all causes add up to those of the whole. Causes that act through the same
    thing, as absorption and scattering do through the decay, are moved together there; each has
    of that move the share that its own square has.
    """
    moves = _Moves(scene, paths, outbound.far_end(scene, paths, microphones=microphones))
    stated = np.asarray(tolerances.decay_log_sigma(scene.room))
    sound = scene.propagation
    measured = scene.reverberation.measured
    if measured and sound.measured is None:  # as it would be if it were
        sound = sound.reproducing(scene.time)
    scattered = sound.of_scattering
    louder = tolerances.level_log_sigma(scene.room, scattered.log_energy_sigma)
    effort_db, noise_db = tolerances.EFFORT_SIGMA_DB, scene.noise_sigma_db()
    found = _shared(
        moves.by_decay(
            np.hypot(stated, scattered.log_time_sigma),
            np.hypot(stated, louder),
        ),
        {
            "measured decay" if measured else "absorption of the finishes": moves.by_decay(
                stated, stated
            ),
            "scattering of the surfaces": moves.by_decay(scattered.log_time_sigma, louder),
        },
    )
    found["turn and place of the talker"] = moves.by_talker()
    found |= _shared(
        moves.by_effort_and_noise(effort_db, noise_db),
        {
            "vocal effort": moves.by_effort_and_noise(effort_db, 0.0),
            "noise": moves.by_effort_and_noise(0.0, noise_db),
        },
    )
    found["the model itself"] = moves.by_model()
    return found


def _shared(together: Part, alone: dict[str, Part]) -> dict[str, Part]:
    """A common move divided among its causes by the squares of what each does alone."""
    shares: dict[str, dict[str, Array]] = {cause: {} for cause in alone}
    for field in fields(Part):
        whole = np.asarray(getattr(together, field.name))
        each = {cause: np.asarray(getattr(part, field.name)) for cause, part in alone.items()}
        sum_ = _together(list(each.values()))
        for cause, value in each.items():
            part = np.divide(value, sum_, out=np.zeros_like(sum_), where=sum_ > 0)
            shares[cause][field.name] = whole * part
    return {cause: Part(**values) for cause, values in shares.items()}


def _together(sigmas: list[Array]) -> Array:
    return np.asarray(np.sqrt(np.sum(np.square(np.stack(sigmas)), axis=0)))


MODEL_STI = float(np.hypot(tolerances.MODEL_STI_SIGMA, tolerances.RANDOM_STI_SIGMA))
"""The model's own part of the spread of STI: no σ of STI is below it."""


def model_clarity_db(scene: Scene) -> float:
    """The model's own part of the spread of clarity and of the direct-to-reverberant ratio [dB]."""
    by_chance = tolerances.random_clarity_sigma_db(scene.time)
    return float(np.hypot(tolerances.MODEL_CLARITY_SIGMA_DB, by_chance))


def direct_share(heard: FarEnd) -> Array:
    """Share of the direct sound in all that is heard, mean of 500 Hz–4 kHz, shape (R, M)."""
    return speech_band_mean(heard.ratio / (1 + heard.ratio))


def louder_db(paths: Transfer, louder: Array) -> Array:
    """How much louder reflections are for a decay with e^``louder`` times the energy [dB]."""
    return speech_band_mean(10 * np.log10(_more(paths, louder)))


def _more(paths: Transfer, louder: Array) -> Array:
    return np.asarray(np.exp(paths.time_slope * louder))


def turned_db(scene: Scene, paths: Transfer) -> Array:
    """How much weaker the direct sound is of a talker who turns or sits elsewhere [dB]."""
    elsewhere_db = 20 * np.log10(1 + scene.position_sigma() / paths.distance)
    return np.asarray(np.hypot(tolerances.TALKER_TURN_SIGMA_DB, elsewhere_db))


def ratio_sigmas_db(scene: Scene, paths: Transfer, heard: FarEnd) -> tuple[Array, Array]:
    """σ of the direct-to-reverberant and of the speech-to-noise ratio, shape (R, M) each.

    The same as of :func:`quantities`, without what the STI takes to work out.
    """
    decay_db = louder_db(paths, np.asarray(scene.reverberation.level_log_sigma))
    turn_db, share = turned_db(scene, paths), direct_share(heard)
    noise_db = np.full_like(share, np.hypot(tolerances.EFFORT_SIGMA_DB, scene.noise_sigma_db()))
    model_db = np.full_like(share, model_clarity_db(scene))
    return (
        _together([decay_db, turn_db, model_db]),
        _together([decay_db * (1 - share), turn_db * share, noise_db]),
    )


class _Moves:
    """How the quantities of some paths move with one cause at a time."""

    def __init__(self, scene: Scene, paths: Transfer, heard: FarEnd) -> None:
        self._scene, self._paths, self._heard = scene, paths, heard
        self._share = direct_share(heard)
        self._sti_now = self._sti(heard.ratio, scene.time, heard.noise_db)
        self._c50_now = _c50(heard.ratio, scene.time)
        self._none = np.zeros(heard.gain_db.shape)

    def by_decay(self, longer: Array, louder: Array) -> Part:
        """A decay longer by e^``longer`` with e^``louder`` times the energy."""
        time = self._scene.time * np.exp(longer)
        db = louder_db(self._paths, louder)
        part = self._with_ratio(self._heard.ratio / _more(self._paths, louder), time)
        return replace(
            part,
            direct_to_reverberant_db=db,
            speech_to_noise_db=db * (1 - self._share),
            speech_level_db=db * (1 - self._share),
        )

    def by_talker(self) -> Part:
        """The direct sound weaker because the talker turns or sits elsewhere."""
        turn_db = turned_db(self._scene, self._paths)
        turned = self._heard.ratio * levels.energy(-turn_db)[..., None]
        part = self._with_ratio(turned, self._scene.time)
        return replace(
            part,
            direct_to_reverberant_db=turn_db,
            speech_to_noise_db=turn_db * self._share,
            speech_level_db=turn_db * self._share,
        )

    def by_effort_and_noise(self, effort_db: float, noise_db: float) -> Part:
        """Speech softer and noise louder; the far end's own room grows no louder with it."""
        louder_db = float(np.hypot(effort_db, noise_db))
        heard = self._heard
        sent_db = heard.noise_capsule_db + heard.gain_db[..., None]
        noisy = outbound.with_far_room(self._scene, sent_db + louder_db)
        sti = self._sti(heard.ratio, self._scene.time, noisy)
        return Part(
            sti=np.abs(sti - self._sti_now),
            direct_to_reverberant_db=self._none,
            speech_to_noise_db=self._none + louder_db,
            c50_db=self._none,
            speech_level_db=self._none + effort_db,
        )

    def by_model(self) -> Part:
        """The model's own error: systematic, and by chance interference from place to place."""
        clarity, sti = model_clarity_db(self._scene), MODEL_STI
        return Part(
            sti=self._none + sti,
            direct_to_reverberant_db=self._none + clarity,
            speech_to_noise_db=self._none,
            c50_db=self._none + clarity,
            speech_level_db=self._none,
        )

    def _with_ratio(self, ratio: Array, time: Array) -> Part:
        sti = self._sti(ratio, time, self._heard.noise_db)
        return Part(
            sti=np.abs(sti - self._sti_now),
            direct_to_reverberant_db=self._none,
            speech_to_noise_db=self._none,
            c50_db=np.abs(_c50(ratio, time) - self._c50_now),
            speech_level_db=self._none,
        )

    def _sti(self, ratio: Array, time: Array, noise_db: Array) -> Array:
        return intelligibility.speech_transmission_index_of_path(
            ratio,
            reverberation_time=time,
            speech_db=self._heard.speech_db,
            noise_db=noise_db,
        )


def _c50(ratio: Array, time: Array) -> Array:
    return speech_band_mean(decay.clarity_direct_plus_exponential(ratio, reverberation_time=time))


def margins(scene: Scene, found: Quantities) -> dict[str, Array]:
    """Clearance of each promised target, in its own standard deviations beyond the wanted chance.

    Zero means that the target holds at just the wanted chance. Only targets that are part of the
    promise appear; each array has shape (R, M).
    """
    targets = scene.room.targets
    wanted = 0.0 if targets.chance is None else tolerances.deviations_for(targets.chance)
    values = {
        "sti_outbound": (found.sti, found.sti_sigma),
        "direct_to_reverberant_db": (
            found.direct_to_reverberant_db,
            found.direct_to_reverberant_sigma_db,
        ),
        "speech_to_noise_db": (found.speech_to_noise_db, found.speech_to_noise_sigma_db),
    }
    return {
        name: (value - getattr(targets, name)) / sigma - wanted
        for name, (value, sigma) in values.items()
        if getattr(targets, name) is not None
    }
