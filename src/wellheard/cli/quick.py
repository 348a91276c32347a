"""``wellheard quick``."""

from __future__ import annotations

from typing import TYPE_CHECKING, Literal

from wellheard.cli.exits import Exit
from wellheard.cli.output import Format

if TYPE_CHECKING:
    from wellheard.workflow.quick import Count, QuickAnswer


def quick(
    *,
    size: str,
    seats: int,
    units: Literal["m", "ft"] = "m",
    product: str = "ceiling-head-3",
    format: Format = "text",
) -> int:
    """How many microphones a room of four numbers needs, why, and what would change it.

    Each number is counted by the solver in a room of that size, not read off a
    table. Exit 1 where not even the usual room can be served.

    Parameters
    ----------
    size
        Length x width x height, such as 6.4x4.6x2.75, or 20x14x9 with --units ft.
    seats
        Seats around one table, 2 to 24.
    units
        Unit of bare lengths, and of the answer.
    product
        The microphone that is counted.
    format
        text or json.
    """
    from wellheard.cli import output
    from wellheard.cli.sizes import room_size, spoken_unit
    from wellheard.workflow import quick as answers
    from wellheard.workflow.products import own_catalogue

    found = answers.quick(
        room_size(size, units),
        seats,
        units=spoken_unit(size.replace("X", "x").split("x")[-1].strip(), units),
        product=product,
        catalogue=own_catalogue(),
        say=output.talk,
    )
    if format == "json":
        output.json_payload(as_json(found))
    else:
        output.payload(text(found))
    return Exit.OK if found.usual.microphones is not None else Exit.FINDINGS


def text(found: QuickAnswer) -> str:
    """The answer as it is read out on the phone."""
    from wellheard.cli.render import table, wrapped
    from wellheard.units import format_length

    size = " × ".join(format_length(v, unit=found.units) for v in found.size)
    rooms = [
        [name, count.condition, _number(count), count.because or "–"]
        for name, count in (("soft", found.soft), ("usual", found.usual), ("hard", found.hard))
    ]
    changes = [[c.condition, _number(c), c.because or "–"] for c in found.changes]
    return "\n".join(
        [
            f"{size}, {found.seats} seats: {_headline(found)}",
            "",
            table(["room", "with", found.product, "what binds"], rooms, left=2),
            "",
            "Why (the usual room)",
            *(wrapped(f"{i}. {reason}") for i, reason in enumerate(found.reasons, start=1)),
            "",
            table(["what would change it", "microphones", "what binds"], changes, left=1),
            "",
            "Counted in a room written from these four numbers, with nobody's survey: a starting "
            "point.\nEvery product is invented. Next: wellheard new FILE, then wellheard survey.",
        ]
    )


def _headline(found: QuickAnswer) -> str:
    least, most = found.least, found.most
    if least is None:
        return f"no number of {found.product} keeps the promise in any such room"
    if most is None:
        usual = found.usual.microphones
        known = f"{least}" if least == usual or usual is None else f"{least} to {usual}"
        return f"{known} {found.product}; in a hard room none will do before it is treated"
    if least == most:
        return f"{least} {found.product}"
    return f"{least} to {most} {found.product}"


def _number(count: Count) -> str:
    if count.microphones is None:
        return "none will do"
    return str(count.microphones) if count.proven else f"{count.microphones} (not proven)"


def as_json(found: QuickAnswer) -> dict[str, object]:
    """What ``quick --format json`` prints."""

    def one(count: Count) -> dict[str, object]:
        return {
            "condition": count.condition,
            "product": count.product,
            "microphones": count.microphones,
            "binds": count.because or None,
            "proven": count.proven,
        }

    return {
        "size": list(found.size),
        "seats": found.seats,
        "product": found.product,
        "microphones": {
            "least": found.least,
            "usual": found.usual.microphones,
            "most": found.most,
        },
        "rooms": {
            "soft": one(found.soft),
            "usual": one(found.usual),
            "hard": one(found.hard),
        },
        "reasons": list(found.reasons),
        "changes": [one(c) for c in found.changes],
    }
