"""The answer in one or two sentences, and why not fewer microphones."""

from __future__ import annotations

import re
from collections.abc import Sequence

from wellheard.dossier.model import PromiseRow
from wellheard.dossier.places import (
    TARGETS,
    Place,
    named_together,
    promised_text,
    together,
    value_text,
)
from wellheard.dossier.words import (
    count_word,
    counted,
    listed,
    percent,
    sentence,
)
from wellheard.place.proposal import FewerDevices, Proof, Proposal
from wellheard.predict.evidence import Evidence

MOST_NAMED = 3
"""Places that a sentence names before it counts the rest."""


def answer(
    places: Sequence[Place],
    wanted: float | None,
    *,
    promised: Sequence[PromiseRow] = (),
    unheard: Sequence[tuple[str, str]] = (),
) -> str:
    """Return the answer in one or two sentences: yes, yes except, or no, and because of what.

    ``promised`` are the lines of the promise: where every place is kept, a promise of the room
    itself that is not kept stands in the same sentence. ``unheard`` are the places (owner, kind)
    that some arrangement of a room that divides leaves without a microphone.
    """
    if unheard:
        many = len(unheard) > 1
        names = together(unheard, most=MOST_NAMED)
        return (
            f"No: not in every arrangement. {sentence(names)} {'are' if many else 'is'} without a "
            "microphone in one of them."
        )
    if not places:
        return "Not assessed yet: no microphone is placed in this room."
    kept = [place for place in places if place.state == "kept"]
    rest = [place for place in places if place.state != "kept"]
    total = counted(len(places), "place")
    if not rest:
        everywhere = "at the one place" if len(places) == 1 else f"at all {total}"
        least = places[0]
        arranged = " in every arrangement" if least.arrangement else ""
        return (
            f"Yes, {everywhere}{arranged}{_but(promised)}. "
            f"The least certain is {least.name}{_where(least)}, "
            f"with a chance of {percent(least.chance)}."
        )
    return f"{_verdict(len(kept), rest, len(places))} {_exception(rest, len(places), wanted)}"


ROOM_PROMISES = {
    "noise_nc": ("the room is louder than promised", "the room may be louder than promised"),
    "reverberation": (
        "the room rings longer than promised",
        "the room may ring longer than promised",
    ),
    "echo_loss_db": (
        "the far end would hear its own echo",
        "the far end may hear its own echo",
    ),
    "sti_inbound": (
        "the far end is not understood at every place",
        "the far end may not be understood at every place",
    ),
    "listening_level_dba": (
        "the far end is not as loud as promised at every place",
        "the far end may not be as loud as promised at every place",
    ),
    "uniformity_db": (
        "the far end is louder at some places than at others",
        "the far end may be louder at some places than at others",
    ),
}
"""What a broken promise of the room itself, or of the way back, means, and one at risk."""
OF_WAY_BACK = ("echo_loss_db", "sti_inbound", "listening_level_dba", "uniformity_db")
"""Promises of the way back, the one that matters most first."""
_FAILING = ("broken", "at risk")
OF_LOSS = {"echo_loss_db": " of loss"}
"""What a figure is of, where that is not plain."""
ASKED = {"echo_loss_db": "is needed"}
"""In place of ``was asked``, where the delay asks."""
MOST_BUTS = 2
"""Exceptions that an answer names; the promise table has them all."""
_FIGURE = re.compile(r"\d+(?:\.\d+)?")


def _but(promised: Sequence[PromiseRow]) -> str:
    """Return which promises beside the places are not kept, after a yes; none where all are.

    Those of the room first; of the way back the worst alone, the table has the others.
    """
    failing = [row for row in promised if row.target in ROOM_PROMISES and row.state in _FAILING]
    of_room = [row for row in failing if row.target not in OF_WAY_BACK]
    of_back = [row for row in failing if row.target in OF_WAY_BACK]
    of_back.sort(key=lambda row: (row.state != "broken", OF_WAY_BACK.index(row.target)))
    named = [*of_room, *of_back[:1]][:MOST_BUTS]
    return "".join(f"; {'and' if k else 'but'} {_shortcoming(r)}" for k, r in enumerate(named))


def _shortcoming(row: PromiseRow) -> str:
    """Return what is short, with what is expected and what was asked."""
    is_so, may_be = ROOM_PROMISES[row.target]
    noun, asked = OF_LOSS.get(row.target, ""), ASKED.get(row.target, "was asked")
    if row.state == "broken":
        over = "just over " if _alike(row.predicted.text, row.promised) else ""
        return f"{is_so}: {over}{row.predicted.text}{noun}, {row.promised} {asked}"
    return (
        f"{may_be}: {row.predicted.text}{noun} is expected, {row.promised} {asked}, the chance is "
        f"{row.chance}"
    )


def _alike(predicted: str, promised: str) -> bool:
    """Whether two figures print alike, whatever their last zeros."""
    return [float(x) for x in _FIGURE.findall(predicted)] == [
        float(x) for x in _FIGURE.findall(promised)
    ] and not predicted.startswith("above")


def _where(place: Place) -> str:
    return f" ({place.arrangement})" if place.arrangement else ""


def _verdict(kept: int, rest: Sequence[Place], total: int) -> str:
    of = f"{count_word(kept)} of {counted(total, 'place')}"
    if not kept:
        if all(place.state == "at risk" for place in rest):
            return "Perhaps, but not surely at any place."
        return "No."
    if 2 * kept > total:
        return f"Yes, at {of}."
    return f"No, only at {of}."


def _exception(rest: Sequence[Place], total: int, wanted: float | None) -> str:
    """Return who is left out, how badly, and because of what."""
    worst = rest[0]
    reason = TARGETS[worst.worst.binds].reason if worst.worst.binds in TARGETS else ""
    states = {place.state for place in rest}
    if len(rest) > MOST_NAMED:
        names = f"{'all ' if len(rest) == total else ''}{count_word(len(rest))} places"
    else:
        names = together([(place.owner, place.kind) for place in rest])
    many = len(rest) > 1
    if states == {"at risk"}:
        claim = f"{names} {'are' if many else 'is'} at risk"
    elif states == {"broken"}:
        claim = f"{names} {'miss' if many else 'misses'} the promise"
    elif states == {"not assessed"}:
        return sentence(f"{names} {'are' if many else 'is'} not assessed.")
    else:
        claim = f"{names} {'do' if many else 'does'} not keep the promise"
    figures = f"the chance is {percent(worst.chance)}"
    if wanted is not None:
        figures += f", {percent(wanted)} is wanted"
    if many:
        figures = f"at {worst.name}{_where(worst)}, the worst, {figures}"
    because = f", because {reason}" if reason else ""
    return sentence(f"{claim}{because}: {figures}.")


def explanation(evidence: Evidence, proposal: Proposal | None, *, fewer: bool = True) -> str:
    """Return how many microphones there are and why not fewer, in plain words.

    Without ``fewer`` nothing is said of the latter, as where nobody has asked yet.
    """
    count = len(evidence.microphones)
    if not count:
        missing = "Without a microphone there is nothing to predict."
        return f"{missing} {_shortfall(evidence, proposal)}".strip()
    kinds = {microphone.mounting for microphone in evidence.microphones}
    where = f"{next(iter(kinds))} " if kinds == {"ceiling"} or kinds == {"table"} else ""
    serve = "serves" if count == 1 else "serve"
    seats = sum(1 for t in evidence.talkers if t.kind == "seat")
    standing = len({t.owner for t in evidence.talkers if t.kind == "standing"})
    who = [counted(seats, "seat")] if seats else []
    if standing:
        who.append(counted(standing, "standing place"))
    infeasible = proposal is not None and proposal.proof.status == "infeasible"
    do = "are placed for" if infeasible and count > 1 else "is placed for" if infeasible else serve
    parts = (
        sentence(f"{counted(count, f'{where}microphone')} {do} {listed(who)}."),
        why_not_fewer(evidence, proposal) if fewer else "",
        _shortfall(evidence, proposal),
    )
    return " ".join(part for part in parts if part)


def why_not_fewer(evidence: Evidence, proposal: Proposal | None) -> str:
    """Return the quantity that demanded the last device, or that nobody knows."""
    if proposal is None:
        return "Whether fewer would do was not examined."
    proof = proposal.proof
    if proof.status == "infeasible":
        return ""
    if proof.status == "gap":
        return (
            "Whether fewer would do is not settled: the search ended before it could be "
            "proved or refuted."
        )
    if proposal.count <= 1 or proof.fewer is None:
        return "No design can have fewer." if proposal.count == 1 else ""
    if not proof.fewer_is_impossible and judged_by_price(proof):
        return _dearer(proposal.count, proof.fewer)
    return _why_not(evidence, proof, proof.fewer)


def judged_by_price(proof: Proof) -> bool:
    """Whether the least price was looked for, not the least number."""
    certificate = proof.certificate
    return "price" in proof.binding or (certificate is not None and certificate.measure == "price")


def _dearer(count: int, fewer: FewerDevices) -> str:
    """Return why there are more devices than need be: several products, the cheapest design."""
    less = counted(fewer.count, "microphone")
    if fewer.missed:
        return f"No design within the scope costs less; {less} would not keep the promise."
    return (
        f"{sentence(less)} would also do, but cost more: among several allowed products the "
        f"least price decides, not the least number."
    )


def _why_not(evidence: Evidence, proof: Proof, fewer: FewerDevices) -> str:
    claim = f"{sentence(counted(fewer.count, 'microphone'))} cannot do it"
    claim += ", and this is proved" if proof.fewer_is_impossible else ", as far as was searched"
    who = named_together(evidence, fewer.missed, most=MOST_NAMED) or "the worst place"
    return (
        f"{claim}: placed as well as possible, {who} would miss the promise, since "
        f"{_falls_short(evidence, fewer)}."
    )


NO_MICROPHONE = "no-microphone-in-space"
"""What the search calls a smaller design that leaves one side of a partition without any."""

REACH = "the distance that a microphone is rated for, or that a loudspeaker allows"


def decided_by_reach(fewer: FewerDevices) -> bool:
    """Whether a rule of distance, not a predicted quantity, stops the smaller design."""
    return fewer.target == "rated-distance"


def _falls_short(evidence: Evidence, fewer: FewerDevices) -> str:
    """Return what fails first: a rule of reach, the middle value, or only how sure it is."""
    if decided_by_reach(fewer):
        return f"{'they are' if len(fewer.missed) > 1 else 'it is'} beyond {REACH}"
    if fewer.target == NO_MICROPHONE:
        return "one side of a closed partition would have no microphone"
    if fewer.target not in TARGETS:
        return "not every rule and target can hold at once"
    words = TARGETS[fewer.target]
    promised = getattr(evidence.room.targets, fewer.target)
    reached = {
        "sti_outbound": fewer.worst_sti,
        "direct_to_reverberant_db": fewer.worst_direct_to_reverberant_db,
        "speech_to_noise_db": fewer.worst_speech_to_noise_db,
    }[fewer.target]
    target = promised_text(fewer.target, promised)
    if reached < promised:
        return (
            f"{words.noun} falls to {value_text(fewer.target, reached)} where {target} is promised"
        )
    wanted = evidence.room.targets.chance
    sure = "" if wanted is None else f", and {percent(wanted)} is wanted"
    return f"{words.noun} keeps {target} only with a chance of {percent(fewer.worst_chance)}{sure}"


def _shortfall(evidence: Evidence, proposal: Proposal | None) -> str:
    if proposal is None or proposal.proof.status != "infeasible":
        return ""
    if not proposal.shortfalls and "price" in proposal.proof.binding:
        return "The price limit is not kept: no design that keeps the other targets costs less."
    said = "No arrangement of the allowed products can keep the whole promise"
    if not proposal.shortfalls:
        return f"{said}."
    short = [shortfall.talker for shortfall in proposal.shortfalls]
    names = named_together(evidence, short, most=MOST_NAMED)
    return f"{said}: {names} cannot be served well enough from anywhere."
