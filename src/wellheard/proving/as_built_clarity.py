"""C50 of the paths that were measured, and what the model says of them for other absorption.

A decay says how fast sound dies and hardly how much of it there is; C50 of a path whose direct
sound is known says that. Only paths whose direct sound is known count: from a talking point to a
microphone, with a source that faced a way that is stated, or sends the same everywhere.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, fields, replace

import numpy as np

from wellheard.arrays import Array
from wellheard.predict import outbound, tolerances
from wellheard.predict.evidence import PlacedMicrophone
from wellheard.predict.propagation import Propagation
from wellheard.predict.scattering import FromMicrophones, FromMouths, Index
from wellheard.predict.scene import Scene
from wellheard.proving.alike import Space, source_key
from wellheard.proving.case import RESPONSES, Case, Flaw
from wellheard.proving.compare_outbound import clarity_db


class _Even(Scene):
    """A scene whose scattered sound is taken to be the same everywhere: quick to try absorption."""

    def scattered(self, at: Array, column: Index) -> FromMouths | FromMicrophones | None:
        """None: the same everywhere."""
        return None


@dataclass(frozen=True, eq=False)
class Clarity:
    """C50 of the measured paths, the mean over them.

    Attributes
    ----------
    measured_db, sigma_db : float
        Mean of 500 Hz–4 kHz; σ of the model that predicts it and of chance together.
    recordings : tuple of str
    paths : int
    """

    measured_db: float
    sigma_db: float
    recordings: tuple[str, ...]
    paths: int
    _scene: Scene
    _columns: tuple[tuple[PlacedMicrophone, tuple[int, ...]], ...]
    _by_place_db: Array

    def predicted_db(self, sound: Propagation) -> Array:
        """Of the model, with the decay of the room as it may have been built, shape (7,)."""
        return _mean_db(replace(self._scene, propagation=sound), self._columns) + self._by_place_db


@dataclass(frozen=True, eq=False)
class _Heard:
    """C50 of one path, over recordings of it."""

    row: int
    microphone: str
    values_db: list[float]
    names: list[str]


def clarity(case: Case, space: Space, time: Array) -> Clarity | None:
    """What a session says of C50.

    Parameters
    ----------
    case : Case
        The document without a decay of its own, and what was recorded.
    space : Space
        That was measured.
    time : ndarray, shape (7,)
        T20; NaN where there is none [s].

    Returns
    -------
    Clarity or None
        None where no path counts.
    """
    scene, rows = case.alike.source_rows(space)
    heard: dict[tuple[int, str], _Heard] = {}
    for name, row, microphone, value in _recorded(case, space, rows):
        one = heard.setdefault((row, microphone), _Heard(row, microphone, [], []))
        one.values_db.append(value)
        one.names.append(name)
    if not heard:
        return None
    placed = {one.id: one for one in space.evidence.microphones}
    columns = tuple(
        (placed[m], tuple(one.row for one in heard.values() if one.microphone == m))
        for m in dict.fromkeys(one.microphone for one in heard.values())
    )
    even = _Even(**{one.name: getattr(scene, one.name) for one in fields(scene)})
    by_place = np.zeros(7)
    if scene.propagation.needs_places:
        by_place = _mean_db(scene, columns) - _mean_db(even, columns)
    each = [math.fsum(one.values_db) / len(one.values_db) for one in heard.values()]
    return Clarity(
        measured_db=math.fsum(each) / len(each),
        sigma_db=_sigma_db(case, time, len(each)),
        recordings=tuple(name for one in heard.values() for name in one.names),
        paths=len(each),
        _scene=even,
        _columns=columns,
        _by_place_db=by_place,
    )


def _recorded(
    case: Case, space: Space, rows: dict[str, list[int]]
) -> Iterator[tuple[str, int, str, float]]:
    """Recordings that count: name, row of the scene, microphone, C50."""
    placed = {one.id for one in space.evidence.microphones}
    for name, recording in case.recordings(
        RESPONSES, lambda way: way.goes("talker", "microphone")
    ).items():
        taken, way = case.taken(name), case.where[name]
        if isinstance(taken, Flaw) or taken.response is None or way.receiver is None:
            continue
        own = rows.get(source_key(way, recording), [])
        faced = len(own) == 1 or case.session.source.directivity == "omni"
        mixed = "mixer" in case.session.active_in(name)
        value = clarity_db(taken.response)
        if own and faced and not mixed and value is not None and way.receiver.id in placed:
            yield name, own[0], way.receiver.id, value


def _mean_db(scene: Scene, columns: tuple[tuple[PlacedMicrophone, tuple[int, ...]], ...]) -> Array:
    each = []
    for placed, rows in columns:
        paths = outbound.transfer(
            scene,
            placed.product,
            np.asarray([placed.at]),
            np.asarray([placed.aim_deg]),
            row=np.asarray(rows),
            column=np.zeros(len(rows), dtype=np.intp),
        )
        found = outbound.c50_db(paths, outbound.far_end(scene, paths, microphones=1))
        each.append(found[0])
    return np.asarray(np.concatenate(each).mean(axis=0))


def _sigma_db(case: Case, time: Array, paths: int) -> float:
    """Of the model with a decay that is known; chance of each path; a mouth that is none.

    A source that is to talk as people do differs from them as they do from one another, at all
    its places alike.
    """
    known = np.where(np.isfinite(time), time, np.nanmean(time))
    chance = tolerances.random_clarity_sigma_db(known) / math.sqrt(paths)
    human = case.session.source.directivity == "human"
    source = tolerances.TALKER_TURN_SIGMA_DB if human else 0.0
    return math.hypot(tolerances.MODEL_CLARITY_SIGMA_DB, chance, source)
