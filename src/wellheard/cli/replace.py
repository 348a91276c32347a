"""``wellheard replace``."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from wellheard.cli.exits import Exit
from wellheard.cli.output import Format

if TYPE_CHECKING:
    from wellheard.workflow.replacement import Pickup, Replacement

CAUTION = (
    "Before anybody opens a ceiling: switch off and lock out, work from safe access, and have "
    "unknown materials looked at first. Local code and licensed practice decide."
)


def replace(room: Path, old: str, new: str, /, *, format: Format = "text") -> int:
    """Say whether one product drops in for another at the places a room gives it.

    Hole, tile, weight, drop, link, power, ports, firmware and what is heard
    at the existing positions, each by itself. Exit 1 where it does not.

    Parameters
    ----------
    room
        The room document.
    old
        A device of the document, or a product: all devices of it.
    new
        The product to take its place.
    format
        text or json.
    """
    from wellheard.cli import output
    from wellheard.workflow.load import load
    from wellheard.workflow.replacement import replacement

    found = replacement(load(room), old, new)
    if format == "json":
        output.json_payload(as_json(found))
    else:
        output.payload(text(found))
    return Exit.FINDINGS if found.answer == "no" else Exit.OK


def text(found: Replacement) -> str:
    """The answer, each aspect, what is heard, and what it brings with it."""
    from wellheard.cli.render import table, wrapped
    from wellheard.units import plain_money

    price = plain_money(found.price, found.currency)
    answer = {
        "yes": "yes",
        "with changes": "with changes",
        "no": "no",
        "not assessed": "not assessed in every respect",
    }[found.answer]
    rows = [[a.name, a.answer, a.old, a.new] for a in found.aspects]
    lines = [
        f"{found.new} for {found.old} ({', '.join(found.devices)}): {answer}",
        "",
        table(["", "drops in", found.old, found.new], rows, left=4),
        "",
        *(wrapped(f"{a.name}: {a.why}.") for a in found.aspects if a.why),
        f"Promise kept before: {_heard(found.before)}; after: {_heard(found.after)}.",
        f"List price of {len(found.devices)}: {price}, without accessories and labour.",
    ]
    if found.new_findings:
        lines += ["", "What only the new devices bring up:"]
        lines += [wrapped(f"{code}: {message}") for code, message in found.new_findings]
    return "\n".join([*lines, "", CAUTION])


def _heard(pickup: Pickup) -> str:
    from wellheard.cli.render import chance, number

    if pickup.worst_sti is None or pickup.worst_chance is None:
        return "not assessed"
    return (
        f"{pickup.kept} of {pickup.of} talking points, worst {pickup.worst} with STI "
        f"{number(pickup.worst_sti, 2)} and chance {chance(pickup.worst_chance)}"
    )


def as_json(found: Replacement) -> dict[str, object]:
    """What ``replace --format json`` prints."""
    from dataclasses import asdict

    plain = asdict(found)
    plain["new_findings"] = [{"code": c, "message": m} for c, m in found.new_findings]
    return plain
