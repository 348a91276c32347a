"""Noise by octave and place against the NC curves, the octave that touches marked."""

from __future__ import annotations

import itertools
from collections.abc import Sequence

from wellheard.acoustics.noise import nc_levels_db
from wellheard.bands import NOISE_OCTAVES, RATING_OCTAVES, octave_label
from wellheard.drawings.boxes import Box, Placer
from wellheard.drawings.canvas import Canvas, Point
from wellheard.drawings.chartfield import (
    DOT,
    FIGURE,
    NOTE,
    SAMPLE,
    Axis,
    Entry,
    Figure,
    across,
    hachures,
    key,
    promise_sample,
    signed,
    upward,
)
from wellheard.drawings.lettering import text_width
from wellheard.drawings.tokens import Dash
from wellheard.proving.verdict import NoiseCompared

LEFT, RIGHT, TOP, FOOT = 12.0, 17.0, 6.0, 76.0
CURVES = tuple(float(nc) for nc in range(15, 75, 5))
"""Of the family. [NC]"""
DASHES: tuple[Dash, ...] = ("solid", "dashed", "chain")
SILENT = 0.0
"""Lowest level that is drawn to scale [dB]."""
NAMED = 3
"""Places whose line has a name: the loudest; others are drawn thin."""
LOWEST, HIGHEST = 15.0, 70.0


def noise_chart(
    noise: Sequence[NoiseCompared], *, promise: float | None, width: float
) -> Figure | None:
    """Return octave spectra against the NC curves; None where no place was calibrated.

    Parameters
    ----------
    noise : sequence of NoiseCompared
        Place by place.
    promise : float or None
        Most noise that is promised. [NC]
    width : float
        Of the drawing. [mm]
    """
    known = sorted(
        (one for one in noise if one.calibrated and one.levels_db),
        key=lambda one: (-(one.nc if one.nc is not None else one.dba), one.place, one.recording),
    )
    if not known:
        return None
    canvas = Canvas()
    octaves = [f for f in NOISE_OCTAVES if any(f in one.levels_db for one in known)]
    chart = _Chart(canvas, width, octaves, _level_axis(known, promise, octaves))
    chart.frame()
    chart.family(promise)
    placer = Placer(Box.spanning(LEFT, TOP, width - RIGHT, FOOT))
    placer.take(*(box for one in known[:NAMED] for box in chart.beads(one)))
    for rank, one in reversed(list(enumerate(known))):
        chart.spectrum(one, rank)
    for rank, one in enumerate(known):
        chart.governing(one, rank, placer)
    entries = _entries(known, promise)
    top = FOOT + 7.0
    height = top + key(canvas, entries, left=0.2, top=top, right=width)
    return Figure("noise", "Noise by octave against the NC curves", canvas, width, height)


def _level_axis(
    known: Sequence[NoiseCompared], promise: float | None, octaves: Sequence[float]
) -> Axis:
    """Holds what was measured, and the promised curve, in steps of ten; nothing below hearing."""
    levels = [level for one in known for f, level in one.levels_db.items() if f in octaves]
    if promise is not None and LOWEST <= promise <= HIGHEST:
        levels += _curve(promise, octaves)
    low = max(10.0 * (min(levels) // 10), SILENT)
    high = 10.0 * (max(levels) // 10 + 1)
    return Axis(low, high, FOOT, TOP)


def _curve(nc: float, octaves: Sequence[float]) -> list[float]:
    found = nc_levels_db(nc)
    return [float(found[RATING_OCTAVES.index(f)]) for f in octaves]


class _Chart:
    """Where an octave and a level are, and what is drawn there."""

    def __init__(self, canvas: Canvas, width: float, octaves: Sequence[float], up: Axis) -> None:
        self.canvas, self.width, self.octaves, self.up = canvas, width, octaves, up
        self.along = Axis(0.0, max(len(octaves) - 1.0, 1.0), LEFT + 6.0, width - RIGHT - 3.0)

    def x(self, octave: float) -> float:
        """Where an octave is."""
        return self.along.at(float(self.octaves.index(octave)))

    def frame(self) -> None:
        """Scales and what they are of."""
        steps = [self.up.low + 10.0 * k for k in range(int((self.up.high - self.up.low) // 10) + 1)]
        upward(self.canvas, self.up, steps, left=LEFT, right=self.width - RIGHT, decimals=0)
        self.canvas.line(((LEFT, FOOT), (self.width - RIGHT, FOOT)), pen="thin")
        across(self.canvas, [(self.x(f), octave_label(f)) for f in self.octaves], foot=FOOT)
        self.canvas.text("octave level, dB", (0.2, 2.4), size=NOTE, colour="ink-2")
        self.canvas.text(
            "octave, Hz", (self.width - 0.2, FOOT + 4.0), size=FIGURE, colour="ink-2", anchor="end"
        )

    def family(self, promise: float | None) -> None:
        """The curves faint, the promised one in accent, each named at its right end."""
        named: list[float] = []
        if promise is not None and LOWEST <= promise <= HIGHEST:
            named.append(self.curve(promise, promised=True))
        for nc in CURVES:
            if nc != promise:
                y = self.up.at(_curve(nc, self.octaves)[-1])
                crowded = any(abs(y - other) < 2.6 for other in named)
                found = self.curve(nc, promised=False, named=not crowded)
                if not crowded and found:
                    named.append(y)

    def curve(self, nc: float, *, promised: bool, named: bool = True) -> float:
        """Draw one as far as the field has it; return the height of its name, 0 without."""
        levels = _curve(nc, self.octaves)
        run = self.within(levels)
        colour = "accent" if promised else "rule"
        self.canvas.line(run, pen="mid" if promised else "hair", colour=colour)
        if promised:
            hachures(self.canvas, run, reach=-1.1)
        y = self.up.at(levels[-1])
        if not self.up.low <= levels[-1] <= self.up.high:
            return 0.0
        if named:
            self.canvas.text(
                f"NC {signed(nc, 0)}",
                (self.width - RIGHT + 1.6, y + 0.8),
                size=FIGURE,
                face="semibold" if promised else "regular",
                colour="accent" if promised else "ink-2",
            )
        return y

    def within(self, levels: Sequence[float]) -> list[Point]:
        """The part of a falling curve that the field has, cut at its edges."""
        points = [(self.x(f), level) for f, level in zip(self.octaves, levels, strict=True)]
        run: list[Point] = []
        for (x0, a), (x1, b) in itertools.pairwise(points):
            cuts = [edge for edge in (self.up.high, self.up.low) if a > edge > b]
            found = [(x0, a), *((x0 + (x1 - x0) * (a - e) / (a - b), e) for e in cuts), (x1, b)]
            run += [p for p in found if self.up.low <= p[1] <= self.up.high]
        return [(x, self.up.at(level)) for x, level in dict.fromkeys(run)]

    def line_of(self, one: NoiseCompared) -> list[Point]:
        """Where the octaves of a place are; what is below the field stands at its foot."""
        there = [f for f in self.octaves if f in one.levels_db]
        return [(self.x(f), self.up.at(max(one.levels_db[f], self.up.low))) for f in there]

    def spectrum(self, one: NoiseCompared, rank: int) -> None:
        """The line of one place: the loudest few by dashes, all others thin."""
        run = self.line_of(one)
        if rank < NAMED:
            self.canvas.line(run, pen="bold" if rank == 0 else "fine", dash=DASHES[rank])
        else:
            self.canvas.line(run, pen="thin", colour="rule")

    def beads(self, one: NoiseCompared) -> list[Box]:
        """Small boxes along the line of a place, for words to keep off."""
        run = self.line_of(one)
        return [
            Box((x0 + (x1 - x0) * k / 12, y0 + (y1 - y0) * k / 12), 1.6, 0.8)
            for (x0, y0), (x1, y1) in itertools.pairwise(run)
            for k in range(13)
        ]

    def governing(self, one: NoiseCompared, rank: int, placer: Placer) -> None:
        """A mark at the octave that touches, with its place and figure for the loudest few."""
        touching = one.governing
        if rank >= NAMED or touching is None or touching not in one.levels_db:
            return
        x, y = self.x(touching), self.up.at(one.levels_db[touching])
        self.canvas.circle((x, y), DOT, fill="ink" if rank == 0 else "paper", pen="mid")
        placer.take(Box.spanning(x - DOT, y - DOT, x + DOT, y + DOT))
        words = f"{one.place or 'room'}: {one.label or f'NC {signed(one.nc or 0.0, 0)}'}"
        wide = text_width(words, FIGURE, face="medium")
        places = [(x + 1.8, y - 2.2 - 3.4 * lift) for lift in range(8)] + [
            (x - 1.8 - wide, y + 4.4 + 3.4 * lift) for lift in range(8)
        ]
        boxes = [[Box.spanning(px - 0.5, py - 2.2, px + wide + 0.5, py + 1.0)] for px, py in places]
        index = placer.first_free(boxes)
        if index is None:
            return
        px, py = places[index]
        x0, y0, x1, y1 = boxes[index][0].bounds
        self.canvas.rectangle(x0, y0, x1 - x0, y1 - y0, fill="paper")
        self.canvas.text(words, (px, py), size=FIGURE, face="medium")
        placer.take(boxes[index][0])


def _entries(known: Sequence[NoiseCompared], promise: float | None) -> list[Entry]:
    """What is what: the loudest few by name."""

    def line(rank: int) -> Entry:
        def draw(on: Canvas, x: float, y: float) -> None:
            on.line(
                ((x, y), (x + SAMPLE, y)), pen="bold" if rank == 0 else "fine", dash=DASHES[rank]
            )

        one = known[rank]
        return Entry(draw, f"{one.place or 'room'}, {signed(one.dba, 1)} dBA")

    def thin(on: Canvas, x: float, y: float) -> None:
        on.line(((x, y), (x + SAMPLE, y)), pen="thin", colour="rule")

    def dot(on: Canvas, x: float, y: float) -> None:
        on.circle((x + DOT, y), DOT, fill="ink", pen="mid")

    def family(on: Canvas, x: float, y: float) -> None:
        on.line(((x, y - 0.8), (x + SAMPLE, y + 0.8)), pen="hair", colour="rule")

    found = [line(rank) for rank in range(min(NAMED, len(known)))]
    if len(known) > NAMED:
        found.append(Entry(thin, "other places, quieter"))
    found.append(Entry(dot, "the octave that decides the rating", 2 * DOT))
    found.append(Entry(family, "NC curves"))
    if promise is not None and LOWEST <= promise <= HIGHEST:
        found.append(Entry(promise_sample, f"promised: at most NC {signed(promise, 0)}"))
    return found
