"""How long a person waits while moving things: figures, quick answers and full ones by example.

From the root of the project: ``python -m benchmarks.bench_live [example ...]``. Each example is
designed first. Of every answer the median is told: of the clock, which other work on the machine
lengthens, and of the processor's own time; JSON included.
"""

from __future__ import annotations

import json
import statistics
import sys
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

from wellheard.room import codec
from wellheard.workflow.design import place
from wellheard.workflow.live import Live
from wellheard.workflow.load import Loaded, load

EXAMPLES = Path(__file__).resolve().parents[1] / "examples"
MOVES, RESTS = 25, 3
BAR = 0.025  # of a quick answer under two to four ceiling microphones, on a quiet machine [s]


def designed(name: str) -> Loaded:
    """An example with the microphones that are placed in it."""
    found = load(EXAMPLES / name / f"{name}.room.yaml")
    text = place(found).text
    return Loaded(codec.parse_document(text, name=name), found.catalogue, found.own)


def median(runs: list[Callable[[], dict[str, Any]]]) -> tuple[float, float, int]:
    """Median of clock and processor [s], and the length of the last answer's JSON."""
    clock, own, size = [], [], 0
    for run in runs:
        began, worked = time.perf_counter(), time.process_time()
        size = len(json.dumps(run(), allow_nan=False))
        clock.append(time.perf_counter() - began)
        own.append(time.process_time() - worked)
    return statistics.median(clock), statistics.median(own), size


def measure(name: str) -> None:
    """Print the row of one example."""
    loaded = designed(name)
    live = Live(loaded)
    placed = {k: d for k, d in loaded.room.devices.items() if d.kind == "microphone"}
    moving = [k for k, d in placed.items() if not d.locked]
    first, _, _ = median([lambda: live.figures(unit="m")])
    again, _, size = median([lambda: live.figures(unit="ft") for _ in range(RESTS)])
    row = f"{name:<16}{len(placed):>6}{_ms(first)}{_ms(again)}{size // 1000:>8}"
    if not moving:
        print(row + "   (its microphones are locked)", flush=True)
        return
    live.prepare()
    x, y, z = placed[moving[0]].at or (0.0, 0.0, 0.0)

    def moves(step: int) -> dict[str, Any]:
        return {f"devices.{moving[0]}": [x + 0.004 * step, y + 0.003 * step, z]}

    live.moved(moves(1), unit="m")
    clock, own, size = median(
        [lambda step=step: live.moved(moves(step), unit="m") for step in range(1, MOVES + 1)]
    )
    rest, _, _ = median(
        [lambda step=step: live.rested(moves(step), unit="m") for step in range(1, RESTS + 1)]
    )
    holds = "" if not 2 <= len(placed) <= 4 else "holds" if clock <= BAR else "above the bar"
    print(row + f"{_ms(clock)}{_ms(own)}{size // 1000:>8}{_ms(rest)}  {holds}", flush=True)


def _ms(seconds: float) -> str:
    return f"{1e3 * seconds:>10.1f}"


def main(names: list[str]) -> int:
    """Print the table; 2 for an example that does not exist."""
    known = sorted(p.name for p in EXAMPLES.iterdir() if p.is_dir())
    unknown = [name for name in names if name not in known]
    if unknown:
        print(f"no example {', '.join(unknown)}; there are {', '.join(known)}", file=sys.stderr)
        return 2
    print(
        f"{'example':<16}{'mics':>6}{'figures':>10}{'again':>10}{'[kB]':>8}"
        f"{'moved':>10}{'its own':>10}{'[kB]':>8}{'rested':>10}   [ms], bar for moved "
        f"{1e3 * BAR:.0f}"
    )
    for name in names or known:
        measure(name)
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
