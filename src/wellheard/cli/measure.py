"""``wellheard measure``."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any, Literal

from cyclopts import Parameter

from wellheard.cli.exits import Exit
from wellheard.cli.output import Format

if TYPE_CHECKING:
    from wellheard.measurement.results import Calibration
    from wellheard.measurement.session import Recording, Session


def measure(
    file: Path,
    /,
    *more: Path,
    kind: Literal["impulse-response", "sweep", "noise", "speech", "echo"] | None = None,
    channel: int = 1,
    loopback: int | None = None,
    far: Path | None = None,
    start: Annotated[float | None, Parameter(name="--from")] = None,
    end: Annotated[float | None, Parameter(name="--to")] = None,
    seconds: float | None = None,
    silence: float | None = None,
    repeats: int | None = None,
    calibrator: Path | None = None,
    level: float = 94.0,
    meter: Path | None = None,
    dba: float | None = None,
    full_scale: float | None = None,
    format: Format = "text",
) -> int:
    """Say what recordings hold: decay, clarity, STI, noise, echo.

    A session's folder is measured whole, on all cores. Single files are all of one kind.

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
        Of each file, from 1.
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
        What the calibrator makes: 94 or 114 dB.
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
    from wellheard.errors import UsageError
    from wellheard.measurement.session import FILE
    from wellheard.workflow import measuring as work

    if file.is_dir() or file.name == FILE:
        if more or kind is not None:
            raise UsageError(
                f"{file}: a session says itself what its recordings are; give it alone, without "
                "--kind"
            )
        found = work.measure_session(file, say=out.talk)
        if format == "json":
            out.json_payload(work.session_answer(found))
        else:
            out.payload(say.session(found))
        return Exit.OK
    asked = {
        "from_hz": start, "to_hz": end, "seconds": seconds, "silence": silence, "repeats": repeats
    }  # fmt: skip
    session, recording = _asked(
        kind or "impulse-response",
        {name: value for name, value in asked.items() if value is not None},
        channel=channel,
        loopback=loopback,
    )
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
    return Exit.OK


def _asked(
    kind: str, signal: dict[str, Any], *, channel: int, loopback: int | None
) -> tuple[Session, Recording]:
    """A session with one recording, as the options say it."""
    from pydantic import ValidationError

    from wellheard.errors import UsageError
    from wellheard.measurement.session import FORM, VERSION, Session

    if signal and kind != "sweep":
        raise UsageError(f"--{next(iter(signal))}: is of a sweep; add --kind sweep")
    data = {
        "wellheard_session": VERSION,
        "signal": signal,
        "recordings": {
            "asked": {"file": "asked", "kind": kind, "channel": channel, "loopback": loopback}
        },
    }
    try:
        session = Session.model_validate(data, by_name=False, by_alias=True)
    except ValidationError as error:
        refused = next(FORM.refusals(error.errors(include_url=False)))
        raise UsageError(f"--{refused.path[-1]}: {refused.what}; {refused.allowed}") from None
    recording: Recording = session.recordings["asked"]
    return session, recording


def _calibration(
    calibrator: Path | None,
    level: float,
    meter: Path | None,
    dba: float | None,
    full_scale: float | None,
) -> Calibration | None:
    from wellheard.errors import UsageError
    from wellheard.measurement.session import CalibrationFiles
    from wellheard.workflow import measuring as work

    given = [
        name
        for name, value in (
            ("--calibrator", calibrator), ("--meter", meter), ("--full-scale", full_scale)
        )
        if value is not None
    ]  # fmt: skip
    if len(given) > 1:
        raise UsageError(f"{' and '.join(given)}: one of them")
    if (meter is None) != (dba is None):
        raise UsageError("--meter and --dba: give both, the recording and what the meter read")
    if not given:
        return None
    path = calibrator or meter
    files = CalibrationFiles(
        file=None if path is None else path.name,
        level_db=level if calibrator else None,
        level_dba=dba,
        full_scale_db=full_scale,
    )
    return work.calibration_of(given[0], files, Path() if path is None else path.parent)
