"""Answers as JSON: the fields that outsiders rely on, SI throughout."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any

from wellheard.bands import OCTAVES
from wellheard.place.proposal import Proposal
from wellheard.predict.evidence import Evidence, Outbound, State
from wellheard.workflow import back_answers
from wellheard.workflow.applying import with_changes
from wellheard.workflow.design import Judged
from wellheard.workflow.explaining import Explained
from wellheard.workflow.remedying import Offer

STI_PLACES = 3
RATIO_PLACES = 3
LEVEL_PLACES = 2
LENGTH_PLACES = 4
WORKING_PLACES = 6
"""Of any number in an explanation: the attenuation of air is a few 10⁻⁴ per metre."""


def judgement(judged: Judged, offers: Sequence[Offer] = ()) -> dict[str, Any]:
    """What ``predict --format json`` prints, with the changes that were computed.

    For a room that divides, the top level is the worst of it: each seat as it is in its worst
    ``arrangement``, the room as it is in the part of that name; ``arrangements`` has every part
    by its name, in the same shape.
    """
    found = prediction(judged.evidence, with_changes(judged.findings, offers))
    for seat in found["seats"]:
        seat["arrangement"] = judged.worst_in(seat["id"]) or None
    return {
        **found,
        "arrangement": judged.leads or None,
        "arrangements": {
            part.name: {
                **prediction(
                    part.evidence, with_changes(part.findings, offers), arrangement=part.name
                ),
                "arrangement": part.name,
            }
            for part in judged.parts
        },
    }


def checked(
    judged: Judged, offers: Sequence[Offer] = (), applied: Sequence[dict[str, Any]] = ()
) -> dict[str, Any]:
    """What ``check --format json`` prints, with the changes that were computed or made."""
    return {
        "findings": with_changes(judged.findings, offers),
        "arrangements": {
            part.name: {"findings": with_changes(part.findings, offers)} for part in judged.parts
        },
        "applied": list(applied),
    }


def prediction(
    evidence: Evidence, findings: Sequence[dict[str, Any]], *, arrangement: str = ""
) -> dict[str, Any]:
    """Evidence and findings, as JSON has them, of a room or of one part of one that divides."""
    decay = evidence.reverberation
    return {
        "title": evidence.room.title,
        "bands": [int(f) for f in OCTAVES],
        "reverberation": {
            "time": _rounded(decay.time, RATIO_PLACES),
            "model": decay.model,
            "range": [_rounded(decay.low, RATIO_PLACES), _rounded(decay.high, RATIO_PLACES)],
            "scattering": decay.scattering,
            "smooth": _rounded(decay.smooth, RATIO_PLACES),
            "rough": _rounded(decay.rough, RATIO_PLACES),
            "level_time": _rounded(decay.level_time, RATIO_PLACES),
            "sabine": _rounded(decay.sabine, RATIO_PLACES),
            "eyring": _rounded(decay.eyring, RATIO_PLACES),
            "arau_puchades": _rounded(decay.arau_puchades, RATIO_PLACES),
            "fitzroy": _rounded(decay.fitzroy, RATIO_PLACES),
            "unoccupied": _rounded(decay.unoccupied, RATIO_PLACES),
            "schroeder_frequency": round(decay.schroeder_frequency, 1),
        },
        "noise": {
            "nc": _number(evidence.noise.nc, LEVEL_PLACES),
            "label": evidence.noise.label,
            "governing": evidence.noise.governing,
            "dba": round(evidence.noise.dba, LEVEL_PLACES),
            "levels_db": {
                f"{f:g}": round(v, LEVEL_PLACES) for f, v in evidence.noise.levels_db.items()
            },
        },
        "seats": _seats(evidence, arrangement),
        **back_answers.way_back(evidence),
        "findings": list(findings),
    }


def _seats(evidence: Evidence, arrangement: str) -> list[dict[str, Any]]:
    rows = {o.talker.id: o for o in evidence.outbound}
    playback, lift = evidence.playback, evidence.lift
    inbound = {r.talker.id: back_answers.inbound(r) for r in playback.rows} if playback else {}
    lifted = {r.talker.id: back_answers.lifted(r) for r in lift.rows} if lift else {}
    return [
        {
            "id": t.id,
            "arrangement": arrangement or None,
            "kept": _kept(evidence.state_of(t.id)),
            "state": evidence.state_of(t.id),
            "outbound": _outbound(rows[t.id]) if t.id in rows else None,
            "inbound": inbound.get(t.id),
            "lift": lifted.get(t.id),
        }
        for t in evidence.talkers
    ]


def _kept(state: State) -> bool | None:
    return None if state == "not assessed" else state == "kept"


def _outbound(row: Outbound) -> dict[str, Any]:
    path = row.path
    return {
        "microphone": path.microphone,
        "distance": round(path.distance, LENGTH_PLACES),
        "facing_deg": round(path.facing_deg, 1),
        "sti": round(path.sti, STI_PLACES),
        "sti_range": [round(row.sti.low, STI_PLACES), round(row.sti.high, STI_PLACES)],
        "rating": row.rating,
        "category": row.category,
        "chance": round(row.chance, RATIO_PLACES),
        "binds": row.binds or None,
        "c50_db": _rounded(path.c50_db, LEVEL_PLACES),
        "direct_to_reverberant_db": round(path.direct_to_reverberant_db, LEVEL_PLACES),
        "direct_to_reverberant_range_db": [
            round(row.direct_to_reverberant.low, LEVEL_PLACES),
            round(row.direct_to_reverberant.high, LEVEL_PLACES),
        ],
        "direct_to_reverberant_bands_db": _rounded(
            path.direct_to_reverberant_bands_db, LEVEL_PLACES
        ),
        "speech_to_noise_db": round(path.speech_to_noise_db, LEVEL_PLACES),
        "speech_to_noise_range_db": [
            round(row.speech_to_noise.low, LEVEL_PLACES),
            round(row.speech_to_noise.high, LEVEL_PLACES),
        ],
        "speech_level_dba": round(path.speech_level_dba, LEVEL_PLACES),
        "noise_level_dba": round(path.noise_level_dba, LEVEL_PLACES),
        "chances": {
            q.name: round(q.chance, RATIO_PLACES) for q in row.quantities if q.chance is not None
        },
    }


def placement(proposal: Proposal) -> dict[str, Any]:
    """What ``place --format json`` prints."""
    proof = proposal.proof
    return {
        "devices": {
            d.id: {
                "kind": d.kind,
                "product": d.product,
                "at": [round(v, LENGTH_PLACES) for v in d.at],
                "drop": None if d.drop is None else round(d.drop, LENGTH_PLACES),
                "mounting": d.mounting,
                "locked": d.locked,
            }
            for d in proposal.devices
        },
        "amplifiers": {
            a.id: {
                "product": a.product,
                "equipment": a.equipment,
                "locked": a.locked,
                "channels": [
                    {
                        "number": c.number,
                        "loudspeakers": list(c.loudspeakers),
                        "tap_w": c.tap_w,
                    }
                    for c in a.channels
                ],
            }
            for a in proposal.amplifiers
        },
        "count": {
            "microphone": proposal.count,
            "loudspeaker": proposal.loudspeakers,
            "amplifier": len(proposal.amplifiers),
        },
        "price": proposal.price,
        "currency": proposal.currency,
        "worst": {k: round(v, STI_PLACES) for k, v in proposal.worst.items()},
        "mean": {k: round(v, STI_PLACES) for k, v in proposal.mean.items()},
        "proof": {
            "status": proof.status,
            "scope": proof.scope,
            "fewer_is_impossible": proof.fewer_is_impossible,
            "certificate": proof.certificate.to_json() if proof.certificate else None,
            "gap": proof.gap,
            "together": proof.together or None,
            "binding": list(proof.binding),
            "fewer": None
            if proof.fewer is None
            else {
                "count": proof.fewer.count,
                "missed": list(proof.fewer.missed),
                "target": proof.fewer.target,
                "sti_outbound": round(proof.fewer.worst_sti, STI_PLACES),
                "direct_to_reverberant_db": round(
                    proof.fewer.worst_direct_to_reverberant_db, LEVEL_PLACES
                ),
                "speech_to_noise_db": round(proof.fewer.worst_speech_to_noise_db, LEVEL_PLACES),
                "chance": round(proof.fewer.worst_chance, RATIO_PLACES),
            },
        },
        "shortfalls": [
            {
                "seat": s.seat or s.talker,
                "arrangement": s.part or None,
                "target": s.target,
                "best": round(s.best_value, STI_PLACES),
                "promised": _number(s.target_value, STI_PLACES),
                "unit": s.unit,
                "chance": round(s.best_chance, RATIO_PLACES),
            }
            for s in proposal.shortfalls
        ],
        "would_have_to_give": list(proposal.would_have_to_give),
        "candidates": proposal.candidates,
        "refused": proposal.rejected,
        "seconds": round(proposal.seconds, 3),
    }


def explanation(found: Explained) -> dict[str, Any]:
    """What ``explain --format json`` prints."""
    return {
        "title": found.evidence.room.title,
        "seat": found.seat,
        "arrangement": found.arrangement or None,
        "path": found.path,
        "microphone": found.microphone,
        "loudspeaker": found.loudspeaker,
        "state": found.state,
        "bands": [int(f) for f in OCTAVES],
        "stages": [
            {
                "name": stage.name,
                "rows": [
                    {
                        "quantity": w.quantity,
                        "value": _rounded(w.value, WORKING_PLACES)
                        if isinstance(w.value, tuple)
                        else _number(w.value, WORKING_PLACES),
                        "unit": w.unit,
                        "formula": w.formula,
                        "inputs": dict(w.inputs),
                        "source": w.source,
                    }
                    for w in stage.rows
                ],
            }
            for stage in found.stages
        ],
    }


def _rounded(values: Sequence[float], places: int) -> list[float]:
    return [round(v, places) for v in values]


def _number(value: float | None, places: int) -> float | None:
    return None if value is None or not math.isfinite(value) else round(value, places)
