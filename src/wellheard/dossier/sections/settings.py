"""What is set, in the order in which an installer sets it: taps, gains, filters, references."""

from __future__ import annotations

from collections.abc import Iterator

from wellheard.dossier.model import Block, Cell, Column, Heading, Paragraph, Run, Table
from wellheard.dossier.sections.processing import holds_words
from wellheard.dossier.words import brief, figure, fixed_spaces, listed, with_unit
from wellheard.predict.evidence import Evidence
from wellheard.signal.graph import Graph

HIGH_PASS_HZ, HIGH_PASS_DB = 80, 12
"""Corner and slope of the filter at a microphone that hears speech (common practice, no source):
below the lowest octave that is predicted, which begins at 88 Hz."""
LEAD = (
    "In this order, each before the next: what is set first decides what the next can do. Keep "
    "loudspeakers muted up to the last step, and write down what differs."
)
MOST_NAMED = 8

Step = tuple[str, str, str]
"""What is done, where, and what it is set to."""


def settings_blocks(evidence: Evidence, signal: Graph) -> list[Block]:
    """Return the settings as numbered steps; none where nothing is to be set."""
    steps = [*_taps(evidence), *_gains(evidence), *_stages(evidence), *_cancellers(signal)]
    steps += _playback(evidence)
    if not steps:
        return []
    columns = (
        Column("", 8, "right"),
        Column("What", 42),
        Column("Where", 52),
        Column("Set to", 0),
    )
    rows: tuple[tuple[Cell, ...], ...] = tuple(
        (Run(str(number)), Run(what, "strong"), Run(where), Run(fixed_spaces(to)))
        for number, (what, where, to) in enumerate(steps, start=1)
    )
    return [
        Heading("Settings in order"),
        Paragraph((Run(LEAD),), "note"),
        Table(columns, rows, tight=len(rows) > 8),
    ]


def _names(names: list[str]) -> str:
    return listed(names, most=MOST_NAMED)


def _taps(evidence: Evidence) -> Iterator[Step]:
    if evidence.playback is None:
        return
    by_tap: dict[float, list[str]] = {}
    for drive in evidence.playback.drives:
        if drive.tap_w is not None:
            by_tap.setdefault(drive.tap_w, []).append(drive.loudspeaker)
    for tap, names in sorted(by_tap.items()):
        yield "Tap of the transformer", _names(names), with_unit(brief(tap, 1), "W")


def _gains(evidence: Evidence) -> Iterator[Step]:
    for path, what in (("inbound", "Input of the amplifier"), ("outbound", "Microphone input")):
        by_gain: dict[str, list[str]] = {}
        for one in evidence.levels:
            if one.path != path:
                continue
            gain = one.recommended_gain_db
            said = (
                "by itself; average speech at −20 dBFS is right"
                if gain is None
                else with_unit(figure(gain, 1), "dB") + ", so that average speech is at −20 dBFS"
            )
            if path == "inbound" and gain is not None:
                said = with_unit(figure(gain, 1), "dB") + ", re its full gain"
            elif path == "inbound":
                continue
            if one.stated_gain_db is not None:
                said += f" (the document says {with_unit(figure(one.stated_gain_db, 1), 'dB')})"
            by_gain.setdefault(said, []).append(one.device)
        for said, names in by_gain.items():
            yield what, _names(names), said
    listening = [one.id for one in evidence.microphones]
    if listening:
        yield (
            "High-pass of microphones",
            _names(listening),
            f"{HIGH_PASS_HZ} Hz, {HIGH_PASS_DB} dB an octave, where the device has one (common "
            "practice)",
        )


def _stages(evidence: Evidence) -> Iterator[Step]:
    """What the document states of its processing, as far as it is a figure or a switch."""
    for name, stage in evidence.room.processing.items():
        what = stage.kind.replace("-", " ")
        said = [
            *([with_unit(brief(stage.gain_db, 1), "dB")] if stage.gain_db is not None else []),
            *([with_unit(brief(stage.delay_ms, 1), "ms")] if stage.delay_ms is not None else []),
        ]
        if stage.bypassed:
            said = ["off"]
        elif stage.kind == "canceller":
            continue
        if said:
            yield f"{what[:1].upper()}{what[1:]}", f"{name}, on {stage.on}", ", ".join(said)


def _cancellers(signal: Graph) -> Iterator[Step]:
    by_reference: dict[tuple[str, str], list[str]] = {}
    for one in signal.all_cancellers():
        holds = holds_words(signal.reference(one))
        key = (one.reference or "none", holds)
        by_reference.setdefault(key, []).extend(one.microphones)
    for (reference, holds), names in by_reference.items():
        where = _names(list(dict.fromkeys(names)))
        yield "Echo canceller: reference", where, f"{reference}, which holds {holds}"


def _playback(evidence: Evidence) -> Iterator[Step]:
    found = evidence.playback
    if found is None:
        return
    yield (
        "Volume",
        "level meter at ear height at every place, mean of energies",
        f"{figure(found.mean_dba, 0)} dBA with average speech from the far end",
    )
