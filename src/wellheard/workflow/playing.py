"""Signals of a session as files to play."""

from __future__ import annotations

from pathlib import Path
from typing import Any, Final, Literal, TypeAlias

from wellheard.dossier.words import MINUS, NBSP
from wellheard.errors import InputError
from wellheard.measurement import audio, signals
from wellheard.measurement.session import SweepSignal
from wellheard.workflow.arriving import LARGEST
from wellheard.workflow.session_text import opened

Played: TypeAlias = Literal["sweep", "speech"]

SPEECH_SECONDS: Final = 20.0
"""Of speech-shaped noise: long enough for its level at 125 Hz to stand still."""
SPEECH_SEED: Final = 1
SPEECH_BELOW_DB: Final = 14.0
"""Its root mean square below the peak of the sweep, so that its own peaks are about as high [M]."""
NOISE_SECONDS: Final = 30.0
"""Of a room in silence; common practice, no source [C]."""
LEAD: Final = 0.5
TAIL: Final = 1.0
"""What is recorded before and after a signal, so that no latency cuts it off. [s]"""
QUIET: Final = 0.1
"""Share of the amplitude of a trial: 20 dB below the signal."""
LEVELS: Final = range(-60, 1)
"""That a page tells a reader. [dB re full scale]"""
LOWEST_RATE: Final = 8000.0
HIGHEST_RATE: Final = 192000.0

CAUTIONS: Final = (
    "Before anything is played, turn the amplifier all the way down; bring it up slowly while the "
    "quiet trial runs. Nobody is nearer than 1 m to a loudspeaker, and nobody wears headphones.",
    "Tell everybody in the room and next door first. Who wears hearing aids or an implant, or has "
    "tinnitus, leaves before it begins.",
    "A sweep sounds quieter than it is, and keeps its level at high frequencies, where "
    "loudspeakers take least. Stay within what they may take, and below 85 dB(A) where anybody is; "
    "the law of the place on noise goes before.",
)


def signal(folder: Path, kind: Played, rate: float) -> bytes:
    """What is played for recordings of a kind, as a WAV file.

    Parameters
    ----------
    folder : Path
        Of the session, whose sweep and level it is.
    kind : str
        The sweep, or speech-shaped noise.
    rate : float
        Of the player. [Hz]

    Raises
    ------
    InputError, DocumentError
        There is no session, or the player's rate cannot carry the signal.
    """
    wanted = opened(folder).session.signal
    if not LOWEST_RATE <= rate <= HIGHEST_RATE:
        raise InputError(f"{rate:g} Hz; a player of {LOWEST_RATE:g} to {HIGHEST_RATE:g} Hz")
    if kind == "speech":
        noise = signals.speech_noise(
            SPEECH_SECONDS, rate, level_dbfs=wanted.level_dbfs - SPEECH_BELOW_DB, seed=SPEECH_SEED
        )
        return audio.wav_bytes(noise, rate)
    if wanted.to_hz > rate / 2:
        raise InputError(
            f"the sweep goes to {wanted.to_hz:g} Hz, more than a player of {rate:g} Hz can play; "
            f"set its end to {rate / 2:g} Hz or less"
        )
    return audio.wav_bytes(signals.sweep(wanted.model_copy(update={"rate": rate})), rate)


def capture_plan(wanted: SweepSignal) -> dict[str, Any]:
    """What a page has to know to record for a session: plain data for its script.

    Notes
    -----
    Levels are words beside the smallest sample that rounds to them: no script works out any.
    """
    return {
        "levels": [[10 ** ((level - 0.5) / 20), _level_words(level)] for level in LEVELS],
        "seconds": {
            "sweep": round(seconds(wanted) + LEAD + TAIL, 1),
            "speech": SPEECH_SECONDS,
            "noise": NOISE_SECONDS,
            "most": audio.MOST_SECONDS,
        },
        "plays": {"sweep": "the sweep", "speech": "speech-shaped noise"},
        "lead": LEAD,
        "tail": TAIL,
        "quiet": QUIET,
        "largest": LARGEST,
    }


def _level_words(level_db: int) -> str:
    return f"{MINUS if level_db else ''}{abs(level_db)}{NBSP}dB"


def seconds(wanted: SweepSignal) -> float:
    """How long all sweeps of a session last, with their silence."""
    return wanted.repeats * (signals.sweep_seconds(wanted) + wanted.silence)
