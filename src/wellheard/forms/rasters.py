"""A PNG of a user's, checked chunk by chunk and written again without what is not needed.

The chunks and their order are those of the PNG specification (W3C, third edition, clause 5) [M].
"""

from __future__ import annotations

import struct
import zlib
from collections.abc import Iterator
from dataclasses import dataclass

SIGNATURE = b"\x89PNG\r\n\x1a\n"
MOST_BYTES = 1_000_000
MOST_PIXELS = 4_000
"""Along one side."""
KEPT = (b"IHDR", b"PLTE", b"tRNS", b"IDAT", b"IEND")
"""Chunks that make the picture; what else is there, texts and time stamps, is left out."""
DEPTHS = {0: (1, 2, 4, 8, 16), 2: (8, 16), 3: (1, 2, 4, 8), 4: (8, 16), 6: (8, 16)}
"""Bits of a sample that each kind of colour may have."""
SAMPLES = {0: 1, 2: 3, 3: 1, 4: 2, 6: 4}
INTERLACED = (
    (0, 0, 8, 8),
    (4, 0, 8, 8),
    (0, 4, 4, 8),
    (2, 0, 4, 4),
    (0, 2, 2, 4),
    (1, 0, 2, 2),
    (0, 1, 1, 2),
)
"""First column and row, and steps, of the seven passes."""


class Unfit(Exception):
    """A picture that is refused: what was found, what is allowed."""

    def __init__(self, what: str, allowed: str, line: int = 0, column: int = 0) -> None:
        super().__init__(f"{what}; {allowed}")
        self.what, self.allowed = what, allowed
        self.line, self.column = line, column


@dataclass(frozen=True, slots=True)
class Raster:
    """A picture of pixels: its bytes, and its sides in pixels."""

    data: bytes
    width: int
    height: int


def read_png(raw: bytes) -> Raster:
    """Return a PNG that is whole and of a sane size, with nothing in it but the picture.

    Parameters
    ----------
    raw : bytes
        The file.

    Raises
    ------
    Unfit
        It is no PNG, is damaged, or is too large, packed or unpacked.
    """
    if len(raw) > MOST_BYTES:
        raise Unfit("the file is too large", f"at most {MOST_BYTES / 1e6:g} MB")
    if not raw.startswith(SIGNATURE):
        raise Unfit("this is no PNG", "a PNG or an SVG")
    chunks = list(_chunks(raw))
    head = _head(chunks)
    packed = b"".join(data for name, data in chunks if name == b"IDAT")
    _unpacked(packed, head)
    kept = [(name, data) for name, data in chunks if name in KEPT and name != b"IDAT"]
    kept.insert(-1, (b"IDAT", packed))
    return Raster(SIGNATURE + b"".join(_written(*one) for one in kept), head.width, head.height)


@dataclass(frozen=True, slots=True)
class _Head:
    width: int
    height: int
    depth: int
    colour: int
    interlaced: bool

    def row(self, width: int) -> int:
        """Bytes of a row of ``width`` pixels, its filter with it."""
        return 1 + (width * self.depth * SAMPLES[self.colour] + 7) // 8

    @property
    def unpacked(self) -> int:
        """Bytes of all pixels before they are packed."""
        if not self.interlaced:
            return self.height * self.row(self.width)
        total = 0
        for column, row, across, down in INTERLACED:
            width = max(0, -(-(self.width - column) // across))
            height = max(0, -(-(self.height - row) // down))
            total += height * self.row(width) if width else 0
        return total


def _chunks(raw: bytes) -> Iterator[tuple[bytes, bytes]]:
    at = len(SIGNATURE)
    while at < len(raw):
        if at + 12 > len(raw):
            raise Unfit("the PNG ends in the middle of a chunk", "a whole file: save it again")
        (length,) = struct.unpack_from(">I", raw, at)
        name = raw[at + 4 : at + 8]
        end = at + 12 + length
        if end > len(raw):
            raise Unfit("the PNG ends in the middle of a chunk", "a whole file: save it again")
        data = raw[at + 8 : end - 4]
        (wanted,) = struct.unpack_from(">I", raw, end - 4)
        if zlib.crc32(name + data) != wanted:
            raise Unfit("a chunk of the PNG is damaged", "a whole file: save it again")
        yield name, data
        at = end
        if name == b"IEND" and at < len(raw):
            raise Unfit(f"{len(raw) - at} bytes behind the end of the PNG", "nothing behind it")


def _head(chunks: list[tuple[bytes, bytes]]) -> _Head:
    names = [name for name, _ in chunks]
    if names[:1] != [b"IHDR"] or names[-1:] != [b"IEND"] or len(chunks[0][1]) != 13:
        raise Unfit("the PNG has no head or no end", "a whole file: save it again")
    if b"IDAT" not in names or names.count(b"IHDR") > 1 or names.count(b"PLTE") > 1:
        raise Unfit("the PNG has no picture in it, or two heads", "one picture")
    critical = [name for name in names if name[:1].isupper() and name not in KEPT]
    if critical:
        raise Unfit(f"the PNG has a chunk {critical[0]!r}", "a plain PNG: save it again")
    width, height, depth, colour, packing, filters, interlaced = struct.unpack(
        ">IIBBBBB", chunks[0][1]
    )
    if not (1 <= width <= MOST_PIXELS and 1 <= height <= MOST_PIXELS):
        raise Unfit(f"{width} × {height} pixels", f"1 to {MOST_PIXELS} along each side")
    if depth not in DEPTHS.get(colour, ()) or packing or filters or interlaced > 1:
        raise Unfit("the PNG is of a kind that there is not", "a plain PNG: save it again")
    if colour == 3 and b"PLTE" not in names:
        raise Unfit("the PNG has no palette", "a whole file: save it again")
    return _Head(width, height, depth, colour, bool(interlaced))


def _unpacked(packed: bytes, head: _Head) -> None:
    """Refuse pixels that are not as many as the head says; never unpack more than those."""
    unpacker = zlib.decompressobj()
    try:
        found = len(unpacker.decompress(packed, head.unpacked + 1))
    except zlib.error:
        raise Unfit("the pixels of the PNG are damaged", "a whole file: save it again") from None
    if found != head.unpacked or not unpacker.eof:
        raise Unfit(
            f"the PNG does not hold the {head.width} × {head.height} pixels that it says",
            "a whole file: save it again",
        )


def _written(name: bytes, data: bytes) -> bytes:
    return struct.pack(">I", len(data)) + name + data + struct.pack(">I", zlib.crc32(name + data))
