"""Recordings are read right whatever their depth, rate and container, or refused in a sentence."""

from __future__ import annotations

import io
import os
import re
import struct
import wave
from pathlib import Path

import numpy as np
import pytest
import soundfile

from wellheard.arrays import Array
from wellheard.errors import InputError
from wellheard.measurement import audio


def tones(frames: int = 480, channels: int = 1, rate: float = 48000.0) -> Array:
    """Each channel has a level of its own, so that none can be taken for another."""
    one = np.sin(2 * np.pi * 997.0 * np.arange(frames) / rate)
    return np.stack([one * 0.5 / (n + 1) for n in range(channels)], axis=1)


def test_whole_numbers_of_a_wav_file_are_those_over_full_scale(tmp_path: Path) -> None:
    # Written by the standard library: 16 bit is value / 32768, 8 bit is (value − 128) / 128.
    for width, values, wanted in (
        (2, struct.pack("<4h", 0, 16384, -32768, 32767), [0, 0.5, -1, 32767 / 32768]),
        (1, bytes([128, 192, 0, 255]), [0, 0.5, -1, 127 / 128]),
        (3, bytes.fromhex("000000 000040 000080 ffff7f"), [0, 0.5, -1, 1 - 2**-23]),
        (4, struct.pack("<4i", 0, 2**30, -(2**31), 2**31 - 1), [0, 0.5, -1, 1 - 2**-31]),
    ):
        with wave.open(str(tmp_path / "a.wav"), "wb") as file:
            file.setparams((1, width, 44100, 4, "NONE", ""))
            file.writeframes(values)
        found = audio.read(tmp_path / "a.wav")
        np.testing.assert_array_equal(found.samples[:, 0], wanted)
        assert (found.bits, found.rate) == (8 * width, 44100.0)
        assert found.encoding == f"WAV, {8 * width} bit"


@pytest.mark.parametrize(
    ("kind", "subtype", "words", "bits", "step"),
    [
        ("WAV", "PCM_16", "WAV, 16 bit", 16, 2**-15),
        ("WAVEX", "PCM_24", "WAV, 24 bit", 24, 2**-23),
        ("WAVEX", "FLOAT", "WAV, 32 bit floating", None, 2**-24),
        ("WAV", "DOUBLE", "WAV, 64 bit floating", None, 2**-50),
        ("RF64", "PCM_24", "RF64, 24 bit", 24, 2**-23),
        ("W64", "PCM_32", "W64, 32 bit", 32, 2**-30),
        ("FLAC", "PCM_16", "FLAC, 16 bit", 16, 2**-15),
        ("FLAC", "PCM_24", "FLAC, 24 bit", 24, 2**-23),
    ],
)
def test_usual_containers_and_depths_are_read(
    tmp_path: Path, kind: str, subtype: str, words: str, bits: int | None, step: float
) -> None:
    # The name does not matter; what is in it does.
    path, samples = tmp_path / "take 1.raw", tones(channels=3)
    with path.open("wb") as file:
        soundfile.write(file, samples, 48000, format=kind, subtype=subtype)
    found = audio.read(path)
    np.testing.assert_allclose(found.samples, samples, atol=step)
    assert (found.encoding, found.bits, found.rate) == (words, bits, 48000.0)
    assert found.seconds == pytest.approx(0.01)
    assert found.name == str(path)


@pytest.mark.parametrize("rate", [8000, 11025, 16000, 22050, 44100, 48000, 88200, 96000, 192000])
def test_usual_rates_are_read(tmp_path: Path, rate: int) -> None:
    path = tmp_path / "a.wav"
    path.write_bytes(audio.wav_bytes(tones(), rate))
    assert audio.probe(path).rate == audio.read(path).rate == rate


@pytest.mark.parametrize("rate", [1, 4000, 7999, 192001, 2**31 - 1])
def test_other_rates_are_refused_with_what_to_record_at(tmp_path: Path, rate: int) -> None:
    path = tmp_path / "a.wav"
    path.write_bytes(audio.wav_bytes(tones(), rate))
    with pytest.raises(InputError, match="8,000 to 192,000 Hz are read: record at 48 kHz"):
        audio.read(path)


def test_one_channel_of_many_is_that_channel(tmp_path: Path) -> None:
    path, samples = tmp_path / "many.wav", tones(frames=200_000, channels=5)
    path.write_bytes(audio.wav_bytes(samples, 48000.0))
    for number in range(1, 6):
        found = audio.read(path, channel=number)
        assert found.samples.shape == (200_000, 1)
        np.testing.assert_allclose(found.samples[:, 0], samples[:, number - 1], atol=2**-24)
    for number in (0, 6, -1):
        with pytest.raises(InputError, match="it has 5 channels, counted from 1"):
            audio.read(path, channel=number)


def test_more_channels_than_are_read_are_refused(tmp_path: Path) -> None:
    path = tmp_path / "many.wav"
    path.write_bytes(audio.wav_bytes(tones(channels=65), 48000.0))
    with pytest.raises(InputError, match="65 channels; 1 to 64 are read"):
        audio.read(path)


@pytest.mark.parametrize("channels", [1, 2, 6])
def test_what_is_written_is_what_others_read(channels: int) -> None:
    samples = tones(channels=channels)
    for data, kind in (
        (audio.wav_bytes(samples, 48000.0), "WAVEX" if channels > 2 else "WAV"),
        (audio.flac_bytes(samples, 48000.0), "FLAC"),
    ):
        with soundfile.SoundFile(io.BytesIO(data)) as sound:
            assert (sound.format, sound.subtype, sound.samplerate) == (kind, "PCM_24", 48000)
            np.testing.assert_allclose(sound.read(always_2d=True), samples, atol=0.5001 * 2**-23)


def test_the_standard_library_reads_what_is_written() -> None:
    data = audio.wav_bytes(np.array([0.0, 0.5, -1.0, 1.0]), 48000.0, bits=16)
    with wave.open(io.BytesIO(data)) as file:
        assert file.getparams()[:4] == (1, 2, 48000, 4)
        assert struct.unpack("<4h", file.readframes(4)) == (0, 16384, -32768, 32767)


def test_what_is_written_is_the_same_every_time() -> None:
    assert audio.wav_bytes(tones(), 48000.0) == audio.wav_bytes(tones(), 48000.0)
    assert audio.flac_bytes(tones(), 48000.0) == audio.flac_bytes(tones(), 48000.0)


def test_nothing_is_clipped_in_silence() -> None:
    with pytest.raises(ValueError, match="full scale"):
        audio.wav_bytes(np.array([1.01]), 48000.0)


# What is no recording ---------------------------------------------------------------------------


def made(kind: str) -> bytes:
    """A file that something is wrong with."""
    plain = audio.wav_bytes(tones(frames=4800), 48000.0)
    flac = audio.flac_bytes(np.random.default_rng(1).uniform(-0.1, 0.1, 48000), 48000.0)
    floating = io.BytesIO()
    bad = {"NaN": np.nan, "infinite": np.inf, "huge": 1e30}
    if kind in bad:
        samples = tones(frames=100_000)
        samples[70_000] = bad[kind]
        soundfile.write(floating, samples, 48000, format="WAV", subtype="FLOAT")
        return floating.getvalue()
    if kind.startswith("lossy"):
        soundfile.write(floating, tones(4800), 48000, format="WAV", subtype=kind.split()[1])
        return floating.getvalue()
    if kind == "MP3" or kind == "OGG":
        soundfile.write(floating, tones(4800), 48000, format=kind)
        return floating.getvalue()
    claims_more = flac[:22] + struct.pack(">I", 96000) + flac[26:]
    unknown = flac[:21] + bytes([flac[21] & 0xF0]) + bytes(4) + flac[26:]
    hours = flac[:22] + struct.pack(">I", 2**32 - 1) + flac[26:]
    return {
        "empty": b"",
        "text": b"Notes of a walk round the room\n" * 200,
        "text like a wave": b"RIFF____WAVEfmt and so on\n" * 20,
        "header only": plain[:44],
        "no data": plain[:36],
        "half a header": plain[:21],
        "no channels": plain[:22] + b"\0\0" + plain[24:],
        "no rate": plain[:24] + bytes(4) + plain[28:],
        "truncated FLAC": flac[: len(flac) // 2],
        "FLAC that claims more": claims_more,
        "FLAC of unknown length": unknown,
        "FLAC that claims a day": hours,
    }[kind]


@pytest.mark.parametrize(
    ("kind", "said"),
    [
        ("empty", "empty; a recording as WAV or FLAC"),
        ("text", "neither WAV nor FLAC, whatever its name says"),
        ("text like a wave", "damaged|neither"),
        ("header only", "holds no samples by its header; record it again"),
        ("no data", "damaged, or cut off"),
        ("half a header", "damaged, or cut off"),
        ("no channels", "damaged|0 channels"),
        ("no rate", "damaged|0 Hz"),
        ("NaN", r"no numbers \(NaN\), from 1\.4 s on"),
        ("infinite", r"infinite, from 1\.4 s on"),
        ("huge", r"1e\+30 times full scale"),
        ("MP3", "MP3, which throws sound away"),
        ("OGG", "Ogg, which throws sound away"),
        ("lossy ALAW", "A-Law, which loses what is measured"),
        ("lossy ULAW", "U-Law, which loses what is measured"),
        ("lossy IMA_ADPCM", "ADPCM, which loses what is measured"),
        ("lossy GSM610", "GSM 6.10, which loses what is measured"),
        ("truncated FLAC", "damaged, or cut off in the middle"),
        ("FLAC that claims more", "damaged, or cut off in the middle|ends after"),
        ("FLAC of unknown length", "does not say how long it is"),
        ("FLAC that claims a day", "s by its header; at most 600 s are read"),
    ],
)
def test_what_is_no_recording_is_refused_in_one_sentence(
    tmp_path: Path, kind: str, said: str
) -> None:
    path = tmp_path / "take.wav"
    path.write_bytes(made(kind))
    with pytest.raises(InputError, match=said) as refused:
        audio.read(path)
    message = str(refused.value)
    assert message.startswith(f"{path}: ")
    assert ";" in message
    assert "\n" not in message
    assert not re.search("Error opening|<|0x", message)


def test_a_header_that_claims_two_gigabytes_is_not_believed(tmp_path: Path) -> None:
    plain = audio.wav_bytes(tones(frames=4800), 48000.0)
    lie = plain[:4] + struct.pack("<I", 2**31) + plain[8:40] + struct.pack("<I", 2**31 - 36)
    (tmp_path / "lie.wav").write_bytes(lie + plain[44:])
    found = audio.read(tmp_path / "lie.wav")
    np.testing.assert_allclose(found.samples, tones(frames=4800), atol=2**-23)


def test_a_recorder_that_was_switched_off_leaves_what_it_wrote(tmp_path: Path) -> None:
    # A header that was never gone back to has all ones for its lengths, or none.
    plain = audio.wav_bytes(tones(frames=4800), 48000.0)
    ones, none = struct.pack("<I", 2**32 - 1), bytes(4)
    (tmp_path / "cut.wav").write_bytes(plain[:4] + ones + plain[8:40] + ones + plain[44:])
    assert audio.read(tmp_path / "cut.wav").samples.shape == (4800, 1)
    (tmp_path / "cut.wav").write_bytes(plain[:4] + none + plain[8:40] + none + plain[44:])
    with pytest.raises(InputError, match=r"by its header.*save it anew from a sound editor"):
        audio.read(tmp_path / "cut.wav")


def test_folders_pipes_devices_and_nothing_are_refused(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="a folder; name a file"):
        audio.read(tmp_path)
    with pytest.raises(InputError, match="No such file"):
        audio.read(tmp_path / "nothing.wav")
    with pytest.raises(InputError, match="null byte"):
        audio.read("a\0b.wav")
    if hasattr(os, "mkfifo"):
        os.mkfifo(tmp_path / "pipe.wav")
        with pytest.raises(InputError, match="a device or pipe; name a file"):
            audio.read(tmp_path / "pipe.wav")
        with pytest.raises(InputError, match="a device or pipe; name a file"):
            audio.read("/dev/zero")


def test_a_probe_needs_no_samples(tmp_path: Path) -> None:
    path = tmp_path / "a.flac"
    path.write_bytes(audio.flac_bytes(tones(frames=96000, channels=2), 96000.0))
    found = audio.probe(path)
    assert (found.channels, found.frames, found.seconds) == (2, 96000, 1.0)
    assert (found.encoding, found.bits) == ("FLAC, 24 bit", 24)
