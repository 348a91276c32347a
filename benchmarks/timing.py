"""How long something takes: the best of many runs, by the processor's own time."""

from __future__ import annotations

import resource
import time
from collections.abc import Callable

PATIENCE = 4.0  # that a time bar is given [s]


def best(
    run: Callable[[], object],
    patience: float = PATIENCE,
    *,
    clock: Callable[[], float] = time.process_time,
) -> float:
    """Shortest of the runs that fit into some seconds, three at least [s]."""
    found = [lasts(run, clock=clock) for _ in range(3)]
    until = time.perf_counter() + patience
    while time.perf_counter() < until:
        found.append(lasts(run, clock=clock))
    return min(found)


def lasts(run: Callable[[], object], *, clock: Callable[[], float] = time.process_time) -> float:
    """One run by the time of the processor, or by another clock [s]."""
    began = clock()
    run()
    return clock() - began


def of_children() -> float:
    """Processor time of all processes that were started and have ended [s]."""
    spent = resource.getrusage(resource.RUSAGE_CHILDREN)
    return spent.ru_utime + spent.ru_stime


def milliseconds(seconds: float) -> str:
    return f"{seconds * 1e3:.1f} ms" if seconds < 0.0995 else f"{seconds * 1e3:.0f} ms"
