"""Whatever is done to a recording: it is read, or refused in one sentence."""

from __future__ import annotations

import io
import runpy
import struct
from collections.abc import Callable
from contextlib import AbstractContextManager
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import soundfile
from hypothesis import given, settings
from hypothesis import strategies as st

from wellheard.errors import InputError
from wellheard.measurement import audio

MUTATIONS = runpy.run_path(str(Path(__file__).with_name("mutations.py")))
bounded: Callable[[], AbstractContextManager[None]] = MUTATIONS["bounded"]
tried: Callable[..., settings] = MUTATIONS["tried"]
FRACTIONS: st.SearchStrategy[float] = MUTATIONS["FRACTIONS"]


def _sound(kind: str, subtype: str, channels: int) -> bytes:
    samples = np.random.default_rng(channels).uniform(-0.3, 0.3, (3000, channels))
    target = io.BytesIO()
    soundfile.write(target, samples, 48000, format=kind, subtype=subtype)
    return target.getvalue()


SOUNDS = [
    _sound("WAV", "PCM_16", 1),
    _sound("WAV", "PCM_24", 2),
    _sound("WAV", "FLOAT", 1),
    _sound("WAV", "DOUBLE", 1),
    _sound("WAVEX", "PCM_24", 4),
    _sound("RF64", "PCM_16", 2),
    _sound("W64", "PCM_32", 1),
    _sound("FLAC", "PCM_16", 1),
    _sound("FLAC", "PCM_24", 2),
]
WORDS = st.sampled_from([0, 1, 2, 3, 7, 0x55, 0xFFFE, 2**16 - 1, 2**31 - 1, 2**31, 2**32 - 1])
IN_HEADER = st.integers(0, 100)
CHANGES: st.SearchStrategy[Any] = st.one_of(
    st.tuples(st.just("word"), IN_HEADER, WORDS),
    st.tuples(st.just("half"), IN_HEADER, WORDS),
    st.tuples(st.just("byte"), IN_HEADER, st.integers(0, 255)),
    st.tuples(st.just("anywhere"), FRACTIONS, st.binary(min_size=1, max_size=12)),
    st.tuples(st.just("insert"), IN_HEADER, st.binary(min_size=1, max_size=12)),
    st.tuples(st.just("drop"), IN_HEADER, st.integers(1, 30)),
    st.tuples(st.just("end"), FRACTIONS, st.just(0)),
)


def changed(sound: bytes, changes: list[tuple[str, Any, Any]]) -> bytes:
    """Bytes of a recording after changes."""
    data = bytearray(sound)
    for kind, at, value in changes:
        here = int(at * len(data)) if isinstance(at, float) else min(at, len(data))
        if kind == "word":
            data[here : here + 4] = struct.pack("<I", value)
        elif kind == "half":
            data[here : here + 2] = struct.pack("<H", value & 0xFFFF)
        elif kind == "byte":
            data[here : here + 1] = bytes([value])
        elif kind == "anywhere":
            data[here : here + len(value)] = value
        elif kind == "insert":
            data[here:here] = value
        elif kind == "drop":
            del data[here : here + value]
        else:
            del data[here:]
    return bytes(data)


MUTANTS = st.tuples(st.sampled_from(SOUNDS), st.lists(CHANGES, min_size=1, max_size=4)).map(
    lambda pair: changed(*pair)
) | st.binary(max_size=200)


@pytest.fixture(scope="module")
def path(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return tmp_path_factory.mktemp("recordings") / "mutant.wav"


@tried()
@given(raw=MUTANTS)
def test_a_spoilt_recording_is_read_or_refused_in_one_sentence(path: Path, raw: bytes) -> None:
    path.write_bytes(raw)
    with bounded():
        try:
            found = audio.read(path)
        except InputError as error:
            message = str(error)
            assert message.startswith(f"{path}: ")
            assert ";" in message
            assert "\n" not in message
            assert len(message) < 400 + len(str(path))
            return
    assert np.isfinite(found.samples).all()
    assert 8000 <= found.rate <= 192000
    assert found.samples.size <= 2 * len(raw) * 8
    assert audio.probe(path).frames == len(found.samples)


def test_every_recording_reads_before_it_is_spoilt(path: Path) -> None:
    for sound in SOUNDS:
        path.write_bytes(sound)
        assert audio.read(path).samples.shape[0] == 3000
