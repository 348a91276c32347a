"""How long a wiring diagram takes to lay out: random systems, and halls wired by hand.

From the root of the project: ``python -m benchmarks.bench_diagram``. It prints the best of some
runs of each, by the processor's own time, and ends with 1 when the bar is missed.
"""

from __future__ import annotations

import sys

from benchmarks.timing import best, milliseconds
from tests.drawings.diagram.conftest import hall
from tests.drawings.diagram.systems import random_system
from wellheard.catalog.catalogue import Catalogue
from wellheard.drawings.diagram.layout import layout
from wellheard.drawings.diagram.model import System
from wellheard.drawings.diagram.room import system_of

BAR = 0.2  # of 40 boxes with 80 links between them [s]
BOXES, LINKS, SEEDS = 40, 80, 6


def measure(name: str, system: System) -> float:
    """Print the row of one system; return how long it took [s]."""
    found = layout(system)
    assert found is not None
    took = best(lambda: layout(system), 1.0)
    print(
        f"{name:<18}{len(system.boxes):>6}{len(system.links):>7}{found.crossings:>11}"
        f"{milliseconds(took):>10}",
        flush=True,
    )
    return took


def main() -> int:
    """Print the table; 1 if the bar is missed."""
    print(f"{'system':<18}{'boxes':>6}{'links':>7}{'crossings':>11}{'[ms]':>10}")
    times = [
        measure(f"random, seed {seed}", random_system(seed, BOXES, LINKS)) for seed in range(SEEDS)
    ]
    catalogue = Catalogue.shipped()
    for loudspeakers in (8, 24):
        system = system_of(hall(loudspeakers=loudspeakers), catalogue)
        times.append(measure(f"hall, {loudspeakers} speakers", system))
    worst = max(times)
    print(f"bar {milliseconds(BAR)}: worst {milliseconds(worst)}")
    return int(worst > BAR)


if __name__ == "__main__":
    sys.exit(main())
