"""The page that the benches write: bars, how times grow, and what is compared."""

from __future__ import annotations

import os
import platform
from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np

from wellheard.acoustics import compiled


@dataclass(frozen=True)
class Bar:
    """One promise of the engine and what became of it."""

    name: str
    asked: str
    measured: str
    holds: bool


@dataclass(frozen=True)
class Table:
    """How a time grows."""

    title: str
    head: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]


def page(where: str, bars: list[Bar], tables: list[Table]) -> str:
    """docs/benchmarks.md."""
    lines = [
        "# Benchmarks",
        "",
        "Written by `make bench`, which fails when a bar is missed.",
        "",
        f"Machine: {where}.",
        "",
        "Both sides of a comparison run in one process and one thread, by turns. Times are those",
        "of the processor, for two threads those of the clock, and the best of many runs counts:",
        "other work on a machine only ever adds to them. Rooms are random and invented.",
        "",
        "## Bars",
        "",
        *_rows(("what", "bar", "measured", "holds"), [_cells(bar) for bar in bars]),
        "",
        "## How times grow",
    ]
    for table in tables:
        lines += ["", f"### {table.title}", "", *_rows(table.head, table.rows)]
    return "\n".join([*lines, "", *HOW, ""])


def browser_page(bars: list[Bar]) -> str:
    """docs/benchmarks-workbench.md."""
    lines = [
        "# Benchmarks of the workbench",
        "",
        "Written by `make bench`, which fails when a bar is missed.",
        "",
        f"Machine: {machine('not used')}, Chromium without a graphics processor.",
        "",
        "Server, browser and what moves the pointer share the processors. Times are those of the",
        "clock. A drag is measured in the page, from the time stamp of the move that was sent to",
        "the frame in which its map was painted.",
        "",
        *_rows(("what", "bar", "measured", "holds"), [_cells(bar) for bar in bars]),
    ]
    return "\n".join([*lines, ""])


HOW = (
    "## What is compared",
    "",
    "* *Complete image sources*: an own sum over every image of a mirror-like box until it has",
    "  lost 60 dB, no limit by order and no mean over the room (`tests/oracle/complete.py`); its",
    "  images are held against those of pyroomacoustics. T20 is that of single pairs.",
    "* *Waveforms*: its high-pass is off, and its responses, which start 40 samples late, are",
    "  lined up. At 16 kHz the octaves of 4 and 8 kHz absorb alike, since half the rate cuts the",
    "  upper one in two.",
    "* *Rays*: pyroomacoustics blends mirrored and random directions, so it is a reference for no",
    "  scattering and for all scattering only. In the latter case what each hit sends to the",
    "  microphones counts, and not the rays themselves, which would count the same energy twice.",
    "* *Ranges*: predictions of bare boxes that say nothing of scattering. In each draw the decay,",
    "  the places of mouths, the talker's turn, loudness and noise are off by the tolerances that",
    "  the range is made of, and octaves interfere by chance; the model's own error is what",
    "  differs.",
    "* *Map*: STI, C50 and direct-to-reverberant ratio of every pair in seven octaves, in a box of",
    "  6 × 8 × 3 m, images up to 60 ms after the direct sound; the rays of the room are followed",
    "  before. The waveform route stops at image sources of order 17 and reads nothing off them.",
    "* *Canceller*: 8 s of invented speech from the far end through a decay of 0.4 s; in the",
    "  second half somebody in the room talks as loud as the echo. *Down* is the echo over what is",
    "  left of it, from 2 to 4 s and in double talk: a longer tail reaches deeper but later.",
)


def _cells(bar: Bar) -> tuple[str, ...]:
    return bar.name, bar.asked, bar.measured, "yes" if bar.holds else "**no**"


def _rows(head: tuple[str, ...], rows: Iterable[tuple[str, ...]]) -> list[str]:
    given = [head, ("---",) * len(head), *rows]
    return ["| " + " | ".join(row) + " |" for row in given]


def machine(simulator: str) -> str:
    """Kind of machine, without saying which, and whether it does other work."""
    busy = ""
    if hasattr(os, "getloadavg") and os.getloadavg()[0] > 0.5 * (os.cpu_count() or 1):
        busy = f"; busy with other work (load {os.getloadavg()[0]:.0f}), which shows in all times"
    return (
        f"{os.cpu_count()} processors ({platform.machine()}), kernels {compiled.in_use()}, "
        f"Python {platform.python_version()}, numpy {np.__version__}, "
        f"pyroomacoustics {simulator}{busy}"
    )
