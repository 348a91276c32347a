"""Recordings that lie or are huge: a sentence each, in bounded memory and time."""

from __future__ import annotations

import io
import json
import struct
import subprocess
import sys

import numpy as np
import pytest
import soundfile

from wellheard.measurement import audio

SECONDS = 30
"""Of processor time for all of them, imports included, on the slowest machine."""
BYTES = 2 * 2**30
GROWTH = 96 * 2**20
"""More than the longest of them really holds needs."""

NOISE = np.random.default_rng(5).uniform(-0.1, 0.1, 48000)
WAV = audio.wav_bytes(NOISE, 48000.0)
FLAC = audio.flac_bytes(NOISE, 48000.0)


def riff(claimed: int, *, channels: int = 1, rate: int = 48000, body: bytes = b"") -> bytes:
    """A header of 24 bit that claims so many bytes of data, and what is behind it."""
    frame = 3 * channels
    form = struct.pack("<HHIIHH", 1, channels, rate, rate * frame % 2**32, frame % 2**16, 24)
    return b"".join(
        (
            b"RIFF",
            struct.pack("<I", min(claimed + 36, 2**32 - 1)),
            b"WAVEfmt ",
            struct.pack("<I", 16),
            form,
            b"data",
            struct.pack("<I", claimed),
            body,
        )
    )


def flac(claimed: int) -> bytes:
    """A second of noise under a header that claims so many samples."""
    first = FLAC[21] & 0xF0 | claimed >> 32
    return FLAC[:21] + bytes([first]) + struct.pack(">I", claimed & 0xFFFFFFFF) + FLAC[26:]


def silent_hours() -> bytes:
    """Nearly an hour of silence, packed into a few hundred kilobytes: longer than is read."""
    target = io.BytesIO()
    with soundfile.SoundFile(target, "w", 8000, 1, "PCM_16", format="FLAC") as sound:
        for _ in range(340):
            sound.write(np.zeros(80_000, np.int16))
    return target.getvalue()


def before_its_beginning() -> bytes:
    """RF64 whose data would be so long that its end lies at a negative place."""
    target = io.BytesIO()
    soundfile.write(target, NOISE, 48000, format="RF64", subtype="PCM_16")
    data = bytearray(target.getvalue())
    data[30:34] = struct.pack("<I", 2**32 - 1)
    return bytes(data)


WORST: dict[str, tuple[bytes, str]] = {
    "claims 2 GB": (riff(2**31 - 36, body=WAV[44:]), "48000 x 1"),
    "claims 4 GB": (riff(2**32 - 1, body=WAV[44:]), "48000 x 1"),
    "claims 2 GB and has nothing": (riff(2**31 - 36), "holds no samples"),
    "claims 60 channels": (riff(2**31, channels=60, body=WAV[44:]), "800 x 60"),
    "claims 65535 channels": (riff(2**31, channels=65535, body=WAV[44:]), "; "),
    "claims 4 GHz": (riff(144000, rate=2**32 - 1, body=WAV[44:]), "; "),
    "leads before its beginning": (before_its_beginning(), "48000 x 1"),
    "FLAC claims 9 minutes": (flac(540 * 48000), "; copy or export it again"),
    "FLAC claims a year": (flac(2**36 - 1), "at most 600 s are read"),
    "FLAC of an hour of silence": (silent_hours(), "at most 600 s are read"),
    "chunks without end": (WAV[:12] + b"junk\0\0\0\0" * 200_000, "; "),
    "chunk that claims 4 GB": (WAV[:12] + b"junk\xff\xff\xff\xff" + WAV[12:], "; "),
    "64 MB of text": (b"Minutes of a meeting.\n" * 3_000_000, "neither WAV nor FLAC"),
    "64 MB of nulls": (bytes(2**26), "neither WAV nor FLAC"),
    "FLAC of random bytes": (
        FLAC[:42] + np.random.default_rng(6).bytes(2_000_000),
        "; copy or export it again",
    ),
}

RUN = """
import json, resource, sys
resource.setrlimit(resource.RLIMIT_AS, (int(sys.argv[2]),) * 2)
resource.setrlimit(resource.RLIMIT_CPU, (int(sys.argv[1]),) * 2)
from wellheard.errors import InputError
from wellheard.measurement import audio
audio.read(sys.argv[3])
before = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
for path in sys.argv[3:]:
    try:
        found = audio.read(path)
        print(json.dumps("%d x %d" % found.samples.shape))
    except InputError as error:
        print(json.dumps(str(error)))
print(resource.getrusage(resource.RUSAGE_SELF).ru_maxrss - before)
"""


@pytest.fixture(scope="module")
def answers(tmp_path_factory: pytest.TempPathFactory) -> dict[str, str]:
    """What is said of each, all read one after the other by one process within the limits."""
    folder = tmp_path_factory.mktemp("recordings")
    paths = {name: folder / f"{i}.wav" for i, name in enumerate(WORST)}
    for name, path in paths.items():
        path.write_bytes(WORST[name][0])
    plain = folder / "plain.wav"
    plain.write_bytes(WAV)
    done = subprocess.run(
        [sys.executable, "-c", RUN, str(SECONDS), str(BYTES), plain, *map(str, paths.values())],
        capture_output=True,
        encoding="utf-8",
        env={"OPENBLAS_NUM_THREADS": "1", "PYTHONUTF8": "1"},
        check=False,
    )
    assert (done.returncode, done.stderr) == (0, ""), done.stderr[-2000:]
    first, *lines, growth = done.stdout.splitlines()
    assert json.loads(first) == "48000 x 1"
    return {**dict(zip(paths, map(json.loads, lines), strict=True)), "growth": growth}


@pytest.mark.parametrize("name", WORST)
def test_a_recording_that_lies_gets_one_sentence_or_what_it_really_holds(
    answers: dict[str, str], name: str
) -> None:
    said = answers[name]
    assert WORST[name][1] in said
    assert "\n" not in said
    assert len(said) < 400


def test_a_recording_that_lies_takes_no_more_memory_than_it_holds(
    answers: dict[str, str],
) -> None:
    unit = 1 if sys.platform == "darwin" else 1024  # bytes there, kilobytes elsewhere
    assert int(answers["growth"]) * unit < GROWTH
