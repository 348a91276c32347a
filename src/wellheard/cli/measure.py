"""``wellheard measure``."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any, Literal

from cyclopts import Parameter

from wellheard.cli.exits import Exit
from wellheard.cli.output import Format

if TYPE_CHECKING:
    from wellheard.measurement.results import Calibration
    from wellheard.measurement.session import Kind, Recording, Session

STEADY: tuple[Kind, ...] = ("noise", "speech")
OF: dict[str, tuple[Kind, ...]] = {
    "--loopback": ("sweep", "echo"),
    "--far": ("echo",),
    **dict.fromkeys(("--from", "--to", "--seconds", "--silence", "--repeats"), ("sweep",)),
    **dict.fromkeys(("--calibrator", "--level", "--meter", "--dba", "--full-scale"), STEADY),
}
"""Kinds that an option means something of; others mean something of every kind."""

CALIBRATOR_DB = 94.0
"""Unless another level is given; common practice, no source. [dB]"""


def measure(
    file: Path,
    /,
    *more: Path,
    kind: Literal["impulse-response", "sweep", "noise", "speech", "echo"] | None = None,
    channel: int | None = None,
    loopback: int | None = None,
    far: Path | None = None,
    start: Annotated[float | None, Parameter(name="--from")] = None,
    end: Annotated[float | None, Parameter(name="--to")] = None,
    seconds: float | None = None,
    silence: float | None = None,
    repeats: int | None = None,
    calibrator: Path | None = None,
    level: float | None = None,
    meter: Path | None = None,
    dba: float | None = None,
    full_scale: float | None = None,
    format: Format = "text",
) -> int:
    """Say what recordings hold: decay, clarity, STI, noise, echo.

    A session's folder is measured whole, on all cores. Single files are all of one kind. Exit 1
    where a recording cannot be used.

    Parameters
    ----------
    file
        A WAV or FLAC file, or the folder of a session.
    more
        Further files of the same kind.
    kind
        Of the files: an impulse response (unless given), a recorded sweep, the room's noise,
        steady speech-shaped noise, or what an echo canceller sent.
    channel
        Of each file, the first unless given.
    loopback
        Channel with what was played: of a sweep, for delay, polarity and clocks that drift; of
        kind echo, what the far end sent.
    far
        Of kind echo: another file with what the far end sent.
    start
        Of the sweep: the frequency at which it begins, 50 Hz unless given.
    end
        Of the sweep: the frequency at which it ends, 20000 Hz unless given.
    seconds
        Of the sweep: how long it takes, 6 s unless given.
    silence
        Of the sweep: the silence after each, 3 s unless given.
    repeats
        Of the sweep: how often it was played, once unless given.
    calibrator
        A recording of a calibrator, for levels in dB.
    level
        What the calibrator makes: 94 dB unless given, or the 114 dB that is printed on it.
    meter
        A recording of steady noise that was read on a sound level meter beside.
    dba
        What the meter read.
    full_scale
        Level of a full-scale sine in dB, where somebody knows it.
    format
        json prints everything to stdout.
    """
    from wellheard.cli import output as out
    from wellheard.cli import render_measured as say
    from wellheard.measurement.session import FILE
    from wellheard.workflow import measuring as work

    signal = {
        "--from": start, "--to": end, "--seconds": seconds, "--silence": silence,
        "--repeats": repeats,
    }  # fmt: skip
    levels = {
        "--calibrator": calibrator, "--level": level, "--meter": meter, "--dba": dba,
        "--full-scale": full_scale,
    }  # fmt: skip
    others = {"--kind": kind, "--channel": channel, "--loopback": loopback, "--far": far}
    given = [name for name, value in (others | signal | levels).items() if value is not None]
    if file.is_dir() or file.name == FILE:
        _alone(file, more, given)
        found = work.measure_session(file, say=out.talk)
        if format == "json":
            out.json_payload(work.session_answer(found))
        else:
            out.payload(say.session(found))
        unread = [why for why in found.refused.values() if why != work.NOT_THERE]
        spoilt = unread or any(one.unusable for one in found.taken.values())
        return Exit.FINDINGS if spoilt else Exit.OK
    _meant(kind or "impulse-response", given)
    session, recording = _asked(kind or "impulse-response", signal, channel, loopback)
    calibration = _calibration(calibrator, level, meter, dba, full_scale)
    taken = {}
    for path in (file, *more):
        out.talk(f"{path}: measuring")
        taken[str(path)] = work.measure_file(
            path, recording, session, far=far, calibration=calibration
        )
    if format == "json":
        only = next(iter(taken.values())) if len(taken) == 1 else None
        out.json_payload(work.taken_answer(only) if only else work.results_answer(taken))
    else:
        out.payload("\n\n".join(say.taken(name, one) for name, one in taken.items()))
    return Exit.FINDINGS if any(one.unusable for one in taken.values()) else Exit.OK


def _alone(session: Path, more: tuple[Path, ...], given: list[str]) -> None:
    """Refuse what would mean nothing beside a session."""
    from wellheard.errors import UsageError

    if more or given:
        raise UsageError(
            f"{session}: a session says itself what its recordings are; give it alone, without "
            f"{given[0] if given else more[0]}"
        )


def _meant(kind: str, given: list[str]) -> None:
    """Refuse options that mean nothing of this kind."""
    from wellheard.errors import UsageError

    for option in given:
        kinds = OF.get(option, (kind,))
        if kind not in kinds:
            raise UsageError(f"{option}: is of --kind {' or '.join(kinds)}, not of {kind}")
    if {"--far", "--loopback"} <= set(given):
        raise UsageError("--far and --loopback: one of them, where the far end was recorded")


def _asked(
    kind: str, signal: dict[str, Any], channel: int | None, loopback: int | None
) -> tuple[Session, Recording]:
    """A session with one recording, as the options say it."""
    from wellheard.cli.sweep import swept

    channels = {"channel": channel, "loopback": loopback}
    said = {name: value for name, value in channels.items() if value is not None}
    session = swept(signal, recordings={"asked": {"file": "asked", "kind": kind, **said}})
    return session, session.recordings["asked"]


def _calibration(
    calibrator: Path | None,
    level: float | None,
    meter: Path | None,
    dba: float | None,
    full_scale: float | None,
) -> Calibration | None:
    from wellheard.cli.sweep import swept
    from wellheard.errors import UsageError
    from wellheard.workflow import measuring as work

    ways = {"--calibrator": calibrator, "--meter": meter, "--full-scale": full_scale}
    given = [name for name, value in ways.items() if value is not None]
    if len(given) > 1:
        raise UsageError(f"{' and '.join(given)}: one of them")
    if (meter is None) != (dba is None):
        raise UsageError("--meter and --dba: give both, the recording and what the meter read")
    if level is not None and calibrator is None:
        raise UsageError("--level: is of a calibrator; add --calibrator, a recording of it")
    if not given:
        return None
    path = calibrator or meter
    if calibrator is not None and level is None:
        level = CALIBRATOR_DB
    said = {
        "file": None if path is None else "asked",
        "level_db": level,
        "level_dba": dba,
        "full_scale_db": full_scale,
    }
    files = swept({}, calibration={"asked": said}).calibration["asked"]
    if path is None:
        return work.calibration_of(given[0], files, Path())
    named = files.model_copy(update={"file": path.name})
    return work.calibration_of(given[0], named, path.parent)
