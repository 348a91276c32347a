"""How long a treatment takes to choose: random rooms, proven, one thread.

From the root of the project: ``python -m benchmarks.bench_treatment [rooms]``. Rooms are random in
size, plan, ceiling and promise, bare of absorption. A *solve* is one program in whole numbers with
its tidying; a *treatment* is all of its rounds with free places found and rays traced. Times are
those of the processor, so that other work on a machine misses no bar; the bar is held to the median
of all solves.
"""

from __future__ import annotations

import statistics
import sys
import time

from benchmarks.report import Bar, machine
from tests.treatment.rooms import random_room
from wellheard.catalog.catalogue import Catalogue
from wellheard.treatment import solve
from wellheard.treatment.program import cheapest
from wellheard.treatment.task import decay_target

BAR = 0.5
"""For the median solve [s]."""
ROOMS = 20


def measured(rooms: int) -> tuple[list[float], list[float], dict[str, int], list[float]]:
    """Seconds of all solves and of all treatments, outcomes, and cost of the corrections."""
    catalogue = Catalogue.shipped()
    solves: list[float] = []
    wholes: list[float] = []
    outcomes: dict[str, int] = {}
    dearer: list[float] = []
    for seed in range(rooms):
        room = random_room(seed)
        began = time.process_time()
        place = solve.site(room, catalogue)
        target = decay_target(room, place.decay.volume)
        found = solve.treat(place, target)
        wholes.append(time.process_time() - began)
        outcomes[found.status] = outcomes.get(found.status, 0) + 1
        wanted = place.decay.lacking(target.time)
        began = time.process_time()
        plain = cheapest(place.bays, place.options, wanted)
        solves.append(time.process_time() - began)
        if found.status == "optimal" and plain.price:
            dearer.append(found.price / plain.price)
            corrected = place.decay.lacking(
                [t / c for t, c in zip(target.time, found.correction, strict=True)]
            )
            began = time.process_time()
            cheapest(place.bays, place.options, corrected)
            solves.append(time.process_time() - began)
    return solves, wholes, outcomes, dearer


def main(argv: list[str]) -> int:
    """Print the bar; 1 when it is missed."""
    rooms = int(argv[0]) if argv else ROOMS
    print(machine("not used"))
    solves, wholes, outcomes, dearer = measured(rooms)
    middle = statistics.median(solves)
    bar = Bar(
        f"one solve, median of {len(solves)} in {rooms} rooms",
        f"at most {BAR} s",
        f"{middle:.3f} s (worst {max(solves):.2f} s)",
        middle <= BAR,
    )
    print(f"{'holds ' if bar.holds else 'MISSED'}  {bar.name}")
    print(f"        {bar.measured}; bar {bar.asked}")
    print(f"        whole treatments: {statistics.median(wholes):.2f} s, worst {max(wholes):.2f} s")
    print(f"        {', '.join(f'{n} {name}' for name, n in sorted(outcomes.items()))}")
    if dearer:
        print(f"        cost of the corrections: × {statistics.median(dearer):.2f}")
    return int(not bar.holds)


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
