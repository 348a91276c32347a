"""What is to be set in the processors: stages in order, cancellers, and what they listen to."""

from __future__ import annotations

from collections.abc import Iterable

from wellheard.dossier.model import Block, Cell, Column, Heading, Manner, Paragraph, Run, Table
from wellheard.dossier.words import (
    NOT_ASSESSED,
    brief,
    figure,
    fixed_spaces,
    listed,
    with_unit,
)
from wellheard.signal.graph import Graph
from wellheard.signal.model import Canceller, Path, Playing, Reference, Stage

FAR_END, PROGRAMME = "the far end", "programme"


def processing_blocks(signal: Graph) -> list[Block]:
    """Return the ways of microphones and loudspeakers with their stages, and the references."""
    cancellers = signal.all_cancellers()
    return [
        Heading("From each microphone", "stages in the order of the signal"),
        _microphones(signal),
        Heading("What each canceller listens to"),
        Paragraph((Run(fixed_spaces(REFERENCE)),), "note"),
        *([_references(signal)] if cancellers else [Paragraph((Run("Nothing cancels echo."),))]),
        *([Heading("To each loudspeaker"), _loudspeakers(signal)] if signal.playing() else []),
        *_assumed(signal),
    ]


REFERENCE = (
    "A reference holds what the loudspeakers play of the far end, taken behind everything that "
    "changes it, volume and mute included, and no voice of this room: a lifted voice in it is "
    "cancelled with the echo. Echo is cancelled exactly once."
)


def _microphones(signal: Graph) -> Table:
    columns = (
        Column("Microphone", 20),
        Column("Way", 0),
        Column("Stages", 44),
        Column("Cancelled by", 28),
    )
    rows: list[tuple[Cell, ...]] = []
    for name in signal.microphones:
        paths = signal.paths_of(name)
        if not paths:
            rows.append(
                (Run(name, "strong"), Run("no way to the far end is known"), Run(""), Run(""))
            )
        for number, path in enumerate(paths):
            rows.append(
                (
                    Run("" if number else name, "strong"),
                    Run(_ports(path), "soft"),
                    Run(_stages(path.stages)),
                    Run(listed([_place(stage) for stage in path.cancellers]) or "nothing"),
                )
            )
    return Table(columns, tuple(rows), tight=len(rows) > 6)


def _ports(path: Path) -> str:
    return " → ".join(path.ports)


def _place(stage: Stage) -> str:
    return stage.id or stage.at


def stage_words(stage: Stage) -> str:
    """Return a stage with its setting, told where the document only implies it.

    Examples
    --------
    >>> stage_words(Stage("gain", "mixer.mic-1", id="trim", gain_db=-3.0))
    'gain −3 dB'
    """
    said = stage.kind.replace("-", " ")
    if stage.kind == "mixer" and stage.automatic:
        said = "automatic mixer"
    if stage.gain_db is not None:
        said += f" {with_unit(brief(stage.gain_db, 1), 'dB')}".replace("\u00a0", " ")
    if stage.delay_ms is not None:
        said += f" {with_unit(brief(stage.delay_ms, 1), 'ms')}".replace("\u00a0", " ")
    return said


def _stages(stages: Iterable[Stage]) -> str:
    return ", ".join(stage_words(stage) for stage in stages) or "none"


def _references(signal: Graph) -> Table:
    columns = (
        Column("Canceller", 34),
        Column("Works on", 0),
        Column("Tail\nms", 12, "right"),
        Column("Reference", 36),
        Column("holds", 44),
    )
    grouped: dict[tuple[str, str], list[Canceller]] = {}
    for one in signal.all_cancellers():
        grouped.setdefault((one.device, one.reference or ""), []).append(one)
    rows: list[tuple[Cell, ...]] = []
    for (device, _), group in grouped.items():
        first = group[0]
        names = dict.fromkeys(name for one in group for name in one.microphones)
        said = first.id if len(group) == 1 else f"{device}, one behind each port"
        tail = first.tail
        reference = signal.reference(first)
        manner: Manner = "told" if first.reference_assumed else "plain"
        rows.append(
            (
                Run(said, "strong"),
                Run(listed(list(names), most=8)),
                Run(NOT_ASSESSED if tail is None else figure(1000 * tail, 0)),
                Run(first.reference or "none", manner),
                Run(holds_words(reference)),
            )
        )
    return Table(columns, tuple(rows))


def holds_words(reference: Reference) -> str:
    """Return what is in a reference."""
    if not reference.known:
        return "not assessed"
    said = [FAR_END] if reference.far_end else []
    if reference.programme:
        said.append(PROGRAMME)
    lifted = {held.source for held in reference.holds if held.lifted}
    said += [f"{name}, lifted" if name in lifted else name for name in reference.microphones]
    return listed(said) or "nothing"


def _loudspeakers(signal: Graph) -> Table:
    columns = (
        Column("Loudspeaker", 22),
        Column("Way of the far end", 0),
        Column("Stages", 34),
        Column("Also plays", 40),
    )
    rows: list[tuple[Cell, ...]] = []
    seen: dict[tuple[str, str, str], list[str]] = {}
    for playing in signal.playing():
        path = playing.far_end
        ports = "does not play the far end" if path is None else _ports_before(path)
        key = (ports, _stages(path.stages) if path else "", _also(playing))
        seen.setdefault(key, []).append(playing.loudspeaker)
    for (ports, stages, also), names in seen.items():
        rows.append((Run(listed(names), "strong"), Run(ports, "soft"), Run(stages), Run(also)))
    return Table(columns, tuple(rows))


def _ports_before(path: Path) -> str:
    """The way without its last port, which is the loudspeaker's own."""
    return " → ".join(path.ports[:-1] if len(path.ports) > 1 else path.ports)


def _also(playing: Playing) -> str:
    said = [PROGRAMME] if playing.programme else []
    lifted = dict.fromkeys(path.source for path in playing.lifted)
    if lifted:
        said.append(f"{listed(list(lifted), most=6)}, lifted")
    return listed(said) or "nothing"


def _assumed(signal: Graph) -> list[Block]:
    if not signal.assumed:
        return []
    return [
        Heading("Taken to be so, since the document does not say"),
        Paragraph((Run(" ".join(signal.assumed), "told"),), "note"),
    ]
