"""From mouths to microphones: transfer, the promised quantities and their spread, in arrays.

Shapes: R rows (a talker looking one way), M microphones, 7 octaves.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from wellheard.acoustics import directivity, field, intelligibility, levels
from wellheard.acoustics.speech import sii_octave_importance
from wellheard.arrays import Array
from wellheard.bands import SPEECH_BANDS
from wellheard.catalog.products import Microphone
from wellheard.predict import noise, tolerances
from wellheard.predict.scene import Scene

CLOSED_CHANNEL_DB = -15.0
"""What an automatic mixer does to a channel that nobody talks into: 12 to 20 dB down in gating
mixers, the middle taken (common practice)."""

BEYOND_STEERING_DB = -12.0
"""Response of a steered beam to a talker beyond its steering limit (common practice)."""

SELF_NOISE_SHAPE_DB = -7.0
"""Octave level of capsule self-noise re its dBA: the same in every octave, so that the A-weighted
sum over 125 Hz–8 kHz is 0 dB (common practice)."""

NEAREST = 0.05
"""A microphone is never taken to be nearer to a mouth than this [m]."""


@dataclass(frozen=True)
class Transfer:
    """Energies of every row at every microphone, re the free field 1 m in front of the lips.

    Attributes
    ----------
    distance, off_axis : ndarray, shape (R, M)
        [m], [rad]
    element : ndarray of int, shape (R, M)
        Index of the element that is used.
    pattern : ndarray, shape (R, M, 7)
        Microphone energy response towards the talker re its axis.
    talker_db : ndarray, shape (R, M, 7)
        Talker's level towards the microphone re in front. [dB]
    direct, diffuse : ndarray, shape (R, M, 7)
    diffuse_time_slope : ndarray, shape (R, M, 7)
        d ln(diffuse) / d ln(T).
    noise : dict of str to ndarray, shape (R, M, 7)
        Energies re (20 µPa)² at the used element, by origin.
    """

    distance: Array
    off_axis: Array
    element: np.ndarray[tuple[int, ...], np.dtype[np.intp]]
    pattern: Array
    talker_db: Array
    direct: Array
    diffuse: Array
    diffuse_time_slope: Array
    noise: dict[str, Array]


def transfer(scene: Scene, product: Microphone, at: Array, aim_deg: Array) -> Transfer:
    """Transfer from every row to microphones of one product.

    Parameters
    ----------
    scene : Scene
        The room and its rows.
    product : Microphone
        The product of all of them.
    at : ndarray, shape (M, 3)
        Acoustic centres. [m]
    aim_deg : ndarray, shape (M,)
        Azimuths of their aim. [°]

    Notes
    -----
    Of several elements the one with the greatest ratio of direct to diffuse energy is used, mean
    of 500 Hz–4 kHz, the first of equals. Distances are held above 5 cm.
    """
    decay = scene.reverberation
    path = at[None, :, :] - scene.mouths[:, None, :]
    distance = np.maximum(np.linalg.norm(path, axis=-1), NEAREST)
    heading = path / distance[..., None]
    cosine = np.clip(np.einsum("rmk,rk->rm", heading, scene.facing), -1.0, 1.0)
    off_axis = np.arccos(cosine)
    if scene.room.people.directivity == "human":
        talker_db = directivity.talker_level_db(off_axis)
    else:
        talker_db = np.zeros((*off_axis.shape, 7))
    axes, ree = _axes(product, aim_deg)
    gains = _element_gains(product, axes, -heading)
    merit = np.mean(
        10 * np.log10(np.maximum(gains, 1e-12) / ree[None, None])[..., SPEECH_BANDS], axis=-1
    )
    # The first of equals, which rounding errors must not tell apart.
    element = np.argmax(np.round(merit, 6), axis=-1)
    pattern = np.take_along_axis(gains, element[..., None, None], axis=2)[:, :, 0]
    efficiency = ree[element]
    air = np.exp(-np.asarray(decay.air_power_attenuation) * distance[..., None])
    direct = levels.energy(talker_db) * pattern * air / np.square(distance)[..., None]
    diffuse = field.diffuse_energy(
        distance[..., None],
        reverberation_time=scene.level_time,
        volume=decay.volume,
        directivity_index_db=scene.source_directivity_index_db,
        random_energy_efficiency=efficiency,
        speed_of_sound=decay.speed_of_sound,
    )
    return Transfer(
        distance=distance,
        off_axis=off_axis,
        element=element,
        pattern=pattern,
        talker_db=talker_db,
        direct=np.maximum(direct, 1e-15),
        diffuse=diffuse,
        diffuse_time_slope=1 + field.BARRON_SLOPE * distance[..., None] / scene.level_time,
        noise=_noise(scene, product, at, axes, element, efficiency),
    )


def _axes(product: Microphone, aim_deg: Array) -> tuple[Array, Array]:
    """Element axes, shape (M, E, 3), and random energy efficiencies, shape (E, 7)."""
    unique, back = np.unique(aim_deg, return_inverse=True)
    axes = np.array([product.axes(float(a)) for a in unique])[back]
    return axes, np.array(product.random_energy_efficiencies())


def _element_gains(product: Microphone, axes: Array, towards: Array) -> Array:
    """Energy response of each element towards directions, shape (R, M, E, 7)."""
    cosine = np.clip(np.einsum("rmk,mek->rme", towards, axes), -1.0, 1.0)
    if product.beam is not None:
        limit = np.cos(np.radians(product.beam.steer_limit_deg))
        gain = np.where(cosine >= limit - 1e-12, 1.0, 10 ** (BEYOND_STEERING_DB / 10))
    else:
        gain = np.square(
            directivity.first_order_gain(cosine, a=np.asarray(product.patterns)[None, None, :])
        )
    return np.repeat(gain[..., None], 7, axis=-1)


def _noise(
    scene: Scene,
    product: Microphone,
    at: Array,
    axes: Array,
    element: np.ndarray[tuple[int, ...], np.dtype[np.intp]],
    efficiency: Array,
) -> dict[str, Array]:
    """Noise energies by origin at the element each row uses, shape (R, M, 7)."""
    parts = {"background": levels.energy(scene.background_db) * efficiency}
    columns = np.arange(at.shape[0])[None, :]
    for source in scene.sources:
        path = np.asarray(source.at) - at
        distance = np.maximum(np.linalg.norm(path, axis=-1), NEAREST)
        heading = path / distance[:, None]
        if product.beam is not None:
            # A beam points at the talker: a source meets its side lobes, whatever its place.
            pattern = np.broadcast_to(efficiency, (*element.shape, 7))
        else:
            gains = _element_gains(product, axes, heading[None])[0]
            pattern = gains[columns, element]
        direct = pattern / np.square(distance)[None, :, None]
        gain = noise.diffuse_gain(
            distance, scene.reverberation, directivity_index_db=source.directivity_index_db
        )
        diffuse = gain[None] * efficiency
        parts[source.id] = levels.energy(source.speech_octaves_db()) * (direct + diffuse)
    own = levels.energy(np.full(7, product.self_noise_dba + SELF_NOISE_SHAPE_DB))
    parts["self-noise"] = np.broadcast_to(own, (*element.shape, 7))
    return {k: np.broadcast_to(v, (*element.shape, 7)) for k, v in parts.items()}


def open_microphones(count: int) -> float:
    """Equivalent number of open microphones behind an automatic mixer with ``count`` channels.

    Examples
    --------
    >>> round(open_microphones(4), 4)
    1.0949
    """
    return 1.0 + max(0, count - 1) * float(10 ** (CLOSED_CHANNEL_DB / 10))


@dataclass(frozen=True)
class Quantities:
    """The promised quantities of every row at every microphone and their spread, shape (R, M)."""

    sti: Array
    direct_to_reverberant_db: Array
    speech_to_noise_db: Array
    sti_sigma: Array
    direct_to_reverberant_sigma_db: Array
    speech_to_noise_sigma_db: Array


@dataclass(frozen=True)
class FarEnd:
    """What arrives at the far end's ear: levels with the flat gain that sets them."""

    ratio: Array
    """Direct to reverberant energy, shape (R, M, 7)."""
    speech_capsule_db: Array
    noise_capsule_db: Array
    gain_db: Array
    """Shape (R, M)."""
    speech_db: Array
    noise_db: Array


def far_end(scene: Scene, paths: Transfer, *, open_count: float) -> FarEnd:
    """Levels at the capsule after the mixer, and at the far end's ear."""
    reverberant = paths.diffuse * open_count
    at_capsule = scene.speech_db + levels.energy_level_db(paths.direct + reverberant)
    noise_energy = sum(paths.noise.values()) * open_count
    noise_db = levels.energy_level_db(np.asarray(noise_energy))
    gain = scene.room.far_end.listening_level_dba - levels.a_weighted_level_db(at_capsule)
    return FarEnd(
        ratio=paths.direct / reverberant,
        speech_capsule_db=at_capsule,
        noise_capsule_db=noise_db,
        gain_db=gain,
        speech_db=at_capsule + gain[..., None],
        noise_db=_with_far_room(scene, noise_db + gain[..., None]),
    )


def _with_far_room(scene: Scene, sent_db: Array) -> Array:
    """Noise that was sent and that of the far end's own room, at its ear."""
    return levels.energy_level_db(levels.energy(sent_db) + levels.energy(scene.far_end_noise_db))


def quantities(scene: Scene, paths: Transfer, *, open_count: float) -> Quantities:
    """STI, direct-to-reverberant ratio and speech-to-noise ratio with their spread.

    Notes
    -----
    The spread combines, as independent: decay time (all octaves together), the talker's turn
    and place, vocal effort and noise, and the model's own error; each by a one-sided difference
    of one standard deviation, see :mod:`wellheard.predict.tolerances`.
    """
    heard = far_end(scene, paths, open_count=open_count)
    ratio_db = _mean_speech_bands(10 * np.log10(heard.ratio))
    signal_db = _importance_mean(heard.speech_capsule_db - heard.noise_capsule_db)
    sti = _sti(heard.ratio, scene.time, heard.speech_db, heard.noise_db)

    log_sigma = np.asarray(scene.reverberation.log_sigma)
    longer = np.exp(paths.diffuse_time_slope * log_sigma)
    time_db = _mean_speech_bands(10 * np.log10(longer))
    sti_longer = _sti(
        heard.ratio / longer, scene.time * np.exp(log_sigma), heard.speech_db, heard.noise_db
    )
    turn_db = np.hypot(
        tolerances.TALKER_TURN_SIGMA_DB,
        20 * np.log10(1 + scene.position_sigma() / paths.distance),
    )
    sti_turned = _sti(
        heard.ratio * levels.energy(-turn_db)[..., None],
        scene.time,
        heard.speech_db,
        heard.noise_db,
    )
    loud_db = float(np.hypot(tolerances.EFFORT_SIGMA_DB, scene.noise_sigma_db()))
    # The far end's own room grows no louder with it.
    sent_db = heard.noise_capsule_db + heard.gain_db[..., None]
    sti_noisy = _sti(
        heard.ratio, scene.time, heard.speech_db, _with_far_room(scene, sent_db + loud_db)
    )
    sti_sigma = np.sqrt(
        np.square(sti_longer - sti)
        + np.square(sti_turned - sti)
        + np.square(sti_noisy - sti)
        + tolerances.MODEL_STI_SIGMA**2
        + tolerances.RANDOM_STI_SIGMA**2
    )
    share = heard.ratio / (1 + heard.ratio)
    turn_total_db = turn_db * _mean_speech_bands(share)
    return Quantities(
        sti=sti,
        direct_to_reverberant_db=ratio_db,
        speech_to_noise_db=signal_db,
        sti_sigma=sti_sigma,
        direct_to_reverberant_sigma_db=np.sqrt(
            np.square(time_db)
            + np.square(turn_db)
            + tolerances.MODEL_DIRECT_TO_REVERBERANT_SIGMA_DB**2
        ),
        speech_to_noise_sigma_db=np.sqrt(
            loud_db**2
            + np.square(turn_total_db)
            + np.square(time_db * (1 - _mean_speech_bands(share)))
        ),
    )


def _sti(ratio: Array, time: Array, speech_db: Array, noise_db: Array) -> Array:
    return intelligibility.speech_transmission_index_of_path(
        ratio, reverberation_time=time, speech_db=speech_db, noise_db=noise_db
    )


def _mean_speech_bands(values: Array) -> Array:
    return values[..., SPEECH_BANDS].mean(axis=-1)


def _importance_mean(values: Array) -> Array:
    weights = sii_octave_importance()[1:6]
    return values[..., 1:6] @ (weights / weights.sum())


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
