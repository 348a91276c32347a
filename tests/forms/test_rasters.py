"""A user's PNG: what is a picture, and what is refused. Chunks are written here by hand."""

from __future__ import annotations

import io
import struct
import zlib

import pytest
from PIL import Image

from wellheard.forms.rasters import MOST_BYTES, MOST_PIXELS, SIGNATURE, Unfit, read_png


def chunk(name: bytes, data: bytes) -> bytes:
    return struct.pack(">I", len(data)) + name + data + struct.pack(">I", zlib.crc32(name + data))


def head(width: int, height: int, depth: int = 8, colour: int = 2, interlaced: int = 0) -> bytes:
    return chunk(b"IHDR", struct.pack(">IIBBBBB", width, height, depth, colour, 0, 0, interlaced))


def pixels(width: int, height: int) -> bytes:
    return zlib.compress((b"\0" + b"\x80" * 3 * width) * height)


def png(width: int, height: int, *, texts: bytes = b"") -> bytes:
    told = chunk(b"tEXt", b"Comment\0" + texts) if texts else b""
    body = head(width, height) + told + chunk(b"IDAT", pixels(width, height))
    return SIGNATURE + body + chunk(b"IEND", b"")


def test_a_whole_png_is_passed_on_without_texts() -> None:
    found = read_png(png(4, 3, texts=b"who made it"))
    assert (found.width, found.height) == (4, 3)
    assert b"who made it" not in found.data
    with Image.open(io.BytesIO(found.data)) as seen:
        assert seen.size == (4, 3)
        assert seen.getpixel((1, 1)) == (128, 128, 128)


@pytest.mark.parametrize("mode", ["1", "L", "LA", "P", "RGB", "RGBA", "I;16"])
def test_every_kind_of_colour_that_another_program_writes_is_read(mode: str) -> None:
    made = io.BytesIO()
    Image.new(mode, (13, 7)).save(made, "PNG")
    with Image.open(io.BytesIO(read_png(made.getvalue()).data)) as seen:
        assert seen.size == (13, 7)
        seen.load()


BODY = head(2, 2) + chunk(b"IDAT", pixels(2, 2))
END = chunk(b"IEND", b"")
REFUSED = {
    "no png": b"GIF89a",
    "only a signature": SIGNATURE,
    "cut off": png(4, 4)[:-20],
    "cut in a head": png(4, 4)[:-7],
    "damaged": png(4, 4).replace(b"IDAT", b"IDAX"),
    "wrong check": png(4, 4)[:-1] + b"\0",
    "something behind it": png(4, 4) + b"PK\x03\x04",
    "no picture": SIGNATURE + head(2, 2) + END,
    "no head": SIGNATURE + chunk(b"IDAT", pixels(2, 2)) + END,
    "two heads": SIGNATURE + head(2, 2) + BODY + END,
    "head of another length": SIGNATURE + chunk(b"IHDR", b"\0" * 12) + BODY + END,
    "unknown critical chunk": SIGNATURE + BODY + chunk(b"ABCD", b"") + END,
    "no width": SIGNATURE + head(0, 2) + chunk(b"IDAT", pixels(2, 2)) + END,
    "too wide": SIGNATURE + head(MOST_PIXELS + 1, 1) + chunk(b"IDAT", pixels(2, 2)) + END,
    "no such depth": SIGNATURE + head(2, 2, depth=3) + chunk(b"IDAT", pixels(2, 2)) + END,
    "no such colour": SIGNATURE + head(2, 2, colour=5) + chunk(b"IDAT", pixels(2, 2)) + END,
    "no palette": SIGNATURE + head(2, 2, colour=3) + chunk(b"IDAT", zlib.compress(b"\0" * 6)) + END,
    "too few pixels": SIGNATURE + head(9, 9) + chunk(b"IDAT", pixels(2, 2)) + END,
    "too many pixels": SIGNATURE + head(2, 2) + chunk(b"IDAT", pixels(9, 9)) + END,
    "pixels that are none": SIGNATURE + head(2, 2) + chunk(b"IDAT", b"nothing") + END,
    "a bomb": SIGNATURE + head(2, 2) + chunk(b"IDAT", zlib.compress(b"\0" * 50_000_000)) + END,
    "too large": SIGNATURE + b"\0" * MOST_BYTES,
    "a length beyond the end": SIGNATURE + struct.pack(">I", 2**31) + b"IHDR" + b"\0" * 30,
}


@pytest.mark.parametrize("raw", REFUSED.values(), ids=REFUSED)
def test_what_is_no_whole_picture_is_refused(raw: bytes) -> None:
    with pytest.raises(Unfit) as found:
        read_png(raw)
    assert found.value.what
    assert found.value.allowed


def test_an_interlaced_picture_is_counted_by_its_passes() -> None:
    """Eight by eight in the seven passes of the specification: 1, 1, 2, 4, 8, 16, 32 pixels."""
    rows = [(1, 1), (1, 1), (2, 1), (2, 2), (4, 2), (4, 4), (8, 4)]
    packed = zlib.compress(b"".join((b"\0" + b"\x40" * 3 * w) * h for w, h in rows))
    raw = SIGNATURE + head(8, 8, interlaced=1) + chunk(b"IDAT", packed) + END
    with Image.open(io.BytesIO(read_png(raw).data)) as seen:
        assert seen.getpixel((7, 7)) == (64, 64, 64)
