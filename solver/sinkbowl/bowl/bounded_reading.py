"""Limits of the memory that a mesh file can demand by its counts, offsets and packed blocks.

The counts in the header of a .ply or .vtk are checked before meshio allocates memory for them. In
VTK files meshio would also follow offsets to cells of any size, read the same numbers repeatedly,
make grids of points from three numbers, and unpack a block of any size with one call of
`zlib.decompress`. `bounded` replaces these functions: only line cells, triangles and quadrilaterals
are made, and the total of all numbers is limited.
"""

import lzma
import re
import zlib
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from functools import partial
from threading import Lock
from types import SimpleNamespace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from sinkbowl.common.errors import InputRefused

MOST_COUNTED = 2_000_000
"""Largest accepted count of points, cells or numbers of cells in a header."""

LZMA_MEMORY = 100_000_000
"""Memory limit of unpacking by LZMA [bytes]; its largest preset takes 65 million."""

COUNTS = {
    ".ply": re.compile(rb"^[^\S\n]*element\s+\S+\s+(\d+)()", re.MULTILINE),
    ".vtk": re.compile(
        rb"^[^\S\n]*(?:POINTS|CELLS|CELL_TYPES|POINT_DATA|CELL_DATA)\s+(\d+)[ \t]*(\d*)",
        re.MULTILINE | re.IGNORECASE,
    ),
}
"""Counts in headers, by suffix; other formats have none, or one that meshio checks."""

KINDS = {"line": (3, 2), "triangle": (5, 3), "quad": (9, 4)}
"""Cells that are read: their code in VTK files and their number of corners."""

_one_at_a_time = Lock()


def check_counts(content: bytes, suffix: str) -> None:
    """Refuse a file whose header has larger counts than any bowl's mesh.

    Raises
    ------
    InputRefused
    """
    for found in COUNTS[suffix].finditer(content) if suffix in COUNTS else ():
        most = max(len(found[1]), len(found[2]))
        if most > 9 or max(int(found[1]), int(found[2] or 0)) > MOST_COUNTED:
            raise InputRefused(
                f"counts {found[0].split()[-1].decode()[:20]} points or cells",
                f"At most {MOST_COUNTED} are read.",
                "profile",
            )


@contextmanager
def bounded(most: int) -> Iterator[None]:
    """Limit meshio to `most` bytes of numbers of .vtu files in the ``with`` block.

    Raises InputRefused from the reader if the file has more, or its grid is not unstructured.
    """
    from meshio.vtk import _vtk_42, _vtk_51
    from meshio.vtu import _vtu

    room, unpacked, reader = _Room(most), _Room(most), _vtu.VtuReader
    read_data, limited = reader.read_data, partial(lzma.LZMADecompressor, memlimit=LZMA_MEMORY)

    def counted(self: Any, tag: Any) -> NDArray[Any]:
        numbers: NDArray[Any] = read_data(self, tag)
        room.take(numbers.nbytes)
        return numbers

    stand_ins: tuple[tuple[Any, dict[str, Any]], ...] = (
        (_vtu, {"zlib": unpacked.unpacking(zlib.decompressobj)}),
        (_vtu, {"lzma": unpacked.unpacking(limited)}),
        (_vtu, {"vtk_cells_from_data": _cells, "_polyhedron_cells_from_data": _refused}),
        (reader, {"read_data": counted}),
        (_vtk_51, {"vtk_cells_from_data": _cells, "_check_mesh": _unstructured}),
        (_vtk_42, {"translate_cells": _cells_with_counts, "_check_mesh": _unstructured}),
    )
    with _one_at_a_time:
        own = [(place, {name: getattr(place, name) for name in new}) for place, new in stand_ins]
        try:
            _set(stand_ins)
            yield
        finally:
            _set(own)


def _set(values: Any) -> None:
    for place, named in values:
        for name, value in named.items():
            setattr(place, name, value)


def _unstructured(info: Any) -> None:
    if info.dataset["type"] != "UNSTRUCTURED_GRID":
        _refused()


def _refused(*_: object) -> None:
    raise InputRefused("is not a grid of lines, triangles or quadrilaterals", "", "profile")


def _cells(
    connectivity: NDArray[Any], ends: NDArray[Any], types: NDArray[Any], _: object
) -> tuple[list[Any], dict[str, Any]]:
    """Blocks of the accepted kinds, of cells whose points end at `ends`; no cell data."""
    from meshio import CellBlock

    blocks = []
    for kind, (number, corners) in KINDS.items():
        last = np.asarray(ends, dtype=np.int64)[np.asarray(types) == number]
        if len(last):
            blocks.append(CellBlock(kind, connectivity[last[:, None] + np.arange(-corners, 0)]))
    return blocks, {}


def _cells_with_counts(
    numbers: NDArray[Any], types: NDArray[Any], data: object
) -> tuple[list[Any], dict[str, Any]]:
    """The same for cells preceded by their number of points."""
    ends, end = [], 0
    for _ in types:
        end += int(numbers[end]) + 1
        ends.append(end)
    return _cells(numbers, np.array(ends), types, data)


class _Room:
    """Number of bytes still allowed."""

    def __init__(self, most: int) -> None:
        self.most = self.left = most

    def take(self, size: int) -> None:
        """Subtract bytes; refuse if none are left."""
        self.left -= size
        if self.left < 0:
            raise InputRefused(
                f"unpacks to more than {self.most} bytes",
                "Keep only the bowl's outline or surface in the file, without other numbers.",
                "profile",
            )

    def unpacking(self, begin: Callable[[], Any]) -> SimpleNamespace:
        """Replacement for a module with a function `decompress`."""

        def decompress(data: bytes) -> bytes:
            stream = begin()
            found: bytes = stream.decompress(data, self.left + 1)
            self.take(len(found))
            if not stream.eof:
                raise ValueError("a packed block is incomplete")
            return found

        return SimpleNamespace(decompress=decompress)
