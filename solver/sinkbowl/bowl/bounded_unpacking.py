"""How far a packed mesh may grow: a small .vtu can hold a thousand times its own length.

meshio unpacks a block with one call of `zlib.decompress` or `lzma.decompress`, whatever comes out.
Inside `bounded` it is given stand-ins for the two modules that stop where all blocks of a file
together get too long. So every block that meshio reads is counted, however it lies in the file.
"""

from __future__ import annotations

import lzma
import zlib
from collections.abc import Iterator
from contextlib import contextmanager
from threading import Lock

from sinkbowl.common.errors import InputRefused

LZMA_MEMORY = 100_000_000
"""Memory that unpacking by LZMA may take [bytes]; its largest preset takes 65 million."""

_one_at_a_time = Lock()


@contextmanager
def bounded(most: int) -> Iterator[None]:
    """Have meshio unpack no more than `most` bytes from all .vtu files read in the ``with`` block.

    Raises
    ------
    InputRefused : from the reader, where there is more
    """
    from meshio.vtu import _vtu

    room = _Room(most)
    with _one_at_a_time:
        _vtu.zlib, _vtu.lzma = _Zlib(room), _Lzma(room)
        try:
            yield
        finally:
            _vtu.zlib, _vtu.lzma = zlib, lzma


class _Room:
    """Bytes that may still be unpacked."""

    def __init__(self, most: int) -> None:
        self.most = self.left = most

    def take(self, found: bytes, whole: bool) -> bytes:
        """What was unpacked, if there was room for it and it is all."""
        self.left -= len(found)
        if self.left < 0:
            raise InputRefused(
                f"unpacks to more than {self.most} bytes",
                "Keep the bowl's outline or surface alone, without other numbers, in the file.",
                "profile",
            )
        if not whole:
            raise ValueError("a packed block is cut short")
        return found


class _Zlib:
    def __init__(self, room: _Room) -> None:
        self._room = room

    def decompress(self, data: bytes) -> bytes:
        stream = zlib.decompressobj()
        found = stream.decompress(data, self._room.left + 1)
        return self._room.take(found, stream.eof)


class _Lzma:
    def __init__(self, room: _Room) -> None:
        self._room = room

    def decompress(self, data: bytes) -> bytes:
        stream = lzma.LZMADecompressor(memlimit=LZMA_MEMORY)
        found = stream.decompress(data, self._room.left + 1)
        return self._room.take(found, stream.eof)
