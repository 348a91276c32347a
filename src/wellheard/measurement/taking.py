"""From the file of a recording to what it says."""

from __future__ import annotations

from pathlib import Path

from wellheard.arrays import Array
from wellheard.errors import InputError
from wellheard.measurement import audio, canceller_trial, deconvolution, echo_paths, faults
from wellheard.measurement import levels as steady
from wellheard.measurement.responses import analyse
from wellheard.measurement.results import Audio, Calibration, Fault, ImpulseResponse
from wellheard.measurement.session import Recording, Session
from wellheard.measurement.taken import Taken

OF_CANCELLING = ("dropout", "jump", "silence", "too-quiet")
"""What a perfect canceller with a gate behind it does by itself, and is no fault of a recording."""


def take(
    recording: Recording,
    session: Session,
    path: Path,
    *,
    far: Path | None = None,
    calibration: Calibration | None = None,
) -> Taken:
    """What a recording says.

    Parameters
    ----------
    recording : Recording
        What it is of.
    session : Session
        What was played.
    path : Path
        Where its file lies.
    far : Path, optional
        Of kind echo: where the file of the far end lies, if it is not a channel of the same one.
    calibration : Calibration, optional
        Of its microphone and input.

    Raises
    ------
    InputError
        The file cannot be read, or lacks a channel that is asked for.
    """
    heard = audio.read(path)
    samples = heard.channel(recording.channel)
    found = faults.of_recording(samples, heard.rate, bits=heard.bits)
    if recording.kind == "echo":
        found = tuple(fault for fault in found if fault.code not in OF_CANCELLING)
    if any(fault.severity == "error" for fault in found):
        return Taken(recording.kind, faults=found)
    if recording.kind in ("noise", "speech"):
        result = steady.noise(samples, heard.rate, calibration)
        return Taken(recording.kind, noise=result, faults=_once(found, result.faults))
    if recording.kind == "echo":
        near, sent = _sent(recording, heard, samples, far)
        trial = canceller_trial.trial(
            sent, near, heard.rate, near_alone=recording.near_alone, both=recording.both
        )
        return Taken(recording.kind, trial=trial, faults=_once(found, trial.faults))
    return _response(recording, session, heard, samples, found)


def _response(
    recording: Recording,
    session: Session,
    heard: Audio,
    samples: Array,
    found: tuple[Fault, ...],
) -> Taken:
    if recording.kind == "sweep":
        played = None if recording.loopback is None else heard.channel(recording.loopback)
        found = _once(found, faults.of_sweep(samples, session.signal, heard.rate))
        if any(fault.severity == "error" for fault in found):
            return Taken(recording.kind, faults=found)
        impulse = deconvolution.deconvolve(samples, session.signal, heard.rate, played=played)
    else:
        found = _once(found, faults.of_response(samples, heard.rate))
        impulse = ImpulseResponse(samples, heard.rate, zero=0, absolute=False)
    found = _once(found, impulse.faults)
    if any(fault.severity == "error" for fault in found):
        return Taken(recording.kind, faults=found)
    result = analyse(impulse)
    found = _once(found, result.faults)
    if any(fault.severity == "error" for fault in found):
        return Taken(recording.kind, faults=found)
    return Taken(
        recording.kind,
        response=result,
        impulse=impulse,
        echo=echo_paths.echo_loss(impulse, result),
        faults=found,
    )


def _sent(
    recording: Recording, heard: Audio, samples: Array, far: Path | None
) -> tuple[Array, Array]:
    """What came back and what the far end had sent, equally long."""
    if far is not None:
        other = audio.read(far)
        if other.rate != heard.rate:
            raise InputError(
                f"{other.name}: {other.rate:g} Hz beside {heard.rate:g} Hz of {heard.name}; "
                "both recordings of one rate"
            )
        sent = other.channel(1)
    elif recording.loopback is not None:
        sent = heard.channel(recording.loopback)
    else:
        raise InputError(
            f"{heard.name}: what the far end sent is not there; name its channel as loopback, or "
            "its file as far"
        )
    length = min(len(samples), len(sent))
    return samples[:length], sent[:length]


def _once(*several: tuple[Fault, ...]) -> tuple[Fault, ...]:
    """Faults of several readings of one recording, each code once."""
    return tuple({fault.code: fault for found in several[::-1] for fault in found[::-1]}.values())[
        ::-1
    ]
