"""What comes back to the far end as echo, and whether a canceller can take it away."""

from __future__ import annotations

from collections.abc import Sequence

from wellheard.bands import OCTAVES
from wellheard.dossier.model import (
    Block,
    Cell,
    Column,
    Heading,
    Manner,
    Mark,
    Paragraph,
    Run,
    Table,
)
from wellheard.dossier.words import (
    NOT_ASSESSED,
    figure,
    fixed_spaces,
    octave,
    sentence,
)
from wellheard.predict.echo import held_by
from wellheard.predict.evidence import Evidence
from wellheard.predict.wayback import Echo

NO_BOUND_DB = 100.0
"""A bound beyond this says nothing: no path loses so much."""


def echo_blocks(evidence: Evidence) -> list[Block]:
    """Return the echo of every microphone, worst first; nothing where nothing is picked up."""
    rows = evidence.echo
    if not rows:
        return []
    return [
        Heading("Echo to the far end"),
        Paragraph((Run(fixed_spaces(echo_answer(evidence))),)),
        Paragraph((Run(fixed_spaces(_reading(evidence))),), "note"),
        _table(rows),
        Heading("Return loss by octave", "dB; negative where the echo is louder than speech"),
        _octaves(rows),
        Heading("What a canceller can take away", "dB"),
        Paragraph((Run(fixed_spaces(BOUNDS)),), "note"),
        _bounds(rows),
    ]


def worst_echo(evidence: Evidence) -> Echo | None:
    """Return the microphone with the most echo left; None where none was predicted."""
    return evidence.echo[0] if evidence.echo else None


def echo_answer(evidence: Evidence) -> str:
    """Return in a sentence whether the far end hears itself, and by how much it is short."""
    worst = worst_echo(evidence)
    if worst is None:
        return ""
    if worst.must_add_db <= 0.0:
        return (
            f"No canceller is needed: the room alone returns the far end's voice "
            f"{figure(worst.return_loss_db, 0)} dB down, and {figure(worst.needed_db, 0)} dB are "
            "needed."
        )
    if worst.can_add_db is None:
        return (
            f"The far end would hear itself: {figure(worst.must_add_db, 0)} dB must be taken away "
            f"behind {worst.microphone}, and nothing cancels there."
        )
    spare = worst.can_add_db - worst.must_add_db
    need = (
        f"{figure(worst.must_add_db, 0)} dB must be taken away behind {worst.microphone}, the "
        f"worst, and {figure(worst.can_add_db, 0)} dB can be"
    )
    if spare < 0.0:
        return sentence(
            f"the far end would hear itself: {need}. "
            f"{figure(-spare, 0)} dB are missing; {_remedy(worst)}."
        )
    surely = "" if worst.state == "kept" else ", but not surely: people do not all speak alike"
    return sentence(f"the far end does not hear itself{surely}: {need}.")


def _remedy(worst: Echo) -> str:
    held = held_by(worst)
    if held == "tail":
        return "a canceller with a longer tail, or a shorter reverberation, brings most"
    if held == "rated":
        return (
            "a canceller that adds more, a lower playback level, or microphones nearer to the "
            "talkers bring them"
        )
    return (
        "a lower playback level, loudspeakers farther from the microphones, or microphones nearer "
        "to the talkers bring them"
    )


def _reading(evidence: Evidence) -> str:
    worst = evidence.echo[0]
    origin = (
        f"the one-way delay of {figure(evidence.room.far_end.one_way_delay_ms, 0)} ms asks for "
        "(ITU-T G.131, G.107)"
        if worst.needed_from.startswith("far_end")
        else "the document promises"
    )
    return (
        "Worst first. Return loss is how far the far end's own speech comes back below the level "
        "of a talker, both at working level, weighted over 300–3400 Hz (ITU-T G.122). Needed is "
        f"what {origin}. What the room does not lose a canceller must add: what it can is held "
        "most by what is named, with suppression of the residue on top. The tail is how long an "
        "echo it must follow, and can."
    )


def _table(rows: Sequence[Echo]) -> Table:
    columns = (
        Column("State", 21),
        Column("Micro-\nphone", 14),
        Column("Cancelled\nat", 0),
        Column("Return\nloss, dB", 15, "right"),
        Column("Needed\ndB", 14, "right"),
        Column("To add\ndB", 13, "right"),
        Column("Can add\ndB", 14, "right"),
        Column("Held by", 17),
        Column("Tail, ms\nneeded", 16, "right"),
        Column("\nhas", 11, "right"),
    )
    cells: list[tuple[Cell, ...]] = []
    for one in rows:
        manner: Manner = "plain" if one.state == "kept" else "strong"
        cells.append(
            (
                Mark(one.state),
                Run(one.microphone, "strong"),
                Run(one.canceller or "nowhere"),
                Run(figure(one.return_loss_db, 1)),
                Run(figure(one.needed_db, 1)),
                Run(figure(one.must_add_db, 1)),
                Run(NOT_ASSESSED if one.can_add_db is None else figure(one.can_add_db, 1), manner),
                Run(NOT_ASSESSED if one.can_add_db is None else least_bound(one), "soft"),
                Run(figure(1000 * one.tail_needed, 0)),
                Run(NOT_ASSESSED if one.tail is None else figure(1000 * one.tail, 0)),
            )
        )
    return Table(columns, tuple(cells))


def least_bound(one: Echo) -> str:
    """Return what holds a canceller: tail, distortion, noise, data sheet or practice."""
    name = held_by(one)
    return "data sheet" if name == "rated" else name


def _octaves(rows: Sequence[Echo]) -> Table:
    columns = (
        Column("Microphone", 0),
        *(Column(octave(band), 13, "right") for band in OCTAVES),
        Column("Loudest", 22),
        Column("alone", 13, "right"),
    )
    cells: list[tuple[Cell, ...]] = []
    for one in rows:
        name, loss = min(one.by_loudspeaker_db, key=lambda pair: round(pair[1], 6))
        cells.append(
            (
                Run(one.microphone, "strong"),
                *(Run(figure(loss, 1)) for loss in one.return_loss_bands_db),
                Run(name),
                Run(figure(loss, 1)),
            )
        )
    return Table(columns, tuple(cells))


BOUNDS = (
    "Tail: the echo outlasts the filter. Distortion: of the loudspeakers, which is in no "
    "reference. Noise: hides what is left; the filter averages it out by 10 dB. What these three "
    "leave adds up. Most: what the data sheet states in all, less suppression; where it states "
    "nothing, what filters reach in practice. Distortion of unknown sheets, noise, practice and "
    "suppression are common practice without a source [C]; a document may set others with a reason."
)


def _bounds(rows: Sequence[Echo]) -> Table:
    columns = (
        Column("Microphone", 0),
        Column("Tail", 16, "right"),
        Column("Distortion", 18, "right"),
        Column("Noise", 16, "right"),
        Column("Most", 16, "right"),
        Column("Suppression", 21, "right"),
        Column("Echo\ndBA", 16, "right"),
        Column("Speech\ndBA", 16, "right"),
        Column("Noise\ndBA", 16, "right"),
    )
    return Table(
        columns,
        tuple(
            (
                Run(one.microphone, "strong"),
                *(
                    Run(_bound(bound))
                    for bound in (
                        one.bound_tail_db,
                        one.bound_distortion_db,
                        one.bound_noise_db,
                        one.bound_practice_db,
                        one.suppression_db,
                    )
                ),
                *(Run(figure(v, 1)) for v in (one.echo_dba, one.speech_dba, one.noise_dba)),
            )
            for one in rows
        ),
    )


def _bound(value: float | None) -> str:
    if value is None:
        return NOT_ASSESSED
    return "no limit" if value > NO_BOUND_DB else figure(value, 1)
