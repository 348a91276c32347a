"""What a tried change achieves, in sentences: figures before and after, seats, price."""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Iterable, Iterator
from dataclasses import replace

from wellheard.checks.model import Draft, Finding
from wellheard.checks.registry import rules
from wellheard.dossier.words import counted, listed, sentence
from wellheard.predict.evidence import Evidence, Quantity
from wellheard.room.house_limits import HOUSE_LIMITS
from wellheard.room.targets import HouseRule
from wellheard.units import Unit, format_length
from wellheard.workflow.judging import Judged
from wellheard.workflow.prices import Total, step
from wellheard.workflow.remedy_effects import REACHED_FROM_BELOW, Effects, key

MOST_NAMED = 4
"""Of findings that come or get worse, so many are named."""
SAME_PRICE = step(Total(0.0, ""), Total(0.0, ""))
SEAT_QUANTITIES: dict[str, tuple[str, Callable[[Evidence], Iterator[tuple[str, Quantity]]]]] = {}
"""What a target of the talking points is called, and its quantity at each of them."""


def _outbound(index: int) -> Callable[[Evidence], Iterator[tuple[str, Quantity]]]:
    return lambda evidence: ((r.talker.owner, r.quantities[index]) for r in evidence.outbound)


def _heard(name: str) -> Callable[[Evidence], Iterator[tuple[str, Quantity]]]:
    def each(evidence: Evidence) -> Iterator[tuple[str, Quantity]]:
        rows = evidence.playback.rows if evidence.playback is not None else ()
        return ((row.talker.owner, getattr(row, name)) for row in rows)

    return each


SEAT_QUANTITIES |= {
    "target-missed-sti": ("STI", _outbound(0)),
    "target-missed-direct-to-reverberant": ("direct/reverberant", _outbound(1)),
    "target-missed-speech-to-noise": ("speech to noise", _outbound(2)),
    "target-missed-sti-inbound": ("STI of the far end", _heard("sti")),
    "target-missed-listening-level": ("level of the far end", _heard("level")),
}


ROOM_FIGURES: dict[str, Callable[[Evidence], float | None]] = {
    "target-missed-noise": lambda evidence: evidence.noise.nc,
    "target-missed-reverberation": lambda evidence: sum(evidence.reverberation.time[2:4]) / 2,
    "target-missed-uniformity": lambda evidence: (
        None if evidence.playback is None else evidence.playback.uniformity.value
    ),
}
"""What the targets of the room as a whole are held against."""
STRICTER = 100.0
"""A rule is asked for so much more than usual to hear what it measures."""


def achieves(
    was: Judged, now: Judged, finding: Finding, effects: Effects, money: tuple[Total, Total]
) -> str:
    """What a change does to a document, in sentences."""
    said = [figure(now, finding, effects)]
    if was.evidence.talkers and (was.evidence.outbound or now.evidence.outbound):
        before, after = (_kept(one) for one in (was, now))
        if before != after:
            people = counted(len(now.evidence.talkers), "talking point")
            said.append(f"the promise kept at {before} → {after} of {people}")
    if None in (money[0].amount, money[1].amount):
        said.append("what it costs cannot be told")
    elif step(*money) != SAME_PRICE:
        said.append(step(*money))
    others = [name for name in effects.mends if name != key(finding)]
    if others:
        said.append(f"mends {counted(len(others), 'other finding')} with it")
    text = f"{sentence('; '.join(said))}."
    if effects.unassessed:
        text += f" Not assessed then: {by_code(effects.unassessed)}."
    if effects.worsens:
        text += f" Comes or gets worse: {by_code(effects.worsens)}."
    return text


def by_code(names: Iterable[str]) -> str:
    """Findings in words: each code once, with the places that have it.

    Parameters
    ----------
    names : iterable of str
        Of `remedy_effects.key`.

    Examples
    --------
    >>> by_code(["lip-sync@far_end", "tile-load@devices.m1", "tile-load@devices.m2"])
    'lip-sync at far_end, and tile-load at m1 and m2'
    """
    places: dict[str, list[str]] = {}
    for name in names:
        code, _, at = name.partition("@")
        places.setdefault(code, []).append(_NAMED_BY_ITSELF.sub("", at))
    said = [f"{code} at {listed(found, most=MOST_NAMED)}" for code, found in places.items()]
    return ", and ".join(said)


_NAMED_BY_ITSELF = re.compile(r"^(?:people\.seats|people\.standing|devices|links)\.")


def _kept(judged: Judged) -> int:
    evidence = judged.evidence
    return sum(evidence.state_of(talker.id) == "kept" for talker in evidence.talkers)


def figure(now: Judged, finding: Finding, effects: Effects) -> str:
    """What a change does to a finding alone: its own figure before and after."""
    left, unit = effects.left(finding), now.evidence.room.units
    value = value_after(now, finding, effects)
    if finding.value is None or value is None:
        return "nothing is left of it" if left is None else "it is less severe"
    name = _name(finding)
    before, after = (shown(one, finding, unit) for one in (finding.value, value))
    wanted = "" if finding.limit is None else f", {shown(finding.limit, finding, unit)} wanted"
    figures = f"{name} {before} → {after}{wanted}".strip()
    return figures if left is None else f"{figures}: less, and not mended"


def _name(finding: Finding) -> str:
    """What a finding's figure is of, in words; empty where its code says so itself.

    Examples
    --------
    >>> behind = "microphone-behind-talker"
    >>> _name(Finding(behind, "warning", "fail", "house", "m1", "", 110.0, 100.0, "deg", "", ""))
    "ceiling microphone off the talker's facing:"
    """
    if finding.code in SEAT_QUANTITIES:
        return SEAT_QUANTITIES[finding.code][0]
    limit = HOUSE_LIMITS.get(finding.code)
    if limit is None or finding.code in ROOM_FIGURES:
        return ""
    # Behind a semicolon stands why the limit is what it is, in metres.
    return f"{limit.means.partition(';')[0]}:"


def shown(value: float, finding: Finding, unit: Unit) -> str:
    """A finding's figure with its unit, as the document's reader expects it.

    Examples
    --------
    >>> finding = Finding(
    ...     "lip-sync", "warning", "fail", "house", "far_end", "", 1.0, 1.0, "dB", "", ""
    ... )
    >>> shown(-6.04, finding, "m")
    '−6.0 dB'
    """
    if finding.unit == "m":
        return format_length(value, unit=unit)
    if finding.unit == "s" and finding.code not in ("target-missed-reverberation",):
        return f"{1000 * value:.0f} ms"
    places = {"dB": 1, "dBA": 1, "deg": 0, "W": 0, "ms": 1, "NC": 0, "s": 2, "kg": 1, "Ω": 1}
    text = f"{value:.{places[finding.unit]}f}" if finding.unit in places else f"{value:.2f}"
    if text.lstrip("-").strip("0.") == "":
        text = text.lstrip("-")
    sign = {"deg": "°"}.get(finding.unit, f" {finding.unit}" if finding.unit else "")
    return f"{text}{sign}".replace("-", "−")


def value_after(now: Judged, finding: Finding, effects: Effects) -> float | None:
    """What a rule measures at a finding's place after a change; None where it measures nothing."""
    left = effects.left(finding)
    if left is not None:
        return left.value
    found = [v for one in _evidence(now, finding) for v in _measured(one, finding)]
    return _worst(found, finding)


def _evidence(judged: Judged, finding: Finding) -> tuple[Evidence, ...]:
    """Of the parts that a finding was in; of the whole where the room does not divide."""
    meant = [
        part.evidence
        for part in judged.parts
        if not finding.arrangements or part.name in finding.arrangements
    ]
    return tuple(meant) or (judged.evidence,)


def _measured(evidence: Evidence, finding: Finding) -> Iterator[float]:
    if finding.code in SEAT_QUANTITIES:
        quantities = SEAT_QUANTITIES[finding.code][1]
        yield from (q.value for owner, q in quantities(evidence) if owner == finding.at)
    elif finding.code in ROOM_FIGURES:
        value = ROOM_FIGURES[finding.code](evidence)
        if value is not None:
            yield value
    elif finding.code in HOUSE_LIMITS and rules()[finding.code].relaxable:
        yield from (d.value for d in _strictly(evidence, finding) if d.value is not None)


def _strictly(evidence: Evidence, finding: Finding) -> Iterator[Draft]:
    """What the rule says where next to nothing is good enough for it: what it measures."""
    limit = HOUSE_LIMITS[finding.code]
    stricter = limit.limit * (STRICTER if limit.sense == "at least" else 1 / STRICTER)
    strict = HouseRule(limit=stricter, because="to measure")
    targets = evidence.room.targets
    asked = targets.model_copy(update={"house_rules": {**targets.house_rules, limit.code: strict}})
    room = evidence.room.model_copy(update={"targets": asked})
    for draft in rules()[finding.code].check(replace(evidence, room=room)):
        if draft.at == finding.at and draft.status == "fail" and draft.unit == finding.unit:
            yield draft


def _worst(values: list[float], finding: Finding) -> float | None:
    """Of several measurements at one place the one nearest to breaking the limit."""
    if not values or finding.value is None or finding.limit is None:
        return None
    below = finding.value < finding.limit or finding.code in REACHED_FROM_BELOW
    found = (min if below else max)(values)
    # A rule with several limits measures against another one there: that is no comparison.
    kept = found >= finding.limit if below else found <= finding.limit
    return found if math.isfinite(found) and kept else None
