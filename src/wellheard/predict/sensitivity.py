"""How far each input that nobody vouches for moves the worst seat."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from wellheard.acoustics import intelligibility
from wellheard.acoustics.field import BARRON_SLOPE
from wellheard.bands import SPEECH_BANDS
from wellheard.predict import (
    alternative_finishes,
    alternative_noise,
    alternatives,
    tolerances,
)
from wellheard.predict.alternatives import Alternative, Standing, Subject, Trial
from wellheard.predict.devices import placed_microphones
from wellheard.predict.evidence import SEAT_TARGETS, Assumed, Evidence, Outbound
from wellheard.room.assumptions import Assumption, assumed

if TYPE_CHECKING:
    from wellheard.catalog.catalogue import Catalogue
    from wellheard.predict.scene import Scene
    from wellheard.room.document import Room

Effect = tuple[float, float]
"""Shift of the worst seat's direct-to-reverberant ratio [dB] and of its STI."""

_TRIALS: tuple[Callable[[Subject], Iterator[Trial]], ...] = (
    alternatives.plan,
    alternatives.height,
    alternative_finishes.ceiling_kind,
    alternative_finishes.finishes,
    alternative_finishes.measured_decay,
    alternatives.climate,
    alternatives.table_tops,
    alternatives.position,
    alternatives.mouths,
    alternatives.facing,
    alternatives.people,
    alternative_noise.background,
    alternative_noise.sources,
    alternative_noise.far_end,
)
"""Every input that bears on the outbound prediction, in the order of the document."""

_BY_PATH: dict[str, tuple[str, Callable[[Subject], Iterator[Trial]]]] = {
    "noise.background": ("noise-background", alternative_noise.background),
    "far_end.noise": ("far-end-noise", alternative_noise.far_end),
    "far_end.listening_level_dba": ("far-end-level", alternative_noise.far_end),
    "people.occupancy": ("occupancy", alternatives.people),
    "people.effort": ("effort", alternatives.people),
    "space.ceiling.kind": ("ceiling-kind", alternative_finishes.ceiling_kind),
    "space.climate.temperature_c": ("temperature", alternatives.climate),
    "space.climate.humidity": ("humidity", alternatives.climate),
    "space.height": ("ceiling-height", alternatives.height),
    "space.outline": ("plan", alternatives.plan),
}
"""Trials that an assumption of the document is judged by, where it stands for one input."""


@dataclass(frozen=True)
class Moved:
    """What one alternative does to the worst seat; shifts re the room as it stands.

    The seat is the one that is worst now; ``chance`` is that of whichever seat is worst then.
    """

    text: str
    source: str
    effect_db: float
    effect_sti: float
    effect_speech_to_noise_db: float
    chance: float
    weight: float
    """Largest shift of the three, each in its own standard deviations, or of the least clearance
    of a promised target in the room: the chance, without its ends at 0 and 1."""


@dataclass(frozen=True)
class Sensitivity:
    """One open input and how far each of its alternatives moves the worst seat."""

    topic: str
    path: str
    value: str
    standing: Standing
    moved: tuple[Moved, ...]

    @property
    def weight(self) -> float:
        """By which inputs are ranked: the largest of its alternatives."""
        return max((m.weight for m in self.moved), default=0.0)


def sensitivities(evidence: Evidence) -> tuple[Sensitivity, ...]:
    """Every input that is told, assumed or left out, by how far it moves the worst seat.

    Each alternative is predicted anew with the devices where they are. Empty without a
    microphone.

    Notes
    -----
    One input at a time: two that are off together may do more or less than their sum.
    """
    worst = evidence.worst()
    if worst is None:
        return ()
    subject = Subject(evidence, worst)
    now = judged(evidence.room, evidence.catalogue)
    found = [
        Sensitivity(
            t.topic,
            t.path,
            t.value,
            t.standing,
            tuple(_moved(subject, now, one) for one in t.alternatives),
        )
        for make in _TRIALS
        for t in make(subject)
    ]
    return tuple(sorted(found, key=lambda s: -round(s.weight, 9)))


@dataclass(frozen=True)
class SeatFigures:
    """What decides at one seat, at its worst facing, by the microphone that serves it best."""

    direct_to_reverberant_db: float
    sti: float
    speech_to_noise_db: float
    chance: float
    clearance: float
    """Least margin of the promised targets, in standard deviations beyond the wanted chance."""


def judged(room: Room, catalogue: Catalogue, *, only: str | None = None) -> dict[str, SeatFigures]:
    """The ledger's deciding figures of every talker, without the working behind them.

    Or ``only`` of one. In a room that divides each talker is as in its worst arrangement; one
    that no microphone hears in some arrangement is left out, as in the ledger of the whole.
    """
    from wellheard.predict.parts import build_parts

    found: dict[str, SeatFigures] = {}
    deaf: set[str] = set()
    for part in build_parts(room, catalogue):
        here = _judged(part.scene if only is None else part.scene.only(only))
        if not here:
            deaf.update(t.id for t in part.scene.talkers if only in (None, t.id))
        for name, seat in here.items():
            if name not in found or _order(seat) < _order(found[name]):
                found[name] = seat
    return {name: seat for name, seat in found.items() if name not in deaf}


def _order(seat: SeatFigures) -> tuple[float, float]:
    return (round(seat.chance, 9), round(seat.sti, 9))


def _judged(built: Scene) -> dict[str, SeatFigures]:
    """The same of one undivided room; nothing without a microphone."""
    from wellheard.predict import ledger

    room = built.room
    microphones = placed_microphones(room, built.catalogue, built.talkers)
    if not microphones or not len(built.row_talker):
        return {}
    columns = ledger.Columns(built, microphones)
    owner = np.asarray(built.row_talker)
    clearance = np.round(columns.margin[np.arange(len(owner)), columns.best], ledger.DECIDED)
    found: dict[str, SeatFigures] = {}
    for index, talker in enumerate(built.talkers):
        own = np.flatnonzero(owner == index)
        if not len(own):
            continue
        row = int(own[int(np.argmin(clearance[own]))])
        served = columns.found[int(columns.best[row])]
        values = (served.sti, served.direct_to_reverberant_db, served.speech_to_noise_db)
        sigmas = (
            served.sti_sigma,
            served.direct_to_reverberant_sigma_db,
            served.speech_to_noise_sigma_db,
        )
        chances = [
            tolerances.chance_of(float(value[row, 0]) - target, float(sigma[row, 0]))
            for name, value, sigma in zip(SEAT_TARGETS, values, sigmas, strict=True)
            if (target := getattr(room.targets, name)) is not None
        ]
        found[talker.id] = SeatFigures(
            direct_to_reverberant_db=float(values[1][row, 0]),
            sti=float(values[0][row, 0]),
            speech_to_noise_db=float(values[2][row, 0]),
            chance=min(chances, default=1.0),
            clearance=float(clearance[row]),
        )
    return found


def _moved(subject: Subject, now: dict[str, SeatFigures], one: Alternative) -> Moved:
    then = judged(one.room, subject.evidence.catalogue)
    worst = subject.worst
    before, after = now[worst.talker.id], then[worst.talker.id]
    shifts = (
        after.direct_to_reverberant_db - before.direct_to_reverberant_db,
        after.sti - before.sti,
        after.speech_to_noise_db - before.speech_to_noise_db,
    )
    sigmas = (worst.direct_to_reverberant.sigma, worst.sti.sigma, worst.speech_to_noise.sigma)
    clearer = min(s.clearance for s in then.values()) - min(s.clearance for s in now.values())
    return Moved(
        text=one.text,
        source=one.source,
        effect_db=shifts[0],
        effect_sti=shifts[1],
        effect_speech_to_noise_db=shifts[2],
        chance=min(seat.chance for seat in then.values()),
        weight=max(
            abs(clearer),
            *(abs(shift) / sigma for shift, sigma in zip(shifts, sigmas, strict=True)),
        ),
    )


def assumed_inputs(scene: Scene, evidence: Evidence) -> tuple[Assumed, ...]:
    """Every assumption of the document with its effect on the worst seat, largest first.

    Of the alternatives of an input the one that is worst for that seat counts. An effect is None
    where nothing in the outbound prediction depends on the input or where no device is placed
    yet.
    """
    worst = evidence.worst()
    rows = [_with_effect(scene, evidence, worst, a) for a in assumed(scene.room)]
    return tuple(sorted(rows, key=lambda a: (-_weight((a.effect_db, a.effect_sti)), a.path)))


def _weight(effect: tuple[float | None, float | None]) -> float:
    # 1 dB of direct-to-reverberant ratio weighs about as much as .02 of STI.
    return abs(effect[0] or 0.0) + abs(effect[1] or 0.0) / 0.02


def _with_effect(
    scene: Scene, evidence: Evidence, worst: Outbound | None, assumption: Assumption
) -> Assumed:
    effect = None if worst is None else _effect(scene, Subject(evidence, worst), assumption)
    return Assumed(
        path=assumption.path,
        text=assumption.sentence,
        effect_db=None if effect is None else effect[0],
        effect_sti=None if effect is None else effect[1],
    )


def _effect(scene: Scene, subject: Subject, assumption: Assumption) -> Effect | None:
    trial = next(_trials_of(subject, assumption), None)
    if trial is not None:
        return _worst_effect(subject, trial)
    if assumption.path.startswith("space.finishes"):
        return _longer_decay(scene, subject.worst)
    return None


def _trials_of(subject: Subject, assumption: Assumption) -> Iterator[Trial]:
    """The trial of the input that an assumption is about; there may be none."""
    path = assumption.path
    for stem, (topic, make) in _BY_PATH.items():
        if path == stem or path.startswith(stem + "."):
            yield from (t for t in make(subject) if t.topic == topic)
    if path.startswith("people.") and path.count(".") in (1, 3):
        # Heights and facings of several people are one assumption under the path of all.
        field = "facing" if "facing" in assumption.sentence else "height"
        make = alternatives.facing if field == "facing" else alternatives.mouths
        group = path.split(".")[1]
        if group in ("seats", "standing") and (path.count(".") == 1 or path.endswith(field)):
            ending = "standing" if group == "standing" else "seated"
            yield from (t for t in make(subject) if t.topic.endswith(ending))


def _worst_effect(subject: Subject, trial: Trial) -> Effect | None:
    """Of the alternatives the one that takes most from the seat, or moves it most."""
    name = subject.worst.talker.id
    effects: list[Effect] = []
    for one in trial.alternatives:
        seat = judged(one.room, subject.evidence.catalogue, only=name)[name]
        path = subject.worst.path
        effects.append(
            (
                seat.direct_to_reverberant_db - path.direct_to_reverberant_db,
                seat.sti - path.sti,
            )
        )
    return min(effects, key=lambda e: e[0] + e[1] / 0.02, default=None)


def _longer_decay(scene: Scene, worst: Outbound) -> Effect:
    """Decay longer by its own standard deviation, through the whole path."""
    decay = scene.reverberation
    path = worst.path
    slope = 1 + BARRON_SLOPE * path.distance / np.asarray(decay.level_time)
    louder_db = 10 * np.log10(np.exp(slope * np.asarray(decay.level_log_sigma)))
    time = np.asarray(decay.time)
    ratio_db = np.asarray(path.direct_to_reverberant_bands_db)
    now, then = (
        intelligibility.speech_transmission_index_of_path(
            10 ** (one / 10),
            reverberation_time=times,
            speech_db=np.asarray(path.far_end_speech_db),
            noise_db=np.asarray(path.far_end_noise_db),
        )
        for one, times in (
            (ratio_db, time),
            (ratio_db - louder_db, time * np.exp(np.asarray(decay.log_sigma))),
        )
    )
    return (-float(louder_db[SPEECH_BANDS].mean()), float(then - now))
