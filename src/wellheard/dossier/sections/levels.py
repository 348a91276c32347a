"""Levels from pascal to full scale and back: gains to set, and every stage with its room."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from wellheard.dossier.figures import picture
from wellheard.dossier.model import Block, Cell, Column, Heading, Paragraph, Run, Table
from wellheard.dossier.words import (
    NOT_ASSESSED,
    figure,
    fixed_spaces,
    listed,
    with_unit,
)
from wellheard.drawings.leveldiagram import Station, level_diagram
from wellheard.predict.evidence import Evidence
from wellheard.predict.wayback import LevelDiagram, LevelStage

WIDTH = {"m": 168.0, "ft": 173.0}
"""Of a page's text. [mm]"""
CREST = "speech-crest-db"
MOST_NAMED = 4


def level_blocks(evidence: Evidence) -> list[Block]:
    """Return the gains of every way, and one diagram with its table for all ways that are alike."""
    if not evidence.levels:
        return []
    blocks: list[Block] = [
        Heading("Gains to set"),
        Paragraph((Run(fixed_spaces(_reading(evidence))),), "note"),
        _gains(evidence.levels),
    ]
    for alike in _alike(evidence, evidence.levels):
        blocks += _drawn(evidence, alike)
    return blocks


def _reading(evidence: Evidence) -> str:
    return (
        "Average speech is brought to −20 dBFS: that of the mean talker whom a microphone serves, "
        "with one microphone open, and that of the far end at playback level. A gain that the "
        "device sets by itself has a dash. Least room is from average speech to clipping, over all "
        "stages; peaks of speech take 12 dB of it or more."
    )


def _gains(diagrams: Sequence[LevelDiagram]) -> Table:
    columns = (
        Column("Device", 26),
        Column("Way", 22),
        Column("First level", 24, "right"),
        Column("Gain to\nset, dB", 17, "right"),
        Column("Stated\ndB", 15, "right"),
        Column("Least\nroom, dB", 18, "right"),
        Column("at", 0),
        Column("Over noise\nat the end, dB", 26, "right"),
    )
    # Devices with the same figures share a row.
    shared: dict[tuple[Cell, ...], list[str]] = {}
    for one in diagrams:
        tight, first = _tightest(one.stages), one.stages[0]
        figures = (
            Run("to the far end" if one.path == "outbound" else "to the room"),
            Run(_level(first.level, first)),
            Run(_number(one.recommended_gain_db), "strong"),
            Run(_number(one.stated_gain_db)),
            Run(NOT_ASSESSED if tight is None else _number(tight.headroom_db)),
            Run(NOT_ASSESSED if tight is None else tight.name, "soft"),
            Run(_number(one.stages[-1].over_noise_db)),
        )
        shared.setdefault(figures, []).append(one.device)
    rows = tuple((Run(listed(names), "strong"), *row) for row, names in shared.items())
    return Table(columns, rows, tight=len(rows) > 8)


def _tightest(stages: Iterable[LevelStage]) -> LevelStage | None:
    known = [stage for stage in stages if stage.headroom_db is not None]
    return min(known, key=lambda stage: round(stage.headroom_db or 0.0, 6), default=None)


def _number(value: float | None) -> str:
    return NOT_ASSESSED if value is None else figure(value, 1)


def _level(value: float | None, stage: LevelStage) -> str:
    return with_unit(_number(value), stage.unit)


def _alike(evidence: Evidence, diagrams: Sequence[LevelDiagram]) -> list[tuple[LevelDiagram, ...]]:
    """Diagrams of one product through the same stages, each group with its tightest in front."""
    groups: dict[tuple[str, ...], list[LevelDiagram]] = {}
    for one in diagrams:
        placed = evidence.room.devices.get(one.device)
        product = one.device if placed is None else placed.product
        key = (one.path, product, *(f"{s.name} {s.unit}" for s in one.stages))
        groups.setdefault(key, []).append(one)
    return [tuple(sorted(group, key=_spare)) for group in groups.values()]


def _spare(one: LevelDiagram) -> float:
    noise = one.stages[-1].over_noise_db
    return 0.0 if noise is None else round(noise, 6)


def _drawn(evidence: Evidence, alike: Sequence[LevelDiagram]) -> list[Block]:
    first = alike[0]
    others = [one.device for one in evidence.levels if one in alike[1:]]
    way = "to the far end" if first.path == "outbound" else "to the room"
    aside = f"{listed(others, most=MOST_NAMED)} alike" if others else ""
    if len(first.stages) < 2:
        return []
    title = f"Levels from {first.device} {way}"
    if first.path == "inbound":
        title = f"Levels from the far end to {first.device}"
    drawing = level_diagram(
        [_station(stage) for stage in first.stages],
        width=WIDTH[evidence.room.units],
        title=title,
        peaks_db=evidence.room.targets.house_limit(CREST),
        embed_fonts=False,
    )
    return [Heading(title, aside), picture(drawing), _stages(first.stages)]


def _station(stage: LevelStage) -> Station:
    moved = stage.gain_db is not None and abs(stage.gain_db) >= 0.05
    return Station(
        name=stage.name,
        speech=_level(stage.level, stage),
        clip="" if stage.headroom_db is None else _level(stage.clip, stage),
        noise="" if stage.over_noise_db is None else _level(stage.noise, stage),
        headroom_db=stage.headroom_db,
        over_noise_db=stage.over_noise_db,
        gain=_signed(stage.gain_db or 0.0) if moved else "",
        known=stage.level is not None,
    )


def _signed(gain_db: float) -> str:
    return with_unit(("+" if gain_db > 0 else "") + figure(gain_db, 1), "dB")


def _stages(stages: Sequence[LevelStage]) -> Table:
    columns = (
        Column("Stage", 26),
        Column("At", 24),
        Column("Speech", 20, "right"),
        Column("Room\nleft, dB", 15, "right"),
        Column("Over\nnoise, dB", 16, "right"),
        Column("Why", 0),
    )
    return Table(
        columns,
        tuple(
            (
                Run(stage.name, "strong"),
                Run(stage.at, "soft"),
                Run(_level(stage.level, stage)),
                Run(_number(stage.headroom_db)),
                Run(_number(stage.over_noise_db)),
                Run(fixed_spaces(f"{stage.formula} ({stage.source})"), "soft"),
            )
            for stage in stages
        ),
        tight=True,
    )
