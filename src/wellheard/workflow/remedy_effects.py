"""Errors and warnings of two judgements side by side: what goes, what is less, what comes."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field

from wellheard.checks.model import ORDER, Finding
from wellheard.room.document import Room
from wellheard.workflow.judging import Judged

GRAVE = ("error", "warning")
"""What a change is tried for."""
NUMBER = ":"
"""Before the number of a finding among those at one place; no path in a document has it."""
LESS = 0.8
"""A finding is clearly less at this factor on its distance from the limit."""
WORSE = 1.01
"""And worse from this one on."""
REACHED_FROM_BELOW = frozenset(
    {
        "echo-loss-missed",
        "target-missed-direct-to-reverberant",
        "target-missed-speech-to-noise",
        "target-missed-sti",
        "target-missed-sti-inbound",
    }
)
REACHED_FROM_ABOVE = frozenset(
    {"target-missed-noise", "target-missed-reverberation", "target-missed-uniformity"}
)
"""Rules that warn of a value on the right side of its limit, where its chance is too small."""

_WORD = re.compile(r"[\w-]+")
_MORE = re.compile(r" and (\d+) more\b")
"""As `wellheard.checks.wording.listed` shortens a row of names."""

_Place = tuple[str, str, str]
"""Code, place in the document, and part of a room that divides."""


def key(finding: Finding) -> str:
    """``code@place`` of a finding; several may share it."""
    return f"{finding.code}@{finding.at}"


def names(judged: Judged) -> dict[Finding, str]:
    """How errors and warnings are named on a command line, in their order.

    That is ``code@place``; where several share it, ``code@place:1``, ``code@place:2`` and so on.
    """
    found = list(grave(judged))
    shared = Counter(map(key, found))
    number: Counter[str] = Counter()
    named = {}
    for one in found:
        name = key(one)
        number[name] += 1
        named[one] = name if shared[name] == 1 else f"{name}{NUMBER}{number[name]}"
    return named


@dataclass(frozen=True)
class Effects:
    """What one change does to the findings of a document.

    Attributes
    ----------
    mends, worsens : tuple of str
        ``code@place`` of errors and warnings of which none is left, and of those that come or get
        worse.
    new_errors : tuple of str
        Of these, errors that were not there.
    unassessed : tuple of str
        ``code@place`` of what is not assessed any more.
    counts : pair of int
        Errors and warnings that are left.
    """

    mends: tuple[str, ...]
    worsens: tuple[str, ...]
    new_errors: tuple[str, ...]
    unassessed: tuple[str, ...]
    counts: tuple[int, int]
    _left: dict[Finding, Finding | None] = field(repr=False)
    _fewer: frozenset[str] = field(repr=False)
    _lighter: bool = field(repr=False)

    def left(self, finding: Finding) -> Finding | None:
        """What is left of a finding of the old document, at its worst; None where nothing is."""
        return self._left.get(finding)

    def mends_or_eases(self, finding: Finding) -> bool:
        """Whether a finding goes or is clearly less, and that is worth what else it does.

        No error may come. A finding that goes here and comes there is not mended, nor is one that
        can no longer be assessed, nor one that costs as much elsewhere.
        """
        if self.new_errors or any(k.startswith(f"{finding.code}@") for k in self.unassessed):
            return False
        left = self.left(finding)
        if left is None:
            return finding.code in self._fewer and self._lighter
        if ORDER[left.severity] > ORDER[finding.severity]:
            return self._lighter
        before, after = _short_by(finding), _short_by(left)
        return (
            before is not None
            and after is not None
            and before > 0
            and after <= LESS * before
            and left.severity == finding.severity
            and not self.worsens
        )


def effects(old: Judged, new: Judged) -> Effects:
    """Compare the findings of two judgements, place by place and part by part."""
    before, after = _by_place(old), _by_place(new)
    known = _ids(old.evidence.room) | _ids(new.evidence.room)
    left: dict[Finding, Finding | None] = {}
    worsens: dict[str, None] = {}
    new_errors: dict[str, None] = {}
    for place in dict.fromkeys((*before, *after)):
        name = f"{place[0]}@{place[1]}"
        pairs = list(_paired(before.get(place, ()), after.get(place, ())))
        for was, now in pairs:
            if was is not None:
                left[was] = _worse_of(left.get(was), now)
            if was is None or (now is not None and _is_worse(was, now, known)):
                worsens[name] = None
        if _errors(b for _, b in pairs) > _errors(a for a, _ in pairs):
            new_errors[name] = None
    still = {key(one) for one in grave(new)}
    mends = dict.fromkeys(key(was) for was, now in left.items() if now is None)
    weights = [_weights(one) for one in (old, new)]
    return Effects(
        mends=tuple(name for name in mends if name not in still),
        worsens=tuple(worsens),
        new_errors=tuple(new_errors),
        unassessed=_unassessed(old, new),
        counts=(
            sum(f.severity == "error" for f in grave(new)),
            sum(f.severity == "warning" for f in grave(new)),
        ),
        _left=left,
        _fewer=frozenset(code for code, w in weights[0].items() if weights[1][code] < w),
        _lighter=weights[1].total() < weights[0].total(),
    )


def grave(judged: Judged) -> Iterator[Finding]:
    """Errors and warnings, what is not assessed left out."""
    return (f for f in judged.findings if f.severity in GRAVE and f.status == "fail")


def _by_place(judged: Judged) -> dict[_Place, list[Finding]]:
    """What is found where, in each part that it is found in."""
    everywhere = tuple(part.name for part in judged.parts) or ("",)
    found: dict[_Place, list[Finding]] = {}
    for one in grave(judged):
        for part in one.arrangements or everywhere:
            found.setdefault((one.code, one.at, part), []).append(one)
    return found


def _paired(
    old: Sequence[Finding], new: Sequence[Finding]
) -> Iterator[tuple[Finding | None, Finding | None]]:
    """Findings of one code and place: those that say the same first, the others worst to worst."""
    rest = list(new)
    changed = []
    for one in old:
        same = next((n for n in rest if n.message == one.message), None)
        if same is None:
            changed.append(one)
        else:
            rest.remove(same)
            yield one, same
    changed.sort(key=_weight)
    rest.sort(key=_weight)
    for i in range(max(len(changed), len(rest))):
        yield (
            changed[i] if i < len(changed) else None,
            rest[i] if i < len(rest) else None,
        )


def _weight(finding: Finding) -> tuple[int, float]:
    """Sorts the worst first."""
    return ORDER[finding.severity], -(_short_by(finding) or 0.0)


def _worse_of(one: Finding | None, other: Finding | None) -> Finding | None:
    return min((f for f in (one, other) if f is not None), key=_weight, default=None)


def _short_by(finding: Finding) -> float | None:
    """How far a value is from its limit in its own unit; below 0 on the right side of it."""
    if finding.value is None or finding.limit is None:
        return None
    if finding.code in REACHED_FROM_BELOW:
        return finding.limit - finding.value
    if finding.code in REACHED_FROM_ABOVE:
        return finding.value - finding.limit
    return abs(finding.value - finding.limit)


def _is_worse(was: Finding, now: Finding, known: frozenset[str]) -> bool:
    if was.severity != now.severity:
        return ORDER[now.severity] < ORDER[was.severity]
    before, after = _short_by(was), _short_by(now)
    if before is None or after is None:
        return _subjects(now, known) > _subjects(was, known)
    return after - before > (WORSE - 1.0) * max(abs(before), abs(now.limit or 0.0) / 10.0)


def _ids(room: Room) -> frozenset[str]:
    """Ids of all that a finding may speak of."""
    return frozenset(
        {
            *room.devices,
            *room.equipment,
            *room.furniture,
            *room.links,
            *room.noise.sources,
            *room.overhead,
            *room.partitions,
            *room.people.seats,
            *room.people.standing,
            *room.processing,
            *room.space.walls,
        }
    )


def _subjects(finding: Finding, known: frozenset[str]) -> int:
    """How many things a finding names, those that it only counts among them."""
    named = set(_WORD.findall(finding.message)) & known
    return len(named) + sum(map(int, _MORE.findall(finding.message)))


def _errors(found: Iterator[Finding | None]) -> int:
    return sum(one is not None and one.severity == "error" for one in found)


def _weights(judged: Judged) -> Counter[str]:
    """How much is found of each code: an error counts as three warnings."""
    found: Counter[str] = Counter()
    for one in grave(judged):
        found[one.code] += 3 if one.severity == "error" else 1
    return found


def _unassessed(old: Judged, new: Judged) -> tuple[str, ...]:
    """What cannot be assessed any more, though it could."""
    before, after = (
        dict.fromkeys(key(f) for f in one.findings if f.status == "not-assessed")
        for one in (old, new)
    )
    return tuple(name for name in after if name not in before)
