"""The customer's page: the answer, how sure we are, the promise line by line."""

from __future__ import annotations

import math
from collections.abc import Sequence

from wellheard.checks.model import Finding
from wellheard.dossier.model import Better, Customer, Line, Manner, PromiseRow, RangeBar, Run
from wellheard.dossier.places import (
    TARGETS,
    Place,
    named_together,
    places_worst_first,
    promised_text,
    quantity_of,
    quantity_state,
    together,
    value_text,
)
from wellheard.dossier.words import (
    NBSP,
    NOT_ASSESSED,
    brief,
    count_word,
    counted,
    figure,
    fixed_spaces,
    full_stop,
    listed,
    percent,
    percent_range,
    sentence,
    with_unit,
)
from wellheard.place.proposal import FewerDevices, Proof, Proposal
from wellheard.predict.evidence import SEAT_TARGETS, Assumed, Evidence, State
from wellheard.predict.tolerances import NOISE_SIGMA_DB, NORMAL_90, basis_of, chance_of

QUESTION = "Will the far end understand every seat?"
MOST_CHANCES = 6
"""Lines that the column beside the plan has room for."""
MOST_NAMED = 3


def customer_page(
    evidence: Evidence, findings: Sequence[Finding], proposal: Proposal | None
) -> Customer:
    """Return what the customer reads, computed from ledger, proof and findings."""
    places = places_worst_first(evidence)
    return Customer(
        question=QUESTION,
        answer=answer(places, evidence.room.targets.chance),
        explanation=explanation(evidence, proposal),
        certainty=_certainty(evidence),
        chances=_chances(places),
        doubt=_doubt(evidence),
        map_note="Figures at the seats and the map show the speech transmission index at the "
        "far end. Hachures: below the promise.",
        promises=promises(evidence, proposal),
        remarks=_remarks(evidence, findings, proposal),
    )


def answer(places: Sequence[Place], wanted: float | None) -> str:
    """Return the answer in one or two sentences: yes, yes except, or no, and because of what."""
    if not places:
        return "Not assessed yet: no microphone is placed in this room."
    kept = [place for place in places if place.state == "kept"]
    rest = [place for place in places if place.state != "kept"]
    total = counted(len(places), "place")
    if not rest:
        everywhere = "at the one place" if len(places) == 1 else f"at all {total}"
        least = places[0]
        return (
            f"Yes, {everywhere}. The least certain is {least.name}, "
            f"with a chance of {percent(least.chance)}."
        )
    return f"{_verdict(len(kept), rest, len(places))} {_exception(rest, len(places), wanted)}"


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
        figures = f"at {worst.name}, the worst, {figures}"
    because = f", because {reason}" if reason else ""
    return sentence(f"{claim}{because}: {figures}.")


def explanation(evidence: Evidence, proposal: Proposal | None) -> str:
    """Return how many microphones there are and why not fewer, in plain words."""
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
        why_not_fewer(evidence, proposal),
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


def _falls_short(evidence: Evidence, fewer: FewerDevices) -> str:
    """Return what fails first: the middle value, or only how sure it is."""
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
    said = "No arrangement of the allowed products can keep the whole promise"
    if not proposal.shortfalls:
        return f"{said}."
    short = [shortfall.talker for shortfall in proposal.shortfalls]
    names = named_together(evidence, short, most=MOST_NAMED)
    return f"{said}: {names} cannot be served well enough from anywhere."


def _certainty(evidence: Evidence) -> str:
    wanted = evidence.room.targets.chance
    if wanted is None:
        return (
            "A place counts as kept when the middle value reaches the promise; the chances say "
            "how sure that is."
        )
    return (
        f"A place counts as kept when the chance of reaching the promise is {percent(wanted)} "
        "or more."
    )


def _chances(places: Sequence[Place]) -> tuple[tuple[str, str], ...]:
    """Worst places one by one, the rest as ranges, so that the column is never overfull."""
    if len(places) <= MOST_CHANCES:
        return tuple((place.name, percent(place.chance)) for place in places)
    short = [place for place in places if place.state != "kept"]
    single = places[: max(1, min(len(short), MOST_CHANCES - 2))]
    rest = places[len(single) :]
    groups: list[tuple[str, Sequence[Place]]] = [(place.name, (place,)) for place in single]
    below = [place for place in rest if place.state != "kept"]
    if below:
        groups.append((f"{len(below)} more below", below))
    fine = [place for place in rest if place.state == "kept"]
    standing = [place for place in fine if place.kind == "standing"]
    label = "other places"
    if len(groups) + len(standing) < MOST_CHANCES:
        groups += [(place.name, (place,)) for place in standing]
        fine = [place for place in fine if place.kind == "seat"]
        label = "other seats"
    if fine:
        groups.append((label, fine))
    groups.sort(key=lambda group: min(place.chance for place in group[1]))
    return tuple((name, _spread(members)) for name, members in groups)


def _spread(places: Sequence[Place]) -> str:
    chances = [place.chance for place in places]
    return percent_range(min(chances), max(chances))


def widest(assumptions: Sequence[Assumed]) -> Assumed | None:
    """Return the assumption that moves the worst seat most; None where none was rated."""
    rated = [a for a in assumptions if a.effect_db is not None or a.effect_sti is not None]
    return max(rated, key=lambda a: (abs(a.effect_db or 0), abs(a.effect_sti or 0)), default=None)


DOUBTS: tuple[tuple[str, str], ...] = (
    ("space.finishes", "the finishes of the room"),
    ("noise.background", "the background noise"),
    ("people.effort", "how loudly people talk"),
    ("people.occupancy", "how many seats are taken"),
    ("people.seats", "where exactly people sit"),
    ("far_end", "the room at the far end"),
)
"""What a customer calls an input, by the beginning of its path."""


def _doubt(evidence: Evidence) -> Line:
    assumed = widest(evidence.assumptions)
    if assumed is None:
        return (
            Run(
                "No input that moves these figures was assumed. The ranges come from how well "
                "each is known, from the model, and from people, who do not all speak alike."
            ),
        )
    moves = (
        f"the direct-to-reverberant ratio there by {figure(abs(assumed.effect_db), 1)}{NBSP}dB"
        if assumed.effect_db and round(abs(assumed.effect_db), 1)
        else f"the STI there by {figure(abs(assumed.effect_sti or 0), 2)}"
    )
    name = next((words for path, words in DOUBTS if assumed.path.startswith(path)), assumed.text)
    return (
        Run("The widest doubt at the worst place is "),
        Run(f"{name}, assumed".rstrip("."), "told"),
        Run(f". Within its tolerance it moves {moves}."),
    )


def promises(evidence: Evidence, proposal: Proposal | None) -> tuple[PromiseRow, ...]:
    """Return one row for each promised target, predicted or not."""
    targets = evidence.room.targets
    rows = _seat_promises(evidence)
    if targets.sti_inbound is not None:
        rows.append(
            _unassessed(
                "Understood in the room",
                f"STI{NBSP}{figure(targets.sti_inbound, 2)}",
                "sti_inbound",
            )
        )
    if targets.listening_level_dba is not None:
        low, high = targets.listening_level_dba
        rows.append(
            _unassessed(
                "Loud enough in the room",
                f"{brief(low, 1)}–{brief(high, 1)}{NBSP}dBA",
                "listening_level_dba",
            )
        )
    if targets.uniformity_db is not None:
        rows.append(
            _unassessed(
                "Evenness, loudest to quietest",
                with_unit(brief(targets.uniformity_db, 1), "dB"),
                "uniformity_db",
            )
        )
    echo = targets.echo_loss_db
    rows.append(
        _unassessed(
            "No echo for the far end",
            "by the delay" if echo is None else with_unit(brief(echo, 1), "dB"),
            "echo_loss_db",
        )
    )
    if targets.noise_nc is not None:
        rows.append(_noise_promise(evidence, targets.noise_nc))
    if targets.reverberation is not None:
        rows.append(_decay_promise(evidence, targets.reverberation))
    if targets.price is not None:
        rows.append(_price_promise(evidence, proposal, targets.price))
    return tuple(rows)


MOST_SPREADS = 4.0
"""Spreads from the promise to either end of a bar's axis; surer bars stand at its edge."""


def promise_bar(
    low: float, value: float, high: float, target: float, sigma: float, better: Better
) -> RangeBar:
    """Return a range in units of its own spread, with the promise in the middle.

    Quantities with different units then share one column: how far a bar lies from the promise
    is how sure the promise is.
    """
    axis = 2 * MOST_SPREADS * max(sigma, 1e-9)
    shift = min(0.0, target + axis / 2 - high) + max(0.0, target - axis / 2 - low)

    def along(level: float) -> float:
        return 0.5 + (level + shift - target) / axis

    return RangeBar(along(low), along(value), along(high), 0.5, better)


def _seat_promises(evidence: Evidence) -> list[PromiseRow]:
    """Return one row per quantity, each with the place where its own chance is least."""
    wanted = evidence.room.targets.chance
    promised = {
        name: getattr(evidence.room.targets, name)
        for name in SEAT_TARGETS
        if getattr(evidence.room.targets, name) is not None
    }
    asked = {
        name: TARGETS[name].asked + (", worst place" if name == "sti_outbound" else "")
        for name in promised
    }
    if not evidence.outbound:
        return [_unassessed(asked[n], promised_text(n, t), n) for n, t in promised.items()]
    worst = {
        name: min(
            (quantity_of(row, name) for row in evidence.outbound),
            key=lambda q: (1.0 if q.chance is None else q.chance, q.value),
        )
        for name in promised
    }

    return [
        PromiseRow(
            asked=asked[name],
            promised=promised_text(name, promised[name]),
            predicted=Run(value_text(name, q.value), "strong"),
            bar=promise_bar(q.low, q.value, q.high, promised[name], q.sigma, "more"),
            chance=percent(q.chance),
            state=quantity_state(q, wanted),
            target=name,
        )
        for name, q in worst.items()
    ]


def _unassessed(asked: str, promised: str, target: str) -> PromiseRow:
    return PromiseRow(
        asked=asked,
        promised=promised,
        predicted=Run(NOT_ASSESSED),
        bar=None,
        chance=NOT_ASSESSED,
        state="not assessed",
        target=target,
    )


def _noise_promise(evidence: Evidence, limit: float) -> PromiseRow:
    """Compare noise; its spread is the tolerance of whoever told it."""
    level = evidence.noise.nc
    promised = f"NC{NBSP}{brief(limit, 0)}"
    if level is None:
        return _unassessed("Background noise", promised, "noise_nc")
    basis = basis_of(evidence.room, "noise.background")
    sigma = NOISE_SIGMA_DB[basis]
    return _upper_limit(
        evidence,
        asked="Background noise",
        promised=promised,
        shown=f"NC{NBSP}{figure(level, 0)}",
        manner="strong" if basis == "measured" else "told",
        margin_db=limit - level,
        sigma_db=sigma,
        target="noise_nc",
    )


def _decay_promise(evidence: Evidence, limit: float) -> PromiseRow:
    """Compare the decay time of the middle octaves, 500 Hz and 1 kHz."""
    decay = evidence.reverberation
    middle = (decay.time[2] + decay.time[3]) / 2
    sigma = (decay.log_sigma[2] + decay.log_sigma[3]) / 2
    ratio_db = 10 / math.log(10)
    return _upper_limit(
        evidence,
        asked="Short reverberation, middle octaves",
        promised=f"{brief(limit, 2)}{NBSP}s",
        shown=f"{figure(middle, 2)}{NBSP}s",
        manner="strong",
        margin_db=ratio_db * math.log(limit / middle),
        sigma_db=ratio_db * sigma,
        target="reverberation",
    )


def _upper_limit(
    evidence: Evidence,
    *,
    asked: str,
    promised: str,
    shown: str,
    manner: Manner,
    margin_db: float,
    sigma_db: float,
    target: str,
) -> PromiseRow:
    chance = chance_of(margin_db, sigma_db)
    wanted = evidence.room.targets.chance
    state: State
    if margin_db < 0:
        state = "broken"
    else:
        state = "kept" if wanted is None or chance >= wanted else "at risk"
    half = NORMAL_90 * sigma_db
    return PromiseRow(
        asked=asked,
        promised=promised,
        predicted=Run(shown, manner),
        bar=promise_bar(-margin_db - half, -margin_db, half - margin_db, 0.0, sigma_db, "less"),
        chance=percent(chance),
        state=state,
        target=target,
    )


def _price_promise(evidence: Evidence, proposal: Proposal | None, limit: float) -> PromiseRow:
    asked = "Price of the microphones"
    promised = money(limit, evidence.room.project.currency)
    if proposal is None or proposal.price is None:
        return _unassessed(asked, promised, "price")
    state: State = "kept" if proposal.price <= limit else "broken"
    if proposal.currency != evidence.room.project.currency:
        state = "not assessed"
    return PromiseRow(
        asked=asked,
        promised=promised,
        predicted=Run(money(proposal.price, proposal.currency), "strong"),
        bar=None,
        chance=NOT_ASSESSED,
        state=state,
        target="price",
    )


def money(amount: float, currency: str) -> str:
    """Return an amount with its currency, thousands parted by a no-break space.

    Examples
    --------
    >>> money(4180.0, "EUR")
    'EUR\\xa04\\xa0180'
    """
    return f"{currency}{NBSP}{amount:,.0f}".replace(",", NBSP)


def _remarks(
    evidence: Evidence, findings: Sequence[Finding], proposal: Proposal | None
) -> tuple[tuple[str, Line], ...]:
    rows: list[tuple[str, Line]] = []
    if proposal is not None and proposal.would_have_to_give:
        gives = proposal.would_have_to_give
        rows.append(("What would have to give", (Run(fixed_spaces(full_stop(gives[0]))),)))
    else:
        errors = [finding for finding in findings if finding.severity == "error"]
        if errors and errors[0].remedy:
            label = "To settle the worst" if evidence.outbound else "What to do next"
            rows.append((label, (Run(fixed_spaces(full_stop(errors[0].remedy))),)))
    unknown = ["sound in the room from the far end, echo and evenness: no loudspeaker is predicted"]
    basis = basis_of(evidence.room, "noise.background")
    if basis != "measured":
        unknown.append(f"whether the noise is as {basis}")
    unknown.append("structure, cables and network")
    rows.append(("Not assessed", (Run("; ".join(unknown) + "."),)))
    rows.append(("Price", _price(proposal)))
    return tuple(rows)


def _price(proposal: Proposal | None) -> Line:
    if proposal is None or proposal.price is None:
        return (Run("Not assessed: no price is known."),)
    if proposal.price == 0:
        return (Run("Nothing to buy: the microphones are there already."),)
    price = money(proposal.price, proposal.currency)
    return (
        Run(price, "strong"),
        Run(f" for {counted(proposal.count, 'microphone')}, from the catalogue, not a quotation."),
    )
