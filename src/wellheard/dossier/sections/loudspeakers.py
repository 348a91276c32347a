"""The loudspeakers as they are set: level, aim, headroom, power, taps, and what feeds them."""

from __future__ import annotations

import math

from wellheard.acoustics.line import AMPLIFIER_RESERVE, amplifier_rating
from wellheard.catalog.products import Amplifier
from wellheard.dossier.model import (
    Block,
    Cell,
    Column,
    Facts,
    Heading,
    Line,
    Paragraph,
    Run,
    Table,
)
from wellheard.dossier.words import (
    NBSP,
    NOT_ASSESSED,
    brief,
    count_word,
    counted,
    figure,
    fixed_spaces,
    listed,
    with_unit,
)
from wellheard.predict.evidence import Evidence
from wellheard.predict.wayback import Drive, PlacedLoudspeaker, Playback
from wellheard.signal.graph import Graph
from wellheard.signal.model import Playing

ALMOST = 1e-3
DOWN = 0.999
"""Cosine of what still counts as straight down."""


def loudspeaker_blocks(evidence: Evidence, found: Playback, signal: Graph) -> list[Block]:
    """Return how the loudspeakers are set, each of them, and the amplifiers behind them."""
    return [
        Heading("Loudspeakers as set"),
        Facts(_facts(evidence, found)),
        Paragraph((Run(_reading(evidence)),), "note"),
        _table(found),
        *_amplifiers(evidence, found, signal),
    ]


def _facts(evidence: Evidence, found: Playback) -> tuple[tuple[str, Line], ...]:
    asked = evidence.room.targets.playback_level_dba
    told = "" if asked is not None else ", the usual one, since the document states none"
    even = found.uniformity
    limit = "" if even.target is None else f"; {brief(even.target, 1)} dB is promised"
    rows: list[tuple[str, str]] = [
        (
            "Playback level",
            f"{figure(found.mean_dba, 1)} dBA of average far-end speech, in the mean of "
            f"{counted(len(found.rows), 'place')}{told}: what a level meter must show there, as "
            "the mean of energies",
        ),
        (
            "At 1 m",
            f"{figure(found.level_1m_dba, 1)} dBA of direct sound on the axis of a loudspeaker "
            "without trim; the room adds to it, so a level meter shows more",
        ),
        (
            "Evenness",
            f"loudest over quietest place {figure(even.value, 1)} dB, 10–90 % "
            f"{figure(max(even.low, 0.0), 1)} to {figure(even.high, 1)} dB{limit}; in the octave "
            f"of 2 kHz {figure(found.uniformity_speech_db, 1)} dB",
        ),
    ]
    return tuple((label, (Run(fixed_spaces(text + ".")),)) for label, text in rows)


def _reading(evidence: Evidence) -> str:
    crest = evidence.room.targets.house_limit("speech-crest-db")
    peaks = "" if crest is None else f" {figure(crest, 0)} dB above the average"
    return fixed_spaces(
        f"Levels are those 1 m in front. Peaks of speech are taken{peaks}, unweighted; the room "
        "left is from there to the most that the product plays. Power is what the peaks draw; the "
        "tap is the smallest that gives it."
    )


def _table(found: Playback) -> Table:
    trimmed = any(abs(one.trim_db) > ALMOST for one in found.loudspeakers)
    delayed = any(one.delay > 0.0 for one in found.loudspeakers)
    tapped = any(drive.tap_w is not None for drive in found.drives)
    columns = (
        Column("Name", 16),
        Column("Product", 0),
        Column("Mounting", 23),
        Column("Faces", 27),
        Column("Speech\ndBA", 13, "right"),
        *((Column("Trim\ndB", 11, "right"),) if trimmed else ()),
        *((Column("Delay\nms", 12, "right"),) if delayed else ()),
        Column("Peaks\ndB", 13, "right"),
        Column("Most\ndB", 12, "right"),
        Column("Room\nleft, dB", 15, "right"),
        Column("Power\nW", 13, "right"),
        *((Column("Tap\nW", 10, "right"),) if tapped else ()),
    )
    placed = {one.id: one for one in found.loudspeakers}
    rows = tuple(
        _row(placed[drive.loudspeaker], drive, trimmed=trimmed, delayed=delayed, tapped=tapped)
        for drive in found.drives
    )
    return Table(columns, rows, tight=len(rows) > 8)


def _row(
    one: PlacedLoudspeaker, drive: Drive, *, trimmed: bool, delayed: bool, tapped: bool
) -> tuple[Cell, ...]:
    short = drive.headroom_db < 0
    return (
        Run(one.id, "strong"),
        Run(one.product.id),
        Run(mounting_words(one), "soft"),
        Run(facing_words(one.axis)),
        Run(figure(drive.level_1m_dba, 1)),
        *((Run(figure(one.trim_db, 1)),) if trimmed else ()),
        *((Run(figure(1000 * one.delay, 1)),) if delayed else ()),
        Run(figure(drive.peak_1m_db, 1)),
        Run(figure(drive.max_level_db, 1)),
        Run(figure(drive.headroom_db, 1), "strong" if short else "plain"),
        Run(NOT_ASSESSED if drive.power_w is None else power_text(drive.power_w)),
        *((Run(NOT_ASSESSED if drive.tap_w is None else brief(drive.tap_w, 1)),) if tapped else ()),
    )


def mounting_words(one: PlacedLoudspeaker) -> str:
    """Return how a loudspeaker is mounted, in the words of a table."""
    if one.mounting == "ceiling":
        return "in the ceiling" if one.flush else "hanging"
    return {"wall": "on the wall", "front": "at the picture"}.get(one.mounting, one.mounting)


def facing_words(axis: tuple[float, float, float]) -> str:
    """Return where an axis points: its turn on the plan, anticlockwise from east, and its tilt.

    Examples
    --------
    >>> facing_words((0.0, 0.0, -1.0)), facing_words((1.0, 0.0, 0.0))
    ('down', '0°')
    >>> facing_words((0.0, 0.9848, -0.1736)).replace(NBSP, " ")
    '90°, 10° down'
    """
    if axis[2] < -DOWN:
        return "down"
    turn = round(math.degrees(math.atan2(axis[1], axis[0]))) % 360
    tilt = round(math.degrees(math.asin(max(-1.0, min(1.0, axis[2])))))
    if not tilt:
        return f"{turn}°"
    return f"{turn}°, {abs(tilt)}°{NBSP}{'down' if tilt < 0 else 'up'}"


def power_text(power: float) -> str:
    """Return a power in watts as a table has it, two figures that count.

    Examples
    --------
    >>> power_text(0.4666), power_text(12.34), power_text(0.02)
    ('0.47', '12', '0.02')
    """
    return figure(power, 0 if power >= 9.95 else 1 if power >= 0.995 else 2)


def _amplifiers(evidence: Evidence, found: Playback, signal: Graph) -> list[Block]:
    """Every output that feeds a loudspeaker, its load and what it can give."""
    feeds: dict[str, list[str]] = {}
    for playing in signal.playing():
        if playing.amplifier is not None:
            for port in _outputs(evidence, playing):
                feeds.setdefault(port, []).append(playing.loudspeaker)
    rows = [
        row for port, fed in feeds.items() if (row := _amplifier_row(evidence, found, port, fed))
    ]
    unfed = [
        playing.loudspeaker
        for playing in signal.playing()
        if playing.amplifier is None and not playing.has_own_amplifier
    ]
    blocks: list[Block] = []
    if rows:
        reserve = figure(100 * AMPLIFIER_RESERVE, 0)
        columns = (
            Column("Output", 26),
            Column("Product", 36),
            Column("Feeds", 0),
            Column("Load", 40),
            Column("Needs\nW", 13, "right"),
            Column("Gives\nW", 13, "right"),
        )
        blocks += [
            Heading("Amplifiers"),
            Paragraph(
                (
                    Run(
                        "What an output needs is the sum of the taps it feeds, or of the peaks of "
                        f"what hangs on it, so that {reserve}{NBSP}% of its rating stay free."
                    ),
                ),
                "note",
            ),
            Table(columns, tuple(rows)),
        ]
    if unfed:
        verb = "has" if len(unfed) == 1 else "have"
        text = f"Not assessed: {listed(unfed, most=6)} {verb} no amplifier in the document."
        blocks.append(Paragraph((Run(text),)))
    return blocks


def _outputs(evidence: Evidence, playing: Playing) -> list[str]:
    """Outputs of its amplifier that a loudspeaker hangs on; a pair may have one for each half."""
    mine, own = f"{playing.loudspeaker}.in", (playing.amplifier or "").partition(".")[0]
    ends = [(link.from_, link.to) for link in evidence.room.links.values()]
    found = [one if other == mine else other for one, other in ends if mine in (one, other)]
    return [port for port in found if port.partition(".")[0] == own] or [playing.amplifier or ""]


def _carried(evidence: Evidence, device: str, drives: list[Drive]) -> list[Drive]:
    """Of the drives of a loudspeaker those that one of its outputs carries."""
    ways = sum(f"{device}.in" in (link.from_, link.to) for link in evidence.room.links.values())
    return drives[:1] if ways == len(drives) else drives


def _amplifier_row(
    evidence: Evidence, found: Playback, port: str, fed: list[str]
) -> tuple[Cell, ...] | None:
    device = evidence.room.devices.get(port.partition(".")[0])
    product = None if device is None else evidence.catalogue.product(device.product)
    if not isinstance(product, Amplifier):
        return None
    places = {one.id: one.device for one in found.loudspeakers}
    drives: list[Drive] = []
    names = []
    for name in fed:
        mine = [drive for drive in found.drives if places[drive.loudspeaker] == name]
        carried = _carried(evidence, name, mine)
        whole = len(carried) == len(mine)
        names.append(name if whole else f"{name}, one of its {count_word(len(mine))}")
        drives += carried
    taps = [drive.tap_w for drive in drives]
    if product.line_voltages and taps and all(tap is not None for tap in taps):
        known = [tap for tap in taps if tap is not None]
        load = f"{len(known)} × {_tap_words(known)}" if len(set(known)) == 1 else _tap_words(known)
        needed = float(amplifier_rating(known))
    elif drives and all(drive.power_w is not None for drive in drives):
        load = f"peaks of {counted(len(drives), 'loudspeaker')}"
        needed = float(amplifier_rating([drive.power_w or 0.0 for drive in drives]))
    else:
        load, needed = "not assessed", math.nan
    short = needed > product.channel_power_w
    return (
        Run(port, "strong"),
        Run(product.id),
        Run(listed(names, most=5)),
        Run(load, "soft"),
        Run(
            power_text(needed) if math.isfinite(needed) else NOT_ASSESSED,
            "strong" if short else "plain",
        ),
        Run(brief(product.channel_power_w, 0)),
    )


def _tap_words(taps: list[float]) -> str:
    if len(set(taps)) == 1:
        return f"tap of {with_unit(brief(taps[0], 1), 'W')}"
    return f"taps from {brief(min(taps), 1)} to {with_unit(brief(max(taps), 1), 'W')}"
