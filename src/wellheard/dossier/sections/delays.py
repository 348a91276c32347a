"""Where the time goes: delays in the room, of the call, and of sound after picture."""

from __future__ import annotations

from collections.abc import Sequence

from wellheard.dossier.model import Block, Cell, Column, Facts, Heading, Line, Run, Table
from wellheard.dossier.words import figure, fixed_spaces
from wellheard.predict.evidence import Evidence
from wellheard.predict.wayback import DelayPart, Delays

LIMIT = "in-room-delay"
UNNOTICED_MS = (-45.0, 125.0)
"""Sound before and after the picture that is not noticed (ITU-R BT.1359, via open texts [L])."""


def delay_blocks(evidence: Evidence) -> list[Block]:
    """Return the budget of every way, and what it makes of the call; none without any."""
    found = evidence.delays
    if found is None or not (found.outbound or found.inbound):
        return []
    return [
        Heading("Delay", "the longest way of each; network and service are in the call’s alone"),
        _table(found),
        Facts(_facts(evidence, found)),
    ]


def _table(found: Delays) -> Table:
    columns = (
        Column("Way", 46),
        Column("Part", 30),
        Column("At", 0),
        Column("ms", 16, "right"),
        Column("From", 44),
    )
    ways = (
        ("Mouth to computer", found.outbound),
        ("Computer to ear", found.inbound),
        ("Mouth to another ear, lifted", found.lift),
    )
    return Table(columns, tuple(row for name, parts in ways for row in _way(name, parts)))


def _way(name: str, parts: Sequence[DelayPart]) -> list[tuple[Cell, ...]]:
    if not parts:
        return []
    total = sum(part.ms for part in parts)
    head = (
        Run(name, "strong"),
        Run(""),
        Run(""),
        Run(figure(total, 1), "strong"),
        Run(""),
    )
    return [
        head,
        *(
            (
                Run(""),
                Run(part.name),
                Run(part.at, "soft"),
                Run(figure(part.ms, 1)),
                Run(part.source, "soft"),
            )
            for part in parts
        ),
    ]


def _facts(evidence: Evidence, found: Delays) -> tuple[tuple[str, Line], ...]:
    limit = evidence.room.targets.house_limit(LIMIT)
    in_room = [ms for ms in (found.outbound_ms, found.inbound_ms) if ms is not None]
    rows: list[tuple[str, str]] = []
    if limit is not None:
        kept = "within" if max(in_room) <= 1000 * limit else "beyond"
        rows.append(
            (
                "In the room",
                f"{kept} the {figure(1000 * limit, 0)} ms that each way may take, a house rule",
            )
        )
    rows += [
        (
            "Of the call",
            f"{figure(found.one_way_ms, 0)} ms from mouth to ear, network and all, as the document "
            f"states; {figure(2 * found.one_way_ms, 0)} ms there and back",
        ),
        ("Lip sync", lip_sync_words(found.lip_sync_ms)),
    ]
    return tuple((label, (Run(fixed_spaces(text + ".")),)) for label, text in rows)


def lip_sync_words(lip_sync_ms: float | None) -> str:
    """Return how sound and picture come together.

    Examples
    --------
    >>> lip_sync_words(-60.0)
    'the sound is 60 ms ahead of the picture, which is noticed: delay it'
    """
    if lip_sync_ms is None:
        return "not assessed: the document does not state the delay of the picture"
    if abs(lip_sync_ms) < 0.5:
        return "sound and picture come together"
    early, late = UNNOTICED_MS
    side = "behind" if lip_sync_ms > 0 else "ahead of"
    said = f"the sound is {figure(abs(lip_sync_ms), 0)} ms {side} the picture"
    if early <= lip_sync_ms <= late:
        return f"{said}, which is not noticed"
    return f"{said}, which is noticed: {'delay it' if lip_sync_ms < 0 else 'delay the picture'}"
