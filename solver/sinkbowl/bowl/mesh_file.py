"""Reading of untrusted mesh files: points in metres, line cells and triangles.

The size is checked before the file is opened, its counts before it is read (bounded_reading.py).
    Every exception of meshio's readers becomes a message.
"""

from contextlib import redirect_stderr, redirect_stdout
from io import StringIO
from pathlib import Path
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from sinkbowl.bowl.bounded_reading import bounded, check_counts
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
LARGEST = 5.0
"""Largest accepted coordinate [m]."""

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

    Parameters
    ----------
    unit : of its numbers, "mm"; None for metres

    Raises
    ------
    InputRefused : the file has another format, is too large or unreadable, the unit is unknown,
        numbers are not finite or too large, or there are no lines and no triangles
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


def _refuse(message: str, allowed: str = "") -> InputRefused:
    return InputRefused(message, allowed, "profile")
