"""Answers as text: the ledger, findings, a placement, a path, aligned and unit in the head."""

from __future__ import annotations

import textwrap
from collections.abc import Iterator, Mapping, Sequence
from itertools import groupby
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from wellheard.checks.model import Finding
    from wellheard.place.certificate import Certificate
    from wellheard.place.proposal import Proposal, Shortfall
    from wellheard.predict.evidence import Evidence
    from wellheard.room.document import Room
    from wellheard.room.targets import Targets
    from wellheard.workflow.design import Judged
    from wellheard.workflow.remedying import Offer, Search

WIDTH = 100
MARKS = {"kept": "[✓]", "at risk": "[◪]", "broken": "[✗]", "not assessed": "[ ]"}
TOGETHER = "served-together"
"""What the search calls a talker whom a place serves, but not with those that others need."""
NEARER_LOUDSPEAKER = "loudspeaker-nearer-than-talkers"
TARGETS = {
    "sti_outbound": "STI",
    "direct_to_reverberant_db": "direct/reverberant",
    "speech_to_noise_db": "speech to noise",
    "rated-distance": "rated distance",
    TOGETHER: "a place together with the others",
    NEARER_LOUDSPEAKER: "loudspeaker nearer than talkers",
    "no-microphone-in-space": "a microphone in each space",
    "price": "price",
    "": "–",
}
NO_MICROPHONE = "no-microphone-in-space"
"""What the search calls a design that leaves one side of a closed partition without any."""


def number(value: float, places: int) -> str:
    """A figure with a true minus, and no zero below zero."""
    return f"{round(value, places) + 0.0:.{places}f}".replace("-", "−")


def chance(value: float) -> str:
    """A chance as the dossier writes it: rounded down, never 0 or 100 %."""
    from wellheard.dossier.words import percent

    return percent(value).replace("\u00a0", " ").replace("> ", ">").replace("< ", "<")


def verdict(judged: Judged, proposal: Proposal | None = None) -> str:
    """The room in one line: at how many of its talking points the promise is kept.

    A line for each space of each arrangement follows where the room divides.
    """
    price = ""
    if proposal is not None and "price" in proposal.proof.binding:
        price = ", but not its price limit" if proposal.proof.status == "infeasible" else ""
    title = judged.evidence.room.title or "Untitled room"
    if not judged.evidence.microphones:
        return f"{title}: no microphone is placed, so nothing is promised yet"
    everywhere = " in every arrangement" if judged.parts else ""
    kept, rest = _counts(judged.evidence)
    first = (
        f"{title}: the promise is kept at {kept} talking points{everywhere}"
        f"{f'; {rest}' if rest else price}{_silent(judged.evidence)}"
    )
    lines = [f"  {part.part.title}: {_standing(part.evidence)}" for part in judged.parts]
    return "\n".join([first, *lines])


def _silent(evidence: Evidence) -> str:
    """What is said where a document promises what is heard in the room and nothing plays there."""
    targets = evidence.room.targets
    stated = {"sti_inbound", "listening_level_dba", "uniformity_db"} & targets.model_fields_set
    if evidence.playback is not None or all(getattr(targets, name) is None for name in stated):
        return ""
    return "; what is heard in the room is promised and not assessed, for no loudspeaker is placed"


def _standing(evidence: Evidence) -> str:
    kept, rest = _counts(evidence)
    return f"kept at {kept}{f'; {rest}' if rest else ''}"


def _counts(evidence: Evidence) -> tuple[str, str]:
    """How many talking points keep the promise, and what the others do, '' if there are none."""
    states = [evidence.state_of(talker.id) for talker in evidence.talkers]
    kept = states.count("kept")
    rest = ", ".join(
        f"{states.count(s)} {s}" for s in ("at risk", "broken", "not assessed") if s in states
    )
    return (f"{kept} of {len(states)}" if rest else f"all {kept}"), rest


def arrangement(name: str) -> str:
    """A part of a room that divides, as it is spoken of."""
    from wellheard.room.divide import spoken

    return spoken(name)


def table(head: Sequence[str], rows: Sequence[Sequence[str]], *, left: int = 1) -> str:
    """Rows under a head, the first ``left`` columns aligned left, figures right."""
    widths = [max(len(r[i]) for r in (head, *rows)) for i in range(len(head))]
    lines = []
    for row in (head, *rows):
        cells = [
            cell.ljust(width) if i < left else cell.rjust(width)
            for i, (cell, width) in enumerate(zip(row, widths, strict=True))
        ]
        lines.append("  ".join(cells).rstrip())
    rule = "─" * max(len(line) for line in lines)
    return "\n".join([lines[0], rule, *lines[1:]])


def ledger(evidence: Evidence) -> str:
    """The seat ledger, worst first."""
    if not evidence.outbound:
        return "No microphone is placed: nothing is heard at the far end yet (not assessed)."
    feet = evidence.room.units == "ft"
    rows = [
        [
            f"{MARKS[o.state]} {o.state}",
            o.talker.id,
            o.path.microphone,
            _length(o.path.distance, feet=True) if feet else number(o.path.distance, 2),
            number(o.sti.value, 2),
            f"{number(o.sti.low, 2)}–{number(o.sti.high, 2)}",
            o.category,
            number(o.direct_to_reverberant.value, 1),
            number(o.speech_to_noise.value, 1),
            chance(o.chance),
            TARGETS[o.binds],
        ]
        for o in evidence.worst_first()
    ]
    arranged = any(o.arrangement for o in evidence.outbound)
    if arranged:
        for cells, o in zip(rows, evidence.worst_first(), strict=True):
            cells.insert(2, arrangement(o.arrangement))
    head = [
        "state",
        "seat",
        *(["worst in"] if arranged else []),
        "mic",
        "away" if feet else "m",
        "STI",
        "10–90 %",
        "IEC",
        "D/R dB",
        "S/N dB",
        "chance",
        "binds",
    ]
    silent = unheard(evidence) if arranged else ""
    return table(head, rows, left=4 if arranged else 3) + silent


def unheard(evidence: Evidence) -> str:
    """Talking points of a room that divides which some arrangement leaves without a microphone."""
    heard = {o.talker.id for o in evidence.outbound}
    names = [t.id for t in evidence.talkers if t.id not in heard]
    return f"\nWithout a microphone in some arrangement: {', '.join(names)}." if names else ""


def rooms(judged: Judged) -> str:
    """Reverberation and noise, of every space where the room divides."""
    if not judged.parts:
        return room(judged.evidence)
    return "\n\n".join(f"{part.part.title}\n{room(part.evidence)}" for part in judged.parts)


def room(evidence: Evidence) -> str:
    """Reverberation and noise of the room."""
    from wellheard.dossier.sections.room import volume_text
    from wellheard.dossier.words import NBSP

    decay = evidence.reverberation
    octaves = ["125", "250", "500", "1k", "2k", "4k", "8k"]
    rows = [
        [f"T, {decay.model} [s]", *[number(v, 2) for v in decay.time]],
        [
            "  10–90 %",
            *[f"{number(a, 2)}–{number(b, 2)}" for a, b in zip(decay.low, decay.high, strict=True)],
        ],
        ["  little scattering", *[number(v, 2) for v in decay.smooth]],
        ["  much scattering", *[number(v, 2) for v in decay.rough]],
        ["  Eyring", *[number(v, 2) for v in decay.eyring]],
        ["  Sabine", *[number(v, 2) for v in decay.sabine]],
    ]
    noise = evidence.noise
    size = volume_text(decay.volume, evidence.room.units).replace(NBSP, " ")
    return (
        table(["octave [Hz]", *octaves], rows)
        + f"\nBackground with its sources: {noise.label}, {number(noise.dba, 1)} dBA"
        + f" · volume {size}"
        + f" · Schroeder frequency {decay.schroeder_frequency:.0f} Hz"
    )


MOST_ALIKE = 3
"""More findings of one rule, or seats short of one target, than this are told together."""
MOST_NAMED = 6
"""Of many who share a lot, so many are named beside the worst."""
LONGEST_CERTIFICATE = 240
"""A certificate of more characters than this is left to the files."""


def findings(found: Sequence[Finding], offers: Sequence[Offer] = (), *, room: str = "") -> str:
    """Findings, errors first, each with its place and remedy; many of one rule together.

    Below a remedy stands the change that was computed for it, and how to make it in ``room``.
    """
    if not found:
        return "No findings."
    changes = {one.finding: one for one in offers}
    blocks = []
    for _, alike in groupby(found, key=lambda f: (f.severity, f.status, f.code)):
        group = list(alike)
        if len(group) > MOST_ALIKE:
            blocks.append(_together(group, changes, room))
        else:
            blocks += [
                f"{_head(f)}  {f.at}\n"
                + wrapped(_said(f))
                + _remedy(f)
                + _computed(changes.get(f), room)
                for f in group
            ]
    count = {s: sum(f.severity == s for f in found) for s in ("error", "warning", "note")}
    said = ", ".join(f"{n} {s}{'' if n == 1 else 's'}" for s, n in count.items() if n)
    return "\n".join(blocks) + f"\n{said}"


def _together(group: Sequence[Finding], changes: Mapping[Finding, Offer], room: str) -> str:
    worst = max(group, key=_short_by)
    with_one = [f for f in group if f in changes]
    offer = changes[max(with_one, key=_short_by)] if with_one else None
    return (
        f"{_head(worst)}  {len(group)} places\n"
        + "\n".join(wrapped(_said(f)) for f in group)
        + _remedy(worst, where=f"{worst.at.rsplit('.', 1)[-1]}, the worst: ")
        + _computed(offer, room)
    )


def change(offer: Offer) -> str:
    """A computed change: what it says, what it achieves, and what to know besides."""
    return " ".join(filter(None, (offer.says, offer.achieves, offer.note)))


def searched(found: Search) -> str:
    """What came of looking for changes, in one sentence."""
    many = len(found.tried)
    if not many:
        return "There is no error and no warning to compute a change for."
    said = []
    if found.offers:
        has = "has" if len(found.offers) == 1 else "have"
        said.append(f"{len(found.offers)} {has} a computed change above")
    if found.helpless:
        said.append(f"{found.helpless} had changes tried, none of which helps")
    if found.unknown:
        said.append(f"for {found.unknown} no change is known that could be tried")
    text = f"Of {many} {'error or warning' if many == 1 else 'errors and warnings'}: "
    return textwrap.fill(f"{text}{'; '.join(said)}.", WIDTH)


def _computed(offer: Offer | None, room: str) -> str:
    if offer is None:
        return ""
    more = f", or {offer.further[0].name} for another" if offer.further else ""
    how = f"(wellheard check {room} --apply {offer.name}{more})"
    return f"\n{wrapped(f'⇒ computed: {change(offer)} {how}')}"


def _short_by(finding: Finding) -> float:
    """How far a finding is from its limit, in its own unit."""
    if finding.value is None or finding.limit is None:
        return 0.0
    return abs(finding.value - finding.limit)


def _said(finding: Finding) -> str:
    where = "; ".join(map(arrangement, finding.arrangements))
    return f"{where}: {finding.message}" if where else finding.message


def _head(finding: Finding) -> str:
    status = "" if finding.status == "fail" else " (not assessed)"
    return f"{finding.severity}{status}  {finding.code}"


def _remedy(finding: Finding, *, where: str = "") -> str:
    return f"\n{wrapped(f'→ {where}{finding.remedy}')}" if finding.remedy else ""


def wrapped(text: str) -> str:
    """A paragraph, indented and broken at the width of a page."""
    return textwrap.fill(
        text, WIDTH, initial_indent="    ", subsequent_indent="    ", break_on_hyphens=False
    )


def placement(proposal: Proposal, room: Room, *, certificate_in: str = "in result.json") -> str:
    """What was placed and how far it is proven; a long certificate is only said to be there."""
    from wellheard.units import plain_money

    proof, feet = proposal.proof, room.units == "ft"
    lines = []
    if proposal.devices:
        rows = [
            [
                d.id,
                d.product,
                d.mounting,
                *(_place(v, feet=feet) for v in d.at),
                _drop(d.drop, feet=feet),
                "locked" if d.locked else "",
            ]
            for d in proposal.devices
        ]
        rows += [
            [
                a.id,
                a.product,
                f"in {a.equipment}" if a.equipment else "–",
                *["–"] * 4,
                "locked" if a.locked else "",
            ]
            for a in proposal.amplifiers
        ]
        lines.append(
            table(
                ["id", "product", "mounting", "west", "south", "height", "drop", ""], rows, left=3
            )
        )
    price = ""
    if proposal.price is not None:
        price = f", {plain_money(proposal.price, proposal.currency)} installed"
    status = {
        "optimal": "proven optimal",
        "infeasible": "the promise cannot be met",
        "gap": f"best found in the time allowed, gap {100 * proof.gap:.1f} %",
    }[proof.status]
    lines.append(f"{_placed(proposal)}{price}: {status}.")
    if proof.together:
        lines.append(wrapped(proof.together))
    if proof.fewer is not None and proof.fewer.target == NO_MICROPHONE:
        names = dict.fromkeys(name.partition(" ")[0] for name in proof.fewer.missed)
        lines.append(
            wrapped(
                f"{_microphones(proof.fewer.count)} would leave one side of a closed partition "
                f"without any: nobody hears {', '.join(names)}."
            )
        )
    elif proof.fewer is not None and proof.fewer.missed:
        lines.append(
            wrapped(
                f"{_microphones(proof.fewer.count)} would leave "
                f"{', '.join(proof.fewer.missed)} short of "
                f"{TARGETS[proof.fewer.target]} (best worst seat: STI "
                f"{number(proof.fewer.worst_sti, 2)}, direct/reverberant "
                f"{number(proof.fewer.worst_direct_to_reverberant_db, 1)} dB, chance "
                f"{chance(proof.fewer.worst_chance)})."
            )
        )
    if proof.certificate is not None:
        lines.append(wrapped(_certificate(proof.certificate, certificate_in)))
    lines += map(wrapped, _shortfalls(proposal.shortfalls, room.targets))
    lines += [wrapped("→ " + sentence) for sentence in proposal.would_have_to_give]
    lines.append(wrapped("Scope: " + proof.scope + "."))
    return "\n".join(lines)


def _certificate(certificate: Certificate, certificate_in: str) -> str:
    """Its words; where they fill a page, what it proves and where it is."""
    if len(certificate.statement) <= LONGEST_CERTIFICATE:
        return certificate.statement
    less = "cheaper choice" if certificate.measure == "price" else "choice of fewer microphones"
    if all(one.verified for one in (certificate, *certificate.also)):
        return (
            f"Proven: no {less} keeps the promise; the certificate in exact arithmetic is "
            f"{certificate_in}."
        )
    return (
        f"No {less} keeps the promise: the solver proves it, exact arithmetic only in part; the "
        f"certificate is {certificate_in}."
    )


def _shortfalls(missing: Sequence[Shortfall], targets: Targets) -> Iterator[str]:
    """A sentence for each talking point, or one for all that miss the same where they are many."""
    from wellheard.schedules.labels import natural_order

    for target in dict.fromkeys(one.target for one in missing):
        alike = [one for one in missing if one.target == target]
        if len(alike) <= MOST_ALIKE:
            yield from (_short(one, targets) for one in alike)
            continue
        worst = min(
            alike, key=lambda one: (one.best_chance, -one.lacking, natural_order(one.talker))
        )
        others = sorted((one.talker for one in alike if one is not worst), key=natural_order)
        yield (
            f"{len(alike)} talking points, the worst {_short(worst, targets).removesuffix('.')}; "
            f"also {_first_of(others)}."
        )


def _short(one: Shortfall, targets: Targets) -> str:
    best, wanted = _quantity(one.best_value, one.unit), _quantity(one.target_value, one.unit)
    if one.target == TOGETHER:
        what = f"{_measured(one, targets)} {best}".strip()
        return (
            f"{one.talker}: could be kept alone ({what}, {wanted} is promised); together with the "
            "others no place is left for it."
        )
    if one.target == NEARER_LOUDSPEAKER:
        return (
            f"{one.talker}: wherever a microphone reaches it a loudspeaker is nearer still (the "
            f"nearest such place is {best} away)."
        )
    limit = "is the product's usual limit" if one.unit == "m" else "is promised"
    return (
        f"{one.talker}: {TARGETS[one.target]} reaches {best} at best, {wanted} {limit} "
        f"(chance {chance(one.best_chance)})."
    )


def _measured(one: Shortfall, targets: Targets) -> str:
    """What the figures of a talking point are of, '' where two targets ask for the same figure."""
    names = ("direct_to_reverberant_db", "speech_to_noise_db") if one.unit else ("sti_outbound",)
    fitting = [name for name in names if getattr(targets, name) == one.target_value]
    return TARGETS[fitting[0]] if len(fitting) == 1 else ""


def _first_of(names: Sequence[str]) -> str:
    """The first few names, and how many more there are."""
    if len(names) <= MOST_NAMED:
        return " and ".join(filter(None, (", ".join(names[:-1]), names[-1])))
    return f"{', '.join(names[:MOST_NAMED])} and {len(names) - MOST_NAMED} more"


def _placed(proposal: Proposal) -> str:
    counts = (
        (proposal.count, "microphone"),
        (proposal.loudspeakers, "loudspeaker"),
        (len(proposal.amplifiers), "amplifier"),
    )
    said = [f"{n} {kind}{'' if n == 1 else 's'}" for n, kind in counts if n or kind == "microphone"]
    return ", ".join(said)


def _microphones(count: int) -> str:
    return f"{count} microphone{'' if count == 1 else 's'}"


def _quantity(value: float, unit: str) -> str:
    return f"{number(value, 2)} {unit}".rstrip()


def _drop(metres: float | None, *, feet: bool) -> str:
    if metres is None:
        return "–"
    return _place(metres, feet=feet) if metres else "flush"


def _place(metres: float, *, feet: bool) -> str:
    """A coordinate of a device: places are whole steps of 5 mm, so half centimetres count."""
    half = abs(100 * metres - round(100 * metres)) > 1e-6
    return _length(metres, feet=feet, places=3 if half else 2)


def _length(metres: float, *, feet: bool, places: int = 2) -> str:
    from wellheard.units import format_length

    return format_length(metres, unit="ft" if feet else "m", places=places)
