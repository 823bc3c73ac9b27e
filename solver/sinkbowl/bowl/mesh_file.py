"""Reading of untrusted mesh files: points in metres, line cells and triangles.

The size is checked before the file is opened, and the counts in the header of a .ply or .vtk before
meshio allocates memory for them. In VTK files meshio would also follow offsets to cells of any
size, read the same numbers repeatedly, make grids of points from three numbers, and unpack a block
of any size with one call of `zlib.decompress`. `bounded` replaces these functions: only line cells,
triangles and quadrilaterals are made, and the total of all numbers is limited. Every exception of
meshio's readers becomes a message.
"""

import lzma
import re
import zlib
from collections.abc import Callable, Iterator
from contextlib import contextmanager, redirect_stderr, redirect_stdout
from functools import partial
from io import StringIO
from pathlib import Path
from threading import Lock
from types import SimpleNamespace
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray
from shapely import LineString, get_coordinates, line_merge, linestrings, multilinestrings

from sinkbowl.bowl.hull import FloatArray
from sinkbowl.common.errors import InputRefused
from sinkbowl.common.units import Kind, read_quantity

FORMATS = {
    ".stl": "stl",
    ".obj": "obj",
    ".ply": "ply",
    ".vtk": "vtk",
    ".vtu": "vtu",
}
"""Accepted formats. For others meshio's readers loop for ever on truncated files, or allocate
memory by numbers anywhere in the file (Gmsh's node tags)."""

LARGEST_PLAIN = 20_000_000
LARGEST_PACKED = 1_000_000
"""Largest mesh files [bytes]; the smaller one for .vtu, whose content may be compressed; the
unpacked limit is that of a plain file."""

MOST_TRIANGLES = 400_000
LARGEST = 5.0  # largest accepted coordinate [m]
MOST_COUNTED = 2_000_000  # largest accepted count of points, cells or numbers of cells in a header

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

UNIT_LENGTH = Kind("a length unit", "m", "0.001 mm", "1 m", "1 mm")


class MeshFile(NamedTuple):
    """Points (n, 3) [m], line cells (k, 2) and triangles (m, 3), quadrilaterals split in two."""

    points: FloatArray
    lines: NDArray[np.intp]
    triangles: NDArray[np.intp]

    @property
    def flat(self) -> bool:
        """Whether all points lie in the plane of x and y."""
        return not np.any(self.points[:, 2])


def read_mesh(path: Path, unit: str | None) -> MeshFile:
    """Read an ordinary file of one of the formats.

    unit : of its numbers, "mm"; None for metres

    Raises InputRefused if the file has another format, is too large or unreadable, the unit is
    unknown, numbers are not finite or too large, or there are no lines and no triangles.
    """
    scale = length_unit(unit) if unit is not None else 1.0
    suffix = path.suffix.lower()
    if suffix not in FORMATS:
        raise _refuse(
            "is not a readable table or mesh",
            f"Tables are .csv, .txt, .dat, .tsv; meshes {', '.join(FORMATS)}.",
        )
    largest = LARGEST_PACKED if suffix == ".vtu" else LARGEST_PLAIN
    if path.stat().st_size > largest:
        raise _refuse("is too large for a bowl's outline", f"At most {largest} bytes are read.")
    mesh = _read(path)
    lines, triangles = _cells(mesh, "line", 2), _cells(mesh, "triangle", 3)
    quads = _cells(mesh, "quad", 4)
    triangles = np.vstack((triangles, quads[:, [0, 1, 2]], quads[:, [0, 2, 3]]))
    points = _points(mesh, scale)
    for cells in (lines, triangles):
        if cells.size and not 0 <= cells.min() <= cells.max() < len(points):
            raise _refuse("has cells with missing points")
    if not len(lines) and not len(triangles):
        raise _refuse(
            "has neither line cells nor triangles",
            "Draw the outer outline as lines in the r-z plane, or give the bowl's surface.",
        )
    if len(triangles) > MOST_TRIANGLES:
        raise _refuse(f"has {len(triangles)} triangles", f"At most {MOST_TRIANGLES} are read.")
    return MeshFile(points, lines, triangles)


def length_unit(unit: str) -> float:
    """Length [m] of a unit; InputRefused unless it is one from a micrometre to a metre."""
    try:
        return read_quantity(f"1 {unit}", UNIT_LENGTH)
    except InputRefused as error:
        message = "is out of range" if "range" in str(error) else "is not a unit of length"
        raise InputRefused(message, 'Write only the unit, e.g. "mm".', "unit") from None


def _read(path: Path) -> Any:
    import meshio

    suffix, content = path.suffix.lower(), path.read_bytes()
    if suffix == ".ply":
        content, end, _ = content.partition(b"end_header")
        if not end:
            raise _refuse("has no end of its header, which a .ply file needs")
    check_counts(content, suffix)
    try:
        with redirect_stdout(StringIO()), redirect_stderr(StringIO()), bounded(LARGEST_PLAIN):
            return meshio.read(path, FORMATS[suffix])
    except InputRefused:
        raise
    except (Exception, SystemExit) as error:  # meshio's readers raise, and exit, in many ways
        raise _refuse(
            f"cannot be read as a mesh ({type(error).__name__})",
            "Save it again with lines or triangles, or give a table of r and z.",
        ) from None


def _points(mesh: Any, scale: float) -> FloatArray:
    try:
        points = np.asarray(mesh.points, dtype=float)
        points = np.hstack((points, np.zeros((len(points), 3 - points.shape[1]))))
    except (TypeError, ValueError, IndexError):
        raise _refuse("has points that are not two or three numbers") from None
    if not np.all(np.isfinite(points)):
        raise _refuse("has points that are not finite")
    points = points * scale
    reach = float(np.max(np.abs(points), initial=0.0))
    if reach > LARGEST:
        raise _refuse(
            f"reaches {reach:.4g} m",
            'Numbers of a mesh are metres. For another unit set e.g. unit = "mm".',
        )
    return points


def _cells(mesh: Any, kind: str, corners: int) -> NDArray[np.intp]:
    found = [np.asarray(block.data, dtype=np.intp) for block in mesh.cells if block.type == kind]
    none = np.zeros((0, corners), dtype=np.intp)
    return np.vstack((none, *(cells.reshape(-1, corners) for cells in found)))


def chain_of(segments: FloatArray) -> tuple[FloatArray, bool]:
    """Points (m, 2) along the one chain of segments (n, 2, 2), and whether it is closed.

    A closed chain ends with its first point. Raises InputRefused if the segments are not one chain.
    """
    merged = line_merge(multilinestrings(linestrings(segments)))
    if not isinstance(merged, LineString):
        raise InputRefused("has lines that are not one chain", key="profile")
    return get_coordinates(merged), merged.is_closed


def _refuse(message: str, allowed: str = "") -> InputRefused:
    return InputRefused(message, allowed, "profile")


def check_counts(content: bytes, suffix: str) -> None:
    """Refuse a file whose header has larger counts than any bowl's mesh; InputRefused."""
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
        (_vtu, {"vtk_cells_from_data": _vtk_cells, "_polyhedron_cells_from_data": _not_of_lines}),
        (reader, {"read_data": counted}),
        (_vtk_51, {"vtk_cells_from_data": _vtk_cells, "_check_mesh": _unstructured}),
        (_vtk_42, {"translate_cells": _vtk_cells_with_counts, "_check_mesh": _unstructured}),
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
        _not_of_lines()


def _not_of_lines(*_: object) -> None:
    raise InputRefused("is not a grid of lines, triangles or quadrilaterals", "", "profile")


def _vtk_cells(
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


def _vtk_cells_with_counts(
    numbers: NDArray[Any], types: NDArray[Any], data: object
) -> tuple[list[Any], dict[str, Any]]:
    """The same for cells preceded by their number of points."""
    ends, end = [], 0
    for _ in types:
        end += int(numbers[end]) + 1
        ends.append(end)
    return _vtk_cells(numbers, np.array(ends), types, data)


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
