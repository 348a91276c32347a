"""How long the documents of a design take, part by part, against their bar.

From the root of the project: ``python -m benchmarks.bench_documents [example ...]``, without
a name that of the bar. Every run is of a document with another title, so that neither drawings nor
pages are remembered as a whole; the design itself is not timed. It ends with 1 when the bar is
missed.

Times are those of the processor, all threads, best of several runs: other work only adds to them.
"""

from __future__ import annotations

import sys
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any
from unittest import mock

from benchmarks.report import Bar
from wellheard.workflow import publish
from wellheard.workflow.design import Designed, design
from wellheard.workflow.load import Loaded, load

EXAMPLES = Path(__file__).resolve().parents[1] / "examples"
NAMED = "board-eighteen"
SECONDS = 3.0
"""Bar of all documents of the eighteen-seat room, warm."""
RUNS = 5

PARTS: tuple[tuple[str, str], ...] = (
    ("spaces and maps of them", "wellheard.workflow.publish.shown_spaces"),
    ("sheets, recorded", "wellheard.workflow.publish.drawings"),
    ("plan as DXF", "wellheard.drawings.backends.dxf.plan_dxf"),
    ("other sheets as DXF", "wellheard.drawings.backends.dxf.canvas_dxf"),
    ("sheets as PDF", "wellheard.drawings.backends.pdf.sheet_pdf"),
    ("workbook of schedules", "wellheard.workflow.publish.schedules_book"),
    ("plan of the customer's page", "wellheard.workflow.publish.plan_small"),
    ("maps of the dossier", "wellheard.workflow.publish.dossier_maps"),
    ("words of the dossier", "wellheard.workflow.publish.outline"),
    ("setting it in type", "wellheard.dossier.writers.typst_pdf.write_pdf"),
    ("schedules as files", "wellheard.workflow.publish.schedule_files"),
)
"""What is timed within a run, and the function that does it."""


@dataclass
class _Clock:
    """Adds up the time of each part of a run."""

    spent: dict[str, float] = field(default_factory=dict)

    def around(self, name: str, run: Callable[..., Any]) -> Callable[..., Any]:
        def timed(*arguments: Any, **options: Any) -> Any:
            began = time.process_time()
            try:
                return run(*arguments, **options)
            finally:
                self.spent[name] = self.spent.get(name, 0.0) + time.process_time() - began

        return timed


def measured(name: str) -> tuple[float, dict[str, float]]:
    """Seconds of all documents of an example, and of their parts, in the best of the runs."""
    path = EXAMPLES / name / f"{name}.room.yaml"
    loaded = load(path)
    designed = design(loaded)
    publish.made(loaded, designed)
    runs = [_run(loaded, designed, number) for number in range(RUNS)]
    return min(runs, key=lambda run: run[0])


def _run(loaded: Loaded, designed: Designed, number: int) -> tuple[float, dict[str, float]]:
    renamed = _renamed(designed, f"Room {number}")
    clock = _Clock()
    patches = [mock.patch(where, clock.around(name, _found(where))) for name, where in PARTS]
    for patch in patches:
        patch.start()
    try:
        began = time.process_time()
        publish.made(loaded, renamed)
        whole = time.process_time() - began
    finally:
        for patch in patches:
            patch.stop()
    return whole, clock.spent


def _found(where: str) -> Callable[..., Any]:
    import importlib

    module, _, name = where.rpartition(".")
    found: Callable[..., Any] = getattr(importlib.import_module(module), name)
    return found


def _renamed(designed: Designed, title: str) -> Designed:
    evidence = designed.judged.evidence
    room = evidence.room.model_copy(update={"title": title})
    judged = replace(designed.judged, evidence=replace(evidence, room=room))
    return replace(designed, judged=judged)


def bars() -> Iterator[Bar]:
    """The bar of the documents."""
    whole, _ = measured(NAMED)
    yield Bar(
        "all documents of the eighteen-seat room, warm, all threads together",
        f"≤ {SECONDS:.1f} s",
        f"{whole:.2f} s",
        whole <= SECONDS,
    )


def main(names: list[str]) -> int:
    """Print what each part takes; 1 where the bar is missed, 2 for an unknown example."""
    known = sorted(p.name for p in EXAMPLES.iterdir() if p.is_dir())
    unknown = [name for name in names if name not in known]
    if unknown:
        print(f"no example {', '.join(unknown)}; there are {', '.join(known)}", file=sys.stderr)
        return 2
    missed = False
    for name in names or [NAMED]:
        whole, parts = measured(name)
        print(f"{name}: {whole:.2f} s" + (f", bar {SECONDS:.1f} s" if name == NAMED else ""))
        for part, seconds in sorted(parts.items(), key=lambda one: -one[1]):
            print(f"  {part:<30}{seconds:>8.2f} s")
        print(f"  {'the rest':<30}{whole - sum(parts.values()):>8.2f} s")
        missed = missed or (name == NAMED and whole > SECONDS)
    return 1 if missed else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
