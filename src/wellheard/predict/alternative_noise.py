"""What the noise of the room, of its sources and of the far end might be instead."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from wellheard.acoustics import noise as spectra
from wellheard.predict.alternatives import (
    OPEN,
    PRACTICE,
    TOLERANCE,
    Alternative,
    Standing,
    Subject,
    Trial,
    changed,
    spread,
    standing_of,
)
from wellheard.predict.noise import SHAPES
from wellheard.predict.tolerances import NOISE_SIGMA_DB
from wellheard.room.document import Room
from wellheard.room.noise import Background, NoiseSource

HIGHEST_NC, HIGHEST_DBA, HIGHEST_DB = 75.0, 100.0, 130.0
HIGHEST_SOURCE_DBA = 110.0
"""Highest noise that a document states as NC, in dBA, in one octave, and at 1 m."""

LOWEST_DB = -20.0

UNSEEN_DBA, UNSEEN_DISTANCE = 35.0, 1.5
"""An ordinary air outlet that nobody mentioned: level at 1 m, and how far from the microphone on
the plan [m] (common practice)."""


def noise_step_db(standing: Standing) -> float:
    """What is tried up and down, to the half decibel: 10–90 % of the tolerance of its basis."""
    return round(2 * spread(NOISE_SIGMA_DB, standing)) / 2


def background(subject: Subject) -> Iterator[Trial]:
    """Background of the room louder, quieter, and with more at the bottom."""
    room, path = subject.room, "noise.background"
    standing = standing_of(room, path)
    if standing not in OPEN:
        return
    now, step = room.noise.background, noise_step_db(standing)
    alternatives = [
        Alternative(
            background_words(shifted(now, by)), changed(room, path, shifted(now, by)), TOLERANCE
        )
        for by in (-step, step)
    ]
    if now.dba is not None:
        levels = spectra.noise_shape_db("duct_rumble", level_dba=now.dba)
        rumble = {f: float(v) for f, v in zip(spectra.SHAPE_OCTAVES, levels, strict=True)}
        alternatives.append(
            Alternative(
                f"{now.dba:g} dBA as the rumble of a duct",
                changed(room, path, Background(levels_db=rumble)),
            )
        )
    yield Trial("noise-background", path, background_words(now), standing, tuple(alternatives))


def sources(subject: Subject) -> Iterator[Trial]:
    """Each located source louder and quieter; where there is none, one that nobody mentioned."""
    room = subject.room
    for name, source in room.noise.sources.items():
        path = f"noise.sources.{name}"
        standing = standing_of(room, path)
        if standing not in OPEN:
            continue
        step = noise_step_db(standing)
        yield Trial(
            f"noise-source:{name}",
            path,
            source_words(source),
            standing,
            tuple(
                Alternative(
                    source_words(_shifted_source(source, by)),
                    changed(room, path, _shifted_source(source, by)),
                    TOLERANCE,
                )
                for by in (-step, step)
            ),
        )
    if not room.noise.sources and standing_of(room, "noise.sources") in OPEN:
        yield Trial(
            "noise-sources",
            "noise.sources",
            "none",
            standing_of(room, "noise.sources"),
            (
                Alternative(
                    f"an air outlet of {UNSEEN_DBA:g} dBA at 1 m, "
                    f"{subject.length(UNSEEN_DISTANCE)} from {subject.worst.path.microphone}",
                    _with_outlet(subject),
                    PRACTICE,
                ),
            ),
        )


def far_end(subject: Subject) -> Iterator[Trial]:
    """The far end's own noise, and how loudly it listens."""
    room, path = subject.room, "far_end.noise"
    standing = standing_of(room, path)
    if standing in OPEN:
        now, step = room.far_end.noise, noise_step_db(standing)
        yield Trial(
            "far-end-noise",
            path,
            background_words(now),
            standing,
            tuple(
                Alternative(
                    background_words(shifted(now, by)),
                    changed(room, path, shifted(now, by)),
                    TOLERANCE,
                )
                for by in (-step, step)
            ),
        )
    path = "far_end.listening_level_dba"
    standing = standing_of(room, path)
    if standing in OPEN:
        level = room.far_end.listening_level_dba
        yield Trial(
            "far-end-level",
            path,
            f"{level:g} dBA",
            standing,
            tuple(
                Alternative(f"{v:g} dBA", changed(room, path, v))
                for v in (max(40.0, level - 5), min(90.0, level + 5))
                if v != level
            ),
        )


def shifted(noise: Background, by_db: float) -> Background:
    """Background louder or quieter in the form it was told, within what a document can say."""
    if noise.nc is not None:
        return Background(nc=min(max(noise.nc + by_db, 0.0), HIGHEST_NC))
    if noise.dba is not None:
        return Background(dba=min(max(noise.dba + by_db, 0.0), HIGHEST_DBA))
    assert noise.levels_db is not None  # the document allows exactly one form
    return Background(levels_db={f: _within(v + by_db) for f, v in noise.levels_db.items()})


def _shifted_source(source: NoiseSource, by_db: float) -> NoiseSource:
    if source.dba_at_1m is not None:
        level = min(max(source.dba_at_1m + by_db, 0.0), HIGHEST_SOURCE_DBA)
        return source.model_copy(update={"dba_at_1m": level})
    assert source.levels_db_at_1m is not None  # the document allows exactly one form
    levels = {f: _within(v + by_db) for f, v in source.levels_db_at_1m.items()}
    return source.model_copy(update={"levels_db_at_1m": levels})


def _within(level_db: float) -> float:
    return min(max(level_db, LOWEST_DB), HIGHEST_DB)


def _with_outlet(subject: Subject) -> Room:
    """An outlet in the ceiling beside the microphone that serves the worst seat."""
    room = subject.room
    microphone = next(
        m for m in subject.evidence.microphones if m.id == subject.worst.path.microphone
    )
    corners = np.asarray(room.space.outline, dtype=np.float64)
    inwards = corners.mean(axis=0) - np.asarray(microphone.at[:2])
    length = float(np.hypot(*inwards))
    unit = inwards / length if length > 0.05 else np.array([1.0, 0.0])
    x, y = (float(v) for v in np.asarray(microphone.at[:2]) + unit * UNSEEN_DISTANCE)
    outlet = NoiseSource(kind="air-outlet", at=(x, y, room.space.height), dba_at_1m=UNSEEN_DBA)
    return changed(room, "noise.sources", {"unmentioned": outlet})


def background_words(noise: Background) -> str:
    """A background as it was told."""
    if noise.nc is not None:
        return f"NC {noise.nc:g}"
    return f"{noise.dba:g} dBA" if noise.dba is not None else _octaves(noise.levels_db or {})


def source_words(source: NoiseSource) -> str:
    """A located source as it was told, with the spectrum that a dBA alone takes."""
    if source.dba_at_1m is not None:
        shape = SHAPES[source.kind].replace("_", " ")
        return f"{source.dba_at_1m:g} dBA at 1 m, spectrum of a {shape}"
    return f"{_octaves(source.levels_db_at_1m or {})} at 1 m"


def _octaves(levels_db: dict[float, float]) -> str:
    """Levels at the middle of speech stand for the whole spectrum."""
    return f"{levels_db[500.0]:g} dB at 500 Hz, {levels_db[2000.0]:g} dB at 2 kHz"
