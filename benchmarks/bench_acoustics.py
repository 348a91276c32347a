"""Speed and truth of the acoustic engine against its bars, both sides in one process.

From the root of the project: ``python -m benchmarks.bench_acoustics [--quick]``. It
prints every bar with what was measured, writes docs/benchmarks.md, and ends with 1 when a bar is
missed. ``--quick`` takes fewer rooms and writes nothing.

One thread is timed by the processor's own time, of which other work on the machine takes little,
and two threads by the clock; of many runs the best counts. Where two programs are compared both
have one thread, and their runs take turns.
"""

from __future__ import annotations

import functools
import subprocess
import sys
import time
from collections.abc import Iterator
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from benchmarks import bench_canceller, bench_equipment, bench_measurement, bench_place
from benchmarks.report import Bar, Table, machine, page
from benchmarks.timing import PATIENCE, best, lasts, milliseconds, of_children
from tests.oracle import comparisons, complete, simulator
from tests.oracle.coverage import QUANTITIES, held
from tests.oracle.rooms import random_box, random_l_shape
from wellheard.acoustics import compiled
from wellheard.acoustics.decay_table import decay_table
from wellheard.acoustics.enclosure import Enclosure, box
from wellheard.acoustics.indices import indices
from wellheard.acoustics.late import late_tables
from wellheard.acoustics.levels import energy_level_db
from wellheard.acoustics.patterns import (
    first_order_pattern,
    lobe_pattern,
    mean_over_sphere,
)
from wellheard.acoustics.rays import advised_length, trace
from wellheard.acoustics.response import (
    Pairs,
    Receivers,
    Response,
    Sources,
    respond,
)
from wellheard.acoustics.waveform import waveform
from wellheard.arrays import Array

ROOT = Path(__file__).resolve().parents[1]
SPEED, AIR = comparisons.SPEED, comparisons.AIR
SIZE = (6.0, 8.0, 3.0)
POINTS, MICROPHONES = 2000, 4
SHORT = 0.7  # the same for a row of a table [s]
ORDER = 17
PAGE = ROOT / "docs" / "benchmarks.md"


def uneven(seed: int = 3) -> Array:
    """Absorption of six surfaces in seven octaves."""
    return np.random.default_rng(seed).uniform(0.05, 0.5, (6, 7))


@dataclass(frozen=True, eq=False)
class Map:
    """Talking points under ceiling microphones, and what is computed of every pair."""

    enclosure: Enclosure
    points: int
    microphones: int

    @functools.cached_property
    def late(self) -> object:
        """Of the room; a map reads it and never makes it."""
        flights = trace(self.enclosure, rays=4096, length=advised_length(self.enclosure))
        table = decay_table(flights, self.enclosure.absorption, speed=SPEED)
        return late_tables(table, volume=self.enclosure.volume, speed=SPEED, air=AIR)

    @functools.cached_property
    def parts(self) -> tuple[Sources, Receivers, Pairs]:
        """Lobes that turn every way, cardioids that look down."""
        rng = np.random.default_rng(1)
        turn = rng.uniform(0, 2 * np.pi, self.points)
        facing = np.stack([np.cos(turn), np.sin(turn), np.zeros(self.points)], axis=1)
        talker = lobe_pattern(np.linspace(1.0, 6.0, 7))
        cardioid = first_order_pattern(0.5)
        row, column = np.divmod(np.arange(self.points * self.microphones), self.microphones)
        count = len(row)
        places = self._inside(rng, self.points + self.microphones)
        height = self.enclosure.height - 0.05
        return (
            Sources(
                at=np.column_stack([places[: self.points], np.full(self.points, 1.2)]),
                facing=facing,
                pattern=talker,
                diffuse=mean_over_sphere(talker),
            ),
            Receivers(
                at=np.column_stack([places[self.points :], np.full(self.microphones, height)]),
                patterns=cardioid[None],
                diffuse=mean_over_sphere(cardioid)[None],
            ),
            Pairs(
                row=row,
                column=column,
                axis=np.tile([0.0, 0.0, -1.0], (count, 1)),
                pattern=np.zeros(count, dtype=np.int64),
                upper_only=np.zeros(count, dtype=bool),
            ),
        )

    def _inside(self, rng: np.random.Generator, count: int) -> Array:
        from wellheard.geometry.points import contains_points

        outline = self.enclosure.outline
        tried = rng.uniform(outline.min(axis=0), outline.max(axis=0), (40 * count, 2))
        middle = outline.mean(axis=0)
        pulled = middle + (tried - middle) / 0.95  # a little off the walls
        return tried[contains_points(outline, pulled)][:count]

    def respond(self, threads: int = 1) -> Response:
        """Energies and modulation of every pair."""
        return respond(
            self.enclosure, self.late, *self.parts, speed=SPEED, air=AIR, threads=threads
        )

    def figures(self, threads: int = 1) -> tuple[Array, Array, Array]:
        """STI, C50 and direct-to-reverberant ratio of every pair."""
        r = self.respond(threads)
        at_once = r.direct + r.joined
        reflected = r.early + r.late
        _, sti = indices(at_once, reflected, r.modulation)
        c50_db = energy_level_db((at_once + r.early) / r.late)
        # Round a corner nothing comes at once: that is minus infinity, and no fault.
        return sti, c50_db, energy_level_db(at_once / reflected)


def waveforms() -> Iterator[Bar]:
    """Pressure image sources of order 17 in seven octaves."""
    for rate, ratio_bar, difference_bar in ((16000, 10.0, -58.0), (48000, 20.0, -55.0)):
        absorption = uneven()
        if rate == 16000:  # there the simulator cuts the octave at 8 kHz with no width at all
            absorption[:, 6] = absorption[:, 5]
        room = box(SIZE, absorption=absorption)
        source, receiver = np.array([1.3, 2.1, 1.2]), np.array([4.2, 5.9, 2.7])
        run = functools.partial(
            waveform, room, source, receiver, order=ORDER, rate=float(rate), speed=SPEED
        )
        ours, theirs = np.inf, np.inf
        until = time.perf_counter() + PATIENCE
        while time.perf_counter() < until:
            made = simulator.ready(room, source, receiver, order=ORDER, rate=rate)
            with simulator.in_one_thread():
                theirs = min(theirs, lasts(made.compute_rir))
            ours = min(ours, *(lasts(run) for _ in range(5)))
        (expected,) = simulator.waveforms(room, source, receiver, order=ORDER, rate=rate)
        found = run()
        got = found.samples[found.lead - simulator.LATE :][: len(expected)]
        error = np.square(got - expected[: len(got)]).sum() / np.square(expected).sum()
        difference_db = 10 * np.log10(error)
        yield Bar(
            f"waveform, order {ORDER}, 7 octaves, {rate // 1000} kHz, against pyroomacoustics",
            f"≥ {ratio_bar:.0f} ×, difference ≤ {_minus(difference_bar, 0)} dB",
            f"{theirs / ours:.0f} × ({ours * 1e3:.2f} ms, {theirs * 1e3:.0f} ms), "
            f"{_minus(difference_db, 1)} dB",
            bool(theirs / ours >= ratio_bar and difference_db <= difference_bar),
        )


def maps() -> Iterator[Bar]:
    """STI, C50 and direct-to-reverberant ratio of a map."""
    mapped = Map(box(SIZE, absorption=uneven(), scattering=0.3), POINTS, MICROPHONES)
    dragged = Map(mapped.enclosure, POINTS, 1)
    sti, _, _ = mapped.figures()
    dragged.figures()
    one = best(mapped.figures)
    two = best(lambda: mapped.figures(threads=2), clock=time.perf_counter)
    drag = best(dragged.figures)
    made = simulator.ready(
        mapped.enclosure,
        mapped.parts[0].at[0],
        mapped.parts[1].at,
        order=ORDER,
        rate=16000,
    )
    with simulator.in_one_thread():
        theirs = lasts(made.compute_rir) * POINTS
    name = f"map, {POINTS:,} talking points × {MICROPHONES} directional microphones, "
    yield Bar(name + "one thread", "≤ 50 ms", f"{one * 1e3:.1f} ms", one <= 0.050)
    yield Bar(name + "two threads", "≤ 30 ms", f"{two * 1e3:.1f} ms", two <= 0.030)
    yield Bar(
        name + "against waveforms of pyroomacoustics, scaled from one talking point",
        "≥ 2,000 ×",
        f"{theirs / one:,.0f} × ({theirs:.0f} s)",
        theirs / one >= 2000,
    )
    yield Bar(
        f"one microphone dragged under {POINTS:,} talking points",
        "≤ 16 ms",
        f"{drag * 1e3:.1f} ms",
        drag <= 0.016,
    )
    with compiled.using("numpy"):
        plain_sti, _, _ = mapped.figures()
        plain = best(mapped.figures)
    apart = float(np.abs(plain_sti - sti).max())
    yield Bar(
        "the same map in numpy alone",
        "≤ 600 ms, STI within 0.0001",
        f"{plain * 1e3:.0f} ms, {apart:.1e}",
        plain <= 0.600 and apart <= 1e-4,
    )


def truth(rooms: int) -> Iterator[Bar]:
    """Images up to 60 ms with the room's mean after them, against complete image sources."""
    compared = [
        comparisons.compare(random_box(seed, sources=6, microphones=4)) for seed in range(rooms)
    ]
    sti = max(
        np.abs(room.engine.speech_transmission - room.speech_transmission).max()
        for room in compared
    )
    c50_db = np.mean([np.abs(room.engine.clarity_db - room.clarity_db) for room in compared])
    times = np.median(
        np.abs([error for room in compared for error in comparisons.decay_errors(room)])
    )
    yield Bar(
        f"images and mean decay against complete image sources, {rooms} rooms × 24 pairs",
        "STI ≤ 0.012 at worst, C50 ≤ 0.15 dB on average, T20 ≤ 1.5 % median",
        f"STI {sti:.3f}, C50 {c50_db:.2f} dB, T20 {times * 100:.1f} %",
        bool(sti <= 0.012 and c50_db <= 0.15 and times <= 0.015),
    )
    under = []
    for seed in range(100, 100 + rooms // 4):
        drawn = random_box(seed, sources=6, microphones=4)
        at = drawn.microphones.copy()
        at[:, 2] = drawn.enclosure.height - 0.02
        under.append(comparisons.compare(replace(drawn, microphones=at), directional=True))
    worst = max(
        np.abs(room.engine.speech_transmission - room.speech_transmission).max() for room in under
    )
    yield Bar(
        f"the same with directional talkers under ceiling cardioids, {len(under)} rooms",
        "STI ≤ 0.02 at worst",
        f"STI {worst:.3f}",
        bool(worst <= 0.02),
    )


def decays(rooms: int) -> Iterator[Bar]:
    """T20 and scattered energy against the rays of pyroomacoustics."""
    for scattering in (0.0, 1.0):
        errors, level_db, clarity_db = [], [], []
        for kind in comparisons.MAKERS:
            for seed in range(rooms):
                room = comparisons.traced(kind, scattering, seed, by_place=True)
                theirs = complete.decay_time(room.energy.sum(axis=0), step=comparisons.STEP)
                errors.append(np.abs(room.engine.times / theirs - 1))
                if scattering == 1.0:
                    level_db.append(room.level_db)
                    clarity_db.append(room.clarity_db)
        worst = np.median(errors, axis=0).max()
        yield Bar(
            f"T20 against rays of pyroomacoustics, scattering {scattering:.0f}, {rooms} boxes "
            f"and {rooms} L-shapes",
            "≤ 6 % median in each octave",
            f"{worst * 100:.1f} % in the worst",
            bool(worst <= 0.06),
        )
        if scattering == 1.0:
            level, clarity = (_deviation(np.concatenate(x)) for x in (level_db, clarity_db))
            yield Bar(
                "scattered energy by place against the same, without the direct sound",
                "level ≤ 0.5 dB, C50 ≤ 0.6 dB rms",
                f"level {level:.2f} dB, C50 {clarity:.2f} dB",
                level <= 0.5 and clarity <= 0.6,
            )


def image_sets() -> Iterator[Bar]:
    """Every image up to the fourth order and 16 m in concave rooms."""
    same, pairs = 0, 0
    for seed in range(10):
        drawn = random_l_shape(seed, sources=3, microphones=2)
        for source in drawn.sources:
            for microphone in drawn.microphones:
                ours, theirs = comparisons.image_sets(drawn, source, microphone)
                pairs += 1
                same += ours.shape == theirs.shape and np.allclose(
                    ours, theirs, rtol=1e-3, atol=1e-4
                )
    yield Bar(
        "images of L-shaped rooms, one by one, against pyroomacoustics",
        "60 of 60 pairs",
        f"{same} of {pairs}",
        bool(same == pairs == 60),
    )


def ranges(rooms: int) -> Iterator[Bar]:
    """How often predicted ranges hold what another model draws, scattering unknown."""
    drawn = [
        held(scattering, seed, count=12, soft=soft)
        for scattering in (0.0, 1.0)
        for seed in range(rooms)
        for soft in (True, False)
    ]
    shares = {
        name: float(np.concatenate([one[name] for one in drawn]).mean()) for name in QUANTITIES
    }
    count = len(drawn) * 12
    yield Bar(
        f"10–90 % ranges of STI, C50 and direct-to-reverberant ratio against {count} draws of "
        "image sources and rays at scattering 0 and 1",
        "70–90 % of the draws within",
        ", ".join(f"{100 * share:.0f} %" for share in shares.values()),
        all(0.70 <= share <= 0.90 for share in shares.values()),
    )


def placement(rooms: int) -> Iterator[Bar]:
    """The solver, every step proven; bench_place.py has more."""
    for (seats, places, area, bar), size in zip(
        bench_place.SIZES, ("small", "medium", "large"), strict=True
    ):
        seconds, proven = [], True
        for seed in range(rooms):
            drawn = bench_place.Room(seats, places, area, seed)
            runs = [bench_place.timed(drawn, apart=0.0, priced=False) for _ in range(2)]
            seconds.append(min(worked for _, _, worked in runs))
            proven &= runs[0][0].status != "gap"
        median = float(np.median(seconds))
        yield Bar(
            f"placement, {size}: {seats} seats, {places} places, every step proven",
            f"≤ {bar:g} s median",
            f"{median:.2f} s of {rooms} rooms{'' if proven else ', not all proven'}",
            median <= bar and proven,
        )


def starting() -> Iterator[Bar]:
    """What every call of the command pays."""
    for option in ("--version", "--help"):
        command = [str(Path(sys.executable).with_name("wellheard")), option]
        seconds = best(
            lambda command=command: subprocess.run(command, capture_output=True, check=True),
            clock=of_children,
        )
        yield Bar(f"`wellheard {option}`", "≤ 300 ms", f"{seconds * 1e3:.0f} ms", seconds <= 0.3)


def growth() -> Iterator[Table]:
    """How times grow with what there is."""
    room = box(SIZE, absorption=uneven(), scattering=0.3)
    rows = []
    for points in (500, 1000, 2000, 4000, 8000):
        mapped = Map(room, points, 1)
        mapped.figures()
        one, two = _by_threads(mapped)
        rows.append((f"{points:,}", milliseconds(one), milliseconds(two)))
    yield Table(
        "Talking points under one microphone, in a box",
        ("talking points", "one thread", "two threads"),
        tuple(rows),
    )
    rows = []
    for microphones in (1, 2, 4, 8, 16):
        mapped = Map(room, POINTS, microphones)
        mapped.figures()
        one, two = _by_threads(mapped)
        rows.append((str(microphones), milliseconds(one), milliseconds(two)))
    yield Table(
        f"Microphones over {POINTS:,} talking points, in a box",
        ("microphones", "one thread", "two threads"),
        tuple(rows),
    )
    rows = []
    for name, outline in _plans():
        shape = _prism(outline)
        mapped = Map(shape, 500, 1)
        mapped.figures()
        flights = functools.partial(trace, shape, rays=4096, length=advised_length(shape))
        rows.append(
            (
                str(len(outline)),
                name,
                milliseconds(best(mapped.figures, SHORT)),
                milliseconds(best(flights, SHORT)),
            )
        )
    yield Table(
        "Walls of a plan of 48 m² and 3 m",
        ("walls", "plan", "500 talking points, one microphone", "4,096 rays"),
        tuple(rows),
    )
    rows = []
    for rays in (1000, 4000, 16000, 64000):
        length = advised_length(room)
        flights = trace(room, rays=rays, length=length)
        table = decay_table(flights, room.absorption, speed=SPEED)
        steps = (
            functools.partial(trace, room, rays=rays, length=length),
            functools.partial(decay_table, flights, room.absorption, speed=SPEED),
            functools.partial(late_tables, table, volume=room.volume, speed=SPEED, air=AIR),
        )
        rows.append((f"{rays:,}", *(milliseconds(best(step, SHORT)) for step in steps)))
    yield Table(
        "Rays of a box",
        ("rays", "followed", "weighed with absorption", "late tables"),
        tuple(rows),
    )
    yield bench_canceller.tails()


def _by_threads(mapped: Map) -> tuple[float, float]:
    """Time of a map in one thread and in two, by turns [s]."""
    one, two = np.inf, np.inf
    until = time.perf_counter() + 2 * SHORT
    while time.perf_counter() < until:
        one = min(one, lasts(mapped.figures))
        two = min(two, lasts(lambda: mapped.figures(2), clock=time.perf_counter))
    return one, two


def _plans() -> Iterator[tuple[str, Array]]:
    yield "L", np.array([[0.0, 0], [8, 0], [8, 4], [4, 4], [4, 8], [0, 8]])
    yield (
        "U",
        np.array(
            [[0, 0], [9, 0], [9, 7], [6, 7], [6, 2], [3, 2], [3, 7], [0, 7]], dtype=np.float64
        ),
    )
    for count in (4, 8, 16, 32):
        angle = (np.arange(count) + 0.5) * 2 * np.pi / count
        yield "regular", np.stack([np.cos(angle), np.sin(angle)], axis=1)


def _prism(outline: Array) -> Enclosure:
    x, y = outline.T
    area = 0.5 * abs(float(x @ np.roll(y, -1) - y @ np.roll(x, -1)))
    surfaces = len(outline) + 2
    return Enclosure(
        outline=outline * np.sqrt(48.0 / area),
        columns=(),
        height=3.0,
        names=tuple(map(str, range(surfaces))),
        absorption=np.full((surfaces, 7), 0.25),
        scattering=np.full(surfaces, 0.3),
    )


def _deviation(differences: Array) -> float:
    return float(np.sqrt(np.square(differences).mean()))


def _minus(value: float, places: int) -> str:
    return f"{value:.{places}f}".replace("-", "−")


def main(arguments: list[str]) -> int:
    """Print the bars as they are measured; 1 when one is missed."""
    quick = "--quick" in arguments
    where = machine(simulator.VERSION)  # before this adds to its load
    print(where)
    bars = []
    for measured in (
        starting(),
        waveforms(),
        maps(),
        image_sets(),
        decays(2 if quick else 8),
        truth(4 if quick else 20),
        ranges(1 if quick else 4),
        bench_canceller.bars(),
        placement(5 if quick else 20),
        bench_equipment.bars(quick=quick),
        bench_measurement.bars(),
    ):
        for bar in measured:
            print(f"{'holds ' if bar.holds else 'MISSED'}  {bar.name}", flush=True)
            print(f"        {bar.measured}; bar {bar.asked}", flush=True)
            bars.append(bar)
    if not quick:
        PAGE.write_text(page(where, bars, list(growth())), encoding="utf-8")
        print(f"written: {PAGE.relative_to(ROOT)}")
    return int(not all(bar.holds for bar in bars))


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
