"""``wellheard record``."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

from cyclopts import Parameter

from wellheard.cli.exits import Exit
from wellheard.cli.output import Format

if TYPE_CHECKING:
    from wellheard.workflow.recording import Recorded, SoundCard


def record(
    *,
    output: Annotated[Path | None, Parameter(name=["--output", "-o"])] = None,
    seconds: float | None = None,
    device: str = "",
    rate: float | None = None,
    channels: int = 1,
    play: Path | None = None,
    devices: Annotated[bool, Parameter(negative="")] = False,
    force: Annotated[bool, Parameter(negative="")] = False,
    format: Format = "text",
) -> int:
    """Record with a sound card, and play a test signal meanwhile.

    Needs the extra: pip install 'wellheard[sound]'. Nothing is processed. Before
    anything is played, turn the amplifier down, keep everybody away from the
    loudspeakers, and bring the level up slowly. A microphone hears everybody: say
    so first, and record only with their consent.

    Parameters
    ----------
    output
        WAV or FLAC of 24 bit to write.
    seconds
        How long; with --play as long as the signal unless given.
    device
        Number or part of the name of the sound card, as --devices has it.
    rate
        Samples in a second; the device's own, or that of the signal, unless given.
    channels
        How many to record, from the first.
    play
        Play the first channel of this WAV or FLAC while recording.
    devices
        List the devices instead of recording.
    force
        Replace a file that exists.
    format
        text or json.
    """
    import sys

    from wellheard.cli import output as out
    from wellheard.errors import InputError, UsageError
    from wellheard.workflow import recording as work

    if devices:
        _list(work.devices(work.sound_cards()), format)
        return Exit.OK
    if output is None:
        raise UsageError("--output: not given; a name that ends in .wav or .flac")
    work.check_name(output)
    if output.exists() and not force:
        raise InputError(f"{output}: exists already; name another file, or add --force")
    cards = work.sound_cards()
    if play is not None:
        from wellheard.workflow.playing import CAUTIONS

        out.say("\n".join(CAUTIONS))
        if sys.stdin.isatty():
            input("Enter plays it, Ctrl-C does not. ")
    out.talk("recording …")
    found = work.record(
        cards, seconds=seconds, device=device, rate=rate, channels=channels, play=play
    )
    work.save(found, output, replace=force)
    answer = _answer(found, str(output))
    if format == "json":
        out.json_payload(answer)
    else:
        out.payload(_text(found, str(output)))
    return Exit.FINDINGS if any(one.severity == "error" for one in found.faults) else Exit.OK


def _list(found: tuple[SoundCard, ...], format: Format) -> None:
    from dataclasses import asdict

    from wellheard.cli import output as out
    from wellheard.cli.render import table

    if format == "json":
        out.json_payload({"devices": [asdict(one) for one in found]})
        return
    rows = [[str(d.number), d.name, str(d.inputs), str(d.outputs), f"{d.rate:g}"] for d in found]
    out.payload(table(["number", "device", "in", "out", "Hz"], rows))


def _text(found: Recorded, name: str) -> str:
    peaks = " and ".join(_peak(peak) for peak in found.peaks_db)
    lines = [f"{name}: {found.seconds:.1f} s at {found.rate:g} Hz, loudest {peaks} re full scale"]
    lines += [f"{one.severity}: {one.message}; {one.remedy}" for one in found.faults]
    return "\n".join(lines)


def _peak(peak_db: float | None) -> str:
    return "silence" if peak_db is None else f"{peak_db:.1f} dB".replace("-", "−")


def _answer(found: Recorded, name: str) -> dict[str, object]:
    from dataclasses import asdict

    return {
        "file": name,
        "seconds": found.seconds,
        "rate": found.rate,
        "peaks_db": list(found.peaks_db),
        "faults": [asdict(one) for one in found.faults],
    }
