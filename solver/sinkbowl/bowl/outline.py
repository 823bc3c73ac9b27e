"""Outer outline of a bowl from a file: a table of r, z, or the line cells of a mesh.

A table has two numbers a line, separated by comma, semicolon, tab or blanks (with semicolons and
tabs a decimal comma is understood), in metres or in the unit that its header names: ``r [mm], z
[mm]``. Lines that begin with # are remarks. Points run from the hole's edge, or from the axis,
to the rim.
"""

from __future__ import annotations

import re
from contextlib import redirect_stderr, redirect_stdout
from io import StringIO
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from sinkbowl.bowl.hull import FloatArray
from sinkbowl.case.units import Kind, read_quantity
from sinkbowl.errors import InputRefused
from sinkbowl.text_file import check_ordinary, read_text

TABLE_SUFFIXES = (".csv", ".txt", ".dat", ".tsv")
MOST_POINTS = 5000
LARGEST = 5.0
"""Largest coordinate [m] that is believed."""

LARGEST_FILE = 1_000_000
"""An outline longer than this [bytes] is something else."""

HEADER = re.compile(
    r"^(?P<name>[rz])(?:\s*[\[(]\s*(?P<unit>[^\])]+?)\s*[\])]|_(?P<short>[a-zµ]+))?$"
)
UNIT_LENGTH = Kind("a length unit", "meter", "1 um", "1 m", "1 mm")


def read_outline(path: Path) -> FloatArray:
    """Points (n, 2) of r, z [m] from the hole's edge to the rim.

    Parameters
    ----------
    path : table (.csv, .txt, .dat, .tsv) or any mesh file with line cells that meshio reads;
        a mesh is in metres, and in three dimensions its axis is z

    Raises
    ------
    InputRefused : the file is missing or unreadable, or its points are no outline
    """
    table = path.suffix.lower() in TABLE_SUFFIXES
    try:
        check_ordinary(path, "an outline")
        points = _read_table(path) if table else _read_mesh(path)
    except InputRefused as error:
        where = f"Looked for {path}. Give its place relative to the case file."
        raise _refuse(str(error), error.allowed or where) from None
    _check(points)
    return points


def _read_table(path: Path) -> FloatArray:
    text = read_text(path, LARGEST_FILE, "an outline")
    header: tuple[tuple[float, float], tuple[int, int]] | None = None
    rows: list[tuple[float, float]] = []
    for number, line in enumerate(text.splitlines(), start=1):
        cells = _cells(line)
        if not cells:
            continue
        if header is None:
            named = not all(_is_number(cell) for cell in cells)
            header = _read_header(cells, number) if named else ((1.0, 1.0), (0, 1))
            if named:
                continue
        rows.append(_read_row(cells, header[1], number))
        if len(rows) > MOST_POINTS:
            raise _refuse(f"has more than {MOST_POINTS} points", "Thin the outline out.")
    if header is None or len(rows) < 2:
        raise _refuse(
            f"has {len(rows)} points", "An outline needs at least two lines of numbers r, z."
        )
    return np.array(rows, dtype=np.float64) * np.array(header[0], dtype=np.float64)


def _cells(line: str) -> list[str]:
    """Cells of a line; none for an empty one or a remark."""
    line = line.strip()
    if not line or line.startswith("#"):
        return []
    for separator in (";", "\t"):
        if separator in line:
            return [cell.strip().replace(",", ".") for cell in line.split(separator)]
    pattern = r"\s*,\s*" if "," in line else r"\s+"
    return [cell.strip('" ') for cell in re.split(pattern, line)]


def _is_number(cell: str) -> bool:
    try:
        float(cell)
    except ValueError:
        return False
    return True


def _read_header(cells: list[str], number: int) -> tuple[tuple[float, float], tuple[int, int]]:
    """Length units of r and z [m] and the columns that they stand in."""
    found = {}
    for column, cell in enumerate(cells):
        match = HEADER.match(cell.strip('" ').lower())
        if match:
            unit = match["unit"] or match["short"] or "m"
            try:
                found[match["name"]] = column, read_quantity(f"1 {unit}", UNIT_LENGTH)
            except InputRefused as error:
                raise _refuse(f"line {number}: the unit {unit} {error}", HEADER_HINT) from None
    if set(found) != {"r", "z"}:
        raise _refuse(f'line {number}: the header "{", ".join(cells)}" is not known', HEADER_HINT)
    return (found["r"][1], found["z"][1]), (found["r"][0], found["z"][0])


HEADER_HINT = "Head the columns r [mm], z [mm], or leave the header out and write metres."


def _read_row(cells: list[str], columns: tuple[int, int], number: int) -> tuple[float, float]:
    if len(cells) <= max(columns):
        raise _refuse(f"line {number}: one number where r and z are needed")
    try:
        r, z = (float(cells[column]) for column in columns)
    except ValueError:
        raise _refuse(f'line {number}: "{", ".join(cells)}" are not two numbers') from None
    if not (np.isfinite(r) and np.isfinite(z)):
        raise _refuse(f"line {number}: a number is not finite")
    if r < 0.0:
        raise _refuse(f"line {number}: r = {r:g} is negative", "r counts outwards from the axis.")
    return r, z


def _read_mesh(path: Path) -> FloatArray:
    """Chain of the line cells of a mesh, from its end nearest the axis."""
    if path.stat().st_size > LARGEST_FILE:
        raise _refuse("is too long for an outline", f"At most {LARGEST_FILE} bytes are read.")
    import meshio

    try:
        with redirect_stdout(StringIO()), redirect_stderr(StringIO()):
            mesh = meshio.read(path)
    except (Exception, SystemExit) as error:  # meshio's readers raise, and exit, in many ways
        raise _refuse(
            f"cannot be read as a mesh ({type(error).__name__})",
            f"Give a table ({', '.join(TABLE_SUFFIXES)}) or a mesh file with line cells.",
        ) from None
    lines = [block.data for block in mesh.cells if block.type == "line"]
    if not lines:
        raise _refuse("has no line cells", "Draw the outer outline as lines in the r-z plane.")
    points = np.asarray(mesh.points, dtype=float)
    flat = points.shape[1] == 2 or not np.any(points[:, 2])
    r = points[:, 0] if flat else np.hypot(points[:, 0], points[:, 1])
    z = points[:, 1] if flat else points[:, 2]
    order = _chain(np.vstack(lines), r)
    return np.column_stack((r, z))[order]


def _chain(lines: NDArray[np.integer], r: FloatArray) -> list[int]:
    """Point numbers along an open chain of line cells (n, 2), from the end with the smaller r."""
    neighbours: dict[int, list[int]] = {}
    for a, b in lines.tolist():
        neighbours.setdefault(a, []).append(b)
        neighbours.setdefault(b, []).append(a)
    ends = [point for point, others in neighbours.items() if len(others) == 1]
    if len(ends) != 2 or max(len(others) for others in neighbours.values()) > 2:
        raise _refuse("holds lines that are not one open chain")
    order, before = [min(ends, key=lambda point: float(r[point]))], -1
    while following := [point for point in neighbours[order[-1]] if point != before]:
        before = order[-1]
        order.append(following[0])
    if len(order) != len(neighbours):
        raise _refuse("holds lines that are not one open chain")
    return order


def _check(points: FloatArray) -> None:
    """Refuse points that are no outline of a bowl of believable size."""
    if not np.all(np.isfinite(points)) or np.any(points[:, 0] < 0.0):
        raise _refuse("has points that are not finite or lie beyond the axis")
    if len(points) > MOST_POINTS:
        raise _refuse(f"has more than {MOST_POINTS} points", "Thin the outline out.")
    if np.max(np.abs(points)) > LARGEST:
        raise _refuse(
            f"reaches {np.max(np.abs(points)):.4g} m",
            "Without a header the numbers are metres. " + HEADER_HINT,
        )
    if points[0, 1] == points[:, 1].max() > points[-1, 1] and points[0, 0] > points[-1, 0]:
        raise _refuse("runs from the rim down to the hole", "List the points the other way round.")


def _refuse(message: str, allowed: str = "") -> InputRefused:
    return InputRefused(message, allowed, "profile")
