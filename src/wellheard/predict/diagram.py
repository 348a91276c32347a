"""Levels from pascal to full scale and back, stage by stage.

::

    capsule ─► output ─► gain ─► converter ─► mixer ─► canceller ─► send        outbound
     dBA      dBu, dBFS              dBFS

    reference ─► line output ─► amplifier ─► loudspeaker ─► ear                 inbound
      dBFS           dBu           dBu          dB SPL      dBA
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import replace

from wellheard.acoustics import gain
from wellheard.acoustics.levels import mean_level_db, sum_levels_db
from wellheard.predict.diagram_inbound import inbound
from wellheard.predict.echo import open_noise_dba
from wellheard.predict.evidence import Outbound, Path, PlacedMicrophone
from wellheard.predict.level_stages import (
    NOT_ASSESSED,
    PREDICTED,
    SHEET,
    Through,
    missing,
    plus,
    signed,
)
from wellheard.predict.scene import Scene
from wellheard.predict.stages import PRACTICE
from wellheard.predict.wayback import LevelDiagram, LevelStage, Playback
from wellheard.predict.working_level import (
    REFERENCE_DB,
    WORKING_DBFS,
    InputGain,
    heard,
    input_gain,
    input_stages,
)


def level_diagrams(
    scene: Scene,
    microphones: Sequence[PlacedMicrophone],
    rows: Sequence[Outbound],
    paths: Sequence[Path],
    playback: Playback | None,
) -> tuple[LevelDiagram, ...]:
    """Level diagram of every microphone's way out, then of every loudspeaker's way in.

    Parameters
    ----------
    scene : Scene
        The room.
    microphones : sequence of PlacedMicrophone
        M of them.
    rows : sequence of Outbound
        The ledger.
    paths : sequence of Path
        Every talker by every microphone.
    playback : Playback or None
        The loudspeakers as they are set.

    Notes
    -----
    Average speech of the mean talker that a microphone serves is brought to working level by the
    recommended gain, or is where the stated gain puts it. Levels are A-weighted, clipping is not:
    the difference is within the crest that headroom is for. A pair of loudspeakers has the diagram
    of one of them.
    """
    found = [_outbound(scene, placed, rows, paths) for placed in microphones if scene.talkers]
    if playback is not None:
        seen: set[str] = set()
        for one in playback.loudspeakers:
            if one.device not in seen:
                seen.add(one.device)
                found.append(inbound(scene, one, playback))
    return tuple(found)


def _outbound(
    scene: Scene,
    placed: PlacedMicrophone,
    rows: Sequence[Outbound],
    paths: Sequence[Path],
) -> LevelDiagram:
    talking = heard(scene, placed, rows)
    level = talking.mean_dba
    own = input_gain(scene.signal, placed, level)
    noises = [open_noise_dba(paths, name, placed.id) for name in talking.talkers]
    capsule = LevelStage(
        name="capsule",
        at=f"devices.{placed.id}",
        unit="dBA",
        level=level,
        noise=mean_level_db(noises),
        clip=placed.product.overload_db,
        gain_db=None,
        formula="mean of the talkers that it serves, no other microphone open; noise of the room "
        f"and its own {placed.product.self_noise_dba:g} dBA",
        source=PREDICTED,
    )
    make = _analogue if own.analogue else _digital
    at_converter = [capsule, *make(placed, capsule, own)]
    rest = _behind(scene, placed.id, at_converter[-1], own, rows)
    return LevelDiagram(
        path="outbound",
        device=placed.id,
        stages=(*at_converter, *rest),
        recommended_gain_db=own.recommended_db,
        stated_gain_db=own.stated_db,
    )


def _analogue(
    placed: PlacedMicrophone, capsule: LevelStage, own: InputGain
) -> Iterator[LevelStage]:
    """Output in volts, preamplifier and converter of an analogue microphone."""
    at, port = f"devices.{placed.id}", own.port or f"devices.{placed.id}"
    if placed.product.sensitivity_mv_pa is None:
        lacks = f"the sheet of {placed.product.id} states no sensitivity"
        output = missing("microphone output", at, "dBu", lacks)
    else:
        output = _output_dbu(placed.product.sensitivity_mv_pa, at).of(capsule)
    yield output
    if own.port is None:
        yield missing("preamplifier", port, "dBu", f"{placed.id} ends at no known input")
    elif own.full_scale_dbu is None:
        yield missing("preamplifier", port, "dBu", f"{port} states no full scale")
    elif own.recommended_db is None:
        yield missing("preamplifier", port, "dBu", "the level at its input is not known")
    else:
        amplified = _preamplifier(output, own, port)
        yield amplified
        yield _converter(own.full_scale_dbu, port).of(amplified)
        return
    # Whatever its gain has to be, it is set so that average speech is here.
    yield LevelStage(
        name="converter",
        at=port,
        unit="dBFS",
        level=WORKING_DBFS if own.stated_db is None else None,
        noise=None,
        clip=0.0,
        gain_db=None,
        formula="working level; noise not assessed"
        if own.stated_db is None
        else f"{NOT_ASSESSED}: what the stated gain of {signed(own.stated_db)} dB makes of it",
        source=PRACTICE,
    )


def _output_dbu(sensitivity_mv_pa: float, at: str) -> Through:
    sensitivity_db = float(gain.sensitivity_db(sensitivity_mv_pa))
    return Through(
        name="microphone output",
        at=at,
        unit="dBu",
        by_db=float(gain.microphone_output_dbu(0.0, sensitivity_db=sensitivity_db)),
        clip=None,
        formula=f"L {signed(sensitivity_db)} dB re 1 V/Pa − {gain.PASCAL_DB:.1f} "
        f"+ {gain.DBU_RE_DBV:.1f} dB",
        source=SHEET,
    )


def _preamplifier(output: LevelStage, own: InputGain, port: str) -> LevelStage:
    gain_db = own.recommended_db if own.stated_db is None else own.stated_db
    assert gain_db is not None
    noise, said = output.noise, "its own noise is not stated"
    if own.input_noise_dbu is not None and output.noise is not None:
        noise = float(sum_levels_db([output.noise, own.input_noise_dbu]))
        said = f"own noise {signed(own.input_noise_dbu)} dBu at its input"
    word = "recommended" if own.stated_db is None else "stated"
    through = Through(
        name="preamplifier",
        at=port,
        unit="dBu",
        by_db=gain_db,
        clip=own.full_scale_dbu,
        gain_db=gain_db,
        formula=f"{word} gain; {said}",
        source=SHEET,
    )
    return through.of(replace(output, noise=noise))


def _converter(full_scale_dbu: float, port: str) -> Through:
    return Through(
        name="converter",
        at=port,
        unit="dBFS",
        by_db=-full_scale_dbu,
        clip=0.0,
        formula=f"0 dBFS is {signed(full_scale_dbu)} dBu",
        source=SHEET,
    )


def _digital(placed: PlacedMicrophone, capsule: LevelStage, own: InputGain) -> Iterator[LevelStage]:
    """Output and gain of a microphone with a converter of its own."""
    at, rated_dbfs = f"devices.{placed.id}", placed.product.sensitivity_dbfs
    level = WORKING_DBFS + own.shift_db
    trim = "" if own.stated_db is None else f", and the stated {signed(own.stated_db)} dB"
    set_by_itself = f"set by the device to working level{trim}"
    if rated_dbfs is None:
        lacks = f"the sheet of {placed.product.id} states no sensitivity"
        yield missing("microphone output", at, "dBFS", lacks)
        yield LevelStage(
            "converter", own.port or at, "dBFS", level, None, 0.0, None, set_by_itself, PRACTICE
        )
        return
    output = Through(
        name="microphone output",
        at=at,
        unit="dBFS",
        by_db=rated_dbfs - REFERENCE_DB,
        clip=0.0,
        formula=f"L − {REFERENCE_DB:g} dB, at which it gives {signed(rated_dbfs)} dBFS",
        source=SHEET,
    ).of(capsule)
    yield output
    assert output.level is not None
    by_db = level - output.level
    yield Through(
        name="converter",
        at=own.port or at,
        unit="dBFS",
        by_db=by_db,
        clip=0.0,
        gain_db=by_db,
        formula=f"gain {set_by_itself}",
        source=PRACTICE,
    ).of(output)


def _behind(
    scene: Scene,
    microphone: str,
    converter: LevelStage,
    own: InputGain,
    rows: Sequence[Outbound],
) -> Iterator[LevelStage]:
    """Canceller, mixer and what else stands on its first way, in its order, and what is sent."""
    before, open_db = converter, _open_db(rows, microphone)
    way = next(iter(scene.signal.paths_of(microphone)), None)
    counted = input_stages(scene.signal, microphone, own.port)
    for stage in () if way is None else way.stages:
        at, formula, by_db = stage.place, "", 0.0
        if stage.kind == "canceller":
            formula = "speech passes"
        elif stage.kind == "mixer":
            formula = f"speech passes; noise of open microphones {signed(open_db)} dB"
        elif stage.kind == "gain" and stage.gain_db is not None and stage not in counted:
            by_db, formula = stage.gain_db, "stated gain"
        else:
            continue
        found = Through(
            name=stage.kind,
            at=at,
            unit="dBFS",
            by_db=by_db,
            clip=0.0,
            gain_db=by_db,
            formula=formula,
            source=PREDICTED if stage.kind == "mixer" else "signal graph",
        ).of(before)
        before = replace(found, noise=plus(found.noise, open_db if stage.kind == "mixer" else 0.0))
        yield before
    at = f"devices.{microphone}" if way is None else way.ports[-1]
    formula = "no way to the far end is known" if way is None else "what goes to the far end"
    yield Through(
        name="send", at=at, unit="dBFS", by_db=0.0, clip=0.0, formula=formula, source="signal graph"
    ).of(before)


def _open_db(rows: Sequence[Outbound], microphone: str) -> float:
    """10 lg of the equivalent number of open microphones while its own talkers are heard."""
    mine = [row.path.open_microphones for row in rows if row.path.microphone == microphone]
    return 10 * math.log10(max(mine, default=1.0))
