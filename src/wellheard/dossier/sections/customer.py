"""The customer's page: the answer, how sure we are, the promise line by line."""

from __future__ import annotations

from collections.abc import Sequence

from wellheard.checks.model import Finding
from wellheard.dossier.model import Customer, Line, Run
from wellheard.dossier.places import (
    Place,
    places_worst_first,
)
from wellheard.dossier.sections.answer import answer, explanation
from wellheard.dossier.sections.arrangements import holds_in
from wellheard.dossier.sections.bill import price_line
from wellheard.dossier.sections.promise import promises
from wellheard.dossier.words import (
    NBSP,
    counted,
    figure,
    fixed_spaces,
    full_stop,
    listed,
    percent,
    percent_range,
    sentence,
)
from wellheard.place.proposal import Proposal
from wellheard.predict.evidence import Assumed, Evidence
from wellheard.predict.parts import PartEvidence, leading
from wellheard.predict.tolerances import basis_of
from wellheard.schedules.whole import Schedules
from wellheard.units import money

QUESTION = "Will the far end understand every seat?"
MAP_NOTES = {
    "sti_outbound": "the speech transmission index at the far end",
    "direct_to_reverberant_db": (
        "how much of the voice comes direct, over what the room adds, in decibels"
    ),
}
"""What the plan of this page can map, and what a customer calls it."""
MOST_CHANCES = 6
"""Lines that the column beside the plan has room for."""
FEW_CHANCES = 4
"""The same where the promise below is longer, since something is heard in the room."""


def customer_page(
    evidence: Evidence,
    findings: Sequence[Finding],
    proposal: Proposal | None,
    parts: Sequence[PartEvidence] = (),
    schedules: Schedules | None = None,
) -> Customer:
    """Return what the customer reads, computed from ledger, proof and findings.

    Of a room that divides, ``parts`` are its spaces and ``evidence`` is that of the whole. Where
    ``schedules`` know every cable, the price is that of their bill.
    """
    places = places_worst_first(evidence)
    promised = promises(evidence, proposal, [part.evidence for part in parts])
    return Customer(
        question=QUESTION,
        answer=answer(
            places,
            evidence.room.targets.chance,
            promised=promised,
            unheard=_unheard(evidence, parts),
        ),
        explanation=explanation(evidence, proposal),
        certainty=_certainty(evidence),
        chances=_chances(places, MOST_CHANCES if evidence.playback is None else FEW_CHANCES),
        doubt=_doubt(evidence),
        map_note=_map_note(evidence, proposal, parts),
        promises=promised,
        remarks=(
            *((("Arrangements", holds_in(parts)),) if parts and evidence.microphones else ()),
            *_remarks(evidence, findings, proposal, schedules),
        ),
    )


def _unheard(evidence: Evidence, parts: Sequence[PartEvidence]) -> tuple[tuple[str, str], ...]:
    """Places (owner, kind) that an arrangement leaves without a microphone, in some room."""
    heard = {row.talker.id for row in evidence.outbound}
    if not parts or not evidence.microphones:
        return ()
    return tuple(dict.fromkeys((t.owner, t.kind) for t in evidence.talkers if t.id not in heard))


def map_quantity(evidence: Evidence, proposal: Proposal | None) -> str:
    """Return what the plan of this page maps: what demanded the last device, else what binds.

    A quantity that cannot be mapped gives way to the speech transmission index.
    """
    binding = list(proposal.proof.binding) if proposal is not None else []
    worst = evidence.worst()
    if worst is not None:
        binding.append(worst.binds)
    return next((name for name in binding if name in MAP_NOTES), "sti_outbound")


def _map_note(evidence: Evidence, proposal: Proposal | None, parts: Sequence[PartEvidence]) -> str:
    if not evidence.outbound:
        return "The plan of the room."
    worst = leading(parts).part.arrangement if parts else ""
    shown = f"The room as it is worst, {worst}. " if worst else ""
    mapped = MAP_NOTES[map_quantity(evidence, proposal)]
    return (
        f"{shown}Figures at the seats and the map show {mapped}. "
        "Where a promise line is drawn, its hachures point to the side that misses, for a talker "
        "who looks the worse way there; a seat is judged by the ways it looks itself."
    )


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


def _chances(places: Sequence[Place], most: int) -> tuple[tuple[str, str], ...]:
    """Worst places one by one, the rest as ranges, so that the column is never overfull."""
    if len(places) <= most:
        return tuple((place.name, percent(place.chance)) for place in places)
    short = [place for place in places if place.state != "kept"]
    single = places[: max(1, min(len(short), most - 2))]
    rest = places[len(single) :]
    groups: list[tuple[str, Sequence[Place]]] = [(place.name, (place,)) for place in single]
    below = [place for place in rest if place.state != "kept"]
    if below:
        groups.append((f"{len(below)} more below", below))
    fine = [place for place in rest if place.state == "kept"]
    standing = [place for place in fine if place.kind == "standing"]
    label = "other places"
    if len(groups) + len(standing) < most:
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
    """Return the assumption that moves the worst seat most; None where none was rated.

    They come by weight, so this is the one that the finding ``assumed-inputs`` names first.
    """
    rated = (a for a in assumptions if a.effect_db is not None or a.effect_sti is not None)
    return next(rated, None)


DOUBTS: tuple[tuple[str, str, str], ...] = (
    ("space.finishes", "", "the finishes of the room"),
    ("noise.background", "", "the background noise"),
    ("people.effort", "", "how loudly people talk"),
    ("people.occupancy", "", "how many seats are taken"),
    ("people.", "height", "how high mouths are"),
    ("people.", "facing", "which way people look"),
    ("people.seats", "", "where exactly people sit"),
    ("far_end", "", "the room at the far end"),
)
"""What a customer calls an input, by the beginning of its path and a word of its sentence."""


def in_customers_words(assumed: Assumed) -> str:
    """What a customer calls an input; its own sentence where there is no such word."""
    for path, word, words in DOUBTS:
        if assumed.path.startswith(path) and word in assumed.text:
            return words
    return assumed.text


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
    name = in_customers_words(assumed)
    return (
        Run("Of what was assumed, the worst place hangs most on "),
        Run(f"{name}, assumed".rstrip("."), "told"),
        Run(f". Within its tolerance it moves {moves}."),
    )


def _remarks(
    evidence: Evidence,
    findings: Sequence[Finding],
    proposal: Proposal | None,
    schedules: Schedules | None,
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
    heard = sound_remark(evidence)
    unknown = []
    if heard:
        rows.append(("Heard in the room", heard))
    else:
        unknown.append(
            f"sound in the room from the far end, echo and evenness: {_silent(evidence)}"
        )
    basis = basis_of(evidence.room, "noise.background")
    if basis != "measured":
        unknown.append(f"whether the noise is as {basis}")
    price = price_line(schedules, evidence.catalogue) if schedules is not None else ()
    unknown.append(
        "structure, and the network of the building" if price else "structure, cables and network"
    )
    rows.append(("Not assessed", (Run("; ".join(unknown) + "."),)))
    rows.append(("Price", price or _price(proposal)))
    return tuple(rows)


def _silent(evidence: Evidence) -> str:
    """Why nothing is known of the way back."""
    if any(device.kind == "loudspeaker" for device in evidence.others):
        return "no loudspeaker has a place"
    return "no loudspeaker is predicted"


def sound_remark(evidence: Evidence) -> Line:
    """Return where the far end's voice comes from and what the call's delay is, for a customer."""
    found = evidence.playback
    if found is None:
        return ()
    devices = dict.fromkeys(one.device for one in found.loudspeakers)
    pair = len(devices) == 1 and len(found.loudspeakers) == 2
    what = "a pair of loudspeakers" if pair else counted(len(found.loudspeakers), "loudspeaker")
    said = f"{sentence(what)}, set to {figure(found.mean_dba, 0)} dBA in the mean of all places"
    angles = [row.direction_deg for row in found.rows if row.direction_deg is not None]
    if angles:
        said += (
            f"; at the worst place the voice comes from {figure(max(angles), 0)}° off the picture"
        )
    if evidence.delays is not None:
        said += f". The call takes {figure(evidence.delays.one_way_ms, 0)} ms one way, as stated"
    return (Run(fixed_spaces(f"{said}.")),)


def _price(proposal: Proposal | None) -> Line:
    if proposal is None or proposal.price is None:
        return (Run("Not assessed: no price is known."),)
    if proposal.price == 0:
        return (Run("Nothing to buy: the microphones are there already."),)
    price = money(proposal.price, proposal.currency, cents=False)
    return (
        Run(price, "strong"),
        Run(f" for {listed(bought(proposal))}, from the catalogue, not a quotation."),
    )


def bought(proposal: Proposal) -> list[str]:
    """Return what a price is for, each with its number."""
    counts = (
        (proposal.count, "microphone"),
        (proposal.loudspeakers, "loudspeaker"),
        (len(proposal.amplifiers), "amplifier"),
    )
    return [counted(count, noun) for count, noun in counts if count]
