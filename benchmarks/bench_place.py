"""How long placement takes: random rooms, every step proven, one thread.

From the root of the project: ``python -m benchmarks.bench_place [rooms]``. A room is a plausible
rectangle with talkers along tables and candidates on a ceiling grid; margins fall by 20 lg of the
distance, with 10 lg of the number of devices lost to open microphones, divided by a tolerance of
2 dB. Rooms that cannot be served are part of the measurement.
"""

from __future__ import annotations

import importlib
import statistics
import sys
import time

import numpy as np

from wellheard.arrays import Array
from wellheard.place.solve import Solution, fewest_then_best

# seats, candidates, floor area [m²], bar for the median [s]
SIZES = ((12, 100, 40.0, 0.1), (24, 300, 90.0, 0.5), (60, 800, 220.0, 3.0))
TOLERANCE_DB = 2.0
EAR_TO_CEILING = 1.5


class Room:
    """Talkers, candidate places and margins of one random room."""

    def __init__(self, seats: int, candidates: int, area: float, seed: int) -> None:
        rng = np.random.default_rng(seed)
        width = float(np.sqrt(area) * rng.uniform(0.7, 1.0))
        length = area / width
        columns = round(float(np.sqrt(candidates * width / length)))
        rows = -(-candidates // columns)
        grid = np.stack(
            np.meshgrid(
                (np.arange(columns) + 0.5) * width / columns,
                (np.arange(rows) + 0.5) * length / rows,
                indexing="ij",
            ),
            axis=-1,
        ).reshape(-1, 2)
        self.lines: Array = grid[:candidates]
        self.talkers: Array = rng.uniform([0.8, 0.8], [width - 0.8, length - 0.8], (seats, 2))
        flat = np.linalg.norm(self.talkers[:, None] - self.lines[None], axis=-1)
        self.distance: Array = np.hypot(flat, EAR_TO_CEILING)
        self.reach = float(rng.uniform(2.2, 3.2))  # of a single microphone [m]
        self.loses = bool(rng.integers(2))  # to open microphones

    def margins(self, n: int) -> Array:
        """Margin in tolerances with ``n`` devices, closed ones 15 dB down."""
        loss_db = 10 * np.log10(1 + (n - 1) * 10**-1.5) if self.loses else 0.0
        return (-20 * np.log10(self.distance / self.reach) - loss_db) / TOLERANCE_DB

    def conflicts(self, apart: float) -> list[tuple[int, int]]:
        """Pairs of places closer than ``apart`` [m]."""
        gap = np.linalg.norm(self.lines[:, None] - self.lines[None], axis=-1)
        first, second = np.nonzero(np.triu(gap < apart, 1))
        return list(zip(first.tolist(), second.tolist(), strict=True))


def timed(room: Room, *, apart: float, priced: bool) -> tuple[Solution, float, float]:
    """Solve one room; wall and processor seconds, conflicts and prices being given."""
    conflicts = room.conflicts(apart) if apart else []
    prices = None
    if priced:
        prices = [45_000 if c % 2 else 60_000 for c in range(len(room.lines))]
    began, worked = time.perf_counter(), time.process_time()
    solution = fewest_then_best(
        room.margins, lines=room.lines, conflicts=conflicts, prices=prices, falling=True
    )
    return solution, time.perf_counter() - began, time.process_time() - worked


def main(rooms: int = 30) -> int:
    """Print the table; 1 when a bar is missed."""
    began = time.perf_counter()
    importlib.import_module("highspy")

    print(f"loading highspy {time.perf_counter() - began:.2f} s (not counted below)")
    timed(Room(12, 100, 40.0, 10_000), apart=0.0, priced=False)
    print("processor time tells the load of the machine from that of the problem")
    print(
        f"{rooms:>3} rooms each           median  (cpu)    worst     bar  proven devices  "
        "by step (mean s)"
    )
    missed = False
    for seats, candidates, area, bar in SIZES:
        for name, apart, priced in (
            ("plain", 0.0, False),
            ("1.2 m apart", 1.2, False),
            ("two prices", 0.0, True),
        ):
            runs = [
                timed(Room(seats, candidates, area, seed), apart=apart, priced=priced)
                for seed in range(rooms)
            ]
            seconds = [taken for _, taken, _ in runs]
            worked = statistics.median(work for _, _, work in runs)
            proven = sum(solution.status != "gap" for solution, _, _ in runs)
            counts = [solution.count for solution, _, _ in runs]
            by_step: dict[str, float] = {}
            for solution, _, _ in runs:
                for step in solution.steps:
                    by_step[step.name] = by_step.get(step.name, 0.0) + step.seconds / rooms
            median = statistics.median(seconds)
            missed |= name == "plain" and (median > bar or proven < rooms)
            print(
                f"{seats:>3}/{candidates:<4} {name:<12} "
                f"{median:>7.3f} {worked:>7.3f} {max(seconds):>7.3f} "
                f"{bar:>7.1f} {proven:>5}/{rooms} {min(counts):>3}–{max(counts):<3}  "
                + " ".join(f"{step} {taken:.3f}" for step, taken in by_step.items())
            )
    return int(missed)


if __name__ == "__main__":
    sys.exit(main(*(int(argument) for argument in sys.argv[1:2])))
