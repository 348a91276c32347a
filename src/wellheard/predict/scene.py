"""A room document made ready for sound: everything that does not depend on the microphones."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from wellheard.acoustics import speech
from wellheard.acoustics.directivity import TALKER_DIRECTIVITY_INDEX_DB
from wellheard.arrays import Array
from wellheard.bands import OCTAVES
from wellheard.catalog.catalogue import Catalogue
from wellheard.predict import noise as noises
from wellheard.predict import reverberation as decays
from wellheard.predict import tolerances
from wellheard.predict.evidence import Reverberation, RoomNoise, Talker
from wellheard.predict.noise import LocatedSource
from wellheard.predict.talkers import azimuth_vectors, talkers
from wellheard.room.document import Room


@dataclass(frozen=True)
class Scene:
    """Talkers, decay, noise and targets of one room, as arrays.

    A *row* is one talker looking one stated way; several facings make several rows, and the
    worst of them counts for the talker.
    """

    room: Room
    catalogue: Catalogue = field(repr=False)
    talkers: tuple[Talker, ...]
    reverberation: Reverberation
    noise: RoomNoise
    sources: tuple[LocatedSource, ...]
    row_talker: tuple[int, ...]
    """Index of the talker of each row."""
    row_facing_deg: tuple[float, ...]
    mouths: Array = field(repr=False)
    """Place of each row's mouth, shape (rows, 3) [m]."""
    facing: Array = field(repr=False)
    """Unit vector each row looks along, shape (rows, 3)."""
    speech_db: Array = field(repr=False)
    """Free-field octave levels 1 m in front of the lips, shape (7,)."""
    source_directivity_index_db: Array = field(repr=False)
    background_db: Array = field(repr=False)
    """Background at any microphone, shape (7,)."""
    far_end_noise_db: Array = field(repr=False)

    @property
    def time(self) -> Array:
        """Reverberation time per octave, shape (7,) [s]."""
        return np.asarray(self.reverberation.time)

    @property
    def level_time(self) -> Array:
        """Decay time that sets the steady reverberant level, shape (7,) [s]."""
        return np.asarray(self.reverberation.level_time)

    def position_sigma(self) -> float:
        """Standard deviation of a mouth's place [m]."""
        return tolerances.mouth_sigma(self.room)

    def noise_sigma_db(self) -> float:
        """Standard deviation of the background noise [dB]."""
        return tolerances.NOISE_SIGMA_DB[tolerances.basis_of(self.room, "noise.background")]


def build(room: Room, catalogue: Catalogue) -> Scene:
    """Resolve a document into a scene.

    Raises
    ------
    CatalogError
        A finish or product of the document is not in the catalogue.
    """
    people = talkers(room)
    decay = decays.predict(room, catalogue)
    sources = noises.located_sources(room)
    rows = [(i, f) for i, person in enumerate(people) for f in person.facings_deg]
    human = room.people.directivity == "human"
    return Scene(
        room=room,
        catalogue=catalogue,
        talkers=people,
        reverberation=decay,
        noise=noises.room_noise(room, decay, people, sources),
        sources=sources,
        row_talker=tuple(i for i, _ in rows),
        row_facing_deg=tuple(f for _, f in rows),
        mouths=np.array([people[i].at for i, _ in rows]),
        facing=azimuth_vectors([f for _, f in rows]),
        speech_db=speech.speech_levels_db(room.people.effort),
        source_directivity_index_db=(
            np.asarray(TALKER_DIRECTIVITY_INDEX_DB) if human else np.zeros(len(OCTAVES))
        ),
        background_db=_speech_octaves(noises.background_db(room.noise.background)),
        far_end_noise_db=_speech_octaves(noises.background_db(room.far_end.noise)),
    )


def _speech_octaves(levels_db: dict[float, float]) -> Array:
    return np.array([levels_db[f] for f in OCTAVES])
