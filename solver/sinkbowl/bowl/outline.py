"""Outline of a bowl from a file: a table of r, z, or a mesh of its outline or of its surface.

A table has two numbers a line, separated by comma, semicolon, tab or blanks (with semicolons and
tabs, decimal commas are accepted), in metres or in the unit that its header names: ``r [mm], z
[mm]``. Lines that begin with # are comments. Points run from the hole's edge, or from the axis, to
the rim.

A mesh is one of `mesh_file.FORMATS`. Line cells are the outer outline; by default r = x and z = y
in a plane, and the axis is z in space. A surface of triangles or quadrilaterals is that of the
whole bowl with its wall, or only its outer side; its axis is found.

The meridian is split into outer and inner side, both from the hole's edge to the rim.
"""

from __future__ import annotations

import re
from pathlib import Path
from typing import NamedTuple

import numpy as np

from sinkbowl.bowl.hull import FloatArray
from sinkbowl.bowl.mesh_file import LARGEST, UNIT_LENGTH, chain_of, read_mesh
from sinkbowl.common.errors import InputRefused
from sinkbowl.common.text_file import check_ordinary, read_text
from sinkbowl.common.units import read_quantity

TABLE_SUFFIXES = (".csv", ".txt", ".dat", ".tsv")
MOST_POINTS = 5000
LARGEST_FILE = 1_000_000  # largest table [bytes]

HEADER = re.compile(r"(?P<name>[rz])(?:\s*[\[(](?P<unit>[^\])]+)[\])]|_(?P<short>[a-zµ]+))?")


def read_outline(path: Path, axis: str | None = None, unit: str | None = None) -> Sides:
    """Outer outline (n, 2) of r, z [m] from the hole's edge to the rim, and inner one if known.

    path : table (.csv, .txt, .dat, .tsv) or a mesh, see `mesh_file.FORMATS`
    axis : direction of a mesh's axis, x, y or z; of lines, through the origin
    unit : of a mesh's numbers; default: metres

    Raises InputRefused if the file is missing or unreadable, its points are not an outline, its
    surface is not one of revolution, or axis or unit are given for a table.
    """
    table = path.suffix.lower() in TABLE_SUFFIXES
    for key, given in (("axis", axis), ("unit", unit)):
        if table and given is not None:
            raise InputRefused("is for meshes, and this is a table", HEADER_HINT, key)
    try:
        check_ordinary(path, "an outline")
    except InputRefused as error:
        where = f"Looked for {path}. Give its path relative to the case file."
        raise _refuse(str(error), error.allowed or where) from None
    sides = Sides(_read_table(path)) if table else _read_mesh(path, axis, unit)
    _check(sides.outer)
    return sides


def _read_table(path: Path) -> FloatArray:
    try:
        text = read_text(path, LARGEST_FILE, "an outline")
    except InputRefused as error:
        raise _refuse(str(error), error.allowed) from None
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
            raise _refuse(f"has more than {MOST_POINTS} points", "Use fewer points.")
    if header is None or len(rows) < 2:
        raise _refuse(
            f"has {len(rows)} points", "An outline needs at least two lines of numbers r, z."
        )
    return np.array(rows, dtype=np.float64) * np.array(header[0], dtype=np.float64)


def _cells(line: str) -> list[str]:
    """Cells of a line; none for an empty line or a comment."""
    line = line.strip()
    if not line or line.startswith("#"):
        return []
    for separator in (";", "\t"):
        if separator in line:
            return [cell.strip().replace(",", ".") for cell in line.split(separator)]
    cells = line.split("," if "," in line else None)
    return [cell.strip().strip('" ') for cell in cells]


def _is_number(cell: str) -> bool:
    try:
        float(cell)
    except ValueError:
        return False
    return True


def _read_header(cells: list[str], number: int) -> tuple[tuple[float, float], tuple[int, int]]:
    """Length units of r and z [m] and their columns."""
    found = {}
    for column, cell in enumerate(cells):
        match = HEADER.fullmatch(cell.strip('" ').lower())
        if match:
            unit = (match["unit"] or match["short"] or "m").strip()
            try:
                found[match["name"]] = column, read_quantity(f"1 {unit}", UNIT_LENGTH)
            except InputRefused as error:
                raise _refuse(f"line {number}: the unit {unit} {error}", HEADER_HINT) from None
    if set(found) != {"r", "z"}:
        raise _refuse(f'line {number}: the header "{", ".join(cells)}" is not known', HEADER_HINT)
    return (found["r"][1], found["z"][1]), (found["r"][0], found["z"][0])


HEADER_HINT = "Name the columns r [mm], z [mm]; without a header the numbers are metres."


def _read_row(cells: list[str], columns: tuple[int, int], number: int) -> tuple[float, float]:
    if len(cells) <= max(columns):
        raise _refuse(f"line {number}: one number; r and z are needed")
    try:
        r, z = (float(cells[column]) for column in columns)
    except ValueError:
        raise _refuse(f'line {number}: "{", ".join(cells)}" are not two numbers') from None
    if not (np.isfinite(r) and np.isfinite(z)):
        raise _refuse(f"line {number}: a number is not finite")
    if r < 0.0:
        raise _refuse(f"line {number}: r = {r:g} is negative", "r is the distance from the axis.")
    return r, z


def _read_mesh(path: Path, axis: str | None, unit: str | None) -> Sides:
    """Sides of a bowl from its surface, or one side from line cells."""
    mesh = read_mesh(path, unit)
    if len(mesh.triangles) and not mesh.flat:
        from sinkbowl.bowl.mesh_surface import meridian_of

        meridian = meridian_of(mesh.points, mesh.triangles, axis)
        return sides_of(meridian.chain, meridian.closed)
    if not len(mesh.lines):
        raise _refuse(
            "is a flat surface", "Draw the outer outline as lines, or give the bowl's surface."
        )
    along = axis or ("y" if mesh.flat else "z")
    across = [k for k in range(3) if "xyz"[k] != along]
    r = np.hypot(*mesh.points[:, across].T)
    if mesh.flat and axis is None:
        r = mesh.points[:, 0]
    flat = np.column_stack((r, mesh.points[:, "xyz".index(along)]))
    chain, closed = chain_of(flat[mesh.lines])
    if closed:
        raise _refuse("has lines that are not one open chain")
    return Sides(chain if chain[0, 0] <= chain[-1, 0] else chain[::-1])


def _check(points: FloatArray) -> None:
    """Refuse points that are not the outline of a bowl, or too large."""
    if not np.all(np.isfinite(points)) or np.any(points[:, 0] < 0.0):
        raise _refuse("has points that are not finite, or with r < 0")
    if len(points) > MOST_POINTS:
        raise _refuse(f"has more than {MOST_POINTS} points", "Use fewer points.")
    if np.max(np.abs(points)) > LARGEST:
        raise _refuse(
            f"reaches {np.max(np.abs(points)):.4g} m",
            "Without a header the numbers are metres. " + HEADER_HINT,
        )
    if points[0, 1] == points[:, 1].max() > points[-1, 1] and points[0, 0] > points[-1, 0]:
        raise _refuse("runs from the rim down to the hole", "Reverse the order of the points.")


def _refuse(message: str, allowed: str = "") -> InputRefused:
    return InputRefused(message, allowed, "profile")


SAME_HEIGHT = 1e-5
"""Share of the meridian's size within which points have the same radius or height."""


class Sides(NamedTuple):
    """Outer outline (n, 2) of r, z [m] from hole or axis to the rim; inner (m, 2) where known."""

    outer: FloatArray
    inner: FloatArray | None = None


def sides_of(chain: FloatArray, closed: bool) -> Sides:
    """Sides of a bowl from its meridian, upright or upside down.

    chain : (n, 2) points r, z [m] in either direction
    closed : whether it ends where it begins; a body without a hole has both ends on the axis

    Raises InputRefused if it is not the meridian of a bowl.
    """
    near = SAME_HEIGHT * float(np.ptp(chain, axis=0).max())
    if not closed and max(chain[0, 0], chain[-1, 0]) > near:
        # one side, from the end nearer the axis to the other, which is the rim and goes up
        skin = chain[::-1] if chain[0, 0] > chain[-1, 0] else chain
        return Sides(skin * [1.0, 1.0 if skin[-1, 1] >= skin[0, 1] else -1.0])
    # turned so that hole or base, nearest to the axis, are in the lower half
    r, z = chain.T
    upright = float(z[r <= r.min() + near].mean()) <= 0.5 * (z.min() + z.max())
    ring = (chain[:-1] if closed else chain) * [1.0, 1.0 if upright else -1.0]
    after = np.roll(ring, -1, axis=0)
    if np.sum(ring[:, 0] * after[:, 1] - ring[:, 1] * after[:, 0]) < 0.0:
        ring = ring[::-1]  # clockwise
    lowest = np.lexsort((ring[:, 1], ring[:, 0] > ring[:, 0].min() + near))[0]
    ring = np.roll(ring, -int(lowest), axis=0)
    base = np.flatnonzero(ring[:, 0] <= ring[:, 0].min() + near)
    top = np.flatnonzero(ring[:, 1] >= ring[:, 1].max() - near)
    outer_rim, inner_rim = top[ring[top, 0].argmax()], top[ring[top, 0].argmin()]
    inner_edge = base[ring[base, 1].argmax()]
    if not 0 < outer_rim < inner_rim < inner_edge:
        raise InputRefused(
            "is a body without a hole or closed base below and a flat rim above",
            "Give only the bowl, or its outer surface.",
            "profile",
        )
    outer, inner = ring[: outer_rim + 1], ring[inner_rim : inner_edge + 1][::-1].copy()
    inner[0, 0], inner[-1, 1] = outer[0, 0], outer[-1, 1]
    return Sides(outer, inner)
