"""``wellheard map``."""

from __future__ import annotations

import math
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Literal, TypeAlias

from cyclopts import Parameter

from wellheard.cli.exits import Exit
from wellheard.cli.output import Format

if TYPE_CHECKING:
    from wellheard.predict.coverage import Facing
    from wellheard.units import Unit
    from wellheard.workflow.maps import RoomMap, Section

FORMS = ("svg", "png", "json", "csv")

Mappable: TypeAlias = Literal[
    "sti",
    "c50",
    "direct-to-reverberant",
    "speech-to-noise",
    "level",
    "sti-inbound",
    "playback-level",
]


def map(
    room: Path,
    /,
    *,
    output: Annotated[Path | None, Parameter(name=["--output", "-o"])] = None,
    quantity: Mappable = "sti",
    height: str = "",
    start: Annotated[str | None, Parameter(name="--from")] = None,
    end: Annotated[str | None, Parameter(name="--to")] = None,
    worst: Annotated[bool, Parameter(negative="")] = False,
    facing: str = "",
    spacing: str = "",
    arrangement: str = "",
    theme: Literal["white", "slate"] = "white",
    format: Format = "text",
    force: Annotated[bool, Parameter(negative="")] = False,
) -> int:
    """Map what a talker or an ear anywhere in the room would get, on the plan or in a section.

    Without --output a summary is printed. Lengths are in the document's units
    unless they say their own.

    Parameters
    ----------
    room
        The room document, with microphones placed, or loudspeakers for what comes in.
    output
        Where to write the map; its name ends in .svg, .png, .json or .csv.
    quantity
        Speech transmission index, clarity C50, direct-to-reverberant ratio, speech-to-noise
        ratio, or speech level at the microphone; of the far end at an ear, speech transmission
        index (sti-inbound) or level (playback-level).
    height
        Of the mouth or ear above the floor, on a plan; 1.2 m unless given.
    start
        With --to: two points of the plan, as 0,2.3. Maps the section between them, floor to
        ceiling.
    end
        See --from.
    worst
        The low end that nine of ten such rooms reach, in place of the middle value.
    facing
        Where the talker looks: across, display, or degrees anticlockwise from the plan's x axis;
        several with commas, the worst counts. By default across and display, as far as seats
        face that way.
    spacing
        Widest distance between points; by default about 2000 points are mapped.
    arrangement
        Of a room that divides: the arrangement, or one of its spaces such as split.a; by
        default the one in which the worst seat is.
    theme
        Colours of a picture.
    format
        json prints the arrays to stdout.
    force
        Replace a file that exists.
    """
    from wellheard import files
    from wellheard.cli import output as out
    from wellheard.cli.sizes import place_length, plan_point
    from wellheard.errors import InputError, UsageError
    from wellheard.workflow import maps
    from wellheard.workflow.load import load

    form = "" if output is None else output.suffix.lower().removeprefix(".")
    if output is not None:
        if form not in FORMS:
            raise UsageError(
                f"--output: {output.name!r}; a name that ends in .svg, .png, .json or .csv"
            )
        if output.exists() and not force:
            raise InputError(f"{output}: exists already; name another file, or add --force")
    section: Section | None = None
    loaded = load(room)
    unit = loaded.room.units
    if (start is None) != (end is None):
        raise UsageError("--from and --to: give both, two points of the plan, or none")
    if start is not None and end is not None:
        section = (plan_point(start, unit, "--from"), plan_point(end, unit, "--to"))
        if height:
            raise UsageError("--height: is for a plan; a section shows every height")
    found = maps.room_map(
        loaded,
        maps.Asked(
            quantity=quantity,
            height=place_length(height or "1.2 m", unit, "--height"),
            section=section,
            worst=worst,
            facing=_ways(facing),
            spacing=place_length(spacing, unit, "--spacing") if spacing else None,
            arrangement=arrangement,
        ),
    )
    if output is not None:
        files.save(output, _written(found, form, theme), replace=force)
        out.say(f"{output}: written")
    if format == "json":
        out.json_payload(maps.as_json(found))
    elif output is None:
        out.payload(text(found, unit))
    return Exit.OK


def _ways(facing: str) -> tuple[Facing, ...]:
    """Ways to look, from the words of the option."""
    from wellheard.errors import UsageError

    found: list[Facing] = []
    for said in filter(None, (part.strip() for part in facing.split(","))):
        if said in ("across", "display"):
            found.append(said)
            continue
        try:
            way = float(said.removesuffix("°"))
        except ValueError:
            way = 1e9
        if not -360 <= way <= 360:
            raise UsageError(
                f"--facing: {said!r}; across, display, or degrees from -360 to 360, such as 90"
            )
        found.append(way)
    return tuple(dict.fromkeys(found))


def _written(found: RoomMap, form: str, theme: Literal["white", "slate"]) -> bytes:
    import json

    from wellheard.workflow import map_pictures, maps

    if form == "csv":
        return maps.as_csv(found).encode()
    if form == "json":
        whole = json.dumps(maps.as_json(found), ensure_ascii=False, allow_nan=False)
        return (whole + "\n").encode()
    if form == "svg":
        return map_pictures.picture(found, theme=theme).encode()
    return map_pictures.png(found, theme=theme)


def text(found: RoomMap, unit: Unit) -> str:
    """What a map comes to: the least, the median and the most, and how much of it keeps."""
    from wellheard.cli.render import number, table, wrapped
    from wellheard.units import format_length
    from wellheard.workflow.map_pictures import conditions, title
    from wellheard.workflow.maps import most_of, share_words, summary

    mapped, sums = found.asked.mapped, summary(found)

    def row(name: str, pair: tuple[float, float]) -> list[str]:
        return [name, *(number(value, mapped.decimals) for value in pair)]

    rows = [row("least", sums.least), row("median", sums.median), row("most", sums.most)]
    if sums.kept is not None and found.target is not None:
        kept = [share_words(share) for share in sums.kept]
        most = most_of(found.evidence, mapped)
        end = f"–{number(most, mapped.decimals)}" if most < math.inf else ""
        rows.append([f"keeps {number(found.target, mapped.decimals)}{end}", *kept])
    shown = f", {found.arrangement}" if found.arrangement else ""
    where = ", ".join(format_length(value, unit=unit) for value in sums.worst_at)
    apart = " × ".join(format_length(value, unit=unit) for value in sums.spacing)
    return "\n".join(
        [
            f"{title(found)}{shown}",
            wrapped(conditions(found)),
            "",
            table(["", "middle value", "nine of ten reach"], rows),
            "",
            wrapped(f"Least at {where}. {sums.points} points, {apart} apart."),
        ]
    )
