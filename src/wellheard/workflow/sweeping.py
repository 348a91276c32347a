"""Test signals as files, and the folder of a session that is still to be recorded."""

from __future__ import annotations

import os
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final, Literal, TypeAlias

import numpy as np

from wellheard import files
from wellheard.acoustics.levels import a_weighted_level_db
from wellheard.arrays import Array
from wellheard.bands import OCTAVES
from wellheard.errors import InputError
from wellheard.forms.writing import block
from wellheard.measurement import audio, signals
from wellheard.measurement.levels import octave_levels_db
from wellheard.measurement.session import FILE, SweepSignal, parse_session
from wellheard.workflow.design import Progress, predict, quiet
from wellheard.workflow.load import Loaded, document_hash
from wellheard.workflow.session_plan import (
    BOTH,
    CALIBRATION,
    ECHO_SECONDS,
    FAR_TALKS,
    MOST_PLACES,
    NEAR_ALONE,
    NEAR_TALKS,
    STEADY_SECONDS,
    SessionPlan,
    Step,
    check_arrangement,
    plan,
)
from wellheard.workflow.session_sheet import cautions, sheet
from wellheard.workflow.session_text import HEAD
from wellheard.workflow.sessions import unnamed_text

SignalKind: TypeAlias = Literal["sweep", "pink", "speech"]
PLAN: Final = "plan.txt"
NOISE_LEVEL_DBFS: Final = -20.0
"""Root mean square of noise: peaks of it stay below full scale; common practice, no source."""
SEED: Final = 1
FLAC_CHANNELS: Final = 8


@dataclass(frozen=True)
class Made:
    """A signal as a file.

    Attributes
    ----------
    path : Path
    seconds : float
    words : str
        What it is.
    """

    path: Path
    seconds: float
    words: str


@dataclass(frozen=True)
class Planned:
    """A folder that waits for its recordings.

    Attributes
    ----------
    folder : Path
    plan : SessionPlan
    written : tuple of str
        Files in it, in the order in which they were written.
    cautions : tuple of str
    """

    folder: Path
    plan: SessionPlan
    written: tuple[str, ...]
    cautions: tuple[str, ...]


def write_sweep(path: Path, signal: SweepSignal, *, outputs: int = 1, replace: bool) -> list[Made]:
    """Write a sweep; for several outputs one file for each, which leaves the others silent.

    Parameters
    ----------
    path : Path
        Ends in .wav or .flac; several files get a number before that.
    signal : SweepSignal
        What it is like.
    outputs : int
        Channels of each file, and files.
    replace : bool
        Whether a file that exists may be replaced.

    Raises
    ------
    InputError
        It cannot be written, would be too long, or FLAC has not so many channels.
    """
    if not 1 <= outputs <= audio.MOST_CHANNELS:
        raise InputError(f"{outputs} outputs; 1 to {audio.MOST_CHANNELS} are allowed")
    played = signals.sweep(signal)
    if len(played) * outputs > audio.MOST_SAMPLES:
        raise InputError(
            f"{len(played) / signal.rate:.0f} s for {outputs} outputs; at most "
            f"{audio.MOST_SAMPLES:,} samples are written: fewer repeats, or fewer outputs"
        )
    words = (
        f"{signal.from_hz:g} Hz to {signal.to_hz:g} Hz in {signals.sweep_seconds(signal):.2f} s, "
        f"{signal.silence:g} s of silence after it"
        + (f", {signal.repeats} times" if signal.repeats > 1 else "")
    )
    if outputs == 1:
        return [_written(path, played, signal.rate, words, replace=replace)]
    made = []
    for number in range(1, outputs + 1):
        samples = np.zeros((len(played), outputs))
        samples[:, number - 1] = played
        target = path.with_name(f"{path.stem}-{number}{path.suffix}")
        said = f"channel {number} of {outputs}: {words}"
        made.append(_written(target, samples, signal.rate, said, replace=replace))
    return made


def write_noise(
    path: Path,
    kind: Literal["pink", "speech"],
    *,
    seconds: float,
    rate: float,
    level_dbfs: float = NOISE_LEVEL_DBFS,
    seed: int = SEED,
    replace: bool,
) -> Made:
    """Write pink noise, or noise with the spectrum of speech.

    Parameters
    ----------
    path : Path
        Ends in .wav or .flac.
    kind : str
        "pink" or "speech".
    seconds, rate, level_dbfs, seed
        As in `wellheard.measurement.signals`.
    replace : bool
        Whether a file that exists may be replaced.

    Raises
    ------
    InputError
        It cannot be written, would be too long, or exceed full scale.
    """
    make = signals.pink_noise if kind == "pink" else signals.speech_noise
    samples = make(seconds, rate, level_dbfs=level_dbfs, seed=seed)
    words = "pink noise" if kind == "pink" else "noise with the spectrum of speech"
    return _written(path, samples, rate, words, replace=replace)


def plan_session(
    loaded: Loaded,
    folder: Path,
    signal: SweepSignal,
    *,
    arrangement: str = "",
    places: int = MOST_PLACES,
    loopback: bool = False,
    replace: bool = False,
    say: Progress = quiet,
) -> Planned:
    """Write a folder with what to play, what to record and how, and a session to be filled in.

    Parameters
    ----------
    loaded : Loaded
        The document.
    folder : Path
        New or empty, unless ``replace``.
    signal : SweepSignal
        The sweep.
    arrangement : str
        How a room that divides stands.
    places : int
        Ears, and talking points, at most.
    loopback : bool
        Whether a second channel records what is played.
    replace : bool
        Plan and signals of a folder with a plan may be written again. Never those of a session
        of which anything is recorded, and no other file is touched.
    say : callable
        Told how far things are.

    Raises
    ------
    InputError
        The folder is not free, nothing is placed that could be measured, or the rate is not whole.
    """
    _check_rate(folder, signal.rate)
    check_free(folder, replace=replace)
    check_arrangement(loaded.room, arrangement)
    say("predicting what is to be expected")
    found = plan(predict(loaded), arrangement=arrangement, places=places)
    say("making signals")
    speech = signals.speech_noise(
        STEADY_SECONDS, signal.rate, level_dbfs=NOISE_LEVEL_DBFS, seed=SEED
    )
    once = signals.one_sweep(signal)
    warned = cautions(found, _dba(once, signal.rate) - _dba(speech, signal.rate))
    text = _session_text(loaded, found, signal, loopback=loopback)
    parse_session(text, folder / FILE)
    sounds = {"signals/sweep.wav": signals.sweep(signal), "signals/speech.wav": speech}
    if any(step.kind == "echo" for step in found.steps):
        sounds["signals/echo.wav"] = _both_ends(signal.rate)
    contents = {name: audio.wav_bytes(made, signal.rate) for name, made in sounds.items()}
    contents[PLAN] = sheet(found, signal, warned, loopback=loopback).encode()
    contents[FILE] = text.encode()
    _write(folder, contents, replace=replace)
    return Planned(folder, found, tuple(contents), warned)


def check_free(folder: Path, *, replace: bool) -> None:
    """Refuse a folder in which something would be lost.

    Raises
    ------
    InputError
        It is no folder, holds something and may not be replaced, or holds recordings.
    """
    if not os.path.lexists(folder):
        return
    if not folder.is_dir():
        raise InputError(f"{folder}: no folder; name a folder that is new or empty")
    try:
        there = sorted(one.name for one in folder.iterdir())
    except OSError as error:
        raise InputError(f"{folder}: {files.reason(error)}; another folder") from None
    if not there:
        return
    own = {"signals", PLAN, FILE}
    others = [name for name in there if name not in own]
    if others:
        raise InputError(
            f"{folder}: holds {others[0]}, and nothing that may be a recording is touched; name "
            "another folder"
        )
    if not replace:
        raise InputError(
            f"{folder}: holds a plan already; name another folder, or add --force to write it again"
        )


def session_answer(found: Planned) -> dict[str, Any]:
    """What was planned, as ``wellheard sweep --format json`` prints it."""
    return {
        "folder": str(found.folder),
        "files": list(found.written),
        "cautions": list(found.cautions),
        "recordings": [
            {
                "id": step.id,
                "file": step.file,
                "kind": step.kind,
                "play": step.signal or None,
                "from": step.source or None,
                "to": step.to,
                "expected_dba": None if step.level_dba is None else round(step.level_dba, 1),
            }
            for step in found.plan.steps
        ],
        "not_measured": list(found.plan.left_out),
    }


def _written(path: Path, samples: Array, rate: float, words: str, *, replace: bool) -> Made:
    _check_rate(path, rate)
    flac = path.suffix.lower() == ".flac"
    if flac and samples.ndim == 2 and samples.shape[1] > FLAC_CHANNELS:
        raise InputError(
            f"{path}: {samples.shape[1]} channels; FLAC has {FLAC_CHANNELS} at most, WAV more"
        )
    data = (audio.flac_bytes if flac else audio.wav_bytes)(samples, rate)
    files.save(path, data, replace=replace)
    return Made(path, len(samples) / rate, words)


def _check_rate(path: Path, rate: float) -> None:
    if not float(rate).is_integer():
        raise InputError(f"{path}: {rate:g} samples a second; a whole number, such as 48000")


def _dba(samples: Array, rate: float) -> float:
    """A-weighted level over the octaves, re full scale."""
    levels = octave_levels_db(samples, rate)
    octaves = tuple(f for f in OCTAVES if f in levels)
    return float(a_weighted_level_db([levels[f] for f in octaves], octaves=octaves))


def _both_ends(rate: float) -> Array:
    """What the far end and the near end say to a canceller, shape (samples, 2)."""
    total = round(ECHO_SECONDS * rate)
    both = np.zeros((total, 2))
    for channel, turns in enumerate((FAR_TALKS, NEAR_TALKS)):
        for turn, (begin, end) in enumerate(turns):
            seed = SEED + 1 + 2 * turn + channel
            said = signals.speech_noise(end - begin, rate, level_dbfs=NOISE_LEVEL_DBFS, seed=seed)
            first = round(begin * rate)
            both[first : first + len(said), channel] = said[: total - first]
    return both


def _session_text(
    loaded: Loaded, found: SessionPlan, signal: SweepSignal, *, loopback: bool
) -> str:
    said: dict[str, Any] = {
        "wellheard_session": 1,
        "title": loaded.room.title,
        "room": document_hash(unnamed_text(loaded)),
        "units": loaded.room.units,
    }
    if found.arrangement:
        said["arrangement"] = found.arrangement
    said |= {
        "occupancy": 0.0,
        "processing": [],
        "signal": signal.model_dump(),
        "source": {"directivity": "human", "dba_at_1m": round(found.speech_dba, 1)},
        "calibration": {
            CALIBRATION: {
                "file": f"{CALIBRATION}-before.wav",
                "after": f"{CALIBRATION}-after.wav",
                "level_db": 94.0,
            }
        },
        "recordings": {step.id: _entry(step, loopback=loopback) for step in found.steps},
    }
    return HEAD + block(said)


def _entry(step: Step, *, loopback: bool) -> dict[str, Any]:
    said: dict[str, Any] = {"file": step.file, "kind": step.kind}
    if step.source:
        said["from"] = step.source
    said["to"] = step.to
    if step.kind == "echo" or (loopback and step.kind == "sweep"):
        said["loopback"] = 2
    if step.calibrated:
        said["calibration"] = CALIBRATION
    if step.facing_deg is not None:
        said["facing_deg"] = round(step.facing_deg, 1)
    if step.cancelling:
        said |= {
            "processing": ["canceller"],
            "near_alone": list(NEAR_ALONE),
            "both": list(BOTH),
        }
    return said


def _write(folder: Path, contents: dict[str, bytes], *, replace: bool) -> None:
    """Write files one by one, the session last: a folder without it is none yet."""
    try:
        (folder / "signals").mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise InputError(f"{folder}: {files.reason(error)}; another folder") from None
    for name, data in contents.items():
        files.save(folder / name, data, replace=replace)
