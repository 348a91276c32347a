"""A session of measurement as a folder of real files; everything in it is invented."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
import yaml

from wellheard.measurement import audio

RATE = 48000


def _response(rng: np.random.Generator, *, time: float, ratio: float) -> np.ndarray[Any, Any]:
    """A direct sound and an exponential decay of noise after it, over a floor 100 dB below."""
    t = np.arange(int(1.8 * RATE)) / RATE
    decay = rng.standard_normal(len(t)) * np.exp(-6.9078 * t / time)
    response = np.concatenate([np.zeros(480), decay / np.sqrt(np.sum(decay**2))])
    response[480] += np.sqrt(ratio)
    return 0.5 * response / np.max(np.abs(response)) + 3e-6 * rng.standard_normal(len(response))


def write_session(folder: Path) -> None:
    """Write a session: three responses, noise and speech, one recording that is only planned.

    It is of ``tests/cases/rooms/there-and-back.room.yaml``.
    """
    folder.mkdir()
    rng = np.random.default_rng(7)
    sounds = {
        "near": _response(rng, time=0.4, ratio=0.8),
        "far": _response(rng, time=0.4, ratio=0.5),
        "quiet": 3e-5 * rng.standard_normal(2 * RATE),
        "loud": 1e-2 * rng.standard_normal(2 * RATE),
    }
    for name, samples in sounds.items():
        (folder / f"{name}.wav").write_bytes(audio.wav_bytes(samples[:, None], RATE))
    form = {
        "wellheard_session": 1,
        "source": {"dba_at_1m": 66},
        "calibration": {"cal": {"full_scale_db": 110}},
        "recordings": {
            "a-m1": {"file": "near.wav", "kind": "impulse-response", "from": "a", "to": "m1"},
            "b-m1": {"file": "far.wav", "kind": "impulse-response", "from": "b", "to": "m1"},
            "far-a": {"file": "near.wav", "kind": "impulse-response", "from": "far-end", "to": "a"},
            "noise-m1": {"file": "quiet.wav", "kind": "noise", "to": "m1"},
            "noise-a": {"file": "quiet.wav", "kind": "noise", "to": "a", "calibration": "cal"},
            "speech-m1": {"file": "loud.wav", "kind": "speech", "from": "a", "to": "m1"},
            "later": {"file": "later.wav", "kind": "speech", "from": "far-end", "to": "b"},
        },
    }
    (folder / "session.yaml").write_text(yaml.safe_dump(form, sort_keys=False), "utf-8")
