"""Local voices through the loudspeakers: what a lift does, or what one could do."""

from __future__ import annotations

from collections.abc import Sequence

from wellheard.bands import spoken_octave
from wellheard.dossier.model import (
    Block,
    Cell,
    Column,
    Facts,
    Heading,
    Line,
    Manner,
    Paragraph,
    Run,
    Table,
)
from wellheard.dossier.words import (
    NBSP,
    NOT_ASSESSED,
    counted,
    figure,
    fixed_spaces,
    full_stop,
    listed,
    sentence,
)
from wellheard.predict.evidence import Evidence
from wellheard.predict.lift import HOST_NOT_INCLUDED
from wellheard.predict.wayback import Lift, Lifted, LoopPair
from wellheard.units import format_length

FEW = 6
"""Rows that are shown where there is no lift, or of the loops that howl first."""


def lift_blocks(evidence: Evidence) -> list[Block]:
    """Return what lift does in this room, or what would be possible; none without loudspeakers."""
    found = evidence.lift
    if found is None:
        return []
    title = "Voice lift" if found.in_use else "Voice lift: none; what would be possible"
    blocks: list[Block] = [
        Heading(title),
        Paragraph((Run(fixed_spaces(lift_answer(found))),)),
        Facts(_facts(evidence, found)),
        Paragraph((Run(HOST_NOT_INCLUDED),), "note"),
    ]
    rows = sorted(found.rows, key=lambda row: (round(row.lifted_dba, 6), row.talker.id))
    if found.in_use:
        blocks += [
            Heading("What each ear hears of the talker it hears worst"),
            _rows_table(rows),
            Heading("The loops that howl first"),
            _pairs_table(found.pairs[:FEW]),
        ]
    return blocks


def octave_words(frequency: float) -> str:
    """Return an octave in running text.

    Examples
    --------
    >>> octave_words(250.0), octave_words(2000.0)
    ('250\\xa0Hz', '2\\xa0kHz')
    """
    return spoken_octave(frequency).replace(" ", NBSP)


def lift_answer(found: Lift) -> str:
    """Return in a sentence how far the lift is from howling, or what one could bring."""
    where = (
        f"first between {found.microphone} and {found.loudspeaker}, around "
        f"{octave_words(found.octave)}"
    )
    if found.in_use:
        short = found.margin_db < found.wanted_margin_db
        verdict = f"only {figure(found.margin_db, 1)}" if short else figure(found.margin_db, 1)
        return sentence(
            f"the lift of {figure(found.gain_db, 1)} dB is {verdict} dB from howling, {where}; "
            f"{figure(found.wanted_margin_db, 0)} dB are wanted"
            + (
                f", and a gain of {figure(found.advised_gain_db, 1)} dB would leave them."
                if short
                else "."
            )
        )
    return sentence(
        f"no voice of this room is played in it. A lift of {figure(found.gain_db, 1)} dB at most "
        f"would keep {figure(found.wanted_margin_db, 0)} dB from howling, {where}."
    )


def _facts(evidence: Evidence, found: Lift) -> tuple[tuple[str, Line], ...]:
    unit = evidence.room.units

    def length(metres: float) -> str:
        return format_length(metres, unit=unit)

    enough = found.potential_gain_db >= found.needed_gain_db
    rows: list[tuple[str, str]] = [
        (
            "Gain",
            "0 dB plays a local voice as loud as the far end; the loop then gains "
            f"{figure(found.loop_gain_db, 1)} dB in the mean of its octave at this gain, and its "
            f"peaks {figure(found.excess_db, 1)} dB more",
        ),
        (
            "Needed and possible",
            f"the farthest pair needs {figure(found.needed_gain_db, 1)} dB to hear each other as "
            f"over {length(found.equivalent_distance)}; {figure(found.potential_gain_db, 1)} dB "
            f"are possible with {figure(found.open_microphones, 1)} microphones open, which is "
            + ("enough" if enough else "not enough"),
        ),
    ]
    if found.farthest is not None:
        far = found.farthest
        rows.append(
            (
                "Farthest pair",
                f"{far.speaker} to {far.listener}, {length(far.talker_to_listener)}; "
                f"{length(far.talker_to_microphone)} to {far.microphone}, "
                f"{length(far.loudspeaker_to_listener)} from {far.loudspeaker}, "
                f"{length(far.loudspeaker_to_microphone)} from the nearest loudspeaker to the "
                "microphone",
            )
        )
    rows.append(
        ("Electronics", f"{figure(1000 * found.electronics, 1)} ms, without the way through air")
    )
    if found.left_out:
        ways = counted(len(found.left_out), "way")
        one = len(found.left_out) == 1
        word = "would not be" if not found.in_use else "is not" if one else "are not"
        rows.append(
            (
                "Left out",
                f"{ways} from a microphone to a loudspeaker {word} played, so that nobody "
                "hears their own voice from overhead",
            )
        )
    if found.in_use and found.over_head:
        names = dict.fromkeys(one.talker for one in found.over_head)
        rows.append(
            (
                "Own voice overhead",
                f"heard at {counted(len(names), 'place')}: {listed(list(names), most=8)}",
            )
        )
    return tuple((label, (Run(fixed_spaces(full_stop(text))),)) for label, text in rows)


def _rows_table(rows: Sequence[Lifted]) -> Table:
    columns = (
        Column("Ear", 0),
        Column("hears", 24),
        Column("Natural\ndBA", 18, "right"),
        Column("Lifted\ndBA", 18, "right"),
        Column("Gain\ndB", 15, "right"),
        Column("Mostly from", 28),
        Column("after\nms", 15, "right"),
    )
    return Table(
        columns,
        tuple(
            (
                Run(row.talker.id, "strong"),
                Run(row.speaker),
                Run(figure(row.natural_dba, 1)),
                Run(figure(row.lifted_dba, 1)),
                Run(figure(row.gain_db, 1), "strong"),
                Run(row.loudspeaker or NOT_ASSESSED),
                Run(NOT_ASSESSED if row.after is None else figure(1000 * row.after, 0)),
            )
            for row in rows
        ),
        tight=len(rows) > 12,
    )


def _pairs_table(pairs: Sequence[LoopPair]) -> Table:
    columns = (
        Column("Microphone", 30),
        Column("Loudspeaker", 0),
        Column("Lift\ndB", 22, "right"),
        Column("Margin of this\nloop alone, dB", 30, "right"),
        Column("Octave", 24, "right"),
    )
    cells: list[tuple[Cell, ...]] = []
    for pair in pairs:
        manner: Manner = "strong" if pair is pairs[0] else "plain"
        cells.append(
            (
                Run(pair.microphone, "strong"),
                Run(pair.loudspeaker),
                Run(figure(pair.lift_db, 1)),
                Run(figure(pair.margin_db, 1), manner),
                Run(octave_words(pair.octave)),
            )
        )
    return Table(columns, tuple(cells))
