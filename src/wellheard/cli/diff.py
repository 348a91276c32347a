"""``wellheard diff``."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING

from wellheard.cli.exits import Exit
from wellheard.cli.output import Format

if TYPE_CHECKING:
    from wellheard.predict.evidence import Outbound
    from wellheard.workflow.compare import Comparison, Promise, SeatChange


MOST_SLIGHT = 3
"""More changes than this that print alike are told together."""


def diff(old: Path, new: Path, /, *, format: Format = "text") -> int:
    """Say what changed between two documents, and what it does to the promise.

    Exit 1 where a seat that was kept is not any more.

    Parameters
    ----------
    old
        The earlier room document.
    new
        The later one.
    format
        text or json.
    """
    from wellheard.cli import output
    from wellheard.workflow.compare import compare
    from wellheard.workflow.load import load

    found = compare(load(old), load(new))
    if format == "json":
        output.json_payload(as_json(found))
    else:
        output.payload(text(found))
    return Exit.FINDINGS if found.worse else Exit.OK


def text(found: Comparison) -> str:
    """The changes as sentences, then the promise before and after, then the seats."""
    from wellheard.cli.render import table, wrapped

    slight = [change for change in found.changes if change.slight]
    together = len(slight) > MOST_SLIGHT
    lines = [
        wrapped(f"{change.text}.") for change in found.changes if not (together and change.slight)
    ]
    if together:
        lines.append(wrapped(f"{len(slight)} places and lengths move by less than is printed."))
    if not lines:
        lines = ["The documents say the same."]
    lines += [
        "",
        f"Before: {_standing(found.before)}",
        f"After:  {_standing(found.after)}",
    ]
    if found.seats:
        rows = [
            [
                seat.id,
                _state(seat.before),
                _state(seat.after),
                *_pair(seat, lambda o: o.sti.value, 2),
                *_pair(seat, lambda o: o.path.direct_to_reverberant_db, 1),
                *_pair(seat, lambda o: o.path.speech_to_noise_db, 1),
                _chance(seat.before),
                _chance(seat.after),
            ]
            for seat in found.seats
        ]
        head = ["seat", "before", "after", "STI", "→", "D/R dB", "→", "S/N dB", "→", "chance", "→"]
        lines += ["", table(head, rows, left=3)]
    for title, those in (
        ("New findings", found.new_findings),
        ("Findings that are gone", found.gone_findings),
    ):
        if those:
            lines += ["", title, *(wrapped(f"{f.severity} {f.code}: {f.message}") for f in those)]
    return "\n".join(lines)


def _standing(promise: Promise) -> str:
    from wellheard.cli.render import chance, number

    room = f"T {number(promise.reverberation, 2)} s, {promise.noise}"
    if promise.worst_sti is None or promise.worst_chance is None:
        return f"no microphone is placed ({room})"
    return (
        f"kept at {promise.kept} of {promise.of} talking points with {promise.microphones} "
        f"microphone{'' if promise.microphones == 1 else 's'}; worst {promise.worst}, STI "
        f"{number(promise.worst_sti, 2)}, chance {chance(promise.worst_chance)} ({room})"
    )


def _state(row: Outbound | None) -> str:
    from wellheard.cli.render import MARKS

    return "–" if row is None else f"{MARKS[row.state]} {row.state}"


def _chance(row: Outbound | None) -> str:
    from wellheard.cli.render import chance

    return "–" if row is None else chance(row.chance)


def _pair(seat: SeatChange, value: Callable[[Outbound], float], places: int) -> list[str]:
    from wellheard.cli.render import number

    return ["–" if o is None else number(value(o), places) for o in (seat.before, seat.after)]


def as_json(found: Comparison) -> dict[str, object]:
    """What ``diff --format json`` prints."""
    from dataclasses import asdict

    return {
        "changes": [asdict(change) for change in found.changes],
        "promise": {
            "before": asdict(found.before),
            "after": asdict(found.after),
            "worse": found.worse,
            "seats": [
                {"id": s.id, "before": _row(s.before), "after": _row(s.after)} for s in found.seats
            ],
        },
        "new_findings": [f.as_json() for f in found.new_findings],
        "gone_findings": [f.as_json() for f in found.gone_findings],
    }


def _row(row: Outbound | None) -> dict[str, object] | None:
    if row is None:
        return None
    return {
        "state": row.state,
        "microphone": row.path.microphone,
        "sti": round(row.sti.value, 3),
        "direct_to_reverberant_db": round(row.path.direct_to_reverberant_db, 2),
        "speech_to_noise_db": round(row.path.speech_to_noise_db, 2),
        "chance": round(row.chance, 3),
    }
