"""Recordings with a sound card, and what is played meanwhile.

The library for sound cards is an extra: without it, or without the system's part of it, nothing
else of the program is missing.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final, Protocol, cast

import numpy as np

from wellheard import files
from wellheard.arrays import Array
from wellheard.errors import InputError, UsageError
from wellheard.measurement import audio, faults
from wellheard.measurement.results import Fault
from wellheard.workflow.playing import LEAD, TAIL

INSTALL: Final = (
    "no sound card can be used: install the extra with pip install 'wellheard[sound]', and where "
    "the system has no PortAudio also that: the package libportaudio2 on Debian and its kin, "
    "portaudio elsewhere on Linux"
)
BITS: Final[audio.Bits] = 24
_WIDTH: Final = 2.0 ** (BITS - 1)


class SoundCards(Protocol):
    """What is used of the library for sound cards, `sounddevice`, under its own names."""

    @property
    def PortAudioError(self) -> type[Exception]:
        """What it raises where a device refuses."""

    def query_devices(self) -> Sequence[dict[str, Any]]:
        """Every device: name, number of channels in and out, usual rate."""

    def check_input_settings(self, **settings: Any) -> None:
        """Raise an error where a device cannot record so."""

    def rec(self, frames: int, **settings: Any) -> Array:
        """Record."""

    def playrec(self, data: Array, **settings: Any) -> Array:
        """Play and record at once."""


@dataclass(frozen=True)
class SoundCard:
    """A device of the system.

    Attributes
    ----------
    number : int
        By which it can be named.
    name : str
    inputs, outputs : int
        Channels.
    rate : float
        That it usually runs at. [Hz]
    """

    number: int
    name: str
    inputs: int
    outputs: int
    rate: float


@dataclass(frozen=True, eq=False)
class Recorded:
    """What came from a sound card.

    Attributes
    ----------
    samples : ndarray, shape (samples, channels)
        Re full scale.
    rate : float
        [Hz]
    faults : tuple of Fault
        What can be heard in any channel at once.
    """

    samples: Array
    rate: float
    faults: tuple[Fault, ...]

    @property
    def seconds(self) -> float:
        """How long it is."""
        return len(self.samples) / self.rate

    @property
    def peaks_db(self) -> tuple[float | None, ...]:
        """Loudest sample of each channel re full scale; None where there is nothing. [dB]"""
        peaks = np.abs(self.samples).max(axis=0)
        return tuple(20 * math.log10(peak) if peak > 0 else None for peak in peaks.tolist())


def sound_cards() -> SoundCards:
    """Return the library for sound cards.

    Raises
    ------
    InputError
        It is not installed, or what it needs of the system is not.
    """
    try:
        import sounddevice
    except ImportError:
        raise InputError(INSTALL) from None
    except OSError as error:  # the system's library is not there
        raise InputError(f"{INSTALL} ({error})") from None
    return cast("SoundCards", sounddevice)


def devices(cards: SoundCards) -> tuple[SoundCard, ...]:
    """Every device that can record or play."""
    return tuple(
        SoundCard(
            number,
            str(one["name"]),
            int(one["max_input_channels"]),
            int(one["max_output_channels"]),
            float(one["default_samplerate"]),
        )
        for number, one in enumerate(cards.query_devices())
    )


def record(
    cards: SoundCards,
    *,
    seconds: float | None = None,
    device: str = "",
    rate: float | None = None,
    channels: int = 1,
    play: Path | None = None,
) -> Recorded:
    """Record, and play a file meanwhile if one is named.

    Parameters
    ----------
    cards : SoundCards
        What records.
    seconds : float, optional
        How long; with a file to play as long as that, and a little before and after.
    device : str
        Number, or part of the name, of the one that records and plays; the usual one unless given.
    rate : float, optional
        The device's own, or that of the file, unless given. [Hz]
    channels : int
        How many, from the first.
    play : Path, optional
        WAV or FLAC. Its first channel goes to the first output.

    Raises
    ------
    InputError
        There is no such device, it cannot record so, or the file cannot be read.
    UsageError
        It is not said how long to record, or too long.
    """
    there = devices(cards)
    chosen = _chosen(there, device)
    heard = None if play is None else audio.read(play, channel=1)
    rate = rate or (heard.rate if heard is not None else _usual_rate(there, chosen))
    if heard is not None and rate != heard.rate:
        raise InputError(f"{play}: {heard.rate:g} Hz; record at that rate, not at {rate:g} Hz")
    frames = round(_length(seconds, None if heard is None else heard.seconds) * rate)
    settings = {
        "samplerate": round(rate),
        "channels": channels,
        "dtype": "float32",
        "device": None if chosen is None else chosen.number,
    }
    try:
        cards.check_input_settings(**settings)
        if heard is None:
            samples = cards.rec(frames, blocking=True, **settings)
        else:
            played = _to_play(heard.samples, frames, round(LEAD * rate))
            samples = cards.playrec(played, blocking=True, **settings)
    except (cards.PortAudioError, OSError, ValueError) as error:
        name = "the usual device" if chosen is None else chosen.name
        raise InputError(
            f"{name}: {error}; another device, rate or number of channels, see --devices"
        ) from None
    whole = np.asarray(samples, dtype=np.float64)
    return Recorded(whole, float(round(rate)), _faults(whole, float(round(rate))))


def check_name(path: Path) -> None:
    """Refuse a name that no recording is written under, before any is made.

    Raises
    ------
    UsageError
        It ends neither as WAV nor as FLAC.
    """
    if path.suffix.lower() not in (".wav", ".flac"):
        raise UsageError(f"{path}: ends in {path.suffix!r}; a name that ends in .wav or .flac")


def save(recorded: Recorded, path: Path, *, replace: bool = False) -> None:
    """Write a recording as WAV or FLAC of 24 bit, by the ending of its name.

    Raises
    ------
    InputError
        It cannot be written, or exists and may not be replaced.
    UsageError
        As `check_name`.
    """
    check_name(path)
    # A converter's samples end one step below full scale; floating ones may touch it.
    samples = np.clip(recorded.samples, -1.0, 1.0 - 1.0 / _WIDTH)
    make = audio.flac_bytes if path.suffix.lower() == ".flac" else audio.wav_bytes
    files.save(path, make(samples, recorded.rate, bits=BITS), replace=replace)


def _chosen(there: Sequence[SoundCard], wanted: str) -> SoundCard | None:
    """The device that was named; None is the usual one of the system."""
    recording = [one for one in there if one.inputs]
    if not recording:
        raise InputError("no device that records; plug one in, and see wellheard record --devices")
    if not wanted:
        return None
    if wanted.isascii() and wanted.isdigit():
        found = [one for one in recording if one.number == int(wanted)]
    else:
        found = [one for one in recording if wanted.casefold() in one.name.casefold()]
    if len(found) != 1:
        names = ", ".join(f"{one.number} {one.name}" for one in found or recording)
        which = "several devices" if found else "no device that records"
        raise InputError(f"--device {wanted}: {which} of that name; one of: {names}")
    return found[0]


def _usual_rate(there: Sequence[SoundCard], chosen: SoundCard | None) -> float:
    return (chosen or next(one for one in there if one.inputs)).rate


def _to_play(samples: Array, frames: int, start: int) -> Array:
    """The signal behind silence, as long as is recorded."""
    played = np.zeros((frames, 1))
    part = samples[: max(0, frames - start)]
    played[start : start + len(part)] = part
    return played


def _length(seconds: float | None, played: float | None) -> float:
    if seconds is None:
        if played is None:
            raise UsageError("--seconds: not given; how long to record, or --play a file")
        seconds = LEAD + played + TAIL
    if not 0 < seconds <= audio.MOST_SECONDS:
        raise UsageError(f"--seconds: {seconds:g}; more than 0, at most {audio.MOST_SECONDS:g}")
    return seconds


def _faults(samples: Array, rate: float) -> tuple[Fault, ...]:
    """Those of all channels, each code once."""
    found: dict[str, Fault] = {}
    for channel in samples.T:
        for fault in faults.of_recording(np.ascontiguousarray(channel), rate, bits=BITS):
            found.setdefault(fault.code, fault)
    return tuple(found.values())
