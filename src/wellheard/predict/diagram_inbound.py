"""Levels of a loudspeaker's way, from the reference to the ear."""

from __future__ import annotations

import math
from collections.abc import Iterator

import numpy as np

from wellheard.acoustics import gain
from wellheard.acoustics.levels import sum_levels_db
from wellheard.catalog.products import Amplifier, Loudspeaker, Processor
from wellheard.predict.level_stages import (
    NOT_ASSESSED,
    PREDICTED,
    SHEET,
    Through,
    missing,
    signed,
)
from wellheard.predict.scene import Scene
from wellheard.predict.stages import PRACTICE
from wellheard.predict.wayback import Drive, LevelDiagram, LevelStage, PlacedLoudspeaker, Playback
from wellheard.predict.working_level import WORKING_DBFS
from wellheard.signal.graph import Graph
from wellheard.signal.model import Path, Playing
from wellheard.signal.ports import split


def inbound(scene: Scene, one: PlacedLoudspeaker, playback: Playback) -> LevelDiagram:
    """Level diagram of one loudspeaker.

    Parameters
    ----------
    scene : Scene
        The room.
    one : PlacedLoudspeaker
        The loudspeaker.
    playback : Playback
        As all of them are set.
    """
    playing = next((p for p in scene.signal.playing() if p.loudspeaker == one.device), None)
    way = None if playing is None else playing.far_end
    at = f"devices.{one.device}" if way is None else way.ports[0]
    reference = LevelStage(
        "reference", at, "dBFS", WORKING_DBFS, None, 0.0, None, "working level", PRACTICE
    )
    drive = next((d for d in playback.drives if d.loudspeaker == one.id), None)
    amplified = list(_driven(scene.signal, one, playing, way, reference, playback, drive))
    speech_db = float(sum_levels_db(np.asarray(playback.speech_1m_db) + one.trim_db))
    loudspeaker = LevelStage(
        name="loudspeaker",
        at=f"devices.{one.device}",
        unit="dB SPL",
        level=speech_db,
        noise=None,
        clip=one.max_level_db,
        gain_db=None,
        formula="average speech at 1 m on its axis, unweighted, against its highest level",
        source=PREDICTED,
    )
    ear = LevelStage(
        name="ear",
        at="people",
        unit="dBA",
        level=playback.mean_dba,
        noise=float(scene.noise.dba),
        clip=None,
        gain_db=None,
        formula="energy mean over the ears, all loudspeakers",
        source=PREDICTED,
    )
    setting = next((s for s in amplified if s.name == "amplifier"), None)
    return LevelDiagram(
        path="inbound",
        device=one.device,
        stages=(reference, *amplified, loudspeaker, ear),
        recommended_gain_db=None if setting is None else setting.gain_db,
        stated_gain_db=None,
    )


def _driven(
    signal: Graph,
    one: PlacedLoudspeaker,
    playing: Playing | None,
    way: Path | None,
    reference: LevelStage,
    playback: Playback,
    drive: Drive | None,
) -> Iterator[LevelStage]:
    """Line output and amplifier of a loudspeaker that has none of its own."""
    if not isinstance(one.product, Loudspeaker) or one.product.active:
        return
    port = None if playing is None else playing.amplifier
    name = None if port is None else split(port)[0]
    at = f"devices.{one.device}" if port is None else port
    amplifier = None if name is None else signal.product(name)
    if not isinstance(amplifier, Amplifier) or way is None or name is None:
        yield missing("amplifier", at, "dBu", f"no amplifier is known that feeds {one.device}")
        return
    line = _line(signal, way, name, reference)
    if line is not None:
        yield line
    yield _amplifier(one, amplifier, at, line, playback, drive)


def _line(signal: Graph, way: Path, amplifier: str, reference: LevelStage) -> LevelStage | None:
    """Line output that feeds an amplifier; None where it is fed over the network."""
    index = next(i for i, p in enumerate(way.ports) if split(p)[0] == amplifier)
    if split(way.ports[index])[1] == "network" or index == 0:
        return None
    port = way.ports[index - 1]
    feeding = signal.product(split(port)[0])
    if not isinstance(feeding, Processor) or feeding.clip_dbu is None:
        return missing("line output", port, "dBu", f"{port} states no full scale")
    return Through(
        name="line output",
        at=port,
        unit="dBu",
        by_db=feeding.clip_dbu,
        clip=feeding.clip_dbu,
        formula=f"0 dBFS is {signed(feeding.clip_dbu)} dBu",
        source=SHEET,
    ).of(reference)


def _amplifier(
    one: PlacedLoudspeaker,
    amplifier: Amplifier,
    at: str,
    line: LevelStage | None,
    playback: Playback,
    drive: Drive | None,
) -> LevelStage:
    """What its output has to give, and the setting of its input that gives it."""
    assert isinstance(one.product, Loudspeaker)
    average_db = float(sum_levels_db(np.asarray(playback.speech_1m_db) + one.trim_db))
    watts = 10 ** ((average_db - one.product.sensitivity_db) / 10)
    tap_w = None if drive is None else drive.tap_w
    if amplifier.minimum_impedance:
        load, full_volts = (
            one.product.impedance,
            math.sqrt(amplifier.channel_power_w * amplifier.minimum_impedance),
        )
    elif tap_w is not None:
        full_volts = max(amplifier.line_voltages)
        load = full_volts**2 / tap_w
    else:
        lacks = f"no tap of {one.device} is chosen for its line"
        return missing("amplifier", at, "dBu", lacks)
    volts = math.sqrt(watts * load)
    level, clip = (float(gain.dbu_of_volts(v)) for v in (volts, full_volts))
    setting, said = _setting_db(amplifier, line, below_full_db=clip - level)
    return LevelStage(
        name="amplifier",
        at=at,
        unit="dBu",
        level=level,
        noise=None,
        clip=clip,
        gain_db=setting,
        formula=f"{watts:.2g} W average, √(P·Z) = {volts:.2g} V into {load:.3g} Ω; {said}",
        source=SHEET,
    )


def _setting_db(
    amplifier: Amplifier, line: LevelStage | None, *, below_full_db: float
) -> tuple[float | None, str]:
    """Setting of an amplifier's input re fully open, and in words."""
    if line is None:
        by_db = -WORKING_DBFS - below_full_db
    elif line.level is None or amplifier.input_sensitivity_dbu is None:
        return None, f"setting of its input {NOT_ASSESSED}: its sensitivity is not stated"
    else:
        by_db = amplifier.input_sensitivity_dbu - line.level - below_full_db
    said = f"input set to {signed(by_db)} dB re fully open"
    return by_db, f"{said}: more than there is" if by_db > 0.0 else said
