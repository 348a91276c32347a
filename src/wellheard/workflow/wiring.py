"""Wire a document: from a room to its links, electronics and their price, with proof."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any

from wellheard.catalog.catalogue import Catalogue
from wellheard.room import codec
from wellheard.room.document import Room
from wellheard.wiring.asking import task_of
from wellheard.wiring.solve import TIME_LIMIT, solve
from wellheard.wiring.wired import Wired, wired_room
from wellheard.workflow.judging import Judged, Progress, judge, quiet
from wellheard.workflow.load import Loaded

SHORT = ("tail-too-short", "echo-loss-missed")
"""Rules by which a canceller may turn out not to be enough for the room."""


@dataclass(frozen=True)
class WiredRoom:
    """Wiring, the room with it as it is then predicted, and the document's text saying so."""

    wired: Wired
    judged: Judged
    room: Room
    text: str


def wire(loaded: Loaded, *, time_limit: float = TIME_LIMIT, say: Progress = quiet) -> WiredRoom:
    """Wire a document and write that into its text; no file is touched.

    Parameters
    ----------
    loaded : Loaded
        The document with its catalogue.
    time_limit : float
        For each search; when it is over, the answer says by how far it may be off. [s]
    say : callable
        Told how far things are.

    Returns
    -------
    WiredRoom
        Also where something stays unwired: `Wired.unwired` says what, and why.

    Raises
    ------
    InputError
        The text cannot be changed in place.
    """
    return wire_room(loaded, loaded.room, time_limit=time_limit, say=say, assumptions=False)


def wire_room(
    loaded: Loaded,
    room: Room,
    *,
    time_limit: float = TIME_LIMIT,
    say: Progress = quiet,
    assumptions: bool = True,
) -> WiredRoom:
    """Wire what has become of a document's room, and write all of it into the document's text.

    ``assumptions=False`` leaves out of its judgement what assumptions do, as
    `wellheard.workflow.judging.judge` does.

    Whether a canceller is long and strong enough only the prediction says. One that is bought and
    is not, is left out and the room wired again, as long as everything can be wired without it.
    """
    say("wiring …")
    catalogue = loaded.catalogue
    refused: frozenset[str] = frozenset()
    wired, done = _wired(room, catalogue, refused, time_limit)
    judged = judge(done, catalogue, say=say, assumptions=assumptions)
    while short := _short_of(wired, judged):
        refused |= short
        say("wiring again, with a canceller that is enough …")
        other, there = _wired(room, catalogue, refused, time_limit)
        if len(other.unwired) > len(wired.unwired):
            break
        wired, done = other, there
        judged = judge(done, catalogue, say=say, assumptions=assumptions)
    return WiredRoom(wired, judged, done, codec.edit(loaded.document, done))


def _wired(
    room: Room, catalogue: Catalogue, refused: frozenset[str], time_limit: float
) -> tuple[Wired, Room]:
    exclude = tuple(dict.fromkeys((*room.choices.exclude, *sorted(refused))))
    choices = room.choices.model_copy(update={"exclude": exclude})
    wired = solve(task_of(room.model_copy(update={"choices": choices}), catalogue), time_limit)
    if refused:
        told = f"Not bought, its canceller is too short or too weak here: {', '.join(refused)}."
        if len(refused) > 1:
            told = (
                "Not bought, their cancellers are too short or too weak here: "
                f"{', '.join(sorted(refused))}."
            )
        proof = replace(wired.proof, scope=f"{wired.proof.scope} {told}")
        wired = replace(wired, proof=proof)
    return wired, wired_room(room, wired)


def _short_of(wired: Wired, judged: Judged) -> frozenset[str]:
    """Products that are bought here and whose cancellers are not enough."""
    lacking = {f.at.split(".")[1] for f in judged.errors if f.code in SHORT}
    bought = {part.id for part in wired.parts}
    devices = {
        one.canceller.partition(".")[0]
        for one in judged.evidence.echo
        if one.microphone in lacking and one.canceller
    }
    return frozenset(
        device.product
        for name, device in judged.evidence.room.devices.items()
        if name in devices & bought
    )


def as_json(wired: Wired) -> dict[str, Any]:
    """What ``wire --format json`` prints, and what a design keeps of its wiring."""
    return {
        "links": _plain(wired.links),
        "devices": _plain(wired.devices),
        "equipment": _plain(wired.equipment),
        "processing": _plain(wired.processing),
        "dropped": list(wired.dropped),
        "price": wired.price,
        "currency": wired.currency,
        "electronics": wired.electronics,
        "cable": round(wired.cable, 3),
        "parts": [
            {"id": part.id, "what": part.what, "amount": part.amount} for part in wired.parts
        ],
        "proof": {
            "status": wired.proof.status,
            "scope": wired.proof.scope,
            "bound": wired.proof.bound,
            "gap": wired.proof.gap,
        },
        "assumed": list(wired.assumed),
        "unwired": [
            {"port": one.port, "why": one.why, "gives": one.gives} for one in wired.unwired
        ],
    }


def _plain(entries: Mapping[str, Any]) -> dict[str, Any]:
    return {
        name: entry.model_dump(mode="json", by_alias=True, exclude_defaults=True)
        for name, entry in entries.items()
    }
