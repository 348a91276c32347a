"""Gains, trims and delays set to what is wanted; never a promise, and never a rule of the house."""

from __future__ import annotations

import math
from collections.abc import Iterator

from wellheard.checks.ears import brings_most, trim_for
from wellheard.checks.model import Finding
from wellheard.predict.wayback import Inbound
from wellheard.remedies.model import Change, Makers, Situation
from wellheard.remedies.rewrites import free_stage, named, with_processing
from wellheard.room.document import Room
from wellheard.room.processing import Processing
from wellheard.signal.model import Stage

STEP_DB = 0.5
"""Gains are set in steps of this. [dB]"""
STEP_MS = 0.5
"""And delays in steps of this. [ms]"""
SHARES = (1.0, 1.5, 2.0, 3.0)
"""How many times what is lacking is tried as a trim."""
CLOSE = 0.010
"""Loudspeakers are brought this near to each other in time. [s]"""


def decibels(value_db: float) -> str:
    """Level with one decimal, a true minus sign, and a plus where it is more."""
    return f"{value_db:.1f} dB".replace("-", "−")


def _down(value_db: float) -> float:
    """A gain, lowered to the next step. [dB]"""
    return math.floor(value_db / STEP_DB + 1e-9) * STEP_DB


# Microphones ------------------------------------------------------------------------------------


def _gain(situation: Situation, finding: Finding) -> Iterator[Change]:
    """The gain stages of a microphone, down to what is recommended, or by what is too much."""
    name = named(finding, "devices")
    if finding.value is None or finding.limit is None:
        return
    stages = _gains(situation, name)
    excess = finding.limit - finding.value
    diagram = next(
        (d for d in situation.evidence.levels if d.path == "outbound" and d.device == name), None
    )
    if not stages or excess <= 0:
        return
    most = max(stages, key=lambda stage: stage.gain_db or 0.0)
    stated = most.gain_db or 0.0
    advised = diagram.recommended_gain_db if diagram is not None else None
    wanted = [_down(stated - excess)]
    if advised is not None and advised < stated and len(stages) == 1:
        wanted.insert(0, _down(advised))
    for gain_db in dict.fromkeys(wanted):
        why = ", as recommended" if len(wanted) > 1 and gain_db == wanted[0] else ""
        yield _with_gain(situation.room, most, gain_db, why)


def _gains(situation: Situation, microphone: str) -> list[Stage]:
    stages = situation.evidence.signal.stages_of(microphone)
    return [one for one in stages if one.kind == "gain" and one.id and one.gain_db is not None]


def _with_gain(room: Room, stage: Stage, gain_db: float, why: str = "") -> Change:
    put = room.processing[stage.id].model_copy(update={"gain_db": gain_db})
    return Change(
        f"Set {stage.id} on {stage.at} to {decibels(gain_db)} instead of "
        f"{decibels(stage.gain_db or 0.0)}{why}.",
        with_processing(room, {stage.id: put}),
    )


# Lift -------------------------------------------------------------------------------------------


def _lift_down(situation: Situation, finding: Finding) -> Iterator[Change]:
    """Every lift lowered by what is too much; to what is advised first."""
    found = situation.evidence.lift
    if found is None or not found.in_use:
        return
    by = [found.gain_db - found.advised_gain_db]
    if finding.value is not None and finding.limit is not None and finding.unit != "s":
        by.append(abs(finding.value - finding.limit))
    for step_db in dict.fromkeys(math.ceil(b / STEP_DB - 1e-9) * STEP_DB for b in by if b > 0):
        room = situation.room
        lifts = [way.id for way in situation.evidence.signal.lifts() if way.id]
        stages = {name: room.processing[name] for name in dict.fromkeys(lifts)}
        lower: dict[str, Processing | None] = {
            name: one.model_copy(update={"gain_db": (one.gain_db or 0.0) - step_db})
            for name, one in stages.items()
            if one.kind == "lift"
        }
        if lower:
            names = " and ".join(lower)
            yield Change(f"Lower {names} by {decibels(step_db)}.", with_processing(room, lower))


def _zone_minus(situation: Situation, finding: Finding) -> Iterator[Change]:
    """A microphone taken out of what the loudspeaker over its people lifts."""
    found = situation.evidence.lift
    graph = situation.evidence.signal
    if found is None:
        return
    pairs = [(one.microphone, one.loudspeaker.partition(".")[0]) for one in found.over_head]
    pairs.append((found.microphone, found.loudspeaker.partition(".")[0]))
    for microphone, loudspeaker in dict.fromkeys(pairs):
        for way in graph.lifts():
            if (way.microphone, way.loudspeaker) != (microphone, loudspeaker):
                continue
            stage = situation.room.processing.get(way.id)
            if stage is None or stage.kind != "lift":
                continue
            sources = stage.sources or tuple(
                f"{one.microphone}.{next(iter(graph.units[one.microphone].ports))}"
                for one in graph.lifts()
                if one.id == way.id
            )
            rest = tuple(dict.fromkeys(p for p in sources if not p.startswith(f"{microphone}.")))
            elsewhere = any(
                one.microphone == microphone and one.id != way.id for one in graph.lifts()
            )
            if rest or elsewhere:
                less = stage.model_copy(update={"sources": rest}) if rest else None
                yield Change(
                    f"Take {microphone} out of {way.id}, which {loudspeaker} plays.",
                    with_processing(situation.room, {way.id: less}),
                )


# Loudspeakers -----------------------------------------------------------------------------------


def _delay(situation: Situation, finding: Finding) -> Iterator[Change]:
    """Less delay of the loudspeaker that is late, or more of the one that leads."""
    found = situation.evidence.playback
    if found is None or finding.value is None:
        return
    late = named(finding, "devices")
    by = finding.value - CLOSE
    own = next((one for one in found.loudspeakers if one.device == late), None)
    if own is not None and own.delay > 0:
        for name, stage in _delays_of(situation, late):
            less = max((stage.delay_ms or 0.0) - _steps(by), 0.0)
            yield Change(
                f"Set delay {name} to {less:g} ms instead of {stage.delay_ms or 0.0:g} ms.",
                with_processing(
                    situation.room, {name: stage.model_copy(update={"delay_ms": less})}
                ),
            )
    for leads in _leading(situation, late, finding.value):
        yield _delayed(situation, leads, _steps(by))


def _steps(seconds: float) -> float:
    """Whole steps of delay that are no less. [ms]"""
    return math.ceil(1000 * seconds / STEP_MS - 1e-9) * STEP_MS


def _delays_of(situation: Situation, loudspeaker: str) -> list[tuple[str, Processing]]:
    playing = next(
        (one for one in situation.evidence.signal.playing() if one.loudspeaker == loudspeaker),
        None,
    )
    if playing is None or playing.far_end is None:
        return []
    return [
        (one.id, situation.room.processing[one.id])
        for one in playing.far_end.stages
        if one.kind == "delay" and one.id
    ]


def _leading(situation: Situation, late: str, lag: float) -> list[str]:
    """Devices that lead where the late one is latest."""
    found = situation.evidence.playback
    devices = {one.id: one.device for one in found.loudspeakers} if found else {}
    leads: dict[str, None] = {}
    for row in found.rows if found else ():
        first = row.leads
        for one in row.arrivals:
            if devices[one.loudspeaker] == late and math.isclose(one.time - first.time, lag):
                leads[devices[first.loudspeaker]] = None
    return list(leads)


def _delayed(situation: Situation, device: str, by_ms: float) -> Change:
    stated = _delays_of(situation, device)
    if stated:
        name, stage = stated[0]
        before = stage.delay_ms or 0.0
        put = stage.model_copy(update={"delay_ms": before + by_ms})
        says = f"Set delay {name} to {before + by_ms:g} ms instead of {before:g} ms."
    else:
        name = free_stage(situation.room, f"{device}-delay"[:36])
        put = Processing(kind="delay", on=f"{device}.in", delay_ms=by_ms)
        says = f"Delay {device} by {by_ms:g} ms: {name} on {device}.in."
    return Change(says, with_processing(situation.room, {name: put}))


def _trim(situation: Situation, finding: Finding) -> Iterator[Change]:
    """The loudspeaker that brings most to a seat, trimmed against the others."""
    found = situation.evidence.playback
    promised = situation.room.targets.listening_level_dba
    value = finding.value
    if found is None or promised is None or value is None:
        return
    rows = [row for row in found.rows if row.talker.owner == finding.at]
    worst = min(rows, key=lambda row: abs(row.level.value - value), default=None)
    if worst is None:
        return
    low, high = promised
    nearer = low if worst.level.value < (low + high) / 2 else high
    yield from _trimmed(situation, worst, nearer - worst.level.value)


def _evened(situation: Situation, _: Finding) -> Iterator[Change]:
    """The loudest seat brought down, or the quietest up, as far as they are too far apart."""
    found = situation.evidence.playback
    if found is None or not found.rows or found.uniformity.target is None:
        return
    over = max(found.uniformity.value - found.uniformity.target, 0.0)
    loudest = max(found.rows, key=lambda row: row.level.value)
    quietest = min(found.rows, key=lambda row: row.level.value)
    yield from _trimmed(situation, loudest, -over)
    yield from _trimmed(situation, quietest, over)


def _trimmed(situation: Situation, row: Inbound, moved_db: float) -> Iterator[Change]:
    """By what is lacking, and by more: the common level follows, so that a seat gains less."""
    found = situation.evidence.playback
    assert found is not None
    loud = brings_most(row)
    device = next(one.device for one in found.loudspeakers if one.id == loud)
    for share in SHARES:
        trim = trim_for(row, share * moved_db)
        if trim is None or abs(trim) < STEP_DB:
            continue
        step_db = math.copysign(math.ceil(abs(trim) / STEP_DB) * STEP_DB, trim)
        yield _with_trim(situation, device, step_db)


def _with_trim(situation: Situation, device: str, by_db: float) -> Change:
    room = situation.room
    port = f"{device}.in"
    stated = next(
        ((n, s) for n, s in room.processing.items() if s.kind == "gain" and s.on == port), None
    )
    way = "up" if by_db > 0 else "down"
    says = f"Trim {device} {way} by {decibels(abs(by_db))} against the others"
    if stated is not None:
        name, stage = stated
        put = stage.model_copy(update={"gain_db": (stage.gain_db or 0.0) + by_db})
        return Change(f"{says}: {name}.", with_processing(room, {name: put}))
    name = free_stage(room, f"{device}-trim"[:36])
    put = Processing(kind="gain", on=port, gain_db=by_db)
    return Change(f"{says}: {name} on {port}.", with_processing(room, {name: put}))


def _without_delay(situation: Situation, finding: Finding) -> Iterator[Change]:
    """A stated delay taken out of the way that it makes too long."""
    name = named(finding, "processing")
    stage = situation.room.processing.get(name)
    if stage is None or finding.value is None or finding.limit is None or not stage.delay_ms:
        return
    less = max(stage.delay_ms - _steps((finding.value - finding.limit) / 1000), 0.0)
    yield Change(
        f"Set delay {name} to {less:g} ms instead of {stage.delay_ms:g} ms.",
        with_processing(situation.room, {name: stage.model_copy(update={"delay_ms": less})}),
    )


MAKERS: Makers = {
    "converter-clips": (_gain,),
    "in-room-delay": (_without_delay,),
    "lift-delay": (_lift_down,),
    "lift-hears-itself": (_zone_minus,),
    "lift-howls": (_lift_down, _zone_minus),
    "lift-too-loud": (_lift_down,),
    "loudspeaker-late-arrival": (_delay,),
    "preamplifier-clips": (_gain,),
    "target-missed-listening-level": (_trim, _evened),
    "target-missed-uniformity": (_evened,),
}
