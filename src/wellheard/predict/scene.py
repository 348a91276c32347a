"""A room document made ready for sound: everything that does not depend on the microphones."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from functools import cached_property

import numpy as np

from wellheard.acoustics import levels, speech
from wellheard.acoustics.directivity import TALKER_DIRECTIVITY_INDEX_DB, talker_level_db
from wellheard.acoustics.mixing import Sharing
from wellheard.acoustics.patterns import COSINES
from wellheard.arrays import Array
from wellheard.bands import OCTAVES
from wellheard.catalog.catalogue import Catalogue
from wellheard.catalog.products import Processor
from wellheard.predict import noise as noises
from wellheard.predict import reverberation as decays
from wellheard.predict import tolerances
from wellheard.predict.evidence import Reverberation, RoomNoise, Talker
from wellheard.predict.noise import LocatedSource
from wellheard.predict.propagation import Propagation
from wellheard.predict.scattering import FromMicrophones, FromMouths, Index
from wellheard.predict.talkers import azimuth_vectors, talkers
from wellheard.room.document import Room
from wellheard.signal.graph import Graph, graph


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
    propagation: Propagation = field(repr=False)
    """Rays of the room and the tables made of them."""
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
    sharing: Sharing = "gating"
    """How the automatic mixer treats channels that nobody talks into."""
    many_mouths: bool = False
    """Whether its rows are those of a map, far more than there are microphones."""

    @property
    def time(self) -> Array:
        """Reverberation time per octave, shape (7,) [s]."""
        return np.asarray(self.reverberation.time)

    @property
    def level_time(self) -> Array:
        """Decay time that sets the steady reverberant level, shape (7,) [s]."""
        return np.asarray(self.reverberation.level_time)

    @cached_property
    def signal(self) -> Graph:
        """What comes where in the document, through what."""
        return graph(self.room, self.catalogue)

    @cached_property
    def talker_pattern(self) -> Array:
        """Energy of a talker re in front over :data:`COSINES`, shape (513, 7)."""
        if self.room.people.directivity == "omni":
            return np.ones((len(COSINES), len(OCTAVES)))
        return levels.energy(talker_level_db(np.arccos(COSINES)))

    @property
    def talker_diffuse(self) -> Array:
        """Its mean over the sphere, shape (7,)."""
        return levels.energy(-self.source_directivity_index_db)

    @cached_property
    def _from_mouths(self) -> FromMouths:
        return FromMouths.of(self.propagation, self.mouths)

    def scattered(self, at: Array, column: Index) -> FromMouths | FromMicrophones | None:
        """Scattered sound by place, for paths from the rows to microphones.

        Rays start at the mouths, so that a microphone that moves meets the same ones; of a map,
        which has more mouths than microphones, at these.

        Parameters
        ----------
        at : ndarray, shape (M, 3)
            Microphones. [m]
        column : ndarray of int, shape (P,)
            Microphone of each path.

        Returns
        -------
        FromMouths, FromMicrophones or None
            None where the room is so plain that scattered sound is the same everywhere.
        """
        if not self.propagation.needs_places:
            return None
        if self.many_mouths:
            return FromMicrophones.of(self.propagation, at, column, self.mouths)
        return self._from_mouths

    def only(self, talker: str) -> Scene:
        """The same with the rows of one talker alone; all people stay in the room."""
        rows = [i for i, who in enumerate(self.row_talker) if self.talkers[who].id == talker]
        return replace(
            self,
            row_talker=tuple(self.row_talker[i] for i in rows),
            row_facing_deg=tuple(self.row_facing_deg[i] for i in rows),
            mouths=self.mouths[rows],
            facing=self.facing[rows],
        )

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
    decay, propagation = decays.sounded(room, catalogue)
    sources = noises.located_sources(room)
    rows = [(i, f) for i, person in enumerate(people) for f in person.facings_deg]
    human = room.people.directivity == "human"
    return Scene(
        room=room,
        catalogue=catalogue,
        talkers=people,
        reverberation=decay,
        propagation=propagation,
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
        sharing=_sharing(room, catalogue),
    )


def _sharing(room: Room, catalogue: Catalogue) -> Sharing:
    """Kind of the mixers in the document; gating where there is none, or not of one kind."""
    products = (catalogue.product(device.product) for device in room.devices.values())
    kinds = {one.sharing for one in products if isinstance(one, Processor)} - {None}
    return "gain-sharing" if kinds == {"gain-sharing"} else "gating"


def _speech_octaves(levels_db: dict[float, float]) -> Array:
    return np.array([levels_db[f] for f in OCTAVES])
