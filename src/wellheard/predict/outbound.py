"""From mouths to microphones: transfer and the promised quantities, in arrays.

Shapes: R rows (a talker looking one way), M microphones, 7 octaves, 14 modulation frequencies.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from wellheard.acoustics import directivity, field, levels, mixing
from wellheard.acoustics.images_box import BELOW
from wellheard.acoustics.indices import indices
from wellheard.acoustics.modulation import noise_and_hearing_factor
from wellheard.acoustics.patterns import ENTRIES
from wellheard.acoustics.response import Pairs, Receivers, Sources, respond
from wellheard.acoustics.speech import sii_octave_importance
from wellheard.arrays import Array
from wellheard.bands import OCTAVES, SPEECH_BANDS
from wellheard.catalog.products import Microphone
from wellheard.predict import noise, screening
from wellheard.predict.pickup import Choice, Pickup, pickup
from wellheard.predict.scene import Scene

SELF_NOISE_SHAPE_DB = -7.0
"""Octave level of capsule self-noise re its dBA: the same in every octave, so that the A-weighted
sum over 125 Hz–8 kHz is 0 dB (common practice)."""

NEAREST = 0.05
"""A microphone is never taken to be nearer to a mouth than this [m]."""

LEAST_ENERGY = 1e-12
"""Below this a ratio says no more than that there is nothing."""

IMPORTANT = OCTAVES[1:6]
"""Octaves of :func:`importance_mean`. [Hz]"""

STI_DECIMALS, LEVEL_DECIMALS = 4, 3
"""Decimals of a middle value that count: the kernels agree on them, and then on what follows."""

Index = np.ndarray[tuple[int, ...], np.dtype[np.intp]]


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
    direct : ndarray, shape (R, M, 7)
        With what arrives within a millisecond of it, and bent round what is in the way.
    early, late : ndarray, shape (R, M, 7)
        Reflections up to 50 ms after the direct sound, and after.
    modulation : ndarray of complex, shape (R, M, 14, 7)
        Fourier transform of both over the time since the direct sound.
    screened : ndarray of bool, shape (R, M)
        Whether something solid is in the direct sound's way.
    time_slope : ndarray, shape (R, M, 7)
        d ln(reflections) / d ln(T), about.
    noise : dict of str to ndarray, shape (R, M, 7)
        Energies re (20 µPa)² at the used element, by origin.
    """

    distance: Array
    off_axis: Array
    element: Index
    pattern: Array
    talker_db: Array
    direct: Array
    early: Array
    late: Array
    modulation: np.ndarray[tuple[int, ...], np.dtype[np.complex64]]
    screened: np.ndarray[tuple[int, ...], np.dtype[np.bool_]]
    time_slope: Array
    noise: dict[str, Array]

    @property
    def reflected(self) -> Array:
        """Early and late reflections, shape (R, M, 7)."""
        return self.early + self.late


def transfer(
    scene: Scene,
    product: Microphone,
    at: Array,
    aim_deg: Array,
    *,
    row: Index | None = None,
    column: Index | None = None,
) -> Transfer:
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
    row, column : ndarray of int, shape (pairs,), optional
        Only these rows at these microphones: the result has the shape (1, pairs).

    Notes
    -----
    Direct sound, image sources for its first 60 ms, traced rays for the rest: see
    :func:`wellheard.acoustics.response.respond`. Distances are held above 5 cm.
    """
    rows, columns = _pairs(len(scene.mouths), len(at), row, column)
    path = at[columns] - scene.mouths[rows]
    distance = np.maximum(np.linalg.norm(path, axis=-1), NEAREST)
    heading = path / distance[..., None]
    cosine = np.clip(np.einsum("rmk,rmk->rm", heading, scene.facing[rows]), -1.0, 1.0)
    off_axis = np.arccos(cosine)
    if scene.room.people.directivity == "human":
        talker_db = directivity.talker_level_db(off_axis)
    else:
        talker_db = np.zeros((*off_axis.shape, 7))
    taken = pickup(product)
    chosen = taken.choose(np.asarray(aim_deg)[columns[0]], -heading)
    heard = respond(
        scene.propagation.walls,
        scene.propagation.tables,
        Sources(scene.mouths, scene.facing, scene.talker_pattern, scene.talker_diffuse),
        Receivers(at, taken.patterns, taken.diffuse),
        Pairs(
            rows.ravel(),
            columns.ravel(),
            chosen.axis.reshape(-1, 3),
            chosen.pattern.ravel(),
            np.full(rows.size, taken.upper_only),
        ),
        speed=scene.propagation.speed,
        air=scene.propagation.air,
        resolved=scene.scattered(at, columns.ravel()),
    )
    shape = (*rows.shape, 7)
    air = np.exp(-scene.propagation.air * distance[..., None])
    free = levels.energy(talker_db) * chosen.on_axis * air / np.square(distance)[..., None]
    screen = screening.factors(scene, scene.mouths[rows], at[columns], upper_only=taken.upper_only)
    joined = 0.0 if taken.in_surface else heard.joined.reshape(shape)
    direct = np.maximum(free * screen + joined, LEAST_ENERGY)
    return Transfer(
        distance=distance,
        off_axis=off_axis,
        element=chosen.element,
        pattern=chosen.on_axis,
        talker_db=talker_db,
        direct=direct,
        early=heard.early.reshape(shape),
        late=np.maximum(heard.late.reshape(shape), LEAST_ENERGY),
        modulation=heard.modulation.reshape((*rows.shape, *heard.modulation.shape[1:])),
        screened=np.any(screen < 1.0, axis=-1),
        time_slope=1 + field.BARRON_SLOPE * distance[..., None] / scene.level_time,
        noise=_noise(scene, product, taken, at, rows.shape, columns, chosen),
    )


def _pairs(
    rows: int, microphones: int, row: Index | None, column: Index | None
) -> tuple[Index, Index]:
    if row is None or column is None:
        every = np.indices((rows, microphones))
        return every[0], every[1]
    return np.asarray(row)[None], np.asarray(column)[None]


def _noise(
    scene: Scene,
    product: Microphone,
    taken: Pickup,
    at: Array,
    shape: tuple[int, ...],
    columns: Index,
    chosen: Choice,
) -> dict[str, Array]:
    """Noise energies by origin at the element each row uses, shape (R, M, 7)."""
    efficiency = taken.diffuse[chosen.pattern]
    parts = {"background": levels.energy(scene.background_db) * efficiency}
    for source in scene.sources:
        path = np.asarray(source.at) - at
        distance = np.maximum(np.linalg.norm(path, axis=-1), NEAREST)
        heading = (path / distance[:, None])[columns]
        direct = response(taken, chosen, heading) / np.square(distance)[columns][..., None]
        if taken.upper_only:
            direct = np.where(heading[..., 2:] < BELOW, 0.0, direct)
        gain = noise.diffuse_gain(
            distance, scene.reverberation, directivity_index_db=source.directivity_index_db
        )
        diffuse = gain[columns] * efficiency
        parts[source.id] = levels.energy(source.speech_octaves_db()) * (direct + diffuse)
    even_db = product.self_noise_dba + SELF_NOISE_SHAPE_DB
    parts["self-noise"] = levels.energy(even_db + taken.self_noise_db[chosen.pattern])
    return {k: np.broadcast_to(v, (*shape, 7)) for k, v in parts.items()}


def response(taken: Pickup, chosen: Choice, heading: Array) -> Array:
    """Energy response of chosen elements or beams towards other directions, re their axes.

    Parameters
    ----------
    taken : Pickup
        Of their product.
    chosen : Choice
        Of R rows and M microphones.
    heading : ndarray, shape (R, M, 3)
        Unit vectors from the microphones.

    Returns
    -------
    ndarray, shape (R, M, 7)
    """
    cosine = np.einsum("rmk,rmk->rm", heading, chosen.axis)
    entry = np.rint((np.clip(cosine, -1.0, 1.0) + 1.0) / 2.0 * (ENTRIES - 1)).astype(np.intp)
    return np.asarray(taken.patterns[chosen.pattern, entry])


def open_microphones(scene: Scene, paths: Transfer, *, microphones: int) -> Array:
    """Equivalent number of open microphones behind the automatic mixer, shape (R, M).

    Parameters
    ----------
    scene : Scene
        Whose mixer it is.
    paths : Transfer
        What each microphone hears when it is the talker's.
    microphones : int
        On the mixer.

    Notes
    -----
    A gating mixer holds the others down, whoever talks. One that shares its gain lets them in as
    far as they hear the talker: here they hear the room alone, as loud as the talker's own does.
    """
    if scene.sharing == "gating":
        n = mixing.most_open_microphones(microphones, sharing="gating")
        return np.full(paths.distance.shape, n)
    ratio_db = speech_band_mean(levels.energy_level_db(paths.direct / paths.reflected))
    return mixing.open_microphones_in_reverberation(levels.energy(ratio_db), count=microphones)


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
    opened: Array
    """Equivalent number of open microphones, shape (R, M, 1)."""


def far_end(scene: Scene, paths: Transfer, *, microphones: int) -> FarEnd:
    """Levels at the capsule after a mixer of so many microphones, and at the far end's ear."""
    opened = open_microphones(scene, paths, microphones=microphones)[..., None]
    reverberant = paths.reflected * opened
    at_capsule = scene.speech_db + levels.energy_level_db(paths.direct + reverberant)
    noise_energy = sum(paths.noise.values()) * opened
    noise_db = levels.energy_level_db(np.asarray(noise_energy))
    gain = scene.room.far_end.listening_level_dba - levels.a_weighted_level_db(at_capsule)
    return FarEnd(
        ratio=paths.direct / reverberant,
        speech_capsule_db=at_capsule,
        noise_capsule_db=noise_db,
        gain_db=gain,
        speech_db=at_capsule + gain[..., None],
        noise_db=with_far_room(scene, noise_db + gain[..., None]),
        opened=opened,
    )


def with_far_room(scene: Scene, sent_db: Array) -> Array:
    """Noise that was sent and that of the far end's own room, at its ear."""
    return levels.energy_level_db(levels.energy(sent_db) + levels.energy(scene.far_end_noise_db))


@dataclass(frozen=True)
class Middle:
    """The quantities of every row at every microphone in the middle of their ranges.

    Shape (R, M); ``modulation_transfer_index`` (R, M, 7).
    """

    sti: Array
    direct_to_reverberant_db: Array
    speech_to_noise_db: Array
    c50_db: Array
    """Mean of 500 Hz–4 kHz. [dB]"""
    speech_level_dba: Array
    """At the capsule, after the mixer."""
    modulation_transfer_index: Array


def middle(paths: Transfer, heard: FarEnd) -> Middle:
    """STI, ratios and level of speech that go to the far end."""
    factor = noise_and_hearing_factor(heard.speech_db, noise_db=heard.noise_db)
    shape = paths.distance.shape
    mti, sti = indices(
        paths.direct.reshape(-1, 7),
        paths.reflected.reshape(-1, 7),
        paths.modulation.reshape(-1, *paths.modulation.shape[-2:]),
        gain=heard.opened.reshape(-1, 1),
        factor=factor.reshape(-1, 7),
    )
    return Middle(
        sti=np.round(sti, STI_DECIMALS).reshape(shape),
        direct_to_reverberant_db=np.round(
            speech_band_mean(10 * np.log10(heard.ratio)), LEVEL_DECIMALS
        ),
        speech_to_noise_db=np.round(
            importance_mean(heard.speech_capsule_db - heard.noise_capsule_db), LEVEL_DECIMALS
        ),
        c50_db=speech_band_mean(c50_db(paths, heard)),
        speech_level_dba=levels.a_weighted_level_db(heard.speech_capsule_db),
        modulation_transfer_index=mti.reshape(*shape, 7),
    )


def c50_db(paths: Transfer, heard: FarEnd) -> Array:
    """Energy of the first 50 ms over the rest, behind the mixer, shape (R, M, 7) [dB]."""
    return levels.energy_level_db(
        (paths.direct + heard.opened * paths.early) / (heard.opened * paths.late)
    )


def speech_band_mean(values: Array) -> Array:
    """Mean of 500 Hz–4 kHz."""
    return values[..., SPEECH_BANDS].mean(axis=-1)


def importance_mean(values: Array) -> Array:
    """Mean of 250 Hz–4 kHz, weighted by importance for speech."""
    weights = sii_octave_importance()[1:6]
    return values[..., 1:6] @ (weights / weights.sum())
