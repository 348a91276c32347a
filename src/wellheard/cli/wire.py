"""``wellheard wire``."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

from cyclopts import Parameter

from wellheard.cli import saving
from wellheard.cli.exits import Exit
from wellheard.cli.output import Format

if TYPE_CHECKING:
    from wellheard.workflow.wiring import WiredRoom

CAUTION = (
    "Before work on mains, in ceilings or at height: switch off and lock out, work from safe "
    "access, and have unknown materials looked at first. Local code and licensed practice decide."
)

NO_DEVICE = (
    "The document has no microphone and no loudspeaker yet: wellheard design places them, and "
    "wires them with the rest."
)

SAME = "Nothing is new: the document is wired so already, and the price is that of what is in it."


def wire(
    room: Path,
    /,
    *,
    output: Annotated[Path | None, Parameter(name=["--output", "-o"])] = None,
    in_place: Annotated[bool, Parameter(negative="")] = False,
    format: Format = "text",
    time_limit: float = 30.0,
) -> int:
    """Wire every device at least cost, proven: ports, cables, what has to be bought for it.

    Links that are locked stay, and those that bring a programme; others give
    way. Without --output the document goes to stdout, the summary to stderr.
    Where something cannot be wired the rest is, and exit is 1.

    Parameters
    ----------
    room
        The room document.
    output
        Write the document with its wiring here.
    in_place
        Write it back to the room document itself.
    format
        json prints wiring and proof to stdout instead of the document.
    time_limit
        Seconds for the search; when they are over, the answer says by how far it may be off.
    """
    from wellheard.cli import output as out
    from wellheard.workflow import wiring
    from wellheard.workflow.load import load

    target = saving.target(room, output, in_place=in_place)
    saving.some_seconds(time_limit)
    loaded = load(room)
    made = wiring.wire(loaded, time_limit=time_limit, say=out.talk)
    saving.save(loaded, made.text, target)
    if format == "json":
        out.json_payload({"wiring": wiring.as_json(made.wired)})
    else:
        if target is None:
            out.payload(made.text)
        out.say(text(made))
        if made.text == loaded.document.text:
            out.say(SAME)
    return Exit.FINDINGS if made.wired.unwired else Exit.OK


def text(made: WiredRoom) -> str:
    """The cables, what they cost, how far that is proven, and what was assumed."""
    from wellheard.cli.render import table, wrapped
    from wellheard.schedules.labels import numbers
    from wellheard.units import format_run, plain_money

    wired, unit = made.wired, made.room.units
    # As on labels, schedules and the diagram, which go by the document's order.
    number = numbers(made.room.links)
    rows = [
        [
            number[name],
            link.from_,
            link.to,
            link.cable or "–",
            "–" if link.length is None else format_run(link.length, unit=unit),
        ]
        for name, link in wired.links.items()
    ]
    lines = []
    if not any(
        device.kind in ("microphone", "loudspeaker") for device in made.room.devices.values()
    ):
        lines.append(wrapped(NO_DEVICE))
    if rows:
        lines += [table(["", "from", "to", "cable", "length"], rows, left=4), ""]
    new = [
        f"{name} ({device.product})"
        for name, device in wired.devices.items()
        if any(part.id == name for part in wired.parts)
    ]
    if new:
        lines.append(wrapped(f"To buy: {', '.join(new)}."))
    lines += [
        wrapped(
            f"Price of what is added, installed: {plain_money(wired.price, wired.currency)}; "
            f"{format_run(wired.cable, unit=unit)} of cable."
        ),
        wrapped(proven(made)),
    ]
    lines += [wrapped(f"Taken to be so: {sentence}") for sentence in wired.assumed]
    for one in wired.unwired:
        lines.append(wrapped(f"Not wired: {one.port}. {one.why} {one.gives}"))
    return "\n".join([*lines, "", wrapped(CAUTION)])


def proven(made: WiredRoom) -> str:
    """What is proven of the answer."""
    from wellheard.units import plain_money

    proof, currency = made.wired.proof, made.wired.currency
    if proof.status == "gap":
        return (
            f"Time ran out: it may cost up to {plain_money(proof.gap, currency)} less. Give "
            "--time-limit more seconds for the proof."
        )
    if proof.status == "infeasible":
        return f"Proven: less cannot stay unwired, and the rest cannot cost less. {proof.scope}"
    return f"Proven: {proof.scope}"
