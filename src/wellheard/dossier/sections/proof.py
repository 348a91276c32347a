"""How many, where, and why not fewer: the proof in a customer's words."""

from __future__ import annotations

from wellheard.dossier.model import (
    Block,
    Cell,
    Column,
    Entries,
    Entry,
    Facts,
    Heading,
    Paragraph,
    Run,
    Section,
    Table,
)
from wellheard.dossier.places import TARGETS, named_together, promised_text, value_text
from wellheard.dossier.sections.answer import (
    NO_MICROPHONE,
    REACH,
    decided_by_reach,
    explanation,
    judged_by_price,
)
from wellheard.dossier.sections.loudspeakers import mounting_words
from wellheard.dossier.sections.setting_out import drop_words
from wellheard.dossier.words import (
    NBSP,
    NOT_ASSESSED,
    brief,
    counted,
    figure,
    fixed_spaces,
    full_stop,
    listed,
    percent,
    sentence,
    with_unit,
)
from wellheard.place.proposal import PlacedAmplifier, Proof, Proposal, Shortfall
from wellheard.predict.evidence import Evidence
from wellheard.predict.wayback import PlacedLoudspeaker, Playback
from wellheard.units import SET_OUT_STEP, Unit, format_length, money


def proof_section(evidence: Evidence, proposal: Proposal | None) -> Section:
    """Return the microphones, the proof with its scope, and what cannot be kept."""
    blocks: list[Block] = [Paragraph((Run(explanation(evidence, proposal)),), "lead")]
    if evidence.microphones:
        blocks += [Heading("The microphones"), _devices(evidence, proposal)]
        blocks.append(
            Paragraph(
                (
                    Run(
                        "To the centre of each device, from the origin of the plan: east and "
                        "north along the floor, height above it. The plan sheet carries the "
                        "dimensions to set out from."
                    ),
                ),
                "note",
            )
        )
    if evidence.playback is not None:
        blocks += [
            Heading("The loudspeakers"),
            _loudspeakers(evidence, evidence.playback, proposal),
            *_behind(evidence, proposal),
        ]
    if proposal is None:
        blocks += [
            Heading("Why not fewer"),
            Paragraph((Run("Not assessed: nothing was searched for this dossier."),)),
        ]
    else:
        blocks += _why(evidence, proposal)
        if proposal.shortfalls or proposal.would_have_to_give:
            blocks += _shortfalls(evidence, proposal)
        blocks += _search(proposal)
    return Section("How many, and why not fewer", "engineer", tuple(blocks))


def _devices(evidence: Evidence, proposal: Proposal | None) -> Table:
    unit = evidence.room.units
    prices = {} if proposal is None else {d.id: d.price for d in proposal.devices}
    currency = evidence.room.project.currency if proposal is None else proposal.currency
    priced = any(price is not None for price in prices.values())
    columns = [
        Column("Name", 18),
        Column("Product", 0),
        Column("Mounting", 20),
        Column("East", 21, "right"),
        Column("North", 21, "right"),
        Column("Height", 21, "right"),
        Column("Drop", 19, "right"),
    ]
    if priced:
        columns.append(Column("Price", 22, "right"))
    rows: list[tuple[Cell, ...]] = []
    for microphone in evidence.microphones:

        def length(metres: float) -> str:
            return format_length(metres, unit=unit).replace(" ", NBSP)

        cells: list[Cell] = [
            Run(microphone.id, "strong"),
            Run(microphone.product.id),
            Run(microphone.mounting + (", fixed" if microphone.locked else ""), "soft"),
            *(Run(length(value)) for value in microphone.at),
            Run(_drop(microphone.drop, unit)),
        ]
        if priced:
            price = prices.get(microphone.id)
            cells.append(
                Run(NOT_ASSESSED if price is None else money(price, currency, cents=False))
            )
        rows.append(tuple(cells))
    return Table(tuple(columns), tuple(rows))


def _drop(drop: float | None, unit: Unit) -> str:
    """Return a drop with its unit, said as in setting out where it is nought."""
    if drop is None or drop < SET_OUT_STEP[unit] / 2:
        return drop_words(drop, unit)
    return format_length(drop, unit=unit).replace(" ", NBSP)


def _loudspeakers(evidence: Evidence, found: Playback, proposal: Proposal | None) -> Table:
    """Every place that sounds; a pair has two, and its price stands at the first."""
    unit = evidence.room.units
    prices = {} if proposal is None else {d.id: d.price for d in proposal.devices}
    currency = evidence.room.project.currency if proposal is None else proposal.currency
    priced = any(prices.get(one.device) is not None for one in found.loudspeakers)
    paid: set[str] = set()

    def price(one: PlacedLoudspeaker) -> str:
        known = prices.get(one.device)
        if known is None or one.device in paid:
            return NOT_ASSESSED if known is None else "in it"
        paid.add(one.device)
        return money(known, currency, cents=False)

    columns = (
        Column("Name", 18),
        Column("Product", 0),
        Column("Mounting", 26),
        Column("East", 21, "right"),
        Column("North", 21, "right"),
        Column("Height", 21, "right"),
        Column("Drop", 19, "right"),
        *((Column("Price", 22, "right"),) if priced else ()),
    )

    def length(metres: float) -> str:
        return format_length(metres, unit=unit).replace(" ", NBSP)

    rows = tuple(
        (
            Run(one.id, "strong"),
            Run(one.product.id),
            Run(mounting_words(one) + (", fixed" if one.locked else ""), "soft"),
            *(Run(length(value)) for value in one.at),
            Run(_drop(0.0 if one.flush else one.drop, unit)),
            *((Run(price(one)),) if priced else ()),
        )
        for one in found.loudspeakers
    )
    return Table(columns, rows, tight=len(rows) > 8)


BEHIND = ("processor", "amplifier", "bridge", "switch")


def _behind(evidence: Evidence, proposal: Proposal | None) -> list[Block]:
    """Electronics of the document, where they are housed, and what is proposed of them."""
    amplifiers = {} if proposal is None else {a.id: a for a in proposal.amplifiers}
    currency = evidence.room.project.currency if proposal is None else proposal.currency
    rows: list[tuple[Cell, ...]] = [
        (
            Run(name, "strong"),
            Run(device.product),
            Run(device.kind, "soft"),
            Run(f"in {device.equipment}" if device.equipment else NOT_ASSESSED),
            Run(_channels(amplifiers[name]) if name in amplifiers else "", "soft"),
            Run(money(amplifiers[name].price, currency, cents=False) if name in amplifiers else ""),
        )
        for name, device in evidence.room.devices.items()
        if device.kind in BEHIND
    ]
    if not rows:
        return []
    columns = (
        Column("Name", 20),
        Column("Product", 36),
        Column("Kind", 22),
        Column("Where", 22),
        Column("Feeds" if amplifiers else "", 0),
        Column("Price" if amplifiers else "", 22, "right"),
    )
    return [Heading("Behind them"), Table(columns, tuple(rows))]


def _channels(amplifier: PlacedAmplifier) -> str:
    """Which channel feeds what, with the tap on a line."""
    said = []
    for channel in amplifier.channels:
        tap = "" if channel.tap_w is None else f" at {with_unit(brief(channel.tap_w, 1), 'W')}"
        said.append(f"{channel.number}: {listed(channel.loudspeakers, most=6)}{tap}")
    return "; ".join(said)


_STATUS = {
    "optimal": "Proved: no design within the scope below has fewer microphones.",
    "infeasible": "Proved: no design within the scope below keeps the whole promise.",
    "gap": "Not proved: the search was ended before the last designs were ruled out.",
}


def _why(evidence: Evidence, proposal: Proposal) -> list[Block]:
    proof = proposal.proof
    status = _STATUS[proof.status]
    if proof.status == "optimal" and judged_by_price(proof):
        status = "Proved: no design within the scope below costs less."
    elif proof.status == "optimal" and not proof.fewer_is_impossible:
        status = "The best design found; that fewer are impossible is not proved."
    rows: list[tuple[str, tuple[Run, ...]]] = [("Answer", (Run(status, "strong"),))]
    if proof.status == "gap":
        rows.append(("Gap", (Run(f"at most {percent(proof.gap)} of the number found."),)))
    rows.append(("Scope", (Run(fixed_spaces(full_stop(sentence(proof.scope)))),)))
    if proof.fewer is not None and decided_by_reach(proof.fewer):
        rows.append(("What demanded it", (Run(full_stop(sentence(REACH))),)))
    elif proof.binding:
        names = [_binding(name) for name in proof.binding]
        label = "What binds" if proof.status == "infeasible" else "What demanded it"
        rows.append((label, (Run(full_stop(sentence(listed(names)))),)))
    rows += _fewer(evidence, proof)
    if proof.together:
        together = fixed_spaces(full_stop(sentence(proof.together)))
        rows.append(("With the loudspeakers", (Run(together),)))
    statement = certificate_statement(proof)
    if statement:
        rows.append(("Certificate", (Run(fixed_spaces(statement)),)))
    return [Heading("Why not fewer"), Facts(tuple(rows))]


def _binding(name: str) -> str:
    if name == NO_MICROPHONE:
        return "a microphone on either side of a closed partition"
    return TARGETS[name].noun if name in TARGETS else f"the {name}"


def _fewer(evidence: Evidence, proof: Proof) -> list[tuple[str, tuple[Run, ...]]]:
    fewer = proof.fewer
    if fewer is None:
        return []
    missed = named_together(evidence, fewer.missed, most=8)
    verdict = f"would miss the promise at {missed}" if missed else "would keep the promise"
    if fewer.target == NO_MICROPHONE:
        said = (
            f"The best design with {counted(fewer.count, 'microphone')} {verdict}: one side of a "
        )
        return [("With one fewer", (Run(f"{said}closed partition would have none."),))]
    text = (
        f"The best design with {counted(fewer.count, 'microphone')} {verdict}. "
        f"Its worst figures: STI {figure(fewer.worst_sti, 2)}, "
        f"direct/reverb {figure(fewer.worst_direct_to_reverberant_db, 1)} dB, "
        f"speech to noise {figure(fewer.worst_speech_to_noise_db, 1)} dB"
    )
    if decided_by_reach(fewer):
        text += ", but not within reach."
    else:
        text += f", chance {percent(fewer.worst_chance)}."
    return [("With one fewer", (Run(fixed_spaces(text)),))]


def certificate_statement(proof: Proof) -> str:
    """Return the certificate in words; empty without one."""
    certificate = proof.certificate
    if certificate is None or not certificate.statement:
        return ""
    checked = " Checked in exact arithmetic, without the solver." if certificate.verified else ""
    return full_stop(certificate.statement) + checked


def _shortfalls(evidence: Evidence, proposal: Proposal) -> list[Block]:
    blocks: list[Block] = [Heading("Where the promise cannot be kept")]
    if proposal.shortfalls:
        ordered = sorted(proposal.shortfalls, key=lambda s: (s.best_chance, s.talker))
        blocks.append(
            Paragraph(
                (
                    Run(
                        "For each of these places, the best that any single candidate reaches, "
                        "wherever it may stand."
                    ),
                ),
                "note",
            )
        )
        blocks.append(_shortfall_table(evidence, ordered))
    if proposal.would_have_to_give:
        entries = tuple(
            Entry(None, "", (Run(fixed_spaces(full_stop(text))),), (), "")
            for text in proposal.would_have_to_give
        )
        blocks += [Heading("What would have to give"), Entries(entries)]
    return blocks


def _shortfall_table(evidence: Evidence, shortfalls: list[Shortfall]) -> Table:
    unit = evidence.room.units
    columns = (
        Column("Place", 26),
        Column("What binds", 28),
        Column("Promised", 19, "right"),
        Column("Best", 19, "right"),
        Column("Chance", 15, "right"),
        Column("By: east, north, height", 0),
    )
    rows: list[tuple[Cell, ...]] = []
    for short in shortfalls:
        known = short.target in TARGETS
        at = ", ".join(format_length(value, unit=unit).replace(" ", NBSP) for value in short.at)
        rows.append(
            (
                Run(short.talker, "strong"),
                Run(TARGETS[short.target].binds if known else short.target),
                Run(
                    promised_text(short.target, short.target_value)
                    if known
                    else f"{figure(short.target_value, 1)}{NBSP}{short.unit}"
                ),
                Run(
                    value_text(short.target, short.best_value)
                    if known
                    else f"{figure(short.best_value, 1)}{NBSP}{short.unit}",
                    "strong",
                ),
                Run(percent(short.best_chance)),
                Run(f"{short.product}: {at}", "soft"),
            )
        )
    return Table(columns, tuple(rows))


def _search(proposal: Proposal) -> list[Block]:
    refused = sorted(proposal.rejected.items(), key=lambda item: (-item[1], item[0]))
    total = sum(count for _, count in refused)
    one = proposal.candidates == 1
    whose = "microphones and loudspeakers" if proposal.loudspeakers else "a microphone"
    looked = (
        f"{proposal.candidates:,}".replace(",", NBSP)
        + f" candidate place{'' if one else 's'} for {whose} {'was' if one else 'were'} examined "
        "by the search"
    )
    if not refused:
        return [Heading("What was searched"), Paragraph((Run(f"{looked}; no rule refused any."),))]
    lead = (
        f"{looked}; {total:,}".replace(",", NBSP) + " more were refused beforehand by these rules."
    )
    columns = (Column("Rule", 0), Column("Places refused", 30, "right"))
    rows: tuple[tuple[Cell, ...], ...] = tuple(
        (Run(code.replace("-", " ")), Run(f"{count:,}".replace(",", NBSP)))
        for code, count in refused
    )
    return [
        Heading("What was searched"),
        Paragraph((Run(lead),)),
        Table(columns, rows),
    ]
