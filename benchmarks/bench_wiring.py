"""How long wiring takes: random systems of forty devices, every step proven, one thread.

From the root of the project: ``python -m benchmarks.bench_wiring [systems]``. A system is a hall
with a rack, a table box, a computer and a wall plate: ceiling heads, pendants and panels on the
network, loudspeakers on lines, in pairs, at line level and on the network, two cameras and two
displays, forty in all. Everything of the catalogue may be bought. Runs are estimated round a
column and a duct; that is part of the time, and told apart from choosing. With a second rack at
the other end of the hall everything may go into either, and there is twice as much to choose:
that is told apart too, and holds no bar.

The bar is held to the median of processor time, so that other work on a machine misses none.
"""

from __future__ import annotations

import random
import statistics
import sys
import time
from dataclasses import dataclass
from typing import Any

from wellheard.catalog.catalogue import Catalogue
from wellheard.room.document import Room
from wellheard.wiring.answering import answer
from wellheard.wiring.asking import task_of

BAR = 2.0
"""For the median of asking and proving together. [s]"""

MICROPHONES = (
    "ceiling-head-3",
    "pendant-cardioid",
    "ceiling-array-16",
    "ceiling-head-3-network",
    "gooseneck",
)
LOUDSPEAKERS = ("ceiling-6", "ceiling-4", "ceiling-6-network", "wall-5-active", "display-pair")
DEVICES = 40


def system(seed: int, *, racks: int = 1) -> Room:
    """A hall with forty devices that want cables, and one or two racks."""
    rng = random.Random(seed)
    length, width = 24.0, 14.0
    devices: dict[str, Any] = {}
    sorts = rng.sample(MICROPHONES, 3), rng.sample(LOUDSPEAKERS, 3)
    for k in range(DEVICES - 4):
        at = [
            round(rng.uniform(1.5, length - 1.5), 2),
            round(rng.uniform(1.5, width - 1.5), 2),
            3.2,
        ]
        kind, stem, products = (
            ("microphone", "m", sorts[0]) if k % 2 else ("loudspeaker", "l", sorts[1])
        )
        product = rng.choice(products)
        if product in ("wall-5-active", "display-pair"):
            at = [at[0], 0.1, 2.2]
        if product == "gooseneck":
            at[2] = 1.1
        devices[f"{stem}{k}"] = {"kind": kind, "product": product, "at": at}
    display = {"kind": "display", "centre": [7, 1.8], "size": [3, 1.7]}
    return Room.model_validate(
        {
            "wellheard": 1,
            "space": {
                "outline": [[0, 0], [length, 0], [length, width], [0, width]],
                "walls": ["south", "east", "north", "west"],
                "height": 3.2,
                "ceiling": {"kind": "tiles", "module": 0.6, "void_depth": 0.5, "air_return": True},
                "obstacles": {"column": {"outline": [[12, 6], [13, 6], [13, 7], [12, 7]]}},
            },
            "people": {"seats": {f"s{k}": {"at": [3 + k, 7], "facing": 0} for k in range(16)}},
            "furniture": {"west": {**display, "wall": "west"}, "east": {**display, "wall": "east"}},
            "overhead": {
                "duct": {
                    "kind": "duct",
                    "outline": [[6, 2], [18, 2], [18, 3], [6, 3]],
                    "clearance": 0.1,
                }
            },
            "equipment": {
                "rack": {"kind": "rack", "at": [length - 0.4, 0.4, 0.5]},
                **({"rack-2": {"kind": "rack", "at": [0.4, 13.6, 0.5]}} if racks > 1 else {}),
                "box": {"kind": "table-box", "at": [12, 10, 0.74]},
                "pc": {"kind": "computer", "at": [length - 0.9, 0.4, 0.5]},
                "plate": {"kind": "wall-plate", "at": [length, 5, 0.3]},
                "eye": {"kind": "camera", "at": [0.1, 7, 1.5]},
                "eye-2": {"kind": "camera", "at": [length - 0.1, 7, 1.5]},
            },
            "devices": devices,
        }
    )


@dataclass(frozen=True)
class Times:
    """Processor time of several systems. [s]"""

    asked: list[float]
    proven: list[float]
    unfinished: int

    @property
    def whole(self) -> list[float]:
        """Asking and proving together, by system."""
        return [a + p for a, p in zip(self.asked, self.proven, strict=True)]


def timed(systems: int, *, racks: int) -> Times:
    """Time so many systems."""
    catalogue = Catalogue.shipped()
    answer(task_of(system(0, racks=racks), catalogue))  # what loads once is not timed
    asked, proven, unfinished = [], [], 0
    for seed in range(1, systems + 1):
        room = system(seed, racks=racks)
        began = time.process_time()
        task = task_of(room, catalogue)
        posed = time.process_time()
        found = answer(task)
        asked.append(posed - began)
        proven.append(time.process_time() - posed)
        unfinished += found.status == "gap"
    return Times(asked, proven, unfinished)


def main(systems: int) -> int:
    """Time the systems; 1 where the bar is missed or a proof is not finished."""
    met = True
    for racks in (1, 2):
        times = timed(systems, racks=racks)
        median = statistics.median(times.whole)
        holds = median <= BAR and not times.unfinished
        bar = f", bar {BAR:g} s: {'met' if holds else 'MISSED'}" if racks == 1 else ""
        met = met and (holds or racks > 1)
        print(
            f"wiring of {DEVICES} devices, {'one rack' if racks == 1 else 'two racks'}: median "
            f"{median:.2f} s (runs {statistics.median(times.asked):.2f} s, proof "
            f"{statistics.median(times.proven):.2f} s), longest {max(times.whole):.2f} s{bar}"
        )
    return 0 if met else 1


if __name__ == "__main__":
    sys.exit(main(int(sys.argv[1]) if len(sys.argv) > 1 else 9))
