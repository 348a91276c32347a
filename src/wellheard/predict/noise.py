"""Noise of the room at the ears, and of its sources at any microphone."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from wellheard.acoustics import field, levels
from wellheard.acoustics import noise as spectra
from wellheard.arrays import Array
from wellheard.bands import OCTAVES, RATING_OCTAVES
from wellheard.predict.evidence import Reverberation, RoomNoise, Talker
from wellheard.room.document import Room
from wellheard.room.noise import Background, NoiseSource

SHAPES: dict[str, spectra.NoiseKind] = {
    "air-outlet": "ceiling_diffuser",
    "projector": "projector_fan",
    "display": "projector_fan",
    "fan-coil": "fan_coil",
    "other": "ceiling_diffuser",
}
"""Octave shape assumed for a source of which only the dBA is told (common practice)."""


DIRECTIVITY_INDEX_DB = {"air-outlet": 10 * math.log10(2)}
"""What a source sends into half of space only: an outlet blows from a ceiling, a wall or the face
of a duct, so for its level at 1 m it feeds the room with half the power (directivity factor of a
source in a plane, Bies, Hansen & Howard). Every other source counts as omnidirectional."""


NEAREST = 0.05
"""Nothing is ever taken to be nearer to a source than this [m]."""


_NC_CURVES = (15.0, 70.0)


@dataclass(frozen=True)
class LocatedSource:
    """A source with a place and its free-field octave levels at 1 m."""

    id: str
    kind: str
    at: tuple[float, float, float]
    levels_db_at_1m: dict[float, float]

    @property
    def directivity_index_db(self) -> float:
        """Of its kind, see :data:`DIRECTIVITY_INDEX_DB`."""
        return DIRECTIVITY_INDEX_DB.get(self.kind, 0.0)

    def speech_octaves_db(self) -> Array:
        """Levels of 125 Hz–8 kHz, shape (7,)."""
        return np.array([self.levels_db_at_1m[f] for f in OCTAVES])


def background_db(background: Background) -> dict[float, float]:
    """Octave levels of a background told as NC, dBA or octaves, by nominal frequency.

    Where the NC curves end, below 15 and above 70, the last one is shifted by what is missing.
    """
    if background.nc is not None:
        return _by_octave(RATING_OCTAVES[1:], _nc_levels_db(background.nc)[1:])
    if background.dba is not None:
        return _by_octave(spectra.SHAPE_OCTAVES, spectra.background_levels_db(background.dba))
    assert background.levels_db is not None  # the document allows exactly one form
    return dict(background.levels_db)


def spectrum_words(told: Background | NoiseSource) -> str:
    """Where the octave levels of a background or source come from, for a working.

    Examples
    --------
    >>> spectrum_words(Background(dba=34))
    'NC curve of that level, a stand-in; ANSI/ASA S12.2-2019 Table 1, via phonometry [L]'
    >>> spectrum_words(NoiseSource(kind="fan-coil", at=(1, 1, 2), dba_at_1m=38))
    'typical shape of a fan coil scaled to that level, common practice [C]'
    """
    if isinstance(told, NoiseSource):
        if told.levels_db_at_1m is not None:
            return "octave levels of the document"
        shape = SHAPES[told.kind].replace("_", " ")
        return f"typical shape of a {shape} scaled to that level, common practice [C]"
    if told.levels_db is not None:
        return "octave levels of the document"
    table = "ANSI/ASA S12.2-2019 Table 1, via phonometry [L]"
    if told.nc is not None:
        return f"NC curve, {table}"
    return f"NC curve of that level, a stand-in; {table}"


def located_sources(room: Room) -> tuple[LocatedSource, ...]:
    """Every source of the document; a dBA alone takes the usual octave shape of its kind."""
    return tuple(
        LocatedSource(id=name, kind=s.kind, at=s.at, levels_db_at_1m=_source_db(s))
        for name, s in room.noise.sources.items()
    )


def room_noise(
    room: Room,
    reverberation: Reverberation,
    talkers: tuple[Talker, ...],
    sources: tuple[LocatedSource, ...],
) -> RoomNoise:
    """Background plus located sources, energy mean over all talking points, rated by NC.

    Below 125 Hz, where no reverberation time is predicted, a source's level at 1 m stands for
    its level in the room. An octave of a source that the background does not tell is left out
    of the rating, and the label says so.
    """
    ears = np.array([t.at for t in talkers]).reshape(-1, 3)
    energies = _energies(room, reverberation, sources, ears)
    total = {f: 10 * float(np.log10(e.mean())) for f, e in sorted(energies.items())}
    rating = spectra.nc_rating(total)
    return RoomNoise(
        levels_db=total,
        nc=rating.tangency,
        label="; ".join((_both_ratings(rating), *_not_rated(sources, total))),
        governing=rating.tangent,
        dba=float(levels.a_weighted_level_db(np.array(list(total.values())), octaves=tuple(total))),
        told_as=_told_as(room.noise.background),
    )


def levels_dba_at(
    places: Array,
    room: Room,
    reverberation: Reverberation,
    sources: tuple[LocatedSource, ...],
) -> Array:
    """Background plus located sources at each place, as an omnidirectional ear has it [dBA].

    The same octaves as in :func:`room_noise`, so that both compare.
    """
    energies = _energies(room, reverberation, sources, places)
    octaves = tuple(sorted(energies))
    each = 10 * np.log10(np.stack([energies[f] for f in octaves], axis=-1))
    return levels.a_weighted_level_db(each, octaves=octaves)


def _energies(
    room: Room,
    reverberation: Reverberation,
    sources: tuple[LocatedSource, ...],
    places: Array,
) -> dict[float, Array]:
    """Energy by octave at each place; one figure for everywhere where there is none."""
    told = background_db(room.noise.background)
    energies = {f: np.full(max(1, len(places)), 10 ** (level / 10)) for f, level in told.items()}
    if not len(places):
        return energies
    for source in sources:
        distance = np.maximum(np.linalg.norm(places - np.asarray(source.at), axis=1), NEAREST)
        gain = source_gain(
            distance, reverberation, directivity_index_db=source.directivity_index_db
        )
        for f, level in source.levels_db_at_1m.items():
            if f in energies:
                factor = gain[:, OCTAVES.index(f)] if f in OCTAVES else 1.0
                energies[f] = energies[f] + 10 ** (level / 10) * factor
    return energies


def source_gain(
    distance: Array, reverberation: Reverberation, *, directivity_index_db: float = 0.0
) -> Array:
    """Energy re the source's free field at 1 m, direct plus diffuse, shape (..., 7).

    The direct part is the same in every direction that the source reaches.
    """
    return 1 / np.square(distance)[..., None] + diffuse_gain(
        distance, reverberation, directivity_index_db=directivity_index_db
    )


def diffuse_gain(
    distance: Array, reverberation: Reverberation, *, directivity_index_db: float = 0.0
) -> Array:
    """Diffuse part of :func:`source_gain`, shape (..., 7)."""
    return field.diffuse_energy(
        distance[..., None],
        reverberation_time=np.asarray(reverberation.level_time),
        volume=reverberation.volume,
        directivity_index_db=directivity_index_db,
        speed_of_sound=reverberation.speed_of_sound,
    )


def _source_db(source: NoiseSource) -> dict[float, float]:
    if source.levels_db_at_1m is not None:
        return dict(source.levels_db_at_1m)
    assert source.dba_at_1m is not None  # the document allows exactly one form
    shape = spectra.noise_shape_db(SHAPES[source.kind], level_dba=source.dba_at_1m)
    return _by_octave(spectra.SHAPE_OCTAVES, shape)


def _nc_levels_db(nc: float) -> Array:
    curve = min(max(nc, _NC_CURVES[0]), _NC_CURVES[1])
    return spectra.nc_levels_db(curve) + (nc - curve)


def _by_octave(octaves: tuple[float, ...], values: Array) -> dict[float, float]:
    return {f: float(v) for f, v in zip(octaves, values, strict=True)}


def _told_as(background: Background) -> str:
    if background.nc is not None:
        return f"NC-{background.nc:g}"
    if background.dba is not None:
        return f"{background.dba:g} dBA"
    return "octave levels"


def _both_ratings(rating: spectra.NoiseCriterion) -> str:
    """NC by tangency, and by the two-step rule of the standard where that says otherwise.

    The curves' own speech interference levels are about one above their numbers, so a room told
    as NC-30 would else be rated NC-31.
    """
    if rating.tangency is None or rating.tangent is None:
        return rating.label
    tangency = f"NC-{rating.tangency:.0f} ({rating.tangent:g} Hz)"
    return tangency if rating.governing is not None else f"{tangency}, {rating.label}"


def _not_rated(sources: tuple[LocatedSource, ...], rated: dict[float, float]) -> tuple[str, ...]:
    """Octaves of sources that the background does not tell, in words; nothing if there is none."""
    left_out = sorted({f for s in sources for f in s.levels_db_at_1m} - set(rated))
    if not left_out:
        return ()
    return (f"{', '.join(f'{f:g}' for f in left_out)} Hz not rated",)
