"""What was done to the surfaces: decay and seat ledger before and after, where it is, its price."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from wellheard.bands import OCTAVES
from wellheard.dossier.model import (
    Block,
    Cell,
    Column,
    Entries,
    Entry,
    Heading,
    Manner,
    Mark,
    Paragraph,
    Run,
    Section,
    Table,
)
from wellheard.dossier.sections.racks import weight_text
from wellheard.dossier.sections.room import area_text
from wellheard.dossier.words import (
    brief,
    figure,
    fixed_spaces,
    listed,
    octave,
    percent,
)
from wellheard.predict.evidence import Evidence, State
from wellheard.predict.parts import PartEvidence
from wellheard.room.finishes import AnyPatch, Patch
from wellheard.schedules.absorbing import Absorber, absorbers
from wellheard.units import Unit, format_length, money

TITLE = "Treatment"
CAUTIONS = (
    "Fixings to suit wall and ceiling, and each part overhead on a rated one with a safety bond: "
    "licensed practice and local code decide.",
    "Fire class of every finish as the place asks for it, with its cover and its fixing: ask for "
    "the test report.",
    "Nothing in front of, below or beside sprinklers, detectors, air outlets and emergency lights "
    "without the word of who answers for them.",
    "Ceilings and boards of unknown age may hold asbestos: have them tested before anybody drills.",
)
NOTE = (
    "Before: the same room, devices and people, predicted without these finishes; what they cover "
    "shows there. After: as everywhere else in this document."
)

MEASURED = (
    " The decay was measured with them: what is left keeps the absorption that reproduces it, and "
    "rays say how the room rings without them."
)


@dataclass(frozen=True)
class Untreated:
    """A room as it would be without the finishes that were bought for it.

    Parameters
    ----------
    evidence : Evidence
        Of the whole.
    parts : sequence of PartEvidence
        Every space of every arrangement of a room that divides, as the treated room has them.
    """

    evidence: Evidence
    parts: Sequence[PartEvidence] = ()


def treatment_section(
    evidence: Evidence, before: Untreated, parts: Sequence[PartEvidence] = ()
) -> Section:
    """Return what the finishes of a document do, where they are, and what they cost.

    Parameters
    ----------
    evidence : Evidence
        Of the room as the document has it.
    before : Untreated
        The same without the finishes that the catalogue sells.
    parts : sequence of PartEvidence
        Its spaces, if it divides.
    """
    bought = tuple(absorbers(evidence.room, evidence.catalogue.treatments))
    blocks: list[Block] = [
        Paragraph((Run(fixed_spaces(_lead(evidence, before.evidence, bought))),), "lead"),
        Paragraph((Run(f"{NOTE}{MEASURED if evidence.reverberation.measured else ''}"),), "note"),
        Heading("Reverberation time", "seconds, by octave in Hz, room occupied as stated"),
        _decays(evidence, before, parts),
        *_ledger(evidence, before.evidence),
        *_listening(evidence, before.evidence),
        *_bought(evidence, bought),
        Heading("Cautions"),
        Entries(tuple(Entry(None, "", (Run(one),), (), "") for one in CAUTIONS)),
    ]
    return Section(TITLE, "engineer", tuple(blocks))


def _lead(evidence: Evidence, before: Evidence, bought: Sequence[Absorber]) -> str:
    area = area_text(sum(one.area for one in bought), evidence.room.units)
    was, now = (_middle(one) for one in (before, evidence))
    said = (
        f"{area} of finishes for {_price(bought)} installed take the reverberation time at 500 Hz "
        f"and 1 kHz from {figure(was, 2)} s to {figure(now, 2)} s."
    )
    if not evidence.outbound or not before.outbound:
        return f"{said} What it does at the seats is not assessed: no microphone is placed."
    was_kept, now_kept = (_kept(one) for one in (before, evidence))
    of = len(evidence.talkers)
    return (
        f"{said} The promise is kept at {was_kept} of {of} talking points before, {now_kept} after."
    )


def _middle(evidence: Evidence) -> float:
    """Mean of 500 Hz and 1 kHz. [s]"""
    return sum(evidence.reverberation.time[2:4]) / 2


def _kept(evidence: Evidence) -> int:
    return sum(evidence.state_of(talker.id) == "kept" for talker in evidence.talkers)


def _price(bought: Sequence[Absorber]) -> str:
    """What all of it costs, currency by currency."""
    sums: dict[str, float] = {}
    for one in bought:
        sums[one.product.currency] = sums.get(one.product.currency, 0.0) + one.installed
    return listed([money(amount, currency) for currency, amount in sums.items()])


def _decays(evidence: Evidence, before: Untreated, parts: Sequence[PartEvidence]) -> Table:
    """Before and after, of every space that a room has."""
    pairs = [("", before.evidence, evidence)] if not parts else []
    pairs += [
        (f", {one.part.title}", was.evidence, one.evidence)
        for was, one in zip(before.parts, parts, strict=True)
    ]
    rows: list[tuple[Cell, ...]] = []
    for where, was, now in pairs:
        rows += [
            _times(f"Before{where}", was, "plain"),
            _times(f"After{where}", now, "strong"),
        ]
    return Table(
        (Column("", 0), *(Column(octave(band), 15, "right") for band in OCTAVES)), tuple(rows)
    )


def _times(name: str, evidence: Evidence, manner: Manner) -> tuple[Cell, ...]:
    return Run(name, manner), *(Run(figure(t, 2), manner) for t in evidence.reverberation.time)


def _ledger(evidence: Evidence, before: Evidence) -> Iterator[Block]:
    """The way out at every talking point, in the order that the ledger has it."""
    was = {row.talker.id: row for row in before.outbound}
    rows = tuple(
        _pair(
            row.talker.id,
            (was[row.talker.id].state, row.state),
            (was[row.talker.id].sti.value, row.sti.value),
            (was[row.talker.id].chance, row.chance),
            (
                was[row.talker.id].direct_to_reverberant.value,
                row.direct_to_reverberant.value,
            ),
        )
        for row in evidence.worst_first()
        if row.talker.id in was
    )
    if rows:
        worst = " as it is in its worst arrangement" if evidence.outbound[0].arrangement else ""
        yield Heading("Seat ledger", f"heard at the far end, each place{worst}, the worst first")
        yield Table(_columns("D/R, dB"), rows)


def _listening(evidence: Evidence, before: Evidence) -> Iterator[Block]:
    """The way in, where the room has it."""
    if evidence.playback is None or before.playback is None:
        return
    was = {row.talker.id: row for row in before.playback.rows}
    found = sorted(evidence.playback.rows, key=lambda row: (row.chance, row.talker.id))
    rows = tuple(
        _pair(
            row.talker.id,
            (was[row.talker.id].state, row.state),
            (was[row.talker.id].sti.value, row.sti.value),
            (was[row.talker.id].chance, row.chance),
            (
                was[row.talker.id].direct_to_reverberant_db,
                row.direct_to_reverberant_db,
            ),
        )
        for row in found
        if row.talker.id in was
    )
    yield Heading("Heard in the room", "the far end’s voice at each ear, the worst first")
    yield Table(_columns("D/R, dB"), rows)


def _columns(last: str) -> tuple[Column, ...]:
    return (
        Column("Place", 0),
        Column("Before", 24),
        Column("After", 24),
        *(
            Column(f"{what}\n{when}", 16, "right")
            for what in ("STI", "Chance", last)
            for when in ("before", "after")
        ),
    )


def _pair(
    name: str,
    states: tuple[State, State],
    sti: tuple[float, float],
    chance: tuple[float, float],
    ratio_db: tuple[float, float],
) -> tuple[Cell, ...]:
    """A place before and after; what is after stands out."""

    def both(before: str, after: str) -> tuple[Run, Run]:
        return Run(before), Run(after, "strong")

    return (
        Run(name, "strong"),
        *map(Mark, states),
        *both(*(figure(one, 2) for one in sti)),
        *both(*map(percent, chance)),
        *both(*(figure(one, 1) for one in ratio_db)),
    )


def _bought(evidence: Evidence, bought: Sequence[Absorber]) -> Iterator[Block]:
    unit, patches = evidence.room.units, evidence.room.space.finishes.patches
    yield Heading("What it is", f"{_price(bought)} installed, without tax; from the catalogue")
    yield Table(
        (
            Column("Product", 0),
            Column("Count", 18, "right"),
            Column("Area", 22, "right"),
            Column("Weight", 32, "right"),
            Column("Installed", 30, "right"),
        ),
        tuple(
            (
                Run(fixed_spaces(one.product.name)),
                Run(brief(round(one.count, 2), 2) if one.unit == "piece" else "by area", "soft"),
                Run(area_text(one.area, unit)),
                Run(weight_text(one.area / one.product.area * one.product.weight, unit)),
                Run(money(one.installed, one.product.currency)),
            )
            for one in bought
        ),
    )
    yield Heading("Where it is", "by the names on the plan")
    yield Table(
        (Column("Patch", 38), Column("Where", 0), Column("Area", 20, "right")),
        tuple(
            (
                Run(name, "strong"),
                Run(fixed_spaces(where(patches[name], unit))),
                Run(area_text(area, unit)),
            )
            for one in bought
            for name, area in one.patches.items()
        ),
    )


def where(patch: AnyPatch, unit: Unit) -> str:
    """Where a patch lies, in words.

    Parameters
    ----------
    patch : Patch or LevelPatch
        On a wall, or on what is level.
    unit : {"m", "ft"}
        Of its lengths.
    """

    def said(value: float) -> str:
        return format_length(value, unit=unit)

    if isinstance(patch, Patch):
        return (
            f"wall {patch.wall}, {said(patch.from_)} to {said(patch.to)} along it, "
            f"{said(patch.bottom)} to {said(patch.top)} above the floor"
        )
    xs, ys = zip(*patch.outline, strict=True)
    return (
        f"{patch.surface}, {said(min(xs))} to {said(max(xs))} east, "
        f"{said(min(ys))} to {said(max(ys))} north"
    )
