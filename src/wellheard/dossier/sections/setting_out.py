"""Setting out: where every device goes, what holds it there, what to bring, what can hurt."""

from __future__ import annotations

from collections.abc import Sequence

from wellheard.dossier.model import (
    Block,
    Cell,
    Column,
    Entries,
    Entry,
    Facts,
    Heading,
    Line,
    Manner,
    Paragraph,
    Run,
    Section,
    Table,
)
from wellheard.dossier.positions import Position, by_fixing
from wellheard.dossier.sections.racks import weight_text
from wellheard.dossier.words import (
    NBSP,
    NOT_ASSESSED,
    brief,
    counted,
    figure,
    fixed_spaces,
    listed,
    sentence,
    shortened,
)
from wellheard.drawings.dimensions import printed
from wellheard.predict.pairs import BESIDE, PAIR_SPAN
from wellheard.room.document import Room
from wellheard.schedules.bill import inside
from wellheard.units import POUND, SET_OUT_STEP, Unit, format_length

TITLE = "Setting out"

OVERHEAD = (
    "What hangs overhead falls on somebody: every device hangs from the structure with fixings "
    "rated for it, and has a safety bond of its own to the structure, not to the grid, the tiles, "
    "a pipe or a duct. A tile carries nothing; a bridge under it does. The structure is proved for "
    "the load, and seismic rules may ask for more. Local code and licensed practice decide."
)
WALLS = (
    "What hangs on a wall is fixed to what carries it, with fixings rated for it and a second one "
    "that holds alone; a picture's bracket is not made for it. Local code and licensed practice "
    "decide."
)
CUTTING = (
    "Nothing is drilled, cut or lifted before the owner has shown that ceiling, boards and pipe "
    "insulation hold no asbestos, before pipes and live wires are looked for, and before all "
    "places are marked and seen together. The other cautions of the work stand with the cables."
)


def setting_out_section(
    room: Room, rows: Sequence[Position], doubts: Sequence[str] = ()
) -> Section:
    """Return the installer's page on where everything goes.

    Parameters
    ----------
    room : Room
        Tells units and walls.
    rows : sequence of Position
        Of `wellheard.dossier.positions.positions`.
    doubts : sequence of str
        What a place as printed would break, in sentences.
    """
    measured = [row for row in rows if row.set_out_by != "cable"]
    along = [row for row in rows if row.set_out_by == "cable"]
    return Section(
        TITLE,
        "installer",
        (
            Paragraph((Run(fixed_spaces(_lead(room, measured))),), "lead"),
            *([_table(room, measured)] if measured else []),
            *_remarks(room, measured, along),
            *_doubts(doubts),
            Heading("What holds them"),
            _held(room, rows),
            Heading("Before anything is fixed"),
            Facts(_cautions(rows, room.units)),
        ),
    )


def _lead(room: Room, rows: Sequence[Position]) -> str:
    step = SET_OUT_STEP[room.units]
    said = f"{1000 * step:.0f} mm" if room.units == "m" else format_length(step, unit="ft")
    unit = "millimetres" if room.units == "m" else "feet and inches"
    many = sentence(counted(len(rows), "device"))
    rounded = (
        f"every place is a whole number of {said}, and was weighed, proven and judged as it "
        "stands here"
        if rows and not any(row.off for row in rows)
        else f"what the program placed stands at whole numbers of {said}"
    )
    return (
        f"{many}. Distances in {unit}, from the finished inner face of each wall to the middle of "
        f"the device, at a right angle to the wall; heights from the finished floor, drops from "
        f"the finished ceiling: {rounded}."
    )


def _table(room: Room, rows: Sequence[Position]) -> Table:
    walls = {row.walls for row in rows}
    shared = next(iter(walls)) if len(walls) == 1 else None
    return _from_shared(room.units, rows, shared) if shared else _from_named(room.units, rows)


def _from_shared(unit: Unit, rows: Sequence[Position], walls: tuple[str, str]) -> Table:
    """Where all are set out from the same two walls, these are in the head."""
    tiled = any(row.tile for row in rows)
    first, second = (f"From\n{shortened(name, 12)}" for name in walls)
    columns = (
        Column("Device", 21),
        Column("Product", 0),
        Column("On", 16),
        Column(first, 20, "right"),
        Column(second, 20, "right"),
        *_up(unit),
        Column("Faces", 24),
        *((Column("Tile", 12, "right"),) if tiled else ()),
    )
    cells = tuple(
        (
            Run(_named(row), "strong"),
            Run(row.product),
            Run(_on(row), "soft"),
            *(Run(printed(away, unit), _manner(row)) for away in row.distances),
            *_level(row, unit),
            Run(row.aim, "soft"),
            *((_tile(row),) if tiled else ()),
        )
        for row in rows
    )
    return Table(columns, cells, tight=len(rows) > 8)


def _from_named(unit: Unit, rows: Sequence[Position]) -> Table:
    """Where each has walls of its own, they stand beside the distances."""
    tiled = any(row.tile for row in rows)
    columns = (
        Column("Device", 21),
        Column("On", 16),
        Column("From a wall", 34, "right"),
        Column("And another", 34, "right"),
        *_up(unit),
        Column("Faces", 0),
        *((Column("Tile", 12, "right"),) if tiled else ()),
    )
    cells = tuple(
        (
            Run(_named(row), "strong"),
            Run(_on(row), "soft"),
            *(
                Run(f"{shortened(name, 16)} {printed(away, unit)}", _manner(row))
                for name, away in zip(row.walls, row.distances, strict=True)
            ),
            *_level(row, unit),
            Run(row.aim, "soft"),
            *((_tile(row),) if tiled else ()),
        )
        for row in rows
    )
    return Table(columns, cells, tight=len(rows) > 8)


def _up(unit: Unit) -> tuple[Column, Column]:
    below = "\nmm" if unit == "m" else ""
    return Column(f"Height{below}", 16, "right"), Column(f"Drop{below}", 14, "right")


def _level(row: Position, unit: Unit) -> tuple[Run, Run]:
    return Run(printed(row.height, unit)), Run(drop_words(row.drop, unit))


def _manner(row: Position) -> Manner:
    return "plain" if row.set_out_by == "walls" else "soft"


def _tile(row: Position) -> Run:
    return Run("" if row.tile is None else f"{row.tile[0]}, {row.tile[1]}", "soft")


def _named(row: Position) -> str:
    """Name on the drawings, with the id of the document where that is longer."""
    return row.label if row.label == row.id else f"{row.label} {row.id}"


def _on(row: Position) -> str:
    return {"front": "picture", "table-box": "table"}.get(row.mounting, row.mounting)


def drop_words(drop: float | None, unit: Unit) -> str:
    """Return a drop as it is printed: a dash where there is none, "flush" where it is nought.

    Examples
    --------
    >>> drop_words(0.6, "m"), drop_words(0.0, "ft"), drop_words(None, "m")
    ('600', 'flush', '–')
    """
    if drop is None:
        return NOT_ASSESSED
    return "flush" if drop < SET_OUT_STEP[unit] / 2 else printed(drop, unit)


def _remarks(room: Room, rows: Sequence[Position], along: Sequence[Position]) -> list[Block]:
    unit = room.units
    said: list[str] = []
    if any(row.tile for row in rows):
        said.append(
            "Tiles are counted from the west and from the south wall, cut ones too. What takes a "
            "tile's place lies in the middle of the grid as it was built, which may be a "
            "little off; what goes through a tile goes through its middle."
        )
    if any(row.drop for row in rows):
        said.append("Drops are cut before the platform goes up; the height is there to check.")
    if any(row.mounting == "table" for row in rows):
        said.append("What stands on a table is as high as the table makes it.")
    if any(row.set_out_by == "lectern" for row in rows):
        said.append("What stands on a lectern goes where the lectern goes.")
    if any(row.set_out_by == "pair" for row in rows):
        beside, span = (format_length(v, unit=unit) for v in (BESIDE, PAIR_SPAN))
        said.append(
            f"A pair is set out from the picture between the two, {beside} from its edge to the "
            f"middle of each; without a picture they are {span} apart. Its distances from walls "
            "are for orientation."
        )
    locked = [row.label for row in rows if row.locked]
    if locked:
        stay = "stays where it is" if len(locked) == 1 else "stay where they are"
        said.append(f"{listed(locked)} {stay}.")
    off = [row for row in rows if row.off]
    if off:
        most = max(row.off for row in off)
        by = f"{brief(1000 * most, 1)} mm" if unit == "m" else f"{brief(most / 0.0254, 2)} in"
        names = listed([row.label for row in off])
        said.append(
            f"{names}: placed by hand between the steps, printed to "
            f"{'the millimetre' if unit == 'm' else 'the eighth of an inch'}, and not moved (up "
            f"to {by} from a step)."
        )
    if along:
        names = listed([row.label for row in along], most=6)
        said.append(f"{names}: in the way of the cable, about its middle, where it can be reached.")
    said.append("A turn is counted anticlockwise from east on the plan, 0° is east.")
    return [Paragraph((Run(fixed_spaces(" ".join(said))),), "note")]


def _doubts(doubts: Sequence[str]) -> list[Block]:
    if not doubts:
        return []
    return [
        Entries(
            tuple(
                Entry("broken", "Mind the rounding", (Run(fixed_spaces(one)),), (), "")
                for one in doubts
            )
        )
    ]


def _held(room: Room, rows: Sequence[Position]) -> Table:
    columns = (
        Column("Devices", 34),
        Column("Product", 50),
        Column("Fixings", 0),
        Column("Hole", 15, "right"),
        Column("Weight", 17, "right"),
        Column("Bond", 12, "right"),
    )
    found: list[tuple[Cell, ...]] = []
    for group in by_fixing(rows).values():
        first = group[0]
        fixings = [inside(one) for one in first.fixings]
        if first.drop and first.drop > SET_OUT_STEP[room.units] / 2:
            fixings.append(f"cut for a drop of {drop_words(first.drop, room.units)}")
        if first.owned:
            fixings = ["there already: look at how it is held"]
        bond = "yes" if first.bond else "–"
        found.append(
            (
                Run(listed([row.label for row in group], most=12), "strong"),
                Run(first.name),
                Run(sentence(", ".join(fixings)) if fixings else NOT_ASSESSED),
                Run(hole_words(first.cutout, room.units)),
                Run(weight_words(first.weight_kg, room.units)),
                Run(bond, "strong" if first.bond else "plain"),
            )
        )
    return Table(columns, tuple(found), tight=len(found) > 8)


def hole_words(cutout: float | None, unit: Unit) -> str:
    """Return the diameter of a hole that is cut.

    Examples
    --------
    >>> hole_words(0.089, "m"), hole_words(0.089, "ft"), hole_words(None, "m")
    ('89\\xa0mm', '3½"', '–')
    """
    if cutout is None:
        return NOT_ASSESSED
    if unit == "m":
        return f"{1000 * cutout:.0f}{NBSP}mm"
    return format_length(cutout, unit="ft")


def weight_words(weight_kg: float, unit: Unit) -> str:
    """Return a weight, in pounds beside it where a document is in feet.

    Examples
    --------
    >>> weight_words(0.5, "m"), weight_words(2.9, "ft")
    ('0.5\\xa0kg', '2.9\\xa0kg\\n6.4\\xa0lb')
    """
    said = f"{figure(weight_kg, 1)}{NBSP}kg"
    return said if unit == "m" else f"{said}\n{figure(weight_kg / POUND, 1)}{NBSP}lb"


def _cautions(rows: Sequence[Position], unit: Unit) -> tuple[tuple[str, Line], ...]:
    overhead = [row for row in rows if row.overhead and not row.owned]
    on_walls = [row for row in rows if row.mounting in ("wall", "front") and not row.owned]
    without = [row.label for row in overhead if not row.bond]
    said = [("Cutting and drilling", CUTTING)]
    if overhead:
        weight = sum(row.weight_kg for row in overhead)
        many = counted(len(overhead), "device")
        said.insert(
            0,
            (
                "Overhead",
                f"{OVERHEAD} Here: {many}, {weight_text(weight, unit)} in all, without fixings.",
            ),
        )
    if without:
        said.insert(
            1, ("No bond in the list", f"{listed(without)}: bring a bond that fits, rated for it.")
        )
    if on_walls:
        said.append(("On walls", WALLS))
    return tuple((label, (Run(fixed_spaces(text)),)) for label, text in said)
