"""What was predicted: as promised, and again as it was measured."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from wellheard.acoustics.directivity import TALKER_DIRECTIVITY_INDEX_DB
from wellheard.arrays import Array
from wellheard.bands import OCTAVES
from wellheard.catalog.catalogue import Catalogue
from wellheard.geometry.points import contains_points
from wellheard.measurement.session import Recording, Session
from wellheard.predict import ledger, promises, reverberation
from wellheard.predict.evidence import Evidence, Path, Quantity, Reverberation, Talker
from wellheard.predict.ledger import Columns
from wellheard.predict.parts import aimed, plain_evidence
from wellheard.predict.scene import Scene, build
from wellheard.predict.spread import model_clarity_db
from wellheard.predict.talkers import azimuth_vectors, talkers
from wellheard.predict.wayback import Echo, Inbound
from wellheard.proving.conditions import Place, Way, as_measured, surroundings, ways
from wellheard.room.divide import Part, parts
from wellheard.room.document import Room


@dataclass(frozen=True, eq=False)
class AsTested:
    """One path from a source to a microphone, predicted as it was measured.

    Attributes
    ----------
    sti, direct_to_reverberant, speech_to_noise : Quantity
        Speech to noise for the promised effort.
    c50_db : float
        Mean of 500 Hz–4 kHz.
    speech_db, sent_noise_db : ndarray, shape (7,)
        At the far end's ear, the noise of its own room left out. [dB]
    clarity_sigma_db : float
        The model's own part of the spread of clarity and of the direct-to-reverberant ratio.
    scene : Scene
        That it was predicted in.
    """

    sti: Quantity
    direct_to_reverberant: Quantity
    speech_to_noise: Quantity
    c50_db: float
    speech_db: Array
    sent_noise_db: Array
    clarity_sigma_db: float
    scene: Scene


@dataclass(frozen=True, eq=False)
class Space:
    """The room, or one space of it, with people and air of the session; the rest as promised."""

    part: Part
    promised: Part
    """The same as the document has it."""
    scene: Scene
    evidence: Evidence

    def holds(self, place: Place | None) -> bool:
        """Whether a place is in it; where nobody said where that is, it may be."""
        if place is None or place.at is None:
            return True
        outline = np.asarray(self.part.room.space.outline, dtype=np.float64)
        return bool(contains_points(outline, np.asarray([place.at[:2]]))[0])


class Alike:
    """Everything that is predicted to be compared, each part when it is first asked for.

    Parameters
    ----------
    room : Room
        The document.
    catalogue : Catalogue
        Where its finishes and products are looked up.
    session : Session
        What it was like; of a room that divides with its arrangement.
    """

    def __init__(self, room: Room, catalogue: Catalogue, session: Session) -> None:
        self.room, self.catalogue, self.session = room, catalogue, session
        self._columns: dict[tuple[str, str], Columns] = {}
        self._sources: dict[str, tuple[Scene, dict[str, list[int]]]] = {}

    @cached_property
    def talkers(self) -> tuple[Talker, ...]:
        """Talking points of the document."""
        return talkers(self.room)

    @cached_property
    def promised(self) -> Evidence:
        """The document as it is, each talking point as in its worst arrangement."""
        return plain_evidence(self.room, self.catalogue)

    @cached_property
    def spaces(self) -> tuple[Space, ...]:
        """The room with people and air of the session; its spaces where it was divided."""
        return tuple(
            Space(there, usual, scene, ledger.evidence(scene, assumptions=False))
            for there, usual in zip(
                self._parts(surroundings(self.room, self.session)),
                self._parts(self.room),
                strict=True,
            )
            for scene in (build(there.room, self.catalogue),)
        )

    def _parts(self, room: Room) -> list[Part]:
        if not room.arrangements:
            return list(parts(room))
        whole = aimed(room, self.catalogue, self.talkers)
        return [one for one in parts(whole) if one.arrangement == self.session.arrangement]

    def space_of(self, place: Place | None) -> Space:
        """The space that a place is in; where that is not known, the first."""
        return next((one for one in self.spaces if one.holds(place)), self.spaces[0])

    def promised_decay(self, space: Space) -> Reverberation:
        """Decay of a space as promised."""
        return reverberation.predict(space.promised.room, self.catalogue)

    def promised_path(self, talker: str, microphone: str) -> Path | None:
        """A path as promised; None where there is none."""
        return _path(self.promised, talker, microphone)

    def surrounded_path(self, talker: str, microphone: str) -> Path | None:
        """The same with people and air of the session."""
        found = (_path(one.evidence, talker, microphone) for one in self.spaces)
        return next((path for path in found if path is not None), None)

    def ear(self, talker: str) -> Inbound | None:
        """What an ear hears of the far end with people and air of the session."""
        rows = (r for s in self.spaces if s.evidence.playback for r in s.evidence.playback.rows)
        return next((row for row in rows if row.talker.id == talker), None)

    def echo(self, microphone: str) -> Echo | None:
        """Echo of a microphone with people and air of the session."""
        found = (one for space in self.spaces for one in space.evidence.echo)
        return next((one for one in found if one.microphone == microphone), None)

    def tested(self, recording: Recording, way: Way, *, mixed: bool) -> AsTested | None:
        """The path of a recording, predicted as it was measured.

        Parameters
        ----------
        recording : Recording
            Where its source faced.
        way : Way
            From a talking point, or beside one, to a microphone.
        mixed : bool
            Whether an automatic mixer had the other microphones open too.

        Returns
        -------
        AsTested or None
            None where the two were in different spaces. A document that has a talker face several
            ways counts with the worst of them where the session does not say.
        """
        if way.source is None or way.receiver is None:
            return None
        for space in self.spaces:
            placed = {one.id: one for one in space.evidence.microphones}
            there = {one.id for one in space.evidence.talkers}
            if way.receiver.id not in placed or way.source.id not in there:
                continue
            scene, rows = self.source_rows(space)
            order = list(placed) if mixed else [way.receiver.id]
            key = (space.part.name, "" if mixed else way.receiver.id)
            if key not in self._columns:
                self._columns[key] = Columns(scene, [placed[one] for one in order])
            return _tested(
                scene,
                self._columns[key],
                order.index(way.receiver.id),
                rows[source_key(way, recording)],
            )
        return None

    def source_rows(self, space: Space) -> tuple[Scene, dict[str, list[int]]]:
        """A space with a row for every place and facing of a source, by `source_key`."""
        if space.part.name not in self._sources:
            self._sources[space.part.name] = self._made(space)
        return self._sources[space.part.name]

    def _made(self, space: Space) -> tuple[Scene, dict[str, list[int]]]:
        where, _ = ways(self.room, self.catalogue, self.talkers, self.session)
        there = {one.id: one for one in space.evidence.talkers}
        people: list[Talker] = []
        rows: dict[str, list[int]] = {}
        owner: list[int] = []
        facings: list[float] = []
        for name, recording in self.session.recordings.items():
            source = where[name].source
            key = source_key(where[name], recording)
            if source is None or source.kind != "talker" or source.id not in there or key in rows:
                continue
            talker = there[source.id]
            faced = talker.facings_deg if recording.facing_deg is None else (recording.facing_deg,)
            rows[key] = list(range(len(facings), len(facings) + len(faced)))
            owner += [len(people)] * len(faced)
            facings += faced
            people.append(replace(talker, at=source.at or talker.at, facings_deg=tuple(faced)))
        room = as_measured(space.part.room, self.session, self.session.recordings)
        human = self.session.source.directivity == "human"
        scene = replace(
            space.scene,
            room=room,
            talkers=tuple(people),
            row_talker=tuple(owner),
            row_facing_deg=tuple(facings),
            mouths=np.array([people[i].at for i in owner]).reshape(-1, 3),
            facing=azimuth_vectors(facings),
            source_directivity_index_db=(
                np.asarray(TALKER_DIRECTIVITY_INDEX_DB) if human else np.zeros(len(OCTAVES))
            ),
        )
        return scene, rows


def source_key(way: Way, recording: Recording) -> str:
    """What tells one place and facing of a source from another."""
    source = way.source
    return "" if source is None else f"{source.id} {source.at} {recording.facing_deg}"


def _path(evidence: Evidence, talker: str, microphone: str) -> Path | None:
    try:
        return evidence.path(talker, microphone)
    except KeyError:
        return None


def _tested(scene: Scene, columns: Columns, column: int, rows: list[int]) -> AsTested:
    found, heard = columns.found[column], columns.heard[column]
    row = min(rows, key=lambda one: float(found.sti[one, 0]))
    targets = scene.room.targets

    def quantity(name: str, value: Array, sigma: Array) -> Quantity:
        return promises.quantity(
            name, float(value[row, 0]), float(sigma[row, 0]), getattr(targets, name)
        )

    return AsTested(
        sti=quantity("sti_outbound", found.sti, found.sti_sigma),
        direct_to_reverberant=quantity(
            "direct_to_reverberant_db",
            found.direct_to_reverberant_db,
            found.direct_to_reverberant_sigma_db,
        ),
        speech_to_noise=quantity(
            "speech_to_noise_db", found.speech_to_noise_db, found.speech_to_noise_sigma_db
        ),
        c50_db=float(found.c50_db[row, 0]),
        speech_db=heard.speech_db[row, 0],
        sent_noise_db=heard.noise_capsule_db[row, 0] + heard.gain_db[row, 0],
        clarity_sigma_db=model_clarity_db(scene),
        scene=scene,
    )
