"""``wellheard import``."""

from __future__ import annotations

import shlex
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Literal

from cyclopts import Parameter

from wellheard.cli.exits import Exit
from wellheard.cli.output import Format

if TYPE_CHECKING:
    from wellheard.units import Unit
    from wellheard.workflow.importing import Looked, Taken


def importing(
    plan: Path,
    /,
    *,
    output: Annotated[Path | None, Parameter(name=["--output", "-o"])] = None,
    room: str | None = None,
    unit: Literal["mm", "cm", "m", "in", "ft"] | None = None,
    layer: Annotated[tuple[str, ...], Parameter(negative="")] = (),
    height: str | None = None,
    seats: int | None = None,
    title: str = "",
    units: Literal["m", "ft"] | None = None,
    materials: Path | None = None,
    without: Annotated[tuple[str, ...], Parameter(negative="")] = (),
    as_drawn: Annotated[bool, Parameter(negative="")] = False,
    preview: Path | None = None,
    force: Annotated[bool, Parameter(negative="")] = False,
    format: Format = "text",
) -> int:
    """Read a floor plan (DXF or IFC), and take a room of it over as a room document.

    Without --output nothing is written but the picture that --preview asks
    for: the rooms are listed, with what was recognised and what was not.

    Parameters
    ----------
    plan
        A DXF drawing (R12 or newer) or an IFC model.
    output
        Write the room document here.
    room
        Key or name of the room, where the plan has several.
    unit
        Of the drawing, where it does not say, or is wrong.
    layer
        ROLE=LAYER[,LAYER…]: what is on a layer, where names do not tell: room, wall, seat,
        table, luminaire, … or ignore; * and ? stand for any letters. May be repeated.
    height
        Floor to ceiling, such as 2.75 m or 9 ft, in place of what the plan says.
    seats
        How many sit at the tables of a plan that has no chairs.
    title
        Of the document; by itself that of the room in the plan.
    units
        Of the document; by itself feet for a plan in inches or feet.
    materials
        A table of your own, CSV with the columns material and finish.
    without
        A role to leave out, such as seat; may be repeated.
    as_drawn
        Do not turn a room that lies askew.
    preview
        Write a picture of what was recognised here, as SVG.
    force
        Replace files that exist.
    format
        json prints rooms, report and layers, and what became of the room that is taken over.
    """
    from wellheard import files
    from wellheard.cli import output as out
    from wellheard.cli.sizes import place_length
    from wellheard.errors import InputError, UsageError
    from wellheard.room import codec
    from wellheard.workflow import importing as work

    left_out, layers = work.roles(without), work.picked(layer)
    if seats is not None and not 1 <= seats <= work.MOST_SEATS:
        raise UsageError(f"--seats: {seats} is no number of seats; 1 to {work.MOST_SEATS}")
    _apart(plan, output, preview)
    for path in (output, preview):
        if path is not None and path.exists() and not force:
            raise InputError(f"{path}: exists already; name another file, or add --force")
    try:
        looked = work.look(plan, work.Asked(unit, layers))
    except work.UnitUnstated as question:
        likeliest = question.sizes[0][0]
        raise UsageError(f"{question}; with --unit, the likeliest is --unit {likeliest}") from None
    said = units or work.units_of(looked.plan)
    if preview is not None:
        picture = work.preview(looked, room, unit=said)
        files.save(preview, picture.encode(), replace=force)
    if output is None and room is None:
        if format == "json":
            out.json_payload(work.plan_answer(looked))
        else:
            out.payload(report(looked, said, again=_again(plan, unit, layer)))
        return Exit.OK
    settled = work.Settled(
        title=title,
        units=units,
        height=None if height is None else place_length(height, said, "--height"),
        seats=seats,
        finishes={} if materials is None else work.own_finishes(materials),
        without=left_out,
    )
    taken = work.take(looked.plan, room, settled, straighten=not as_drawn)
    if output is not None:
        codec.save(output, taken.text, replace=force)
    if format == "json":
        out.json_payload({"plan": work.plan_answer(looked), "room": work.taken_answer(taken)})
        return Exit.OK
    if output is None:
        out.payload(taken.text)
    out.say(accepted(taken, output))
    return Exit.OK


def _apart(plan: Path, output: Path | None, preview: Path | None) -> None:
    """Refuse to write one file over another that this command reads or writes itself."""
    from wellheard.errors import UsageError

    named = {"the plan": plan, "--output": output, "--preview": preview}
    seen: dict[Path, str] = {}
    for what, path in named.items():
        if path is None:
            continue
        other = seen.setdefault(path.resolve(), what)
        if other != what:
            raise UsageError(f"{path}: {other} and {what} are one file; name another for {what}")


def _again(plan: Path, unit: str | None, layer: Sequence[str]) -> str:
    """The command that read the plan as it was read, to be typed again with more."""
    words = ["wellheard", "import", str(plan)]
    words += ["--unit", unit] if unit else []
    for pick in layer:
        words += ["--layer", pick]
    return shlex.join(words)


def report(looked: Looked, unit: Unit, *, again: str) -> str:
    """The rooms of a plan, what of it was recognised, and how it is typed ``again`` for a room."""
    from wellheard.cli.render import table, wrapped
    from wellheard.drawings.foundplan import listed, told

    plan = looked.plan
    lines = [f"{looked.name}: {plan.format}, unit {plan.unit} ({plan.unit_source})", ""]
    if plan.rooms:
        rows = [listed(room, unit) for room in plan.rooms]
        lines.append(table(["room", "name", "size", "height", "chairs", "from"], rows, left=2))
    else:
        lines.append("No room: no closed outline, and no walls that close one.")
    for heading, taken in (("Taken", True), ("Left", False)):
        said = [str(line) for line in told(plan.report, taken=taken)]
        lines += ["", f"{heading}:", *(wrapped(f"  {line}") for line in said or ["nothing"])]
    lines += ["", *map(wrapped, plan.warnings)] if plan.warnings else []
    named = f" --room {plan.rooms[0].key}" if len(plan.rooms) > 1 else ""
    if plan.rooms:
        lines += ["", f"Next: {again}{named} -o FILE.room.yaml"]
    return "\n".join(lines)


def accepted(taken: Taken, path: Path | None) -> str:
    """What went into a document, what is assumed, and what comes next."""
    from wellheard.cli.render import wrapped
    from wellheard.drawings.foundplan import told

    lines = []
    for heading, kept in (("Taken over", True), ("Left", False)):
        said = [str(line) for line in told(taken.report, taken=kept)]
        if said:
            lines += [f"{heading}:", *(wrapped(f"  {line}") for line in said)]
    lines += map(wrapped, taken.assumed)
    lines += [
        wrapped(
            f"No finish is known for “{material}” ({surface}): the usual one is taken. Give it one "
            "in a table of your own, with --materials."
        )
        for material, surface in taken.unknown
    ]
    if path is not None:
        lines.append(f"{path}: written; next: wellheard check {shlex.quote(str(path))}")
    return "\n".join(lines)
