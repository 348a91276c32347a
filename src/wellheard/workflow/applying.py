"""Changes that mend findings, written into a document, and changes as plain data."""

from __future__ import annotations

import difflib
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from wellheard.checks.model import Finding
from wellheard.errors import UsageError
from wellheard.room import codec
from wellheard.room.document import Room
from wellheard.workflow.design import Judged, Progress, judge, quiet
from wellheard.workflow.load import Loaded
from wellheard.workflow.remedy_effects import GRAVE, key
from wellheard.workflow.remedying import SEARCH_TIME, Offer, offers

MOST_LISTED = 12
"""Findings that a refusal lists."""
MARK = "#"
"""Between a finding and the number of one of its further changes."""


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
    names: Sequence[str],
    *,
    time_limit: float = SEARCH_TIME,
    say: Progress = quiet,
) -> Mended:
    """Make the changes for some findings, one after the other; no file is touched.

    Parameters
    ----------
    loaded : Loaded
        The document.
    names : sequence of str
        Findings as ``code@place``, each with the best of its changes; ``code@place#2`` is the
        second. Several findings of one name are mended one after the other.
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
    there = _named(judged)
    for name in names:
        _split(name)
        if _split(name)[0] not in there:
            raise UsageError(f"--apply {name}: {_unknown(_split(name)[0], list(there))}")
    taken: list[Offer] = []
    gone: list[str] = []
    for name in names:
        finding, number = _split(name)
        if finding not in _named(judged):
            gone.append(finding)
            continue
        left = len(_named(judged)[finding])
        first = len(taken)
        while left:
            found = offers(
                room, loaded.catalogue, judged, only={finding}, time_limit=time_limit, say=say
            )
            if not found:
                break
            offer = _chosen(found[0], number, name)
            taken.append(offer)
            room, judged = offer.room, offer.judged
            still = len(_named(judged).get(finding, ()))
            # One that is only less than before has had its change.
            left = still if still < left else 0
        if len(taken) == first:
            raise UsageError(
                f"--apply {name}: no change that was tried mends it without an error elsewhere; "
                "wellheard check --changes lists the findings that have one"
            )
    return Mended(tuple(taken), tuple(gone), room, judged, codec.edit(loaded.document, room))


def _named(judged: Judged) -> dict[str, list[Finding]]:
    """Errors and warnings by their names, in order."""
    found: dict[str, list[Finding]] = {}
    for one in judged.findings:
        if one.severity in GRAVE and one.status == "fail":
            found.setdefault(key(one), []).append(one)
    return found


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
        "operations": offer.operations,
        "says": offer.says,
        "note": offer.note or None,
        "achieves": offer.achieves,
        "value_after": offer.value_after,
        "mends": list(offer.mends),
        "worsens": list(offer.worsens),
    }


def with_changes(
    findings: Sequence[dict[str, Any]], found: Sequence[Offer]
) -> list[dict[str, Any]]:
    """Findings as JSON has them, each with its ``change``; null where it has none."""
    by_name = {(one.finding.code, one.finding.at, one.finding.message): one for one in found}
    changed = []
    for finding in findings:
        offer = by_name.get((finding["code"], finding["at"], finding["message"]))
        changed.append({**finding, "change": None if offer is None else change_of(offer)})
    return changed


def applied(mended: Mended) -> list[dict[str, Any]]:
    """Changes that were made, as JSON has them."""
    return [{"finding": one.key, **_plain(one)} for one in mended.taken]
