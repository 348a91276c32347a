"""Draw ``level-two.dxf``: an invented floor with two rooms and a corridor, as architects draw them.

Double-line walls with openings, doors as leaf and swing, chairs as turned blocks, a ceiling grid,
luminaires and air outlets, room names with ceiling heights. No outline of any room is drawn: the
importer has to find them between the walls. Lengths are millimetres.
"""

from __future__ import annotations

import sys
from pathlib import Path

import ezdxf
from ezdxf.layouts import Modelspace

WALL = 125
MEETING = (0, 0, 7200, 4800)
FOCUS = (7325, 0, 10925, 4800)
CORRIDOR = (0, 4925, 10925, 6725)
LAYERS = {
    "A-WALL": 7,
    "A-DOOR": 3,
    "A-GLAZ": 4,
    "A-FURN": 8,
    "A-FURN-CHAR": 8,
    "A-CLNG-GRID": 9,
    "E-LITE": 2,
    "M-HVAC-SDFF": 6,
    "A-ANNO": 1,
}


def box(space: Modelspace, x0: float, y0: float, x1: float, y1: float, layer: str) -> None:
    """A closed outline."""
    corners = [(x0, y0), (x1, y0), (x1, y1), (x0, y1)]
    space.add_lwpolyline(corners, close=True, dxfattribs={"layer": layer})


def walls(space: Modelspace) -> None:
    """Both faces of every wall, open where a door or a window is."""
    wall = {"layer": "A-WALL"}

    def line(x0: float, y0: float, x1: float, y1: float) -> None:
        space.add_line((x0, y0), (x1, y1), dxfattribs=wall)

    box(space, -300, -300, 11225, 7025, "A-WALL")
    # the meeting room, a window in the south, a door to the corridor in the north
    line(0, 0, 1800, 0)
    line(5400, 0, 7200, 0)
    line(7200, 0, 7200, 4800)
    line(7200, 4800, 1500, 4800)
    line(600, 4800, 0, 4800)
    line(0, 4800, 0, 0)
    # the focus room
    line(7325, 0, 10925, 0)
    line(10925, 0, 10925, 4800)
    line(10925, 4800, 8825, 4800)
    line(7925, 4800, 7325, 4800)
    line(7325, 4800, 7325, 0)
    # the corridor
    line(0, 4925, 600, 4925)
    line(1500, 4925, 7925, 4925)
    line(8825, 4925, 10925, 4925)
    line(10925, 4925, 10925, 6725)
    line(10925, 6725, 0, 6725)
    line(0, 6725, 0, 4925)
    # jambs
    for x in (600, 1500, 7925, 8825):
        line(x, 4800, x, 4925)
    for x in (1800, 5400):
        line(x, 0, x, -300)


def openings(space: Modelspace) -> None:
    """Two doors that swing into their rooms, one window of three lines."""
    door = {"layer": "A-DOOR"}
    for x in (600, 7925):
        space.add_line((x, 4800), (x, 3900), dxfattribs=door)
        space.add_arc((x, 4800), 900, 270, 360, dxfattribs=door)
    for y in (0, -150, -300):
        space.add_line((1800, y), (5400, y), dxfattribs={"layer": "A-GLAZ"})


def furniture(space: Modelspace) -> None:
    """A table for ten, a desk for two, chairs as blocks that face them."""
    box(space, 1900, 1800, 5300, 3000, "A-FURN")
    box(space, 8325, 1000, 9925, 1800, "A-FURN")
    chairs = [(x, 1450, 0) for x in (2325, 3175, 4025, 4875)]
    chairs += [(x, 3350, 180) for x in (2325, 3175, 4025, 4875)]
    chairs += [(1550, 2400, 270), (5650, 2400, 90), (9125, 650, 0), (9125, 2150, 180)]
    for x, y, turn in chairs:
        space.add_blockref(
            "CHAIR-ARM", (x, y), dxfattribs={"layer": "A-FURN-CHAR", "rotation": turn}
        )


def ceiling(space: Modelspace) -> None:
    """Tiles of 600 mm, four luminaires and two air outlets in the meeting room."""
    grid = {"layer": "A-CLNG-GRID"}
    for x in range(300, 7200, 600):
        space.add_line((x, 0), (x, 4800), dxfattribs=grid)
    for y in range(300, 4800, 600):
        space.add_line((0, y), (7200, y), dxfattribs=grid)
    for x in (1500, 4500):
        for y in (900, 3300):
            box(space, x, y, x + 1200, y + 600, "E-LITE")
    for x in (900, 6300):
        box(space, x, 2100, x + 600, 2700, "M-HVAC-SDFF")
        space.add_circle((x + 300, 2400), 200, dxfattribs={"layer": "M-HVAC-SDFF"})


def words(space: Modelspace) -> None:
    """Names and heights, and a remark that is no part of any room."""
    for name, high, x, y in (
        ("Meeting 2.01", "CH 2700", 5700, 900),
        ("Focus 2.02", "CH 2700", 8000, 3000),
        ("Corridor", "CH 2500", 5000, 5900),
    ):
        for row, text in enumerate((name, high)):
            space.add_text(
                text,
                height=160,
                dxfattribs={"insert": (x, y - 260 * row), "layer": "A-ANNO"},
            )
    space.add_text(
        "Invented floor, of no building",
        height=120,
        dxfattribs={"insert": (0, -900), "layer": "A-ANNO"},
    )


def drawing() -> ezdxf.document.Drawing:
    """The whole floor."""
    made = ezdxf.new("R2000", units=4)
    for name, colour in LAYERS.items():
        made.layers.add(name, color=colour)
    chair = made.blocks.new("CHAIR-ARM")
    seat = [(-250, -200), (250, -200), (250, 250), (-250, 250)]
    chair.add_lwpolyline(seat, close=True)
    chair.add_lwpolyline([(-250, -280), (250, -280), (250, -220), (-250, -220)], close=True)
    space = made.modelspace()
    for draw in (walls, openings, furniture, ceiling, words):
        draw(space)
    return made


if __name__ == "__main__":
    ezdxf.options.write_fixed_meta_data_for_testing = True
    target = Path(sys.argv[1]) if len(sys.argv) > 1 else Path(__file__).parent / "level-two.dxf"
    drawing().saveas(target)
