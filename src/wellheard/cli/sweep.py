"""``wellheard sweep``."""

from __future__ import annotations

import textwrap
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any, Literal

from cyclopts import Parameter

from wellheard.cli.exits import Exit
from wellheard.cli.output import Format

if TYPE_CHECKING:
    from wellheard.measurement.session import Session, SweepSignal
    from wellheard.workflow.sweeping import Made

Kind = Literal["sweep", "pink", "speech"]

OPTIONS = {
    "from_hz": "--from",
    "to_hz": "--to",
    "level_dbfs": "--level",
    "level_db": "--level",
    "level_dba": "--dba",
    "full_scale_db": "--full-scale",
}
"""What a field of ``session.yaml`` is called where it is typed, if not by its own name."""


def sweep(
    room: Path | None = None,
    /,
    *,
    output: Annotated[Path, Parameter(name=["--output", "-o"])],
    kind: Kind | None = None,
    start: Annotated[float | None, Parameter(name="--from")] = None,
    end: Annotated[float | None, Parameter(name="--to")] = None,
    seconds: float | None = None,
    silence: float | None = None,
    fade: float | None = None,
    repeats: int | None = None,
    level: float | None = None,
    rate: float | None = None,
    outputs: int | None = None,
    seed: int | None = None,
    places: int | None = None,
    arrangement: str | None = None,
    loopback: Annotated[bool, Parameter(negative="")] = False,
    force: Annotated[bool, Parameter(negative="")] = False,
    format: Format = "text",
) -> int:
    """Write a signal to measure with, or for a ROOM all that a session of measurement needs.

    For a ROOM the output is a folder: signals, plan.txt with what to play
    and record where, how loud and in which order, and session.yaml that
    names the recordings to be made. Signals can be loud: begin with the
    volume all the way down.

    Parameters
    ----------
    room
        The room document, with its devices placed.
    output
        A file that ends in .wav or .flac, 24 bit; for a ROOM a folder.
    kind
        Of a single file: an exponential sweep (unless given), pink noise, or noise with the
        spectrum of speech.
    start
        Of a sweep: the frequency at which it begins, 50 Hz unless given.
    end
        Of a sweep: the frequency at which it ends, 20000 Hz unless given.
    seconds
        How long it takes: a sweep 6 s, noise 30 s unless given.
    silence
        Of a sweep: after each, 3 s unless given; longer than the decay.
    fade
        Of a sweep: at both ends, 0.02 s unless given.
    repeats
        Of a sweep: how often, once unless given.
    level
        In dB re full scale: of a sweep its peak, -12 unless given; of noise its mean, -20.
    rate
        Samples per second, 48000 unless given.
    outputs
        Of a sweep: write so many files of so many channels, each with the sweep in one of them.
    seed
        Of noise: another number gives another noise.
    places
        Of a session: ears, and talking points, at most; 6 unless given.
    arrangement
        Of a session, in a room that divides: how it stands.
    loopback
        Of a session: a second channel records what is played.
    force
        Replace a file that exists, or write a plan again of which nothing is recorded.
    format
        json prints what was written to stdout.
    """
    from wellheard.errors import InputError, UsageError
    from wellheard.workflow import sweeping as work
    from wellheard.workflow.session_plan import STEADY_SECONDS

    asked = {
        "--from": start,
        "--to": end,
        "--seconds": seconds,
        "--silence": silence,
        "--fade": fade,
        "--repeats": repeats,
        "--level": level,
        "--rate": rate,
    }
    for_file = {"--kind": kind, "--outputs": outputs, "--seed": seed}
    for_room = {
        "--places": places, "--arrangement": arrangement, "--loopback": loopback or None
    }  # fmt: skip
    if room is not None:
        _none_of(for_file, "a single file, not of a session")
        return _session(
            room,
            output,
            swept(asked).signal,
            places=places,
            arrangement=arrangement or "",
            loopback=loopback,
            force=force,
            format=format,
        )
    _none_of(for_room, "a session; name the ROOM too")
    if output.suffix.lower() not in (".wav", ".flac"):
        raise UsageError(f"--output: {output.name!r}; a name that ends in .wav or .flac")
    if output.exists() and not force:
        raise InputError(f"{output}: exists already; name another file, or add --force")
    if kind in ("pink", "speech"):
        steady = ("--seconds", "--level", "--rate")
        _none_of({k: v for k, v in asked.items() if k not in steady}, "a sweep")
        _none_of({"--outputs": outputs}, "a sweep")
        made = [
            work.write_noise(
                output,
                kind,
                seconds=STEADY_SECONDS if seconds is None else seconds,
                rate=48000.0 if rate is None else rate,
                level_dbfs=work.NOISE_LEVEL_DBFS if level is None else level,
                seed=work.SEED if seed is None else seed,
                replace=force,
            )
        ]
    else:
        _none_of({"--seed": seed}, "noise")
        count = 1 if outputs is None else outputs
        made = work.write_sweep(output, swept(asked).signal, outputs=count, replace=force)
    _told(made, format)
    return Exit.OK


def _none_of(options: dict[str, Any], what: str) -> None:
    """Refuse options that mean nothing here."""
    from wellheard.errors import UsageError

    given = [name for name, value in options.items() if value is not None]
    if given:
        raise UsageError(f"{given[0]}: is of {what}")


def swept(asked: dict[str, Any], **parts: Any) -> Session:
    """A session with a sweep as the options say it, and other parts of it.

    Parameters
    ----------
    asked : dict
        By option, such as ``--from``; what is None was not given.
    **parts
        Of ``session.yaml``.

    Raises
    ------
    UsageError
        With the option that is wrong.
    """
    from pydantic import ValidationError

    from wellheard.errors import UsageError
    from wellheard.measurement.session import FORM, VERSION, Session

    fields = {"--from": "from_hz", "--to": "to_hz", "--level": "level_dbfs"}
    given = {fields.get(k, k.removeprefix("--")): v for k, v in asked.items() if v is not None}
    data = {"wellheard_session": VERSION, "signal": given, **parts}
    try:
        return Session.model_validate(data, by_name=False, by_alias=True)
    except ValidationError as error:
        refused = next(FORM.refusals(error.errors(include_url=False)))
        field = str(refused.path[-1])
        option = "" if field == "signal" else OPTIONS.get(field, f"--{field}") + ": "
        raise UsageError(f"{option}{refused.what}; {refused.allowed}") from None


def _told(made: list[Made], format: Format) -> None:
    from wellheard.cli import output as out

    if format == "json":
        out.json_payload(
            {
                "files": [
                    {"file": str(m.path), "seconds": round(m.seconds, 3), "signal": m.words}
                    for m in made
                ]
            }
        )
    else:
        out.payload("\n".join(f"{m.path}: {m.seconds:.1f} s, {m.words}" for m in made))
    out.say("Signals can be loud: begin with the volume all the way down, nobody near.")


def _session(
    room: Path,
    folder: Path,
    signal: SweepSignal,
    *,
    places: int | None,
    arrangement: str,
    loopback: bool,
    force: bool,
    format: Format,
) -> int:
    from wellheard.cli import output as out
    from wellheard.cli.render import WIDTH
    from wellheard.errors import UsageError
    from wellheard.workflow import session_plan, sweeping
    from wellheard.workflow.load import load

    if places is not None and places < 1:
        raise UsageError(f"--places: {places}; 1 at least is allowed")
    found = sweeping.plan_session(
        load(room),
        folder,
        signal,
        arrangement=arrangement,
        places=session_plan.MOST_PLACES if places is None else places,
        loopback=loopback,
        replace=force,
        say=out.talk,
    )
    if format == "json":
        out.json_payload(sweeping.session_answer(found))
    else:
        out.payload("\n".join(str(folder / name) for name in found.written))
    for caution in found.cautions:
        out.say(textwrap.fill(caution, WIDTH, subsequent_indent="    ", break_on_hyphens=False))
    out.say(f"Now read {folder / sweeping.PLAN}: what to play, where to record it, and what then.")
    return Exit.OK
