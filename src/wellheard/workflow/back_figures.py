"""The way back beside the plan: playback, echo by microphone, the loop of a lift, delays."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from wellheard.dossier.sections.delays import lip_sync_words
from wellheard.dossier.sections.echo import echo_answer, least_bound
from wellheard.dossier.sections.lift import lift_answer
from wellheard.dossier.words import (
    NBSP,
    NOT_ASSESSED,
    counted,
    figure,
    fixed_spaces,
    full_stop,
    sentence,
)
from wellheard.predict.evidence import Evidence
from wellheard.predict.lift import HOST_NOT_INCLUDED
from wellheard.predict.wayback import DelayPart, Delays, Echo, Lift, Playback
from wellheard.workflow.bothways import silent_why
from wellheard.workflow.strip_lift import margin_state

Json = dict[str, Any]

HEAD = (
    ("state", "State", "", "left"),
    ("id", "Mic", "", "left"),
    ("return_loss", "Return", "loss, dB", "right"),
    ("needed", "Needed", "dB", "right"),
    ("to_add", "To add", "dB", "right"),
    ("can_add", "Can add", "dB", "right"),
    ("by", "Held by", "", "left"),
    ("tail_needed", "Tail", "needed, ms", "right"),
    ("tail", "Has", "ms", "right"),
    ("canceller", "Canceller", "", "left"),
)
"""Columns of the echo table: key, words, what is under them, side."""

NOTHING_CANCELS = "nothing cancels echo on its way"
NO_TAIL = "its sheet states no tail"


def back_figures(evidence: Evidence) -> Json:
    """What a screen shows of the way back, beside the seats.

    Parameters
    ----------
    evidence : Evidence
        Of the whole room.

    Returns
    -------
    dict
        ``why`` says why there is nothing; else ``playback`` and ``echo_words`` are sentences,
        ``head`` and ``echo`` a table, ``loop`` words with a state and a ``note``, ``delays`` lines
        of ``word``, ``ms`` and ``parts``.
    """
    playback = evidence.playback
    if playback is None:
        return {"why": silent_why(evidence), **_without(evidence)}
    return {
        "why": "",
        "playback": _playback(playback),
        "head": [
            {"key": key, "words": words, "under": under.replace(" ", NBSP), "align": align}
            for key, words, under, align in HEAD
        ],
        "echo_words": fixed_spaces(echo_answer(evidence)),
        "echo": [_echo(one) for one in evidence.echo],
        "loop": None if evidence.lift is None else _loop(evidence.lift),
        "delays": _delays(evidence.delays),
    }


def _without(evidence: Evidence) -> Json:
    """The same without loudspeakers: what is known of delays."""
    return {
        "playback": "",
        "head": [],
        "echo_words": "",
        "echo": [],
        "loop": None,
        "delays": _delays(evidence.delays),
    }


def _playback(found: Playback) -> str:
    least = min(found.drives, key=lambda one: round(one.headroom_db, 6))
    even = found.uniformity
    said = (
        f"{sentence(counted(len(found.loudspeakers), 'loudspeaker'))} set to "
        f"{figure(found.mean_dba, 1)} dBA, mean of the ears; loudest over quietest ear "
        f"{figure(even.value, 1)} dB"
    )
    if even.target is not None:
        said += f" of {even.target:g} dB promised"
    return fixed_spaces(
        full_stop(
            f"{said}; {figure(least.headroom_db, 0)} dB left above the peaks at "
            f"{least.loudspeaker}, the least"
        )
    )


def _echo(one: Echo) -> Json:
    nothing = one.can_add_db is None
    why = NOTHING_CANCELS if nothing else NO_TAIL if one.tail is None else ""
    return {
        "path": f"devices.{one.microphone}",
        "id": one.microphone,
        "state": one.state,
        "return_loss": figure(one.return_loss_db, 1),
        "needed": figure(one.needed_db, 1),
        "to_add": figure(one.must_add_db, 1),
        "can_add": NOT_ASSESSED if one.can_add_db is None else figure(one.can_add_db, 1),
        "by": NOT_ASSESSED if nothing else least_bound(one),
        "tail_needed": figure(1000 * one.tail_needed, 0),
        "tail": NOT_ASSESSED if one.tail is None else figure(1000 * one.tail, 0),
        "canceller": one.canceller or NOT_ASSESSED,
        "echo_to_speech": figure(one.echo_to_speech_db, 1),
        "why": why,
    }


def _loop(found: Lift) -> Json:
    return {
        "state": margin_state(found),
        "in_use": found.in_use,
        "words": fixed_spaces(lift_answer(found)),
        "note": HOST_NOT_INCLUDED,
    }


def _delays(found: Delays | None) -> list[Json]:
    if found is None:
        return []
    ways = (
        ("mouth to computer", found.outbound_ms, found.outbound),
        ("computer to ear", found.inbound_ms, found.inbound),
        ("mouth to another ear, lifted", found.lift_ms, found.lift),
    )
    rows = [
        {"word": word, "ms": figure(ms, 1), "parts": _parts(parts)}
        for word, ms, parts in ways
        if ms is not None
    ]
    rows.append(
        {
            "word": "call, mouth to ear",
            "ms": figure(found.one_way_ms, 0),
            "parts": f"as stated; what is in the room is inside it. Lip sync: "
            f"{lip_sync_words(found.lip_sync_ms)}",
        }
    )
    return rows


def _parts(parts: Sequence[DelayPart]) -> str:
    return ", ".join(
        f"{part.name} {figure(part.ms, 1)} ({part.at.removeprefix('devices.')})" for part in parts
    )
