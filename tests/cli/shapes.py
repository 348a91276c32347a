"""Shapes of the JSON answers that outsiders rely on, and what holds an answer against one."""

from __future__ import annotations

from typing import Any

# A shape is a type, a tuple of shapes (any of them), a list of one shape (each entry has it), a
# list of more (so many entries, one shape each), a set (one of these words), or a dict: every
# name must be there. Names under "also" are ours to change; any other name is a failure, so that
# an addition is noticed.
number = (int, float)
text = str
bands = [number] * 7
also = "also"

ARRIVAL = {
    "loudspeaker": text,
    "distance": number,
    "time": number,
    "direct_dba": number,
    "level_dba": number,
}
INBOUND = {
    "level_dba": number,
    "sti": number,
    "sti_range": [number, number],
    "chance": number,
    "c50_db": bands,
    "level_range_dba": [number, number],
    "levels_db": bands,
    "noise_db": bands,
    "rating": text,
    "category": text,
    "state": {"kept", "at risk", "broken", "not assessed"},
    "binds": (text, None),
    "chances": {also: True},
    "loudspeaker": text,
    "distance": number,
    "direction_deg": (int, float, None),
    "direct_to_reverberant_db": number,
    "speech_to_noise_db": number,
    "arrivals": [ARRIVAL],
}
LIFTED = {
    "gain_db": number,
    "speaker": text,
    "natural_dba": number,
    "lifted_dba": number,
    "loudspeaker": (text, None),
}
PLAYBACK = {
    "target_dba": number,
    "mean_dba": number,
    "level_1m_dba": number,
    "uniformity_db": number,
    "uniformity_chance": (int, float, None),
    "uniformity_speech_db": number,
    "loudspeakers": [
        {
            "id": text,
            "device": text,
            "product": text,
            "at": [number] * 3,
            "axis": [number] * 3,
            "mounting": text,
            "trim_db": number,
            "delay": number,
            "level_1m_dba": number,
            "peak_1m_db": number,
            "max_level_db": number,
            "headroom_db": number,
            "power_w": (int, float, None),
            "tap_w": (int, float, None),
        }
    ],
}
ECHO = {
    "microphone": text,
    "return_loss_db": number,
    "needed_db": number,
    "canceller": (text, None),
    "tail": (int, float, None),
    "return_loss_bands_db": bands,
    "return_loss_by_loudspeaker_db": {also: True},
    "echo_to_speech_db": number,
    "echo_dba": number,
    "speech_dba": number,
    "must_add_db": number,
    "can_add_db": (int, float, None),
    "limits_db": {
        "tail": (int, float, None),
        "distortion": number,
        "noise": number,
        "practice": number,
        "suppression": number,
    },
    "practice_from": {"rated", "practice"},
    "held_by": {"tail", "distortion", "noise", "rated", "practice"},
    "tail_needed": (int, float, None),
    "state": {"kept", "at risk", "broken", "not assessed"},
    "talker": text,
    "needed_from": text,
}
LOOP = {
    "margin_db": number,
    "gain_db": number,
    "octave": number,
    "microphone": text,
    "loudspeaker": text,
    "in_use": bool,
    "potential_gain_db": number,
    "needed_gain_db": number,
    "open_microphones": number,
    "loop_gain_db": number,
    "wanted_margin_db": number,
    "equivalent_distance": number,
    "left_out": [[text, text]],
    "pairs": [
        {
            "microphone": text,
            "loudspeaker": text,
            "gain_bands_db": bands,
            "margin_db": number,
            "octave": number,
        }
    ],
}
PARTS = [{"name": text, "at": text, "ms": number, "source": text}]
DELAYS = {
    "outbound": (int, float, None),
    "inbound": (int, float, None),
    "lift": (int, float, None),
    "one_way": number,
    "round_trip": number,
    "lip_sync": (int, float, None),
    "parts": {"outbound": PARTS, "inbound": PARTS, "lift": PARTS},
}
LEVELS = {
    "path": {"outbound", "inbound"},
    "device": text,
    "recommended_gain_db": (int, float, None),
    "stated_gain_db": (int, float, None),
    "stages": [
        {
            "name": text,
            "at": text,
            "unit": {"dB SPL", "dBA", "dBV", "dBu", "dBFS", "W"},
            "level": (int, float, None),
            "noise": (int, float, None),
            "clip": (int, float, None),
            "gain_db": (int, float, None),
            "headroom_db": (int, float, None),
            "formula": text,
            "source": text,
        }
    ],
}

CHANGE = {
    "apply": text,
    "operations": [{"path": text, also: {"set", "remove"}}],
    "says": text,
    "note": (text, None),
    "achieves": text,
    "value_after": (int, float, None),
    "mends": [text],
    "worsens": [text],
}
"""A computed change without the further ones."""

PREDICTION = {
    "title": text,
    "bands": [int] * 7,
    "reverberation": {
        "time": bands,
        "model": text,
        "range": [bands, bands],
        "sabine": bands,
        "eyring": bands,
        "scattering": number,
        "smooth": bands,
        "rough": bands,
        "level_time": bands,
        also: {"arau_puchades", "fitzroy", "unoccupied", "schroeder_frequency"},
    },
    "noise": {
        "nc": (int, float, None),
        "governing": (int, float, None),
        "levels_db": {"63": number, "125": number, "8000": number, also: True},
        also: {"label", "dba"},
    },
    "seats": [
        {
            "id": text,
            "arrangement": (text, None),
            "kept": (bool, None),
            "outbound": (
                {
                    "microphone": text,
                    "distance": number,
                    "sti": number,
                    "sti_range": [number, number],
                    "chance": number,
                    "c50_db": bands,
                    "direct_to_reverberant_db": number,
                    "direct_to_reverberant_bands_db": bands,
                    "speech_to_noise_db": number,
                    "speech_level_dba": number,
                    also: {
                        "facing_deg",
                        "rating",
                        "category",
                        "binds",
                        "direct_to_reverberant_range_db",
                        "speech_to_noise_range_db",
                        "noise_level_dba",
                        "chances",
                    },
                },
                None,
            ),
            "inbound": (INBOUND, None),
            "lift": (LIFTED, None),
            also: {"state"},
        }
    ],
    "echo": ([ECHO], None),
    "loop": (LOOP, None),
    "delay_ms": DELAYS,
    "playback": (PLAYBACK, None),
    "levels": [LEVELS],
    "findings": [
        {
            "code": text,
            "severity": {"error", "warning", "note"},
            "status": {"fail", "not-assessed"},
            "strength": {"law", "product", "house"},
            "at": text,
            "message": text,
            "value": (int, float, None),
            "limit": (int, float, None),
            "unit": (text, None),
            "remedy": (text, None),
            "change": ({**CHANGE, "further": [CHANGE]}, None),
            "source": text,
        }
    ],
    "arrangement": (text, None),
    "arrangements": {also: True},
}

PLACEMENT = {
    "devices": {
        also: True,
        "m1": {
            "kind": {"microphone", "loudspeaker"},
            "product": text,
            "at": [number, number, number],
            also: {"drop", "mounting", "locked"},
        },
    },
    "amplifiers": {also: True},
    "count": {"microphone": int, "loudspeaker": int, "amplifier": int},
    "price": (int, float, None),
    "worst": {"sti_outbound": number, "direct_to_reverberant_db": number, also: True},
    "mean": {also: True},
    "proof": {
        "status": {"optimal", "infeasible", "gap"},
        "scope": text,
        "fewer_is_impossible": bool,
        "certificate": (dict, None),
        "gap": (int, float, None),
        "binding": [text],
        also: True,
    },
    "seconds": number,
    also: {"currency", "shortfalls", "would_have_to_give", "candidates", "refused"},
}


AMPLIFIER = {
    "product": text,
    "equipment": (text, None),
    "locked": bool,
    "channels": [{"number": int, "loudspeakers": [text], "tap_w": (int, float, None)}],
}


QUANTITY = {"value": number, "low": number, "high": number, "sigma": number}
VERDICT = {
    "word": {"kept", "broken", "cannot tell"},
    "session": text,
    "document": text,
    "rows": [
        {
            "quantity": text,
            "place": text,
            "unit": text,
            "promised": [(int, float, None)] * 2,
            "measured": (int, float, None),
            "measured_sigma": (int, float, None),
            "tested": (QUANTITY, None),
            "estimate": (int, float, None),
            "estimate_sigma": (int, float, None),
            "chance": (int, float, None),
            "word": {"kept", "broken", "cannot tell"},
            "why": text,
            "decide": text,
            "recordings": [text],
        }
    ],
    "decays": [
        {
            "octave": number,
            "measured": (int, float, None),
            "measured_sigma": (int, float, None),
            "count": int,
            "predicted": number,
            "low": number,
            "high": number,
        }
    ],
    "noise": [
        {
            "place": text,
            "recording": text,
            "levels_db": {also: True},
            "calibrated": bool,
            "nc": (int, float, None),
            "label": text,
            "governing": (int, float, None),
            "dba": number,
        }
    ],
    "alike": [text],
    "notes": [text],
}


def faults(value: Any, shape: Any, at: str = "$") -> list[str]:
    """Where a value has not the shape."""
    if isinstance(shape, tuple):
        tried = [faults(value, one, at) for one in shape]
        return min(tried, key=len) if all(tried) else []
    if shape is None:
        return [] if value is None else [f"{at}: {value!r} is not null"]
    if isinstance(shape, type):
        right = isinstance(value, shape) and not (isinstance(value, bool) and shape is not bool)
        return [] if right else [f"{at}: {value!r} is no {shape.__name__}"]
    if isinstance(shape, set):
        return [] if value in shape else [f"{at}: {value!r} is none of {shape}"]
    if isinstance(shape, list):
        if not isinstance(value, list):
            return [f"{at}: {value!r} is no list"]
        shapes = shape * len(value) if len(shape) == 1 else shape
        if len(value) != len(shapes):
            return [f"{at}: {len(value)} entries, not {len(shapes)}"]
        return [
            f
            for i, (v, s) in enumerate(zip(value, shapes, strict=True))
            for f in faults(v, s, f"{at}[{i}]")
        ]
    if not isinstance(value, dict):
        return [f"{at}: {value!r} is no object"]
    known = {k: s for k, s in shape.items() if k != also}
    found = [f"{at}.{k}: missing" for k in known if k not in value]
    extra = shape.get(also, set())
    if extra is not True:
        found += [f"{at}.{k}: unknown" for k in value if k not in known and k not in extra]
    for k, s in known.items():
        if k in value:
            found += faults(value[k], s, f"{at}.{k}")
    return found
