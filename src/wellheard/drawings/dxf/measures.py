"""Dimension lines as DIMENSION entities, each with its drawn geometry, so that any viewer shows it.

Points that are measured lie where the sheet says, in whole millimetres or eighths of an inch from
the datum: what a program measures is what is printed, and chains add up.
"""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise
from typing import Any

from wellheard.cad import LAYERS
from wellheard.drawings.canvas import Point, Text
from wellheard.drawings.dimensions import GRAIN, chain_figures
from wellheard.drawings.dxf.document import FONTS, Measure, lineweight
from wellheard.drawings.dxf.ink import Ink
from wellheard.drawings.lettering import CAP_HEIGHT
from wellheard.drawings.sheet import Scale, extent
from wellheard.drawings.surround import Row
from wellheard.drawings.tokens import size_mm
from wellheard.drawings.view import PlanView, Unit

STYLES = {"body": "SHEET", "note": "SHEET-SMALL"}
"""Dimension style of each lettering height."""
TICK_MM = 2.0
BEYOND_MM, GAP_MM = 1.4, 0.9
"""Extension lines beyond the dimension line; figures over it. [mm]"""


def add_styles(document: Any, unit: Unit, scale: Scale, *, off_wall_mm: float) -> None:
    """Add the dimension styles of a drawing that is printed to a scale.

    Parameters
    ----------
    document : ezdxf Drawing
        Gets them.
    unit : {"m", "ft"}
        Whole millimetres, or feet and inches to the eighth, as the sheet has them.
    scale : Scale
        Of the sheet.
    off_wall_mm : float
        Where extension lines start, from the point that is measured. [mm on paper]
    """
    from ezdxf.render.arrows import ARROWS

    per_mm = Measure(unit).per_mm
    tick = ARROWS.create_block(document.blocks, ARROWS.architectural_tick)
    for height, name in STYLES.items():
        style = document.dimstyles.add(name)
        style.dxf.dimtxsty = FONTS["regular"][0]
        style.dxf.dimtxt = CAP_HEIGHT * size_mm(height) * per_mm
        style.dxf.dimscale = scale.ratio
        style.dxf.dimasz = TICK_MM * per_mm
        style.dxf.dimexo = off_wall_mm * per_mm
        style.dxf.dimexe = BEYOND_MM * per_mm
        style.dxf.dimgap = GAP_MM * per_mm
        style.dxf.dimdle = 0.0
        style.dxf.dimtad = 1  # over the line
        style.dxf.dimtih = style.dxf.dimtoh = 0  # along the line
        style.dxf.dimtix = 1
        style.dxf.dimtmove = 2
        style.dxf.dimlfac = 1.0  # a unit of the file is what is printed
        style.dxf.dimlwd = lineweight("thin")
        style.dxf.dimlwe = lineweight("hair")
        style.dxf.dimdsep = ord(".")
        if unit == "m":
            style.dxf.dimlunit, style.dxf.dimdec, style.dxf.dimzin = 2, 0, 0
        else:
            style.dxf.dimlunit, style.dxf.dimdec, style.dxf.dimfrac = 4, 3, 2
            style.dxf.dimzin = 3  # no feet below one foot, but always inches
        style.set_arrows(blk=tick, blk1=tick, blk2=tick)


def architectural(steps: int) -> str:
    """Return whole eighths of an inch as a drawing program prints them.

    Examples
    --------
    >>> architectural(724), architectural(96), architectural(63), architectural(4)
    ('7\\'-6 1/2"', '1\\'-0"', '7 7/8"', '1/2"')
    """
    feet, rest = divmod(steps, 96)
    inches, part = divmod(rest, 8)
    bottom = 8
    while part and part % 2 == 0:
        part, bottom = part // 2, bottom // 2
    fraction = f"{part}/{bottom}" if part else ""
    whole = str(inches) if inches or feet or not part else ""
    tail = " ".join(piece for piece in (whole, fraction) if piece)
    return f"{feet}'-{tail}\"" if feet else f'{tail}"'


def add_row(
    ink: Ink, row: Row, view: PlanView, measure: Measure, *, off_wall_mm: float
) -> list[Any]:
    """Draw one dimension line of the sheet; return its DIMENSION entities.

    Parameters
    ----------
    ink : Ink
        Draws into the model space.
    row : Row
        As on the sheet.
    view : PlanView
        Whose datum the chain counts from.
    measure : Measure
        Units of the file.
    off_wall_mm : float
        How far the ends of its extension lines are from the points that are measured. [mm on paper]
    """
    x0, y0, _, _ = extent(view.outline)
    level = row.side in ("south", "north")
    out = 1.0 if row.side in ("south", "east") else -1.0
    grain = GRAIN[view.units]

    def measured(step: int, start: float) -> Point:
        if level:
            _, across = ink.frame((0.0, start - out * off_wall_mm))
            return (x0 + step * grain) * measure.per_metre, across
        across, _ = ink.frame((start - out * off_wall_mm, 0.0))
        return across, (y0 + step * grain) * measure.per_metre

    figures = chain_figures(row.links, side=row.side, along=row.along, line_at=row.line_at)
    points = [measured(s, at) for s, at in zip(row.links.steps, row.from_at, strict=True)]
    line = ink.frame((0.0, row.line_at) if level else (row.line_at, 0.0))
    found = []
    for (one, other), figure, part in zip(pairwise(points), figures, row.links.parts, strict=True):
        told = figure if view.units == "m" else replace(figure, text=architectural(part))
        base = (other[0], line[1]) if level else (line[0], other[1])
        found.append(_add(ink, one, other, base, 0.0 if level else 90.0, told))
    return found


def _add(ink: Ink, one: Point, other: Point, base: Point, angle_deg: float, figure: Text) -> Any:
    small = figure.size < size_mm("body") - 1e-6
    layer = LAYERS["dimension"]
    dimension = ink.layout.add_linear_dim(
        base=base,
        p1=one,
        p2=other,
        angle=angle_deg,
        dimstyle=STYLES["note" if small else "body"],
        dxfattribs={"layer": layer},
    ).dimension
    turn = -figure.angle_deg
    dimension.dxf.dimtype |= 128  # its text stands where it is put
    dimension.dxf.text_midpoint = ink.frame(figure.box.centre)
    if abs(turn - angle_deg) > 0.1:
        dimension.dxf.text_rotation = turn
    dimension.dxf.actual_measurement = dimension.get_measurement()
    block = ink.document.blocks.new_anonymous_block(type_char="D")
    dimension.dxf.geometry = block.name
    _draw(Ink(ink.document, block, ink.frame), one, other, base, angle_deg, figure)
    return dimension


def _draw(ink: Ink, one: Point, other: Point, base: Point, angle_deg: float, figure: Text) -> None:
    """Draw dimension line, extension lines, ticks and figure into a dimension's block."""
    level = angle_deg == 0.0
    style = ink.document.dimstyles.get(STYLES["body"]).dxf
    scale = style.dimscale
    ends = [(point[0], base[1]) if level else (base[0], point[1]) for point in (one, other)]
    attributes = {"layer": LAYERS["dimension"]}
    thin, hair = lineweight("thin"), lineweight("hair")
    ink.layout.add_line(*ends, dxfattribs={**attributes, "lineweight": thin})
    for point, end in zip((one, other), ends, strict=True):
        away = end[1] - point[1] if level else end[0] - point[0]
        side = 1.0 if away >= 0 else -1.0
        start, stop = side * style.dimexo * scale, away + side * style.dimexe * scale
        run = [
            (point[0], point[1] + v) if level else (point[0] + v, point[1]) for v in (start, stop)
        ]
        ink.layout.add_line(*run, dxfattribs={**attributes, "lineweight": hair})
        size = style.dimasz * scale
        ink.layout.add_blockref(
            "_ARCHTICK",
            end,
            dxfattribs={
                **attributes,
                "xscale": size,
                "yscale": size,
                "zscale": size,
                "rotation": angle_deg,
            },
        )
        ink.layout.add_point(point, dxfattribs={"layer": "Defpoints"})
    ink.text(figure, "dimension")
