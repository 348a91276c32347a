"""The seat ledger: one row per place of talking, worst first, and who hears whom."""

from __future__ import annotations

from collections.abc import Sequence

from wellheard.dossier.figures import axis
from wellheard.dossier.model import (
    Block,
    Cell,
    Column,
    Heading,
    Mark,
    Paragraph,
    RangeBar,
    Run,
    Scale,
    Section,
    Table,
)
from wellheard.dossier.places import TARGETS, promised_text
from wellheard.dossier.words import NBSP, NOT_ASSESSED, figure, listed, percent
from wellheard.predict.evidence import SEAT_TARGETS, Evidence, Outbound
from wellheard.units import format_length

STEPS = (0.02, 0.05, 0.1, 0.2)


def ledger_section(evidence: Evidence) -> Section:
    """Return the ledger and the voice paths behind it."""
    rows = evidence.worst_first()
    if not rows:
        return Section(
            "Seat ledger",
            "engineer",
            (Paragraph((Run("Not assessed: no microphone is placed in this room."),)),),
        )
    blocks: list[Block] = [
        Paragraph((Run(_reading(evidence)),), "note"),
        ledger_table(rows, evidence.room.targets.sti_outbound, evidence.room.targets.chance),
    ]
    if any(row.arrangement for row in rows):
        return Section("Seat ledger", "engineer", (*blocks, *_unheard(evidence)))
    blocks += [
        Heading("Who hears whom"),
        Paragraph(
            (
                Run(
                    "Each talker by the microphone that serves it best, at the worst of its "
                    "stated facings. The turn is the angle between facing and microphone; "
                    "noise is that at the capsule, after the mixer."
                ),
            ),
            "note",
        ),
        _paths_table(rows, evidence),
    ]
    return Section("Seat ledger", "engineer", tuple(blocks))


def _unheard(evidence: Evidence) -> tuple[Block, ...]:
    """Talking points of a room that divides which some arrangement leaves without a microphone."""
    heard = {row.talker.id for row in evidence.outbound}
    names = [t.id for t in evidence.talkers if t.id not in heard]
    if not names:
        return ()
    said = (
        f"Not assessed, since some arrangement leaves them without a microphone: {listed(names)}."
    )
    return (Paragraph((Run(said),)),)


def _reading(evidence: Evidence) -> str:
    targets = evidence.room.targets
    promised = [
        promised_text(name, getattr(targets, name))
        if name == "sti_outbound"
        else f"{TARGETS[name].binds} {promised_text(name, getattr(targets, name))}"
        for name in SEAT_TARGETS
        if getattr(targets, name) is not None
    ]
    promise = f"Promised: {listed(promised)}" if promised else "Nothing was promised"
    wanted = "" if targets.chance is None else f", each with a chance of {percent(targets.chance)}"
    arranged = any(row.arrangement for row in evidence.outbound)
    where = (
        "Each place as it is in its worst arrangement; the ledger of every space follows. "
        if arranged
        else ""
    )
    return (
        f"Worst first. {where}{promise}{wanted}. "
        "The chance of a row is the least of its quantities, and “binds” names that quantity. "
        "The bar is the 10–90 % range of the STI, hollow where it misses the promise; the letter "
        "is the band of IEC 60268-16."
        + ("" if arranged else " The level is that of the voice at the capsule.")
    )


def sti_scale(rows: Sequence[Outbound], target: float | None) -> Scale:
    """Return one axis for all bars, with round ticks and the promise marked."""
    ends = [row.sti.low for row in rows] + [row.sti.high for row in rows]
    return axis(ends, target, steps=STEPS, places=2)


def range_bar(row: Outbound, scale: Scale) -> RangeBar:
    """Return the STI range of one row on the shared axis."""
    span = scale.high - scale.low

    def along(value: float) -> float:
        return (value - scale.low) / span

    return RangeBar(along(row.sti.low), along(row.sti.value), along(row.sti.high), scale.target)


def ledger_table(rows: Sequence[Outbound], target: float | None, wanted: float | None) -> Table:
    """Return the ledger itself, in the order given."""
    scale = sti_scale(rows, target)
    arranged = any(row.arrangement for row in rows)
    columns = (
        Column("State", 22),
        Column("Place", 0),
        *((Column("Worst in", 18),) if arranged else ()),
        Column("STI\nout", 10, "right"),
        Column("", 7),
        Column("10–90 %", 30 if arranged else 38, scale=scale),
        Column(
            "Chance" if wanted is None else f"Chance,\n{round(100 * wanted)} wanted", 15, "right"
        ),
        Column("D/R\ndB", 12, "right"),
        Column("S/N\ndB", 12, "right"),
        *(() if arranged else (Column("Level\ndBA", 12, "right"),)),
        Column("Binds", 24),
    )
    cells: list[tuple[Cell, ...]] = []
    for row in rows:
        failing = row.state != "kept"
        cells.append(
            (
                Mark(row.state),
                Run(row.talker.id, "strong"),
                *((Run(row.arrangement),) if arranged else ()),
                Run(figure(row.sti.value, 2), "strong" if failing else "plain"),
                Run(row.category, "soft"),
                range_bar(row, scale),
                Run(percent(row.chance), "strong" if failing else "plain"),
                Run(figure(row.direct_to_reverberant.value, 1)),
                Run(figure(row.speech_to_noise.value, 1)),
                *(() if arranged else (Run(figure(row.path.speech_level_dba, 1)),)),
                Run(TARGETS[row.binds].binds if row.binds in TARGETS else NOT_ASSESSED, "soft"),
            )
        )
    return Table(columns, tuple(cells))


def _paths_table(rows: Sequence[Outbound], evidence: Evidence) -> Table:
    columns = (
        Column("Place", 0),
        Column("Microphone", 24),
        Column("Distance", 18, "right"),
        Column("Turn\n°", 12, "right"),
        Column("D/R\ndB", 13, "right"),
        Column("range\n10–90 %", 22, "right"),
        Column("S/N\ndB", 13, "right"),
        Column("range\n10–90 %", 22, "right"),
        Column("Noise\ndBA", 14, "right"),
    )
    unit = evidence.room.units
    return Table(
        columns,
        tuple(
            (
                Run(row.talker.id, "strong"),
                Run(row.path.microphone),
                Run(format_length(row.path.distance, unit=unit).replace(" ", NBSP)),
                Run(figure(row.path.off_axis_deg, 0)),
                Run(figure(row.direct_to_reverberant.value, 1)),
                Run(_range(row.direct_to_reverberant.low, row.direct_to_reverberant.high), "soft"),
                Run(figure(row.speech_to_noise.value, 1)),
                Run(_range(row.speech_to_noise.low, row.speech_to_noise.high), "soft"),
                Run(figure(row.path.noise_level_dba, 1)),
            )
            for row in rows
        ),
    )


def _range(low: float, high: float) -> str:
    """Range in words where a dash could be read as a minus."""
    return f"{figure(low, 1)}{NBSP}to{NBSP}{figure(high, 1)}"
