"""Recordings read within bounds, and signals as bytes of a file.

Whoever reads believes no header: the file is looked at before any reader gets it, and samples
come in blocks that are counted. What throws sound away to be smaller is refused, since what it
leaves out is what is measured: the end of a decay, and noise.
"""

from __future__ import annotations

import contextlib
import io
import os
import stat
from collections.abc import Iterator
from dataclasses import dataclass
from typing import IO, Any, Final, Literal, TypeAlias

import numpy as np

from wellheard.arrays import Array
from wellheard.errors import InputError
from wellheard.files import reason
from wellheard.measurement.results import Audio

MOST_SECONDS: Final = 600.0
MOST_CHANNELS: Final = 64
MOST_BYTES: Final = 4 * 2**30
MOST_SAMPLES: Final = 64_000_000
"""Of all channels that are read together: half a gigabyte of them."""
LOWEST_RATE: Final = 8000
HIGHEST_RATE: Final = 192_000
HIGHEST_SAMPLE: Final = 1e6
"""Re full scale. An impulse response may exceed full scale; 120 dB over it is no sound."""

Bits: TypeAlias = Literal[16, 24]

_BLOCK = 1 << 16
_UNKNOWN = 1 << 40
"""Frames that the library tells where a stream was written without going back to its header."""
_WANTED = "a recording as WAV or FLAC, linear, 16 or 24 bit"
_FORMATS = {"WAV": "WAV", "WAVEX": "WAV", "RF64": "RF64", "W64": "W64", "FLAC": "FLAC"}
_DEPTHS: dict[str, tuple[str, int | None]] = {
    "PCM_S8": ("8 bit", 8),
    "PCM_U8": ("8 bit", 8),
    "PCM_16": ("16 bit", 16),
    "PCM_24": ("24 bit", 24),
    "PCM_32": ("32 bit", 32),
    "FLOAT": ("32 bit floating", None),
    "DOUBLE": ("64 bit floating", None),
}
_W64 = bytes.fromhex("726966662e91cf11a5d628db04c10000")
_OTHERS = (
    (0, b"OggS", "Ogg, which throws sound away"),
    (0, b"ID3", "MP3, which throws sound away"),
    (0, b"\xff\xfb", "MP3, which throws sound away"),
    (0, b"\x1aE\xdf\xa3", "WebM, which throws sound away"),
    (4, b"ftyp", "MP4, which throws sound away"),
    (0, b"FORM", "AIFF"),
    (0, b"caff", "CAF"),
    (0, b"PK\x03\x04", "a ZIP archive"),
)


@dataclass(frozen=True)
class AudioFile:
    """What a file of sound holds.

    Attributes
    ----------
    name : str
        Of the file, as it was given.
    rate : float
        [Hz]
    channels : int
    frames : int
        Samples of each channel.
    encoding : str
        In words, such as "WAV, 24 bit".
    bits : int or None
        Whole-number bits; None where samples are floating.
    """

    name: str
    rate: float
    channels: int
    frames: int
    encoding: str
    bits: int | None

    @property
    def seconds(self) -> float:
        """How long it is."""
        return self.frames / self.rate


def probe(path: str | os.PathLike[str]) -> AudioFile:
    """Return what a file holds, by its header.

    Parameters
    ----------
    path : path
        WAV (also extensible, RF64 and W64) or FLAC.

    Raises
    ------
    InputError
        It is none, is compressed with losses, holds nothing, or is beyond what is read.
    """
    name = os.fspath(path)
    with _opened(name) as sound:
        return _checked(name, sound)


def read(path: str | os.PathLike[str], *, channel: int | None = None) -> Audio:
    """Return the samples of a file.

    Parameters
    ----------
    path : path
        WAV (also extensible, RF64 and W64) or FLAC of 8 to 192 kHz.
    channel : int or None
        The only channel that is wanted, counted from 1; None is all of them.

    Returns
    -------
    Audio
        With one column where one channel is wanted.

    Raises
    ------
    InputError
        It cannot be read, is longer than `MOST_SECONDS`, has no such channel, or samples that are
        no numbers.
    """
    name = os.fspath(path)
    with _opened(name) as sound:
        found = _checked(name, sound)
        if channel is not None and not 1 <= channel <= found.channels:
            raise InputError(
                f"{name}: channel {channel} was asked for; it has {_counted(found.channels)}, "
                "counted from 1"
            )
        width = found.channels if channel is None else 1
        if found.frames * width > MOST_SAMPLES:
            raise InputError(
                f"{name}: {_counted(width)} of {found.seconds:.0f} s at {found.rate:g} Hz; at most "
                f"{MOST_SAMPLES:,} samples are read: record less, or at 48 kHz"
            )
        try:
            samples = _samples(name, sound, found, channel)
        except MemoryError:
            raise InputError(
                f"{name}: {found.seconds:.0f} s of {_counted(width)}; there is no memory for "
                "it: record less, or at 48 kHz"
            ) from None
    return Audio(name, samples, found.rate, found.encoding, found.bits)


def wav_bytes(samples: Array, rate: float, *, bits: Bits = 24) -> bytes:
    """Return a WAV file of samples.

    Parameters
    ----------
    samples : ndarray, shape (samples,) or (samples, channels)
        Within ±1.
    rate : float
        Whole. [Hz]
    bits : int
        16 or 24.

    Raises
    ------
    ValueError
        Samples exceed full scale: what is cut off cannot be measured with.
    """
    many = samples.ndim == 2 and samples.shape[1] > 2
    return _written(samples, rate, bits, "WAVEX" if many else "WAV")


def flac_bytes(samples: Array, rate: float, *, bits: Bits = 24) -> bytes:
    """Return a FLAC file of samples, as :func:`wav_bytes` does a WAV file.

    Parameters
    ----------
    samples : ndarray, shape (samples,) or (samples, channels)
        Within ±1; at most 8 channels.
    rate : float
        Whole. [Hz]
    bits : int
        16 or 24.

    Raises
    ------
    ValueError
        Samples exceed full scale.
    """
    return _written(samples, rate, bits, "FLAC")


def _written(samples: Array, rate: float, bits: Bits, kind: str) -> bytes:
    import soundfile

    if np.abs(samples).max(initial=0.0) > 1.0:
        raise ValueError(f"samples reach {np.abs(samples).max():g}; 1 is full scale")
    # Whole numbers of our own: a reader divides by the same 2^(bits − 1) that they were made with.
    full = 2 ** (bits - 1)
    whole = np.minimum(np.rint(samples * full), full - 1).astype(np.int32) << (32 - bits)
    target = io.BytesIO()
    soundfile.write(target, whole, round(rate), format=kind, subtype=f"PCM_{bits}")
    return target.getvalue()


@contextlib.contextmanager
def _opened(name: str) -> Iterator[Any]:
    """A sound file of the reading library, of a file that looks like one."""
    import soundfile

    with _plain_file(name) as file:
        try:
            _look_at(name, file)
            with soundfile.SoundFile(file) as sound:
                yield sound
        except OSError as error:
            raise InputError(f"{name}: {reason(error)}; {_WANTED}") from None
        except soundfile.SoundFileError as error:
            what = str(getattr(error, "error_string", error)).strip().rstrip(".")
            raise InputError(
                f"{name}: damaged, or cut off in the middle ({what}); copy or export it again"
            ) from None


def _plain_file(name: str) -> IO[bytes]:
    # To open a pipe plainly is to wait for its writer, perhaps for ever.
    flags = os.O_RDONLY | getattr(os, "O_NONBLOCK", 0) | getattr(os, "O_BINARY", 0)
    try:
        handle = os.open(name, flags)
    except (OSError, ValueError) as error:
        raise InputError(f"{name}: {reason(error)}; {_WANTED}") from None
    found = os.fstat(handle)
    what = ""
    if stat.S_ISDIR(found.st_mode):
        what = f"a folder; name a file: {_WANTED}"
    elif not stat.S_ISREG(found.st_mode):
        what = f"a device or pipe; name a file: {_WANTED}"
    elif not found.st_size:
        what = f"empty; {_WANTED}"
    elif found.st_size > MOST_BYTES:
        what = f"larger than {MOST_BYTES / 2**30:g} GB; record less, or fewer channels"
    if what:
        os.close(handle)
        raise InputError(f"{name}: {what}")
    return _Unmoved(io.FileIO(handle, "rb"))


class _Unmoved(io.BufferedReader):
    """A file that stays where it is when a header sends its reader before the beginning."""

    def seek(self, target: int, whence: int = os.SEEK_SET, /) -> int:
        try:
            return super().seek(target, whence)
        except (OSError, ValueError):
            return self.tell()


def _look_at(name: str, file: IO[bytes]) -> None:
    """Let nothing but WAV and FLAC come to the library, which reads much else."""
    start = file.read(16)
    file.seek(0)
    wave = start[:4] in (b"RIFF", b"RF64") and start[8:12] == b"WAVE"
    if wave or start == _W64 or start[:4] == b"fLaC":
        return
    for at, sign, kind in _OTHERS:
        if start[at : at + len(sign)] == sign:
            raise InputError(f"{name}: {kind}, whatever its name says; {_WANTED}")
    raise InputError(f"{name}: neither WAV nor FLAC, whatever its name says; {_WANTED}")


def _checked(name: str, sound: Any) -> AudioFile:
    kind, depth = _FORMATS.get(sound.format), _DEPTHS.get(sound.subtype)
    if kind is None or depth is None:
        raise InputError(
            f"{name}: {sound.format} with {sound.subtype_info}, which loses what is measured; "
            f"{_WANTED}"
        )
    if not LOWEST_RATE <= sound.samplerate <= HIGHEST_RATE:
        raise InputError(
            f"{name}: sampled at {sound.samplerate:,} Hz; 8,000 to 192,000 Hz are read: record "
            "at 48 kHz"
        )
    if not 1 <= sound.channels <= MOST_CHANNELS:
        raise InputError(
            f"{name}: {sound.channels} channels; 1 to {MOST_CHANNELS} are read: export those that "
            "are wanted"
        )
    if sound.frames >= _UNKNOWN:
        raise InputError(f"{name}: does not say how long it is; save it again, as a whole file")
    seconds = sound.frames / sound.samplerate
    if seconds > MOST_SECONDS:
        raise InputError(
            f"{name}: {seconds:,.0f} s by its header; at most {MOST_SECONDS:g} s are read: cut it "
            "to what is wanted"
        )
    if sound.frames < 1:
        raise InputError(
            f"{name}: holds no samples by its header; record it again, or save it anew from a "
            "sound editor if it is large all the same"
        )
    words, bits = depth
    return AudioFile(
        name, float(sound.samplerate), sound.channels, sound.frames, f"{kind}, {words}", bits
    )


def _samples(name: str, sound: Any, found: AudioFile, channel: int | None) -> Array:
    chosen = slice(None) if channel is None else slice(channel - 1, channel)
    samples = np.empty((found.frames, found.channels if channel is None else 1))
    block = np.empty((min(_BLOCK, found.frames), found.channels))
    done = 0
    while done < found.frames:
        piece = sound.read(out=block[: found.frames - done])
        if not len(piece):
            raise InputError(
                f"{name}: ends after {done / found.rate:.2f} s of the {found.seconds:.2f} s that "
                "it claims; copy or export it again"
            )
        _no_nonsense(name, piece[:, chosen], done / found.rate)
        samples[done : done + len(piece)] = piece[:, chosen]
        done += len(piece)
    return samples


def _no_nonsense(name: str, piece: Array, since: float) -> None:
    highest = max(piece.max(), -piece.min())
    if highest <= HIGHEST_SAMPLE:  # not so where it is NaN
        return
    what = "infinite" if np.isinf(highest) else f"{highest:.0e} times full scale"
    if np.isnan(highest):
        what = "no numbers (NaN)"
    raise InputError(
        f"{name}: samples that are {what}, from {since:.1f} s on; export it again, with full scale "
        "at 1"
    )


def _counted(channels: int) -> str:
    return "1 channel" if channels == 1 else f"{channels} channels"
