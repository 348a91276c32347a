"""What stands round the plan on a screen: headline, ledger, marks, findings, the map's words."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np

from wellheard.acoustics.intelligibility import category_letter
from wellheard.arrays import Array
from wellheard.checks.model import ORDER, Finding
from wellheard.dossier.places import places_worst_first, together, worst_state
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
from wellheard.predict.wayback import Inbound
from wellheard.room.divide import spoken
from wellheard.room.document import Room
from wellheard.units import Unit, format_length
from wellheard.workflow.bothways import (
    BothWays,
    binds_word,
    both_ways,
    quick_state,
    silent_why,
)
from wellheard.workflow.design import Judged
from wellheard.workflow.dragged import Now
from wellheard.workflow.maps import QUANTITIES, Mapped
from wellheard.workflow.places import item_of, place_on_plan

NO_MICROPHONE = "no microphone is placed"
UNHEARD = "some arrangement leaves it without a microphone"
NO_PROMISE = "nothing is promised of it"

SHORT = {
    "sti": "STI outbound",
    "direct-to-reverberant": "direct/reverb",
    "speech-to-noise": "speech to noise",
    "c50": "clarity C50",
    "level": "level at the capsule",
    "sti-inbound": "STI inbound",
    "playback-level": "level at the ears",
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
        said = standing(both_ways(evidence))
    return {"sentence": said, "under": explanation(evidence, None, fewer=False)}


def standing(places: Sequence[BothWays]) -> str:
    """How many places keep the promise, and what becomes of the others: one sentence.

    ``places`` is not empty, worst first.
    """
    total = len(places)
    if all(place.binds == "" for place in places):
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


def _these(state: State, places: Sequence[BothWays]) -> str:
    names = together([(place.owner, place.kind) for place in places], most=MOST_NAMED)
    one, many = _SAID[state]
    return f"{names} {one if len(places) == 1 else many}"


def _whole(places: Sequence[BothWays]) -> str:
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
    silent = silent_why(evidence)
    unheard = UNHEARD if judged.parts and evidence.microphones else NO_MICROPHONE
    return {
        "head": ledger_head(evidence.room.targets.chance),
        "scale": _scale(evidence),
        "rows": [_row(one, unheard, silent, unit=unit) for one in both_ways(evidence)],
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
        ("inbound_level", "Level in", "dBA", "right"),
        ("binds", "Binds", "", "left"),
    )
    return [
        {"key": key, "words": words.replace(" %", f"{NBSP}%"), "under": under, "align": align}
        for key, words, under, align in heads
    ]


def _row(one: BothWays, unheard: str, silent: str, *, unit: Unit) -> dict[str, Any]:
    found = {"path": one.owner, "id": one.owner.rpartition(".")[2], "state": one.state}
    return found | _out(one, unheard, unit=unit) | inbound_cells(one.ears, silent)


def _out(one: BothWays, unheard: str, *, unit: Unit) -> dict[str, Any]:
    """What the far end hears of a place; dashes and the reason where nothing hears it."""
    if one.out is None:
        dash = dict.fromkeys(
            ("sti", "band", "rating", "chance", "level", "binds", "distance"), NOT_ASSESSED
        )
        nothing = dict.fromkeys(("point", "microphone", "arrangement"), "")
        dash["binds"] = binds_word(one.binds)
        return {**dash, **nothing, "low": None, "middle": None, "high": None, "why": unheard}
    row = one.out.worst
    path = row.path
    return {
        "point": row.talker.id,
        "sti": figure(row.sti.value, 2),
        "band": row.category,
        "rating": row.rating,
        "low": round(row.sti.low, STI),
        "middle": row.sti.value,
        "high": round(row.sti.high, STI),
        "chance": percent(one.chance) if one.binds else NOT_ASSESSED,
        "level": figure(path.speech_level_dba, 1),
        "binds": binds_word(one.binds),
        "microphone": f"devices.{path.microphone}",
        "distance": _length(path.distance, unit),
        "arrangement": one.out.arrangement,
        "why": "" if one.binds else NO_PROMISE,
    }


def inbound_cells(ears: Sequence[Inbound], silent: str) -> dict[str, Any]:
    """What a place hears of the far end: its worst ear, or dashes and why."""
    if not ears:
        dash = dict.fromkeys(("inbound", "inbound_band", "inbound_level"), NOT_ASSESSED)
        return {**dash, "inbound_why": silent, "inbound_words": ""}
    row = ears[0]
    return {
        "inbound": figure(row.sti.value, 2),
        "inbound_band": row.category,
        "inbound_level": figure(row.level.value, 1),
        "inbound_why": "",
        "inbound_words": f"{row.rating}, {figure(row.sti.low, 2)}–{figure(row.sti.high, 2)}, "
        f"from {row.heard_from}: {row.state}",
    }


def quick_rows(
    now: Now, room: Room, ears: Mapping[str, Sequence[Inbound]], *, unit: Unit
) -> list[dict[str, Any]]:
    """What changes in the rows of the ledger while a hand moves things, worst first.

    Middle values and states: ranges are hidden until the hand rests. What is heard of the far end
    stays as it was, and counts with it.

    Parameters
    ----------
    now : Now
        The room with things moved.
    room : Room
        The same.
    ears : mapping
        Rows of the way in as the room stands, by item path.
    unit : {"m", "ft"}
        Of lengths in words.
    """
    found: dict[str, dict[str, Any]] = {}
    for one in now.heard:
        state, binds = quick_state(one.now.promise, ears.get(one.talker.owner, ()))
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
            "binds": binds_word(binds),
            "microphone": f"devices.{one.now.microphone}",
            "distance": _length(one.now.distance, unit),
            "arrangement": spoken(one.space),
            "why": "" if binds else NO_PROMISE,
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


def quick_marks(
    now: Now,
    mapped: Mapped,
    rows: Sequence[Mapping[str, Any]],
    before: Mapping[str, Mapping[str, str]],
    *,
    worst: bool,
) -> dict[str, dict[str, str]]:
    """State and figure of every place while a hand moves things, as `marks`.

    Parameters
    ----------
    now : Now
        The room with things moved.
    mapped : Mapped
        The quantity shown.
    rows : sequence of mapping
        Of `quick_rows`.
    before : mapping
        Marks of the room as it stands: figures of the way in stay as they were.
    worst : bool
        Whether the low end is shown.
    """
    found: dict[str, dict[str, str]] = {}
    for row in rows:
        owner = row["path"]
        mine = [h for h in now.heard if h.talker.owner == owner]
        if mapped.is_inbound:
            shown = before[owner]["figure"]
        else:
            values = [(h.now.lows if worst else h.now.values)[mapped.key] for h in mine]
            shown = figure(min(values, default=math.nan), mapped.decimals)
        found[owner] = {"state": row["state"], "figure": shown}
    return found


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
    for place in both_ways(evidence):
        known = [
            one[mapped.key]
            for talker in evidence.talkers
            if talker.owner == place.owner and mapped.key in (one := values.get(talker.id, {}))
        ]
        shown = min((v.low if worst else v.value for v in known), default=math.nan)
        found[place.owner] = {"state": place.state, "figure": figure(shown, mapped.decimals)}
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


def message(one: Finding) -> str:
    """What a rule found, and in which arrangements, as it is read."""
    where = "; ".join(map(spoken, one.arrangements))
    return fixed_spaces(full_stop(f"{where}: {one.message}" if where else one.message))


def _finding(one: Finding, room: Room) -> dict[str, Any]:
    item = item_of(one.at, room)
    shown_at = place_on_plan(item, room) if item else None
    return {
        "code": one.code,
        "severity": one.severity,
        "state": finding_state(one),
        "at": item,
        "field": one.at,
        "message": message(one),
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
