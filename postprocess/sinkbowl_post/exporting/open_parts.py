"""The open parts of cut cells as polygons: each cell's rectangle minus the section of the solid.

The outline is split at grid lines, so that every piece lies in one cell. In a cell the pieces form
chains from border to border; the open part is on their right, and its edge is a chain in reverse,
then the border counter-clockwise to the start of the next chain (Weiler & Atherton 1977, for a
rectangle).
"""

from __future__ import annotations

import itertools
from collections import defaultdict
from collections.abc import Iterator

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
Point = tuple[float, float]
Cell = tuple[int, int]
Box = tuple[float, float, float, float]

SAME_PLACE = 1e-6
"""Tolerance for points on a grid line, as a share of the smallest cell."""


def open_polygons(r_f: Array, z_f: Array, outline: Array) -> dict[Cell, list[Array]]:
    """Open polygons (k, 2) of r, z, counter-clockwise, of each cell that the outline crosses.

    A solid inside one cell crosses none.

    Parameters
    ----------
    r_f, z_f : (nr + 1,), (nz + 1,) cell faces [m]
    outline : (n, 2) closed section of the solid [m], counter-clockwise, its first point once
    """
    chains: dict[Cell, list[list[Point]]] = defaultdict(list)
    for cell, chain in _chains(r_f, z_f, outline):
        chains[cell].append(chain)
    return {
        (i, j): _around((r_f[i], z_f[j], r_f[i + 1], z_f[j + 1]), found)
        for (i, j), found in chains.items()
        if 0 <= i < len(r_f) - 1 and 0 <= j < len(z_f) - 1
    }


def revolved_volume(polygon: Array) -> float:
    """Volume of a polygon (k, 2) of r, z revolved about the axis [m^3] (Pappus)."""
    r, z = polygon.T
    s, rise = np.roll(r, -1), np.roll(z, -1) - z
    return float(np.pi / 3.0 * np.sum((r * r + r * s + s * s) * rise))


def _chains(r_f: Array, z_f: Array, outline: Array) -> Iterator[tuple[Cell, list[Point]]]:
    """Chains of the outline inside cells, reversed: the open side is on their left.

    A corner that only touches a border does not end a chain.
    """
    points = _split(r_f, z_f, outline)[::-1]
    pieces = [
        (_cell_of(r_f, z_f, a, b), a, b)
        for a, b in zip(points, points[1:] + points[:1], strict=True)
    ]
    begins = [k for k in range(len(pieces)) if pieces[k][0] != pieces[k - 1][0]]
    if not begins:
        return
    turned = pieces[begins[0] :] + pieces[: begins[0]]
    for cell, run in itertools.groupby(turned, lambda piece: piece[0]):
        inside = list(run)
        if cell is not None:
            yield cell, [inside[0][1], *(b for _, _, b in inside)]


def _split(r_f: Array, z_f: Array, outline: Array) -> list[Point]:
    """Points of the outline and of its crossings with grid lines, snapped to the lines."""
    near = SAME_PLACE * min(np.diff(r_f).min(), np.diff(z_f).min())
    found: list[Point] = []
    for a, b in zip(outline, np.roll(outline, -1, axis=0), strict=True):
        shares = {0.0}
        for lines, low, high in ((r_f, a[0], b[0]), (z_f, a[1], b[1])):
            crossed = lines[(lines > min(low, high)) & (lines < max(low, high))]
            shares.update(((crossed - low) / (high - low)).tolist())
        for share in sorted(shares):
            r, z = a + share * (b - a)
            point = _snapped(r, r_f, near), _snapped(z, z_f, near)
            if not found or point != found[-1]:
                found.append(point)
    return found if found[:1] != found[-1:] else found[:-1]


def _snapped(x: float, lines: Array, near: float) -> float:
    line = float(lines[np.argmin(np.abs(lines - x))])
    return line if abs(line - x) <= near else float(x)


def _cell_of(r_f: Array, z_f: Array, a: Point, b: Point) -> Cell | None:
    """The cell of a piece of the outline; None along a grid line."""
    if (a[0] == b[0] and a[0] in r_f) or (a[1] == b[1] and a[1] in z_f):
        return None
    i = np.searchsorted(r_f, 0.5 * (a[0] + b[0])) - 1
    j = np.searchsorted(z_f, 0.5 * (a[1] + b[1])) - 1
    return int(i), int(j)


def _around(box: Box, chains: list[list[Point]]) -> list[Array]:
    """Polygons enclosed by chains and the border between them."""
    begins = [_along_border(box, chain[0]) for chain in chains]
    marks = _marks(box, chains)
    left, polygons = set(range(len(chains))), []
    while left:
        k = first = min(left)
        edge: list[Point] = []
        while True:
            left.discard(k)
            edge += chains[k]
            end = _along_border(box, chains[k][-1])
            k = min(range(len(chains)), key=lambda n: (begins[n] - end) % 4.0)
            edge += _passed(marks, end, (begins[k] - end) % 4.0)
            if k == first or k not in left:
                break
        polygons += [np.array(loop) for loop in _loops(edge) if len(loop) > 2]
    return polygons


def _marks(box: Box, chains: list[list[Point]]) -> list[tuple[float, Point]]:
    """Corners of the border and points at which a chain only touches it, with their positions."""
    r0, z0, r1, z1 = box
    points = [(r0, z0), (r1, z0), (r1, z1), (r0, z1)]
    for chain in chains:
        points += [(r, z) for r, z in chain[1:-1] if r in (r0, r1) or z in (z0, z1)]
    return [(_along_border(box, point), point) for point in points]


def _passed(marks: list[tuple[float, Point]], begin: float, way: float) -> list[Point]:
    """Marks strictly between two positions on the border, in order."""
    ahead = sorted(((place - begin) % 4.0, point) for place, point in marks)
    return [point for distance, point in ahead if 0.0 < distance < way]


def _loops(edge: list[Point]) -> Iterator[list[Point]]:
    """A closed edge split where it returns to the same point."""
    path: list[Point] = []
    for point in edge:
        if point in path:
            at = path.index(point)
            yield path[at:]
            del path[at:]
        path.append(point)
    yield path


def _along_border(box: Box, point: Point) -> float:
    """Position of a point on the border, counter-clockwise from the lower left corner, 0 to 4."""
    r0, z0, r1, z1 = box
    r, z = point
    if z == z0:
        return (r - r0) / (r1 - r0)
    if r == r1:
        return 1.0 + (z - z0) / (z1 - z0)
    if z == z1:
        return 2.0 + (r1 - r) / (r1 - r0)
    return (3.0 + (z1 - z) / (z1 - z0)) % 4.0
