"""How much faster than time an echo canceller runs, and what it reaches meanwhile.

From the root of the project: ``python -m benchmarks.bench_canceller``. Invented speech from the
far end through a decay of 0.4 s; halfway somebody in the room talks as loud as the echo. Factors
are of one thread and the processor's own time, the best of many runs.
"""

from __future__ import annotations

import functools
import sys
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from benchmarks.report import Bar, Table, machine
from benchmarks.timing import PATIENCE, best
from tests.oracle import echoes
from wellheard.acoustics.canceller import Cancelled, cancel_echo
from wellheard.arrays import Array

LASTING = 8.0  # of the signals; the near end talks from 4 s on [s]
TAIL = 0.256
FACTOR = 40.0  # the bar, at 16 kHz
DEPTH_DB = 15.0  # and how far the echo must be down in double talk for the run to count
SHORT = 0.7  # for a row of the table [s]


@dataclass(frozen=True, eq=False)
class Call:
    """Both ends of a call in one room."""

    rate: float

    @functools.cached_property
    def parts(self) -> tuple[Array, Array, Array]:
        """Far end, its echo, and the near end."""
        far = echoes.speech_like(1, LASTING, rate=self.rate)
        response = echoes.decaying(2, rate=self.rate, time=0.4, direct=1.0, late=0.005)
        echo = echoes.played(far, response)
        near = echoes.speech_like(3, LASTING, rate=self.rate) * echo.std()
        near[: len(near) // 2] = 0.0
        return far, echo, near

    def cancelled(self, tail: float) -> Cancelled:
        """The call through a canceller."""
        far, echo, near = self.parts
        return cancel_echo(far, echo + near, rate=self.rate, tail=tail)

    def factor(self, tail: float, patience: float) -> float:
        """Length of the signals over the time that they take."""
        return LASTING / best(functools.partial(self.cancelled, tail), patience)

    def depths_db(self, tail: float) -> tuple[float, float]:
        """Echo over what is left of it: before, and while the near end talks."""
        _, echo, near = self.parts
        left = self.cancelled(tail).residual - near
        quarter = len(echo) // 4
        alone, double = (
            10.0 * np.log10(np.square(echo[part]).sum() / np.square(left[part]).sum())
            for part in (slice(quarter, 2 * quarter), slice(2 * quarter, None))
        )
        return float(alone), float(double)


def bars() -> Iterator[Bar]:
    """The canceller at the rate of wideband speech."""
    call = Call(16000.0)
    alone_db, double_db = call.depths_db(TAIL)
    factor = call.factor(TAIL, PATIENCE)
    yield Bar(
        f"echo canceller, tail {TAIL * 1e3:.0f} ms, 16 kHz, half of the time in double talk",
        f"≥ {FACTOR:.0f} × real time, echo ≥ {DEPTH_DB:.0f} dB down in double talk",
        f"{factor:.0f} ×, {double_db:.0f} dB down, {alone_db:.0f} dB before",
        factor >= FACTOR and double_db >= DEPTH_DB,
    )


def tails() -> Table:
    """How it grows with the tail, and what a tail is worth."""
    rows = []
    for tail in (0.064, 0.128, 0.256, 0.5):
        row = [f"{tail * 1e3:.0f} ms"]
        for rate in (16000.0, 48000.0):
            call = Call(rate)
            alone_db, double_db = call.depths_db(tail)
            row += [f"{call.factor(tail, SHORT):.0f} ×", f"{alone_db:.0f} / {double_db:.0f} dB"]
        rows.append(tuple(row))
    return Table(
        "Tail of an echo canceller, times real time, echo down alone / in double talk",
        ("tail", "16 kHz", "down", "48 kHz", "down"),
        tuple(rows),
    )


def main() -> int:
    """Print the bar and the table; 1 when the bar is missed."""
    print(machine("not used"))
    found = list(bars())
    for bar in found:
        print(f"{'holds ' if bar.holds else 'MISSED'}  {bar.name}", flush=True)
        print(f"        {bar.measured}; bar {bar.asked}", flush=True)
    table = tails()
    for row in (table.head, *table.rows):
        print("".join(f"{cell:>14}" for cell in row))
    return int(not all(bar.holds for bar in found))


if __name__ == "__main__":
    sys.exit(main())
