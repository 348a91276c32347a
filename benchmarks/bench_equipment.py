"""Bars of what is decided and drawn besides: both kinds, wiring, treatment, drawings, plans.

From the root of the project: ``python -m benchmarks.bench_equipment [--quick]``. Each has a bench
of its own that tells more: bench_place, bench_wiring, bench_treatment, bench_diagram,
bench_documents, bench_import. Times are those of the processor.
"""

from __future__ import annotations

import functools
import statistics
import sys
from collections.abc import Iterator

from benchmarks import (
    bench_diagram,
    bench_documents,
    bench_import,
    bench_place,
    bench_treatment,
    bench_wiring,
)
from benchmarks.report import Bar, machine
from benchmarks.timing import best, milliseconds
from tests.drawings.diagram.systems import random_system
from wellheard.drawings.diagram.layout import layout


def bars(*, quick: bool = False) -> Iterator[Bar]:
    """Every bar, one after the other."""
    yield from both_kinds(3 if quick else 20)
    yield wiring(3 if quick else 9)
    yield treatment(5 if quick else 20)
    yield diagram(2 if quick else 6)
    yield from bench_documents.bars()
    yield from bench_import.bars()


def both_kinds(rooms: int) -> Iterator[Bar]:
    """Microphones and loudspeakers in one program, 1.2 m apart or not both taken."""
    for (seats, places, area, bar), size in zip(
        bench_place.SIZES, ("small", "medium", "large"), strict=True
    ):
        some = rooms if bar < 1 else -(-rooms // 3)
        runs = [
            bench_place.timed_both(bench_place.BothWays(seats, places, area, seed))
            for seed in range(some)
        ]
        proven = all(one.solution.status != "gap" for one in runs)
        whole = statistics.median(one.worked for one in runs)
        price = statistics.median(one.price for one in runs)
        yield Bar(
            f"microphones and loudspeakers together, {size}: {seats} seats, {places} places, "
            "every step proven",
            f"≤ {bar:g} s median",
            f"{whole:.3f} s of {some} rooms; least price with its fewest {price:.3f} s"
            f"{'' if proven else ', not all proven'}",
            whole <= bar and proven,
        )


def wiring(systems: int) -> Bar:
    """Forty devices of a hall."""
    times = bench_wiring.timed(systems, racks=1)
    median = statistics.median(times.whole)
    return Bar(
        f"wiring of {bench_wiring.DEVICES} devices, proven",
        f"≤ {bench_wiring.BAR:g} s median",
        f"{median:.2f} s of {systems} systems, longest {max(times.whole):.2f} s"
        f"{'' if not times.unfinished else ', not all proven'}",
        median <= bench_wiring.BAR and not times.unfinished,
    )


def treatment(rooms: int) -> Bar:
    """The cheapest finishes for a decay."""
    solves, wholes, _, _ = bench_treatment.measured(rooms)
    median = statistics.median(solves)
    return Bar(
        "treatment, one solve",
        f"≤ {bench_treatment.BAR:g} s median",
        f"{median:.2f} s of {len(solves)} in {rooms} rooms; with all rounds, rays and places "
        f"{statistics.median(wholes):.2f} s",
        median <= bench_treatment.BAR,
    )


def diagram(systems: int) -> Bar:
    """Laying out a wiring diagram."""
    boxes, links = bench_diagram.BOXES, bench_diagram.LINKS
    drawn = [random_system(seed, boxes, links) for seed in range(systems)]
    worst = max(best(functools.partial(layout, one), 1.0) for one in drawn)
    return Bar(
        f"wiring diagram of {boxes} boxes and {links} links",
        f"≤ {milliseconds(bench_diagram.BAR)}",
        f"{milliseconds(worst)}, the longest of {systems}",
        worst <= bench_diagram.BAR,
    )


def main(arguments: list[str]) -> int:
    """Print the bars as they are measured; 1 when one is missed."""
    print(machine("not used"))
    held = True
    for bar in bars(quick="--quick" in arguments):
        print(f"{'holds ' if bar.holds else 'MISSED'}  {bar.name}", flush=True)
        print(f"        {bar.measured}; bar {bar.asked}", flush=True)
        held &= bar.holds
    return int(not held)


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
