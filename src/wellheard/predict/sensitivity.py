"""How far each assumed input moves the worst seat."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

import numpy as np

from wellheard.acoustics.field import BARRON_SLOPE
from wellheard.predict.evidence import Assumed, Evidence, Outbound
from wellheard.room.assumptions import Assumption, assumed
from wellheard.room.document import Room
from wellheard.room.noise import Background

if TYPE_CHECKING:
    from wellheard.predict.scene import Scene

Effect = tuple[float, float]
"""Shift of the worst seat's direct-to-reverberant ratio [dB] and of its STI."""

NOISE_STEP_NC = 5.0
OCCUPANCY_STEP = 0.3
"""Input errors that an assumption may hide: five NC points, three tenths of the seats (common
practice)."""

HIGHEST_NC, HIGHEST_DBA, HIGHEST_DB = 75.0, 100.0, 130.0
"""Highest background that a document states as NC, in dBA and in one octave."""

LOUDER = {"quiet": "normal", "normal": "quiet", "raised": "normal", "loud": "raised"}
"""The effort that an assumed one is compared with."""


def assumed_inputs(scene: Scene, evidence: Evidence) -> tuple[Assumed, ...]:
    """Every assumption of the document with its effect on the worst seat, largest first.

    An effect is None where nothing in the outbound prediction depends on the input or where
    no device is placed yet.
    """
    worst = evidence.worst()
    rows = [_with_effect(scene, evidence, worst, a) for a in assumed(scene.room)]
    return tuple(sorted(rows, key=lambda a: (-_weight(a), a.path)))


def _weight(row: Assumed) -> float:
    # 1 dB of direct-to-reverberant ratio weighs about as much as .02 of STI.
    return abs(row.effect_db or 0.0) + abs(row.effect_sti or 0.0) / 0.02


def _with_effect(
    scene: Scene, evidence: Evidence, worst: Outbound | None, assumption: Assumption
) -> Assumed:
    effect = None if worst is None else _effect(scene, evidence, worst, assumption.path)
    return Assumed(
        path=assumption.path,
        text=assumption.sentence,
        effect_db=None if effect is None else effect[0],
        effect_sti=None if effect is None else effect[1],
    )


def _effect(scene: Scene, evidence: Evidence, worst: Outbound, path: str) -> Effect | None:
    for prefix, variant in _VARIANTS.items():
        if path == prefix or path.startswith(prefix + "."):
            return _shift(evidence, worst, variant(scene.room))
    if path.startswith("space.finishes"):
        return _longer_decay(scene, worst)
    return None


def _shift(evidence: Evidence, worst: Outbound, variant: Room) -> Effect:
    from wellheard.predict.ledger import predict

    other = predict(variant, evidence.catalogue, assumptions=False)
    same = next(o for o in other.outbound if o.talker.id == worst.talker.id)
    return (
        same.path.direct_to_reverberant_db - worst.path.direct_to_reverberant_db,
        same.path.sti - worst.path.sti,
    )


def _longer_decay(scene: Scene, worst: Outbound) -> Effect:
    """Decay longer by its own standard deviation, through the whole path."""
    from wellheard.acoustics import intelligibility

    sigma = np.asarray(scene.reverberation.log_sigma)
    time = np.asarray(scene.reverberation.time)
    path = worst.path
    slope = 1 + BARRON_SLOPE * path.distance / np.asarray(scene.level_time)
    ratio_db = np.asarray(path.direct_to_reverberant_bands_db) - 10 * np.log10(
        np.exp(slope * sigma)
    )
    sti = float(
        intelligibility.speech_transmission_index_of_path(
            10 ** (ratio_db / 10),
            reverberation_time=time * np.exp(sigma),
            speech_db=np.asarray(path.far_end_speech_db),
            noise_db=np.asarray(path.far_end_noise_db),
        )
    )
    return (float(ratio_db[2:6].mean()) - path.direct_to_reverberant_db, sti - path.sti)


def _louder(background: Background) -> Background:
    if background.nc is not None:
        return Background(nc=min(background.nc + NOISE_STEP_NC, HIGHEST_NC))
    if background.dba is not None:
        return Background(dba=min(background.dba + NOISE_STEP_NC, HIGHEST_DBA))
    assert background.levels_db is not None  # the document allows exactly one form
    return Background(
        levels_db={f: min(v + NOISE_STEP_NC, HIGHEST_DB) for f, v in background.levels_db.items()}
    )


def _noisier(room: Room) -> Room:
    louder = _louder(room.noise.background)
    return room.model_copy(update={"noise": room.noise.model_copy(update={"background": louder})})


def _emptier(room: Room) -> Room:
    fewer = max(0.0, room.people.occupancy - OCCUPANCY_STEP)
    return room.model_copy(update={"people": room.people.model_copy(update={"occupancy": fewer})})


def _other_effort(room: Room) -> Room:
    effort = LOUDER[room.people.effort]
    return room.model_copy(update={"people": room.people.model_copy(update={"effort": effort})})


def _noisier_far_end(room: Room) -> Room:
    louder = _louder(room.far_end.noise)
    return room.model_copy(update={"far_end": room.far_end.model_copy(update={"noise": louder})})


_VARIANTS: dict[str, Callable[[Room], Room]] = {
    "noise.background": _noisier,
    "people.occupancy": _emptier,
    "people.effort": _other_effort,
    "far_end.noise": _noisier_far_end,
}
