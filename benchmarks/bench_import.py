"""How long a floor plan takes to read: 5,000 entities, walls as double lines, blocks in blocks.

From the root of the project: ``python -m benchmarks.bench_import``. It prints the best of some
runs by the processor's own time, the library's own loading counted and its import not, and ends
with 1 when the bar is missed.
"""

from __future__ import annotations

import sys
import tempfile
from collections.abc import Iterator
from pathlib import Path

from benchmarks.report import Bar
from benchmarks.timing import best, milliseconds
from tests.importers.dxf.written import (
    Tags,
    arc,
    block,
    box,
    circle,
    drawing,
    insert,
    line,
    polyline,
    words,
)
from wellheard.importers.dxf.read import read_dxf
from wellheard.importers.found import Asked

BAR = 1.0  # of a plan of 5,000 entities [s]
ENTITIES = 5000
WIDE, DEEP, WALL = 6000, 5000, 100  # of a room, of a wall [mm]
DOOR = (1000, 1900)


def room(x: float, y: float, name: str) -> list[Tags]:
    """One room with its own walls, a door, a table, chairs, luminaires, a grid and texts."""
    left, right, low, high = x + WALL, x + WIDE - WALL, y + WALL, y + DEEP - WALL
    tags = [
        line("A-WALL", (left, low), (x + DOOR[0], low)),
        line("A-WALL", (x + DOOR[1], low), (right, low)),
        line("A-WALL", (x, y), (x + DOOR[0], y)),
        line("A-WALL", (x + DOOR[1], y), (x + WIDE, y)),
        *[line("A-WALL", (x + at, y), (x + at, low)) for at in DOOR],
        line("A-WALL", (right, low), (right, high)),
        line("A-WALL", (right, high), (left, high)),
        line("A-WALL", (left, high), (left, low)),
        line("A-WALL", (x + WIDE, y), (x + WIDE, y + DEEP)),
        line("A-WALL", (x + WIDE, y + DEEP), (x, y + DEEP)),
        line("A-WALL", (x, y + DEEP), (x, y)),
        arc("A-DOOR", (x + DOOR[0], low), DOOR[1] - DOOR[0], 0, 90),
        line("A-DOOR", (x + DOOR[0], low), (x + DOOR[0], low + 900)),
        insert("A-FURN", "TABLE-6", (x + 3000, y + 2500)),
        insert(
            "E-LITE-CLNG", "PANEL", (x + 1500, y + 1500), (70, 3), (71, 2), (44, 1200), (45, 1800)
        ),
        circle("F-SPRN-CLNG", (x + 2000, y + 2000), 40),
        words("A-AREA-IDEN", (x + 2500, y + 4200), 200, name),
        words("A-AREA-IDEN", (x + 2500, y + 3900), 150, "CH 2.70"),
    ]
    tags += [line("A-CLNG-GRID", (x + k * 600, low), (x + k * 600, high)) for k in range(1, 10)]
    tags += [line("A-CLNG-GRID", (left, y + k * 600), (right, y + k * 600)) for k in range(1, 9)]
    tags += [
        line("A-FLOR-PATT", (left, low + 40 * k), (left + 900, low + 40 * k)) for k in range(65)
    ]
    return tags


def plan(entities: int = ENTITIES) -> tuple[str, int, int]:
    """Return a storey of so many entities, how many they are, and how many rooms."""
    tags: list[Tags] = []
    rooms = 0
    while len(tags) < entities:
        row, column = divmod(rooms, 8)
        tags += room(column * WIDE, row * (DEEP + 2000), f"Room {chr(65 + rooms % 26)} tide")
        rooms += 1
    chair = block(
        "CHAIR", polyline("0", box(-225, -225, 225, 225)), polyline("0", box(-225, 200, 225, 250))
    )
    seats = [insert("0", "CHAIR", (x, 800)) for x in (-700, 0, 700)]
    seats += [insert("0", "CHAIR", (x, -800), (50, 180)) for x in (-700, 0, 700)]
    table = block("TABLE-6", polyline("0", box(-1200, -500, 1200, 500)), *seats)
    panel = block("PANEL", polyline("0", box(-300, -300, 300, 300)))
    return drawing(*tags, blocks=[chair, table, panel]), len(tags), rooms


def measured() -> tuple[float, int, int]:
    """Seconds of the processor to read the storey, its entities, and its rooms."""
    content, entities, rooms = plan()
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "plan.dxf"
        path.write_text(content, "utf-8")
        found = read_dxf(path, Asked())
        assert len(found.rooms) >= rooms
        assert sum(len(one.seats) for one in found.rooms) == 6 * rooms
        return best(lambda: read_dxf(path, Asked())), entities, rooms


def bars() -> Iterator[Bar]:
    """The bar of reading plans."""
    took, entities, rooms = measured()
    yield Bar(
        f"a floor plan read: {entities:,} entities, {rooms} rooms",
        f"≤ {BAR:.0f} s",
        f"{took:.2f} s",
        took <= BAR,
    )


def main() -> int:
    """Print the table; 1 if the bar is missed."""
    took, entities, rooms = measured()
    print(f"{'plan':<22}{'entities':>10}{'rooms':>8}{'seats':>8}{'[ms]':>10}")
    print(f"{'storey, DXF R12':<22}{entities:>10}{rooms:>8}{6 * rooms:>8}{milliseconds(took):>10}")
    print(f"bar {milliseconds(BAR)}: worst {milliseconds(took)}")
    return int(took > BAR)


if __name__ == "__main__":
    sys.exit(main())
