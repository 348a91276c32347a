"""The way back as JSON: playback, echo, loop, delays and what every seat hears."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any

from wellheard.predict.echo import held_by
from wellheard.predict.evidence import Evidence
from wellheard.predict.wayback import (
    DelayPart,
    Drive,
    Echo,
    Inbound,
    LevelDiagram,
    Lift,
    Lifted,
    Playback,
)

STI_PLACES, RATIO_PLACES, LEVEL_PLACES, LENGTH_PLACES, TIME_PLACES = 3, 3, 2, 4, 4


def inbound(row: Inbound) -> dict[str, Any]:
    """What a seat hears of the far end."""
    return {
        "level_dba": round(row.level.value, LEVEL_PLACES),
        "level_range_dba": _range(row.level.low, row.level.high, LEVEL_PLACES),
        "levels_db": _rounded(row.levels_db, LEVEL_PLACES),
        "noise_db": _rounded(row.noise_db, LEVEL_PLACES),
        "sti": round(row.sti.value, STI_PLACES),
        "sti_range": _range(row.sti.low, row.sti.high, STI_PLACES),
        "rating": row.rating,
        "category": row.category,
        "chance": round(row.chance, RATIO_PLACES),
        "chances": {
            q.name: round(q.chance, RATIO_PLACES)
            for q in (row.sti, row.level)
            if q.chance is not None
        },
        "binds": row.binds or None,
        "state": row.state,
        "c50_db": _rounded(row.c50_db, LEVEL_PLACES),
        "direct_to_reverberant_db": round(row.direct_to_reverberant_db, LEVEL_PLACES),
        "speech_to_noise_db": round(row.speech_to_noise_db, LEVEL_PLACES),
        "loudspeaker": row.heard_from,
        "distance": round(row.leads.distance, LENGTH_PLACES),
        "direction_deg": _number(row.direction_deg, 1),
        "arrivals": [
            {
                "loudspeaker": one.loudspeaker,
                "distance": round(one.distance, LENGTH_PLACES),
                "time": round(one.time, TIME_PLACES + 2),
                "direct_dba": round(one.level_dba, LEVEL_PLACES),
                "level_dba": round(one.share_dba, LEVEL_PLACES),
            }
            for one in row.arrivals
        ],
    }


def lifted(row: Lifted) -> dict[str, Any]:
    """What lift does for a seat."""
    return {
        "gain_db": round(row.gain_db, LEVEL_PLACES),
        "speaker": row.speaker,
        "natural_dba": round(row.natural_dba, LEVEL_PLACES),
        "lifted_dba": round(row.lifted_dba, LEVEL_PLACES),
        "loudspeaker": row.loudspeaker,
    }


def way_back(evidence: Evidence) -> dict[str, Any]:
    """What the answer to ``predict`` says beside the seats."""
    return {
        "playback": None if evidence.playback is None else _playback(evidence.playback),
        "echo": None if evidence.playback is None else [_echo(one) for one in evidence.echo],
        "loop": None if evidence.lift is None else _loop(evidence.lift),
        "delay_ms": _delays(evidence),
        "levels": [_diagram(one) for one in evidence.levels],
    }


def _playback(found: Playback) -> dict[str, Any]:
    return {
        "target_dba": round(found.target_dba, LEVEL_PLACES),
        "mean_dba": round(found.mean_dba, LEVEL_PLACES),
        "level_1m_dba": round(found.level_1m_dba, LEVEL_PLACES),
        "uniformity_db": round(found.uniformity.value, LEVEL_PLACES),
        "uniformity_chance": _number(found.uniformity.chance, RATIO_PLACES),
        "uniformity_speech_db": round(found.uniformity_speech_db, LEVEL_PLACES),
        "loudspeakers": [_drive(found, one) for one in found.drives],
    }


def _drive(found: Playback, drive: Drive) -> dict[str, Any]:
    placed = next(one for one in found.loudspeakers if one.id == drive.loudspeaker)
    return {
        "id": placed.id,
        "device": placed.device,
        "product": placed.product.id,
        "at": _rounded(placed.at, LENGTH_PLACES),
        "axis": _rounded(placed.axis, LENGTH_PLACES),
        "mounting": placed.mounting,
        "trim_db": round(placed.trim_db, LEVEL_PLACES),
        "delay": round(placed.delay, TIME_PLACES + 2),
        "level_1m_dba": round(drive.level_1m_dba, LEVEL_PLACES),
        "peak_1m_db": round(drive.peak_1m_db, LEVEL_PLACES),
        "max_level_db": round(drive.max_level_db, LEVEL_PLACES),
        "headroom_db": round(drive.headroom_db, LEVEL_PLACES),
        "power_w": _number(drive.power_w, RATIO_PLACES),
        "tap_w": _number(drive.tap_w, RATIO_PLACES),
    }


def _echo(one: Echo) -> dict[str, Any]:
    return {
        "microphone": one.microphone,
        "talker": one.talker,
        "state": one.state,
        "return_loss_db": round(one.return_loss_db, LEVEL_PLACES),
        "return_loss_bands_db": _rounded(one.return_loss_bands_db, LEVEL_PLACES),
        "return_loss_by_loudspeaker_db": {
            name: round(loss, LEVEL_PLACES) for name, loss in one.by_loudspeaker_db
        },
        "echo_to_speech_db": round(one.echo_to_speech_db, LEVEL_PLACES),
        "echo_dba": round(one.echo_dba, LEVEL_PLACES),
        "speech_dba": round(one.speech_dba, LEVEL_PLACES),
        "needed_db": round(one.needed_db, LEVEL_PLACES),
        "needed_from": one.needed_from,
        "must_add_db": round(one.must_add_db, LEVEL_PLACES),
        "can_add_db": _number(one.can_add_db, LEVEL_PLACES),
        "limits_db": {
            "tail": _number(one.bound_tail_db, LEVEL_PLACES),
            "distortion": round(one.bound_distortion_db, LEVEL_PLACES),
            "noise": round(one.bound_noise_db, LEVEL_PLACES),
            "practice": round(one.bound_practice_db, LEVEL_PLACES),
            "suppression": round(one.suppression_db, LEVEL_PLACES),
        },
        "practice_from": one.bound_practice_from,
        "held_by": None if one.can_add_db is None else held_by(one),
        "canceller": one.canceller,
        "tail": _number(one.tail, TIME_PLACES),
        "tail_needed": _number(one.tail_needed, TIME_PLACES),
    }


def _loop(found: Lift) -> dict[str, Any]:
    return {
        "in_use": found.in_use,
        "gain_db": round(found.gain_db, LEVEL_PLACES),
        "loop_gain_db": round(found.loop_gain_db, LEVEL_PLACES),
        "margin_db": round(found.margin_db, LEVEL_PLACES),
        "wanted_margin_db": round(found.wanted_margin_db, LEVEL_PLACES),
        "octave": found.octave,
        "microphone": found.microphone,
        "loudspeaker": found.loudspeaker,
        "open_microphones": round(found.open_microphones, RATIO_PLACES),
        "potential_gain_db": round(found.potential_gain_db, LEVEL_PLACES),
        "needed_gain_db": round(found.needed_gain_db, LEVEL_PLACES),
        "equivalent_distance": round(found.equivalent_distance, LENGTH_PLACES),
        "left_out": [list(pair) for pair in found.left_out],
        "pairs": [
            {
                "microphone": one.microphone,
                "loudspeaker": one.loudspeaker,
                "gain_bands_db": _rounded(one.gain_bands_db, LEVEL_PLACES),
                "margin_db": round(one.margin_db, LEVEL_PLACES),
                "octave": one.octave,
            }
            for one in found.pairs
        ],
    }


def _delays(evidence: Evidence) -> dict[str, Any] | None:
    found = evidence.delays
    if found is None:
        return None
    return {
        "outbound": _number(found.outbound_ms, LEVEL_PLACES),
        "inbound": _number(found.inbound_ms, LEVEL_PLACES),
        "lift": _number(found.lift_ms, LEVEL_PLACES),
        "one_way": round(found.one_way_ms, LEVEL_PLACES),
        "round_trip": round(2 * found.one_way_ms, LEVEL_PLACES),
        "lip_sync": _number(found.lip_sync_ms, LEVEL_PLACES),
        "parts": {
            name: [_part(one) for one in parts]
            for name, parts in (
                ("outbound", found.outbound),
                ("inbound", found.inbound),
                ("lift", found.lift),
            )
        },
    }


def _part(one: DelayPart) -> dict[str, Any]:
    return {"name": one.name, "at": one.at, "ms": round(one.ms, LEVEL_PLACES), "source": one.source}


def _diagram(found: LevelDiagram) -> dict[str, Any]:
    return {
        "path": found.path,
        "device": found.device,
        "recommended_gain_db": _number(found.recommended_gain_db, LEVEL_PLACES),
        "stated_gain_db": _number(found.stated_gain_db, LEVEL_PLACES),
        "stages": [
            {
                "name": stage.name,
                "at": stage.at,
                "unit": stage.unit,
                "level": _number(stage.level, LEVEL_PLACES),
                "noise": _number(stage.noise, LEVEL_PLACES),
                "clip": _number(stage.clip, LEVEL_PLACES),
                "gain_db": _number(stage.gain_db, LEVEL_PLACES),
                "headroom_db": _number(stage.headroom_db, LEVEL_PLACES),
                "formula": stage.formula,
                "source": stage.source,
            }
            for stage in found.stages
        ],
    }


def _range(low: float, high: float, places: int) -> list[float]:
    return [round(low, places), round(high, places)]


def _rounded(values: Sequence[float], places: int) -> list[float]:
    return [round(float(v), places) for v in values]


def _number(value: float | None, places: int) -> float | None:
    return None if value is None or not math.isfinite(value) else round(float(value), places)
