"""Changes that mend findings, written into a document, and changes as plain data."""

from __future__ import annotations

import difflib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

from wellheard.checks.model import Finding
from wellheard.dossier.sections.findings import Computed
from wellheard.errors import UsageError
from wellheard.room import codec
from wellheard.room.document import Room
from wellheard.workflow.judging import Judged, Progress, judge, quiet
from wellheard.workflow.load import Loaded
from wellheard.workflow.remedy_effects import NUMBER, effects, key, names
from wellheard.workflow.remedying import MARK, SEARCH_TIME, Offer, offers

MOST_LISTED = 12
"""Findings that a refusal lists."""


@dataclass(frozen=True)
class Mended:
    """A document after changes.

    Attributes
    ----------
    taken : tuple of Offer
        In order, each tried on the document as the ones before left it.
    gone : tuple of str
        Findings that went with the changes of others.
    room : Room
    judged : Judged
    text : str
        The document with its comments.
    """

    taken: tuple[Offer, ...]
    gone: tuple[str, ...]
    room: Room
    judged: Judged
    text: str


def mend(
    loaded: Loaded,
    asked: Sequence[str],
    *,
    time_limit: float = SEARCH_TIME,
    say: Progress = quiet,
) -> Mended:
    """Make the changes for some findings, one after the other; no file is touched.

    Parameters
    ----------
    loaded : Loaded
        The document.
    asked : sequence of str
        Findings as ``code@place``, each with the best of its changes; ``code@place#2`` is the
        second. Where several findings are of one code and place, ``code@place`` is all of them,
        one after the other, and ``code@place:2`` the second as the document stands before any
        change.
    time_limit : float
        For each search. [s]
    say : callable
        Told what is being tried.

    Raises
    ------
    UsageError
        No finding has that name, or no change mends it.
    """
    room, judged = loaded.room, judge(loaded.room, loaded.catalogue, assumptions=False)
    named = names(judged)
    wanted = [(name, *_meant(name, named)) for name in asked]
    # What has become of each: a change moves and eases findings besides its own.
    left: dict[Finding, Finding | None] = {one: one for one in named}
    taken: list[Offer] = []
    gone: list[str] = []
    for name, meant, number in wanted:
        if not any(left[one] for one in meant):
            gone.append(name)
            continue
        before = len(taken)
        for one in meant:
            there = left[one]
            if there is None:
                continue  # it went with that of the one before
            found = offers(
                room, loaded.catalogue, judged, only={there}, time_limit=time_limit, say=say
            )
            if found:
                offer = replace(_chosen(found[0], number, name), name=_name(named[one], number))
                change = effects(judged, offer.judged)
                left = {first: now and change.left(now) for first, now in left.items()}
                taken.append(offer)
                room, judged = offer.room, offer.judged
        if len(taken) == before:
            raise UsageError(
                f"--apply {name}: no change that was tried mends it without an error elsewhere; "
                "wellheard check --changes lists the findings that have one"
            )
    return Mended(tuple(taken), tuple(gone), room, judged, codec.edit(loaded.document, room))


def _meant(name: str, named: Mapping[Finding, str]) -> tuple[tuple[Finding, ...], int]:
    """The findings of a name, and which of their changes is meant, the best being the first."""
    finding, number = _split(name)
    one = [f for f, its in named.items() if its in (finding, finding.removesuffix(f"{NUMBER}1"))]
    if one:
        return tuple(one), number
    alike = [f for f in named if key(f) == finding]
    if not alike:
        raise UsageError(f"--apply {name}: {_unknown(finding, list(named.values()))}")
    if number > 1:
        first, last = named[alike[0]], named[alike[-1]]
        raise UsageError(
            f"--apply {name}: {len(alike)} findings have that name; {first}{MARK}{number} to "
            f"{last}{MARK}{number} is allowed"
        )
    return tuple(alike), number


def _name(finding: str, number: int) -> str:
    return finding if number == 1 else f"{finding}{MARK}{number}"


def _split(name: str) -> tuple[str, int]:
    """Name of a finding, and which of its changes is meant, the best being the first."""
    finding, mark, number = name.rpartition(MARK)
    if not mark:
        return name, 1
    if not (number.isascii() and number.isdecimal() and 1 <= int(number) < 100):
        raise UsageError(f"--apply {name}: {number!r} is no number of a change; 1, 2, … is allowed")
    return finding, int(number)


def _chosen(offer: Offer, number: int, name: str) -> Offer:
    all_of_them = (offer, *offer.further)
    if number > len(all_of_them):
        count = len(all_of_them)
        raise UsageError(
            f"--apply {name}: it has {count} change{'' if count == 1 else 's'}; "
            f"{MARK}1 to {MARK}{count} is allowed"
        )
    return all_of_them[number - 1]


def _unknown(name: str, there: Sequence[str]) -> str:
    if not there:
        return "the room has no error and no warning; nothing is to be mended"
    near = difflib.get_close_matches(name, there, n=1, cutoff=0.6)
    if near:
        return f"no such finding; did you mean {near[0]}?"
    more = f" and {len(there) - MOST_LISTED} more" if len(there) > MOST_LISTED else ""
    return (
        "no such finding; an error or a warning of the room is allowed, as code@place: "
        f"{', '.join(there[:MOST_LISTED])}{more}"
    )


# Plain data -------------------------------------------------------------------------------------


def change_of(offer: Offer) -> dict[str, Any]:
    """A change as JSON has it; ``further`` has the other ones for the same finding."""
    return {**_plain(offer), "further": [_plain(one) for one in offer.further]}


def _plain(offer: Offer) -> dict[str, Any]:
    return {
        "apply": offer.name,
        "operations": offer.operations,
        "says": offer.says,
        "note": offer.note or None,
        "achieves": offer.achieves,
        "value_after": offer.value_after,
        "mends": list(offer.mends),
        "worsens": list(offer.worsens),
    }


def with_changes(findings: Sequence[Finding], found: Sequence[Offer]) -> list[dict[str, Any]]:
    """Findings as JSON has them, each with its ``change``; null where it has none.

    A finding of one part of a room that divides has that of the whole room which says the same.
    """
    known = {replace(one.finding, arrangements=()): change_of(one) for one in found}
    return [
        {**one.as_json(), "change": known.get(replace(one, arrangements=()))} for one in findings
    ]


def computed(found: Sequence[Offer]) -> dict[Finding, Computed]:
    """The best change of each finding as a dossier prints it; one for several is told once."""
    told: dict[int, Offer] = {}
    changes = {}
    for one in found:
        first = told.setdefault(id(one.room), one)
        changes[one.finding] = Computed(
            says=one.says,
            figure=one.figure,
            achieves=one.achieves,
            note=one.note,
            told_at=first.finding.at if first is not one else "",
            further=len(one.further),
        )
    return changes


def applied(mended: Mended) -> list[dict[str, Any]]:
    """Changes that were made, as JSON has them."""
    return [{"finding": one.key, **_plain(one)} for one in mended.taken]
