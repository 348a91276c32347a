"""A level diagram: the stages of one signal as stations of a line, clipping above, noise below.

::

    clips   ──┐        ┌───────────
              └────────┘               headroom: from speech up to here
    speech  ○─────○─────○─────○
                                       over noise: from speech down to here
    noise   ─ ─ ─ ─ ─ ┐
                      └ ─ ─ ─ ─

Units differ from station to station, so that all is drawn relative to average speech.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from wellheard.drawings.backends import svg
from wellheard.drawings.canvas import Canvas
from wellheard.drawings.lettering import text_width, wrap
from wellheard.drawings.tokens import Face, ThemeName, size_mm

NOTE, FIGURE = size_mm("note"), 2.35
MM_PER_DB = 0.4
LEFT, RIGHT = 17.0, 6.0
"""Of what is written beside the lines. [mm]"""
INSET = 7.0
"""From the ends of the lines to the first station and the last. [mm]"""
HEAD = 9.6
"""What the names of the stations take. [mm]"""
LEAST_ABOVE_DB, LEAST_BELOW_DB = 24.0, 14.0
"""What is shown at least, for figures to have room."""
GRID_DB = 20.0


@dataclass(frozen=True, slots=True)
class Station:
    """One stage, its figures as text beside what they are relative to average speech.

    Parameters
    ----------
    name
        Of the stage.
    speech, clip, noise
        Figures with their units; "" where there is none.
    headroom_db, over_noise_db
        From speech up to clipping and down to the noise; None where unknown or unlimited.
    gain
        What this stage adds, as text; "" for nothing.
    known
        Whether the level of speech is: a stage that is not has a dashed mark.
    """

    name: str
    speech: str
    clip: str = ""
    noise: str = ""
    headroom_db: float | None = None
    over_noise_db: float | None = None
    gain: str = ""
    known: bool = True


def level_diagram(
    stations: Sequence[Station],
    *,
    width: float,
    title: str,
    peaks_db: float | None = None,
    theme: ThemeName = "white",
    embed_fonts: bool = True,
) -> str:
    """Return a level diagram as SVG.

    Parameters
    ----------
    stations : sequence of Station
        In the order of the signal; two at least.
    width : float
        Of the drawing. [mm]
    title : str
        Accessible name.
    peaks_db : float, optional
        Of speech over its average: a dashed line that should stay under clipping. [dB]
    theme : {"white", "slate"}
        Colours.
    embed_fonts : bool
        False where the document that holds the drawing brings the fonts.

    Examples
    --------
    >>> capsule = Station("capsule", "56.1 dBA", "120 dBA", "31.6 dBA", 63.9, 24.5)
    >>> sent = Station("send", "−20.0 dBFS", "0 dBFS", "−44.5 dBFS", 20.0, 24.5)
    >>> level_diagram([capsule, sent], width=168.0, title="m1", embed_fonts=False)[:4]
    '<svg'
    """
    canvas, height = draw(stations, width=width, peaks_db=peaks_db)
    return svg.render(canvas, width, height, title=title, theme=theme, embed_fonts=embed_fonts)


def draw(
    stations: Sequence[Station], *, width: float, peaks_db: float | None = None
) -> tuple[Canvas, float]:
    """Return the drawing as a recording, with its height. [mm]"""
    above = max([LEAST_ABOVE_DB, *(s.headroom_db or 0.0 for s in stations)])
    below = max([LEAST_BELOW_DB, *(s.over_noise_db or 0.0 for s in stations)])
    canvas = Canvas()
    sketch = _Sketch(canvas, tuple(stations), width, zero=HEAD + 4.2 + above * MM_PER_DB)
    height = sketch.zero + below * MM_PER_DB + 5.0
    sketch.grid(above, below)
    sketch.names()
    sketch.run([s.headroom_db for s in stations], "clips", [s.clip for s in stations])
    under = [None if s.over_noise_db is None else -s.over_noise_db for s in stations]
    sketch.run(under, "noise", [s.noise for s in stations])
    if peaks_db is not None:
        sketch.peaks(peaks_db)
    sketch.speech()
    return canvas, height


@dataclass(frozen=True, slots=True)
class _Sketch:
    canvas: Canvas
    stations: tuple[Station, ...]
    width: float
    zero: float
    """Height of the line of speech. [mm]"""

    @property
    def pitch(self) -> float:
        """Between stations."""
        return (self.width - LEFT - RIGHT - 2 * INSET) / max(len(self.stations) - 1, 1)

    def x(self, index: float) -> float:
        """Where a station is."""
        return LEFT + INSET + self.pitch * index

    def y(self, level_db: float) -> float:
        """Where a level re average speech is."""
        return self.zero - level_db * MM_PER_DB

    def grid(self, above: float, below: float) -> None:
        """Lines every 20 dB with their figures at the right."""
        for step in range(-int(below // GRID_DB), int(above // GRID_DB) + 1):
            if step:
                y = self.y(step * GRID_DB)
                ends = ((LEFT, y), (self.width - RIGHT, y))
                self.canvas.line(ends, pen="hair", colour="faint")
                said = f"{step * GRID_DB:+.0f}".replace("-", "−")
                at = (self.width - 0.2, y + 0.8)
                self.canvas.text(said, at, size=FIGURE, colour="ink-2", anchor="end")
        self.canvas.text(
            "dB", (self.width - 0.2, self.zero + 0.8), size=FIGURE, colour="ink-2", anchor="end"
        )

    def names(self) -> None:
        """Names of the stations over a line, and what each adds between them."""
        for index, station in enumerate(self.stations):
            lines = wrap(station.name, max(self.pitch - 1.5, 12.0), NOTE, face="medium")[:2]
            base = HEAD - 5.6 + (0.0 if len(lines) > 1 else 3.2)
            for row, line in enumerate(lines):
                at = (self.x(index), base + 3.2 * row)
                self.canvas.text(line, at, size=NOTE, face="medium", anchor="middle")
            ends = ((self.x(index), HEAD - 1.2), (self.x(index), HEAD + 0.4))
            self.canvas.line(ends, pen="thin")
        self.canvas.line(((LEFT, HEAD - 0.4), (self.width - RIGHT, HEAD - 0.4)), pen="fine")

    def run(self, levels: Sequence[float | None], word: str, figures: Sequence[str]) -> None:
        """A stepped line through what is known, with the figure at each station."""
        above = word == "clips"
        runs: list[list[tuple[float, float]]] = [[]]
        for index, level in enumerate(levels):
            if level is None:
                runs.append([])
                continue
            y = self.y(level)
            half = self.pitch / 2
            start = LEFT if index == 0 else self.x(index) - half
            end = self.width - RIGHT if index == len(levels) - 1 else self.x(index) + half
            runs[-1] += [(start, y), (end, y)]
            at = (self.x(index), y - 0.9 if above else y + 2.6)
            self.canvas.text(
                figures[index],
                at,
                size=FIGURE,
                colour="ink-2" if not above else "ink",
                anchor="middle",
            )
        self.canvas.line(
            *(run for run in runs if run),
            pen="fine" if above else "thin",
            dash="solid" if above else "dashed",
        )
        first = next((level for level in levels if level is not None), None)
        if first is not None and levels[0] is not None:
            at = (0.13, self.y(first) + 0.8)
            self.canvas.text(word, at, size=NOTE, colour="ink-2")

    def peaks(self, peaks_db: float) -> None:
        """How far peaks of speech reach."""
        y = self.y(peaks_db)
        ends = ((LEFT, y), (self.width - RIGHT, y))
        self.canvas.line(ends, pen="hair", dash="chain")
        self.canvas.text("peaks", (0.13, y + 0.8), size=NOTE, colour="ink-2")

    def speech(self) -> None:
        """The line of stations, the level of speech at each and what is added before it."""
        y = self.zero
        self.canvas.line(((LEFT, y), (self.width - RIGHT, y)), pen="mid", colour="accent")
        self.canvas.text("speech", (0.13, y + 0.8), size=NOTE, face="semibold", colour="accent")
        for index, station in enumerate(self.stations):
            x = self.x(index)
            self.canvas.circle((x, y), 0.95, pen="fine" if station.known else "hair")
            face: Face = "semibold" if station.known else "italic"
            self.canvas.text(station.speech, (x, y - 1.8), size=FIGURE, face=face, anchor="middle")
            if station.gain and index:
                between = x - self.pitch / 2
                size = FIGURE if text_width(station.gain, FIGURE) < self.pitch else 2.15
                self.canvas.text(
                    station.gain, (between, y + 2.8), size=size, colour="ink-2", anchor="middle"
                )
