"""What a session of measurement recorded: decay, noise, conditions, instruments, faults."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence

from wellheard.bands import NOISE_OCTAVES, OCTAVES
from wellheard.dossier.figures import picture
from wellheard.dossier.model import (
    Block,
    Cell,
    Column,
    Entries,
    Entry,
    Facts,
    Heading,
    Line,
    Paragraph,
    Run,
    Section,
    Table,
)
from wellheard.dossier.proven import Charts, Proven
from wellheard.dossier.words import (
    NOT_ASSESSED,
    count_word,
    counted,
    figure,
    fixed_spaces,
    full_stop,
    octave,
    percent,
    sentence,
    with_unit,
)
from wellheard.measurement.results import Decay, Fault, Severity
from wellheard.predict.evidence import Evidence, State
from wellheard.units import Unit

TITLE = "What was measured"
CURVES = "Decays, modulation and cancelling"
STATE: Mapping[Severity, State | None] = {"error": "broken", "warning": "at risk", "note": None}
"""Mark of a fault."""
MIDDLE = slice(2, 6)
"""500 Hz to 4 kHz within the seven octaves."""
PATHS_NOTE = (
    "STI of the response alone: no noise, no level. C50 is the mean of 500 Hz to 4 kHz, D50 that "
    "of 1 kHz. Range is the least of the octaves, curvature the greatest. A delay is known only "
    "with a loop-back of what was played."
)


def measured_section(evidence: Evidence, proven: Proven) -> Section:
    """Return what was recorded, for whoever measures again.

    Parameters
    ----------
    evidence : Evidence
        Of the whole room, as promised.
    proven : Proven
        What was measured.
    """
    unit = evidence.room.units
    charts = Charts(proven, evidence.room)
    blocks: list[Block] = [
        Paragraph((Run(_lead(proven)),), "lead"),
        Heading("Set alike", "before it was compared, it was predicted again like this"),
        Entries(tuple(_plain(text) for text in proven.verdict.alike)),
        *_decay(proven, charts, unit),
        *_noise(proven, charts),
        *_instruments(proven),
        *_faults(proven, unit),
    ]
    return Section(TITLE, "commissioning", tuple(blocks))


def curves_section(evidence: Evidence, proven: Proven) -> Section | None:
    """Return decay curves, modulation and trials of cancellers; None where there is none."""
    unit = evidence.room.units
    charts = Charts(proven, evidence.room)
    blocks: list[Block] = []
    if charts.curves is not None:
        blocks += [
            Heading("Decay curves", "level after the direct sound, by octave"),
            picture(charts.curves.svg(embed_fonts=False)),
        ]
    if charts.modulation is not None and charts.worst_path is not None:
        way = proven.way(charts.worst_path, unit)
        blocks += [
            Heading("Modulation transfer", f"of the path that is understood worst, {way}"),
            picture(charts.modulation.svg(embed_fonts=False)),
        ]
    if proven.results.responses:
        blocks += [
            Heading("Paths"),
            _paths(proven, unit),
            Paragraph((Run(fixed_spaces(PATHS_NOTE)),), "note"),
        ]
    for name, chart in zip(proven.results.trials, charts.trials, strict=False):
        blocks += [
            Heading("Canceller", proven.way(name, unit)),
            picture(chart.svg(embed_fonts=False)),
            Facts(_trial(proven, name)),
        ]
    return Section(CURVES, "engineer", tuple(blocks)) if blocks else None


def _plain(text: str) -> Entry:
    return Entry(None, "", (Run(fixed_spaces(full_stop(sentence(text)))),), (), "")


def _lead(proven: Proven) -> str:
    session, results = proven.session, proven.results
    count = len(session.recordings)
    flawed = {name for name, faults in results.faults.items() if faults} | set(results.refused)
    by = f" by {session.by}" if session.by else ""
    on = f" on {proven.date}" if proven.date else ""
    title = f"{session.title}: " if session.title else ""
    clean = count - len(flawed & set(session.recordings))
    said = (
        "all without a fault" if clean == count else f"{count_word(clean)} of them without a fault"
    )
    recorded = f"{title}{counted(count, 'recording')}{on}{by}, {said}."
    return f"{recorded} Session {proven.results.folder.name}."


def _decay(proven: Proven, charts: Charts, unit: Unit) -> list[Block]:
    responses = proven.results.responses
    if charts.decay is None and not responses:
        return []
    mean = proven.results.t30 or proven.results.t20
    how = f" {full_stop(sentence(mean.how))}" if mean is not None else ""
    blocks: list[Block] = [Heading("Decay by octave", "seconds")]
    if charts.decay is not None:
        blocks.append(picture(charts.decay.svg(embed_fonts=False)))
    else:
        how = " No octave has a mean over places that could be held against the prediction."
    if responses:
        note = f"T30 where the range allows it, in brackets T20; an en dash allows neither.{how}"
        blocks += [
            _decay_table(proven, unit),
            Paragraph((Run(fixed_spaces(note)),), "note"),
        ]
    return blocks


def _decay_table(proven: Proven, unit: Unit) -> Table:
    columns = (
        Column("Recording", 24),
        Column("Octave, Hz", 0),
        *(Column(octave(f), 14, "right") for f in OCTAVES),
    )
    rows: list[tuple[Cell, ...]] = []
    for name, one in proven.results.responses.items():
        known = {d.octave: d for d in one.decays}
        rows.append(
            (
                Run(name, "strong"),
                Run(proven.way(name, unit), "soft"),
                *(Run(_time(known.get(f))) for f in OCTAVES),
            )
        )
    return Table(columns, tuple(rows), tight=True)


def _time(one: Decay | None) -> str:
    if one is None or (one.t30 is None and one.t20 is None):
        return NOT_ASSESSED
    if one.t30 is not None:
        return figure(one.t30, 2)
    return f"({figure(one.t20 or 0.0, 2)})"


def _noise(proven: Proven, charts: Charts) -> list[Block]:
    found = proven.verdict.noise
    if not found:
        return []
    octaves = [f for f in NOISE_OCTAVES if any(f in one.levels_db for one in found)]
    columns = (
        Column("Place", 0),
        Column("Rating", 30),
        Column("dBA", 11, "right"),
        *(Column(octave(f), 11, "right") for f in octaves),
    )
    rows: tuple[tuple[Cell, ...], ...] = tuple(
        (
            Run(one.place or "room", "strong"),
            Run(one.label or NOT_ASSESSED),
            Run(figure(one.dba, 1)),
            *(
                Run(
                    figure(one.levels_db[f], 0) if f in one.levels_db else NOT_ASSESSED,
                    "strong" if f == one.governing else "plain",
                )
                for f in octaves
            ),
        )
        for one in found
    )
    blocks: list[Block] = [Heading("Noise", "octave levels, dB")]
    if charts.noise is not None:
        blocks.append(picture(charts.noise.svg(embed_fonts=False)))
    blocks.append(Table(columns, rows, tight=True))
    loose = [one.place or "room" for one in found if not one.calibrated]
    note = "The octave that decides the rating is set heavier."
    if loose:
        note += (
            f" Not calibrated, so that their levels are re full scale: {', '.join(loose)}. They "
            "are rated once a calibrator is recorded through the same input."
        )
    blocks.append(Paragraph((Run(fixed_spaces(note)),), "note"))
    return blocks


def _instruments(proven: Proven) -> list[Block]:
    session = proven.session
    blocks: list[Block] = [Heading("Instruments and calibration")]
    if session.instruments:
        columns = (
            Column("Instrument", 0),
            Column("Serial number", 38),
            Column("Calibrated on", 34),
        )
        blocks.append(
            Table(
                columns,
                tuple(
                    (
                        Run(one.name, "strong"),
                        Run(one.serial or NOT_ASSESSED),
                        Run(one.calibrated or NOT_ASSESSED),
                    )
                    for one in session.instruments
                ),
            )
        )
    facts = tuple((name, _calibrated(proven, name)) for name in proven.results.calibrations)
    if facts:
        blocks.append(Facts(facts))
    if len(blocks) == 1:
        said = "Neither is in the session: no level of it can be traced."
        blocks.append(Entries((Entry("not assessed", "", (Run(said),), (), ""),)))
    return blocks


def _calibrated(proven: Proven, name: str) -> Line:
    one = proven.results.calibrations[name]
    used = [k for k, r in proven.session.recordings.items() if r.calibration == name]
    drift = (
        "not checked afterwards"
        if one.drift_db is None
        else f"drifted by {figure(one.drift_db, 1)} dB"
    )
    said = (
        f"{sentence(one.how)}: {figure(one.pascal_per_unit, 3)} Pa at full scale, "
        f"±{figure(one.sigma_db, 1)} dB, {drift}; for {counted(len(used), 'recording')}."
    )
    faults = " ".join(f"{full_stop(f.message)} {full_stop(f.remedy)}" for f in one.faults)
    return tuple(Run(fixed_spaces(text)) for text in (said, f" {faults}" if faults else "") if text)


def _faults(proven: Proven, unit: Unit) -> list[Block]:
    """Every fault by recording, the gravest first, with what to do."""
    found = list(_by_fault(proven))
    refused = proven.results.refused
    if not found and not refused:
        return []
    entries = [
        Entry("not assessed", name, (Run(fixed_spaces(full_stop(_begun(why)))),), (), "")
        for name, why in refused.items()
    ]
    order = list(STATE)
    found.sort(key=lambda item: order.index(item[1].severity))
    for name, fault in found:
        entries.append(
            Entry(
                STATE[fault.severity],
                f"{name}, {proven.way(name, unit)}",
                (Run(fixed_spaces(full_stop(sentence(fault.message)))),),
                (Run(fixed_spaces(full_stop(sentence(fault.remedy)))),),
                "",
            )
        )
    aside = "a filled mark: nothing that rests on the recording is given"
    return [Heading("Faults of recordings, and what to do", aside), Entries(tuple(entries))]


def _begun(why: str) -> str:
    """A reason as a sentence; a name of a file in front stays as it is."""
    return why if "." in why.partition(" ")[0] else sentence(why)


def _by_fault(proven: Proven) -> Iterator[tuple[str, Fault]]:
    for name, faults in proven.results.faults.items():
        for fault in faults:
            yield name, fault


def _paths(proven: Proven, unit: Unit) -> Table:
    columns = (
        Column("Recording", 24),
        Column("From, to", 0),
        Column("STI", 11, "right"),
        Column("C50\ndB", 12, "right"),
        Column("D50\n%", 14, "right"),
        Column("Range\ndB", 13, "right"),
        Column("Curvature\n%", 17, "right"),
        Column("Delay\nms", 14, "right"),
        Column("Polarity", 17, "right"),
    )
    return Table(columns, tuple(_path(proven, name, unit) for name in proven.results.responses))


def _path(proven: Proven, name: str, unit: Unit) -> tuple[Cell, ...]:
    one = proven.results.responses[name]
    curvature = [d.curvature_percent for d in one.decays if d.curvature_percent is not None]
    delay = one.arrival.delay
    at_1k = next((d.d50 for d in one.decays if d.octave == 1000.0), None)
    polarity = {1: "positive", -1: "negative", None: NOT_ASSESSED}[one.arrival.polarity]
    return (
        Run(name, "strong"),
        Run(proven.way(name, unit), "soft"),
        Run(_figure(one.sti, 2)),
        Run(_figure(_mean([d.c50_db for d in one.decays[MIDDLE]]), 1)),
        Run(percent(at_1k).replace("\u00a0%", "")),
        Run(_figure(min((d.range_db for d in one.decays), default=None), 0)),
        Run(_figure(max(curvature, key=abs, default=None), 0)),
        Run(_figure(None if delay is None else 1000 * delay, 1)),
        Run(polarity, "strong" if one.arrival.polarity == -1 else "plain"),
    )


def _figure(value: float | None, places: int) -> str:
    return NOT_ASSESSED if value is None else figure(value, places)


def _mean(values: Sequence[float | None]) -> float | None:
    known = [value for value in values if value is not None]
    return sum(known) / len(known) if known else None


def _trial(proven: Proven, name: str) -> tuple[tuple[str, Line], ...]:
    one = proven.results.trials[name]
    rows: list[tuple[str, str]] = [
        ("Return loss", _before_after(one.before_db, one.after_db)),
        ("Added", with_unit(_figure(one.added_db, 0), "dB")),
        ("Settled after", with_unit(_figure(one.converged, 1), "s")),
        ("Near end while both talk", with_unit(_figure(one.double_talk_kept_db, 1), "dB")),
        ("Echo after both have talked", with_unit(_figure(one.double_talk_echo_db, 1), "dB")),
    ]
    return tuple((label, (Run(text),)) for label, text in rows)


def _before_after(before: float | None, after: float | None) -> str:
    return (
        f"{with_unit(_figure(before, 0), 'dB')} at the beginning, "
        f"{with_unit(_figure(after, 0), 'dB')} when it had settled"
    )
