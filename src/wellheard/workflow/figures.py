"""What stands round the plan on a screen: headline, ledger, marks, findings, the map's words."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np

from wellheard.acoustics.intelligibility import category_letter
from wellheard.arrays import Array
from wellheard.checks.model import ORDER, Finding
from wellheard.dossier.places import (
    TARGETS,
    Place,
    places_worst_first,
    together,
    worst_state,
)
from wellheard.dossier.sections.answer import MOST_NAMED, answer, explanation
from wellheard.dossier.sections.findings import finding_state
from wellheard.dossier.sections.ledger import sti_scale
from wellheard.dossier.words import (
    NBSP,
    NOT_ASSESSED,
    count_word,
    counted,
    figure,
    fixed_spaces,
    full_stop,
    listed,
    percent,
    sentence,
)
from wellheard.drawings.livemap import LiveMap
from wellheard.predict.coverage import SeatValue
from wellheard.predict.evidence import Evidence, State
from wellheard.room.divide import spoken
from wellheard.room.document import Room
from wellheard.units import Unit, format_length
from wellheard.workflow.design import Judged
from wellheard.workflow.dragged import Now
from wellheard.workflow.maps import QUANTITIES, Mapped
from wellheard.workflow.places import item_of, place_on_plan

NO_LOUDSPEAKERS = "loudspeakers are not predicted yet"
"""Why nothing is said of what is heard in the room."""

NO_MICROPHONE = "no microphone is placed"
UNHEARD = "some arrangement leaves it without a microphone"
NO_PROMISE = "nothing is promised of it"

SHORT = {
    "sti": "STI outbound",
    "direct-to-reverberant": "direct/reverb",
    "speech-to-noise": "speech to noise",
    "c50": "clarity C50",
    "level": "level at the capsule",
}
"""What can be mapped, in as few words as a menu has room for; promised ones first."""

STI, RATIO, LEVEL, LENGTH = 4, 3, 2, 3
"""Decimals of numbers that are not for reading."""


# ---- the answer --------------------------------------------------------------------------


def headline(judged: Judged) -> dict[str, str]:
    """At how many places the promise is kept and which are left out; then what serves them."""
    evidence = judged.evidence
    places = places_worst_first(evidence)
    known = {t.id: (t.owner, t.kind) for t in evidence.talkers}
    unheard = list(dict.fromkeys(known[name] for name in judged.unheard))
    if unheard or not places:
        said = answer(places, evidence.room.targets.chance, unheard=unheard)
    else:
        said = standing(places)
    return {"sentence": said, "under": explanation(evidence, None, fewer=False)}


def standing(places: Sequence[Place]) -> str:
    """How many places keep the promise, and what becomes of the others: one sentence.

    ``places`` is not empty, worst first.
    """
    total = len(places)
    if all(place.worst.binds == "" for place in places):
        return "Nothing is promised of any place, so none is judged."
    kept = sum(place.state == "kept" for place in places)
    keep = "keeps" if kept == 1 else "keep"
    if kept == total:
        return f"{sentence(_every(total))} {keep} the promise."
    if not kept and len({place.state for place in places}) == 1:
        return sentence(_whole(places))
    if not kept:
        first = "No place keeps the promise"
    else:
        first = sentence(f"{count_word(kept)} of {counted(total, 'place')} {keep} the promise")
    rest = [
        _these(state, alike)
        for state in ("broken", "not assessed", "at risk")
        if (alike := [place for place in places if place.state == state])
    ]
    return f"{first}; {listed(rest)}."


_SAID: dict[State, tuple[str, str]] = {
    "broken": ("misses it", "miss it"),
    "at risk": ("is at risk", "are at risk"),
    "not assessed": ("is not assessed", "are not assessed"),
}


def _these(state: State, places: Sequence[Place]) -> str:
    names = together([(place.owner, place.kind) for place in places], most=MOST_NAMED)
    one, many = _SAID[state]
    return f"{names} {one if len(places) == 1 else many}"


def _whole(places: Sequence[Place]) -> str:
    """What is said where every place is in the same state, and that is not kept."""
    total, state = len(places), places[0].state
    if state == "broken" and total > 1:
        none = "neither place" if total == 2 else f"none of {counted(total, 'place')}"
        return f"{none} keeps the promise."
    if state == "broken":
        return f"{_every(total)} misses the promise."
    one, many = _SAID[state]
    return f"{_every(total)} {one if total == 1 else many}."


def _every(total: int) -> str:
    if total < 3:
        return "both places" if total == 2 else "the one place"
    return f"all {counted(total, 'place')}"


# ---- the ledger --------------------------------------------------------------------------


def ledger(judged: Judged, *, unit: Unit) -> dict[str, Any]:
    """One row for every place, worst first, with the scale that all ranges share."""
    evidence = judged.evidence
    targets = evidence.room.targets
    rows = [_row(place, unit=unit) for place in places_worst_first(evidence)]
    return {
        "head": ledger_head(targets.chance),
        "scale": _scale(evidence),
        "rows": [*rows, *_silent(evidence, arranged=bool(judged.parts))],
    }


def ledger_head(wanted: float | None) -> list[dict[str, str]]:
    """Heads of the columns by the keys of a row, each with the unit that its figures lack."""
    chance = "" if wanted is None else f"{round(100 * wanted)} wanted"
    heads = (
        ("state", "State", "", "left"),
        ("id", "Place", "", "left"),
        ("sti", "STI out", "", "right"),
        ("band", "", "", "left"),
        ("range", "10–90 %", "", "left"),
        ("chance", "Chance", chance, "right"),
        ("inbound", "STI in", "", "right"),
        ("level", "Level", "dBA", "right"),
        ("binds", "Binds", "", "left"),
    )
    return [
        {"key": key, "words": words.replace(" %", f"{NBSP}%"), "under": under, "align": align}
        for key, words, under, align in heads
    ]


def _row(place: Place, *, unit: Unit) -> dict[str, Any]:
    row = place.worst
    path = row.path
    return {
        "path": place.owner,
        "id": place.owner.rpartition(".")[2],
        "point": row.talker.id,
        "state": place.state,
        "sti": figure(row.sti.value, 2),
        "band": row.category,
        "rating": row.rating,
        "low": round(row.sti.low, STI),
        "middle": row.sti.value,
        "high": round(row.sti.high, STI),
        "chance": percent(row.chance) if row.binds else NOT_ASSESSED,
        "inbound": NOT_ASSESSED,
        "inbound_why": NO_LOUDSPEAKERS,
        "level": figure(path.speech_level_dba, 1),
        "binds": _binds(row.binds),
        "microphone": f"devices.{path.microphone}",
        "distance": _length(path.distance, unit),
        "arrangement": place.arrangement,
        "why": "" if row.binds else NO_PROMISE,
    }


def _silent(evidence: Evidence, *, arranged: bool) -> list[dict[str, Any]]:
    """Rows of places that nothing is known of, in the document's order, each with the reason."""
    heard = {row.talker.owner for row in evidence.outbound}
    owners = dict.fromkeys(t.owner for t in evidence.talkers if t.owner not in heard)
    why = UNHEARD if arranged and evidence.microphones else NO_MICROPHONE
    dash = dict.fromkeys(("sti", "band", "rating", "chance", "inbound", "level"), NOT_ASSESSED)
    return [
        {
            "path": owner,
            "id": owner.rpartition(".")[2],
            "point": "",
            "state": "not assessed",
            **dash,
            "inbound_why": NO_LOUDSPEAKERS,
            "low": None,
            "middle": None,
            "high": None,
            "binds": NOT_ASSESSED,
            "microphone": "",
            "distance": NOT_ASSESSED,
            "arrangement": "",
            "why": why,
        }
        for owner in owners
    ]


def quick_rows(now: Now, room: Room, *, unit: Unit) -> list[dict[str, Any]]:
    """What changes in the rows of the ledger while a hand moves things, worst first.

    Middle values and states: ranges are hidden until the hand rests.
    """
    found: dict[str, dict[str, Any]] = {}
    for one in now.heard:
        state = one.now.promise.state
        if one.talker.owner in found:
            row = found[one.talker.owner]
            row["state"] = worst_state([row["state"], state])
            continue
        sti = one.now.promise.quantities["sti_outbound"].value
        found[one.talker.owner] = {
            "path": one.talker.owner,
            "id": one.talker.owner.rpartition(".")[2],
            "point": one.talker.id,
            "state": state,
            "sti": figure(sti, 2),
            "band": category_letter(sti),
            "middle": sti,
            "level": figure(one.now.values["speech_level_dba"], 1),
            "binds": _binds(one.now.promise.binds),
            "microphone": f"devices.{one.now.microphone}",
            "distance": _length(one.now.distance, unit),
            "arrangement": spoken(one.space),
            "why": "" if one.now.promise.binds else NO_PROMISE,
        }
    placed = any(device.kind in ("microphone", "combined") for device in room.devices.values())
    silent = dict.fromkeys(t.owner for t in now.unheard if t.owner not in found)
    dash = dict.fromkeys(("sti", "band", "level", "binds", "distance"), NOT_ASSESSED)
    why = UNHEARD if placed else NO_MICROPHONE
    return [
        *found.values(),
        *(
            {
                "path": owner,
                "id": owner.rpartition(".")[2],
                "point": "",
                "state": "not assessed",
                **dash,
                "middle": None,
                "microphone": "",
                "arrangement": "",
                "why": why,
            }
            for owner in silent
        ),
    ]


def quick_marks(now: Now, mapped: Mapped, *, worst: bool) -> dict[str, dict[str, str]]:
    """State and figure of every place while a hand moves things, as `marks`."""
    found: dict[str, dict[str, str]] = {}
    for owner in dict.fromkeys(t.owner for t in (*(h.talker for h in now.heard), *now.unheard)):
        mine = [h for h in now.heard if h.talker.owner == owner]
        values = [(h.now.lows if worst else h.now.values)[mapped.key] for h in mine]
        found[owner] = {
            "state": worst_state([h.now.promise.state for h in mine]),
            "figure": figure(min(values, default=math.nan), mapped.decimals),
        }
    return found


def _binds(target: str) -> str:
    return TARGETS[target].binds if target in TARGETS else NOT_ASSESSED


def _scale(evidence: Evidence) -> dict[str, Any] | None:
    if not evidence.outbound:
        return None
    scale = sti_scale(evidence.outbound, evidence.room.targets.sti_outbound)
    span = scale.high - scale.low
    return {
        "low": round(scale.low, STI),
        "high": round(scale.high, STI),
        "promise": None if scale.target is None else evidence.room.targets.sti_outbound,
        "promise_words": scale.label,
        "ticks": [[round(scale.low + share * span, STI), words] for share, words in scale.ticks],
    }


def _length(metres: float, unit: Unit) -> str:
    return format_length(metres, unit=unit).replace(" ", NBSP)


# ---- marks on the plan -------------------------------------------------------------------


def marks(
    evidence: Evidence,
    values: Mapping[str, Mapping[str, SeatValue]],
    mapped: Mapped,
    *,
    worst: bool,
) -> dict[str, dict[str, str]]:
    """State of every place, and its figure in the quantity shown, by its path.

    Parameters
    ----------
    evidence : Evidence
        Of the whole room.
    values : mapping
        Every quantity by talking point.
    mapped : Mapped
        The quantity shown.
    worst : bool
        Whether the low end is shown.
    """
    found: dict[str, dict[str, str]] = {}
    for owner in dict.fromkeys(t.owner for t in evidence.talkers):
        rows = [row for row in evidence.outbound if row.talker.owner == owner]
        known = [one[mapped.key] for row in rows if (one := values.get(row.talker.id)) is not None]
        shown = min((v.low if worst else v.value for v in known), default=math.nan)
        found[owner] = {
            "state": worst_state([row.state for row in rows]),
            "figure": figure(shown, mapped.decimals),
        }
    return found


# ---- findings ----------------------------------------------------------------------------


def findings(found: Sequence[Finding], room: Room) -> dict[str, Any]:
    """What the rules found, worst first, each with the item it speaks of and where that is."""
    ordered = sorted(found, key=lambda f: (ORDER[f.severity], f.status != "fail"))
    unknown = sum(f.status == "not-assessed" for f in found)
    words = str(len(found)) if found else "none"
    if unknown:
        words += f", of which {unknown} not assessed"
    return {"count_words": words, "rows": [_finding(one, room) for one in ordered]}


def _finding(one: Finding, room: Room) -> dict[str, Any]:
    item = item_of(one.at, room)
    shown_at = place_on_plan(item, room) if item else None
    where = "; ".join(map(spoken, one.arrangements))
    return {
        "code": one.code,
        "severity": one.severity,
        "state": finding_state(one),
        "at": item,
        "field": one.at,
        "message": fixed_spaces(full_stop(f"{where}: {one.message}" if where else one.message)),
        "remedy": fixed_spaces(full_stop(one.remedy)),
        "source": one.source,
        "shown_at": None if shown_at is None else [round(v, LENGTH) for v in shown_at],
    }


# ---- the map -----------------------------------------------------------------------------


def quantities() -> list[dict[str, str]]:
    """What can be mapped, in the order of a menu."""
    return [{"key": key, "word": word, "unit": QUANTITIES[key].unit} for key, word in SHORT.items()]


def map_json(
    drawn: LiveMap,
    quantity: str,
    *,
    conditions: str,
    grid: dict[str, Any],
) -> dict[str, Any]:
    """The drawn map with its words."""
    mapped, levels = QUANTITIES[quantity], drawn.levels
    return {
        "quantity": quantity,
        "title": SHORT[quantity],
        "long_title": mapped.title,
        "unit": mapped.unit,
        "decimals": mapped.decimals,
        "conditions": conditions,
        "target": levels.target,
        "step": levels.step,
        "bands": [{"tint": tint, "d": d} for tint, d in drawn.bands],
        "lines": [
            {"level": one.level, "d": one.d, "index": one.index, "promise": one.promise}
            for one in drawn.lines
        ],
        "labels": [
            {
                "at": list(one.at),
                "angle_deg": one.angle_deg,
                "words": one.words,
                "promise": one.promise,
                "width": one.width,
            }
            for one in drawn.labels
        ],
        "hachures": drawn.hachures,
        "key": [
            {
                "words": levels.label(value),
                "level": value,
                "index": levels.is_index(value),
                "promise": levels.is_promise(value),
            }
            for value in levels.values
        ],
        "grid": grid,
    }


def grid_json(values: Array, x: Array, y: Array, places: int) -> dict[str, Any]:
    """An even grid with its values row by row from the south; null where nothing is known."""
    numbers = np.round(np.asarray(values, dtype=float), places).ravel().tolist()
    return {
        "x0": round(float(x[0]), 6),
        "y0": round(float(y[0]), 6),
        "dx": round(float(x[1] - x[0]), 6),
        "dy": round(float(y[1] - y[0]), 6),
        "columns": len(x),
        "rows": len(y),
        "values": [None if math.isnan(value) else value + 0.0 for value in numbers],
    }
