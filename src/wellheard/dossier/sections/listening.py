"""What every ear hears of the far end: one row per place, worst first, and how it arrives."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from wellheard.dossier.figures import axis
from wellheard.dossier.model import (
    Block,
    Cell,
    Column,
    Heading,
    Manner,
    Mark,
    Paragraph,
    RangeBar,
    Run,
    Scale,
    Section,
    Table,
)
from wellheard.dossier.sections.ledger import STEPS
from wellheard.dossier.words import NBSP, NOT_ASSESSED, brief, figure, fixed_spaces, percent
from wellheard.predict.evidence import Bands, Evidence
from wellheard.predict.wayback import Arrival, Inbound, Playback
from wellheard.units import format_length

TITLE = "Heard in the room"
BINDS = {"sti_inbound": "STI", "listening_level_dba": "level"}
MIDDLE = slice(2, 6)
"""500 Hz to 4 kHz."""


def listening_sections(evidence: Evidence) -> tuple[Section, ...]:
    """Return the ledger of the way in; none where no loudspeaker is placed."""
    found = evidence.playback
    if found is None:
        return ()
    rows = worst_first(found)
    blocks: list[Block] = [
        Paragraph((Run(_reading(evidence)),), "note"),
        inbound_table(evidence, rows),
    ]
    if not any(row.arrangement for row in rows):
        blocks += [
            Heading("How it arrives"),
            Paragraph((Run(_arriving(evidence)),), "note"),
            _arrivals_table(evidence, rows),
        ]
    return (Section(TITLE, "engineer", tuple(blocks)),)


def worst_first(found: Playback) -> tuple[Inbound, ...]:
    """Return the rows of all ears, the least chance first, then the least STI."""
    return tuple(
        sorted(
            found.rows,
            key=lambda row: (round(row.chance, 9), round(row.sti.value, 9), row.talker.id),
        )
    )


def _reading(evidence: Evidence) -> str:
    targets = evidence.room.targets
    promised = []
    if targets.sti_inbound is not None:
        promised.append(f"STI {figure(targets.sti_inbound, 2)}")
    if targets.listening_level_dba is not None:
        low, high = targets.listening_level_dba
        promised.append(f"a level of {brief(low, 1)} to {brief(high, 1)}{NBSP}dBA")
    wanted = targets.chance
    sure = f", each with a chance of {percent(wanted)}" if wanted is not None and promised else ""
    said = f"Promised: {' and '.join(promised)}{sure}. " if promised else "Nothing is promised. "
    picture = any(row.direction_deg is not None for row in _rows(evidence))
    return (
        f"Worst first. {said}The chance of a row is the least of its quantities, and “binds” names "
        "that quantity. The bar is the 10–90 % range of the STI, hollow where it misses the "
        "promise. The level is that of average speech, all loudspeakers together; the voice seems "
        "to come from the loudspeaker named"
        + (", so far from the nearest picture as seen from the seat." if picture else ".")
    )


def _rows(evidence: Evidence) -> tuple[Inbound, ...]:
    return () if evidence.playback is None else evidence.playback.rows


def inbound_table(evidence: Evidence, rows: Sequence[Inbound]) -> Table:
    """Return the ledger itself, in the order given."""
    targets = evidence.room.targets
    scale = _scale(rows, targets.sti_inbound)
    wanted = targets.chance
    arranged = any(row.arrangement for row in rows)
    columns = (
        Column("State", 21),
        Column("Place", 0),
        *((Column("Worst in", 18),) if arranged else ()),
        Column("STI\nin", 10, "right"),
        Column("", 6),
        Column("10–90 %", 26 if arranged else 31, scale=scale),
        Column("Level\ndBA", 12, "right"),
        Column("range\n10–90 %", 17, "right"),
        Column(
            "Chance" if wanted is None else f"Chance,\n{round(100 * wanted)} wanted", 15, "right"
        ),
        Column("Voice\nfrom", 17),
        Column("Off pic-\nture, °", 12, "right"),
        Column("Binds", 11),
    )
    cells: list[tuple[Cell, ...]] = []
    for row in rows:
        manner: Manner = "plain" if row.state == "kept" else "strong"
        cells.append(
            (
                Mark(row.state),
                Run(row.talker.id, "strong"),
                *((Run(row.arrangement),) if arranged else ()),
                Run(figure(row.sti.value, 2), manner),
                Run(row.category, "soft"),
                _bar(row, scale),
                Run(figure(row.level.value, 1), manner),
                Run(f"{figure(row.level.low, 0)}{NBSP}to{NBSP}{figure(row.level.high, 0)}", "soft"),
                Run(percent(row.chance) if row.binds else NOT_ASSESSED, manner),
                Run(row.heard_from),
                Run(NOT_ASSESSED if row.direction_deg is None else figure(row.direction_deg, 0)),
                Run(BINDS.get(row.binds, NOT_ASSESSED), "soft"),
            )
        )
    return Table(columns, tuple(cells))


def _scale(rows: Sequence[Inbound], target: float | None) -> Scale:
    ends = [row.sti.low for row in rows] + [row.sti.high for row in rows]
    return axis(ends, target, steps=STEPS, places=2, most=4, label_room=0.22)


def _bar(row: Inbound, scale: Scale) -> RangeBar:
    span = scale.high - scale.low

    def along(value: float) -> float:
        return (value - scale.low) / span

    return RangeBar(along(row.sti.low), along(row.sti.value), along(row.sti.high), scale.target)


def _arriving(evidence: Evidence) -> str:
    late = evidence.room.targets.house_limit("loudspeaker-late-arrival")
    said = (
        "Direct sound of the first loudspeaker to arrive, and the last that is within 10 dB of it. "
        "Ratios are means of 500 Hz–4 kHz; speech to noise is weighted by importance."
    )
    several = evidence.playback is not None and len(evidence.playback.loudspeakers) > 1
    if late is not None and several:
        said += (
            " A later direct sound as loud as the first is heard as an echo from about "
            f"{figure(1000 * late, 0)} ms on."
        )
    return fixed_spaces(said)


def _arrivals_table(evidence: Evidence, rows: Sequence[Inbound]) -> Table:
    unit = evidence.room.units
    columns = (
        Column("Place", 0),
        Column("First from", 22),
        Column("Distance", 18, "right"),
        Column("Direct\ndBA", 14, "right"),
        Column("Last", 22),
        Column("after\nms", 12, "right"),
        Column("D/R\ndB", 13, "right"),
        Column("C50\ndB", 13, "right"),
        Column("S/N\ndB", 13, "right"),
    )
    cells: list[tuple[Cell, ...]] = []
    for row in rows:
        first, last = row.arrivals[0], _last(row.arrivals)
        cells.append(
            (
                Run(row.talker.id, "strong"),
                Run(first.loudspeaker),
                Run(format_length(first.distance, unit=unit).replace(" ", NBSP)),
                Run(figure(first.level_dba, 1)),
                Run(NOT_ASSESSED if last is None else last.loudspeaker),
                Run(NOT_ASSESSED if last is None else figure(1000 * (last.time - first.time), 0)),
                Run(figure(row.direct_to_reverberant_db, 1)),
                Run(figure(_middle(row.c50_db), 1)),
                Run(figure(row.speech_to_noise_db, 1)),
            )
        )
    return Table(columns, tuple(cells), tight=len(cells) > 12)


def _middle(values: Bands) -> float:
    return float(np.mean(values[MIDDLE]))


WITHIN_DB = 10.0
"""A later direct sound that is weaker than the first by more than this does not matter."""


def _last(arrivals: Sequence[Arrival]) -> Arrival | None:
    """The last direct sound that matters; None where the first is the only one."""
    first = arrivals[0]
    mattering = [one for one in arrivals[1:] if one.level_dba > first.level_dba - WITHIN_DB]
    return mattering[-1] if mattering else None
