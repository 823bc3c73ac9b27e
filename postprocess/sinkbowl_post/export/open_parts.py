"""The open parts of cut cells as polygons: each cell's rectangle less the section of the solid.

The outline is split where it crosses grid lines, so every piece of it lies in one cell. In a cell
the pieces form chains from border to border; the open part lies to their right, and its edge is a
chain walked backwards, then the border counter-clockwise to where the next chain begins (Weiler &
Atherton 1977, for a rectangle).
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
"""Share of the smallest cell within which a point of the outline lies on a grid line."""


def open_polygons(r_f: Array, z_f: Array, outline: Array) -> dict[Cell, list[Array]]:
    """Open polygons (k, 2) of r, z, counter-clockwise, of each cell that the outline crosses.

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
    """Volume swept by a polygon (k, 2) of r, z turned once about the axis [m^3] (Pappus)."""
    r, z = polygon.T
    s, rise = np.roll(r, -1), np.roll(z, -1) - z
    return float(np.pi / 3.0 * np.sum((r * r + r * s + s * s) * rise))


def _chains(r_f: Array, z_f: Array, outline: Array) -> Iterator[tuple[Cell, list[Point]]]:
    """Chains of the outline inside cells, walked backwards: the open side is on their left."""
    points = _split(r_f, z_f, outline)[::-1]
    on_line = [r in r_f or z in z_f for r, z in points]
    if True not in on_line:
        return
    first = on_line.index(True)
    points, on_line = points[first:] + points[: first + 1], on_line[first:] + on_line[: first + 1]
    chain = [points[0]]
    for (a, b), at_border in zip(itertools.pairwise(points), on_line[1:], strict=True):
        chain.append(b)
        if at_border:
            along = (a[0] == b[0] and a[0] in r_f) or (a[1] == b[1] and a[1] in z_f)
            if len(chain) > 2 or not along:
                yield _cell_of(r_f, z_f, chain), chain
            chain = [b]


def _split(r_f: Array, z_f: Array, outline: Array) -> list[Point]:
    """Points of the outline and of its crossings with grid lines, those exactly on the lines."""
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


def _cell_of(r_f: Array, z_f: Array, chain: list[Point]) -> Cell:
    (r, z), (s, y) = chain[0], chain[1]
    i = np.searchsorted(r_f, 0.5 * (r + s)) - 1
    j = np.searchsorted(z_f, 0.5 * (z + y)) - 1
    return int(i), int(j)


def _around(box: Box, chains: list[list[Point]]) -> list[Array]:
    """Polygons that chains and the border between them enclose."""
    begins = [_along_border(box, chain[0]) for chain in chains]
    left, polygons = set(range(len(chains))), []
    while left:
        k = first = min(left)
        edge: list[Point] = []
        while True:
            left.discard(k)
            edge += chains[k]
            end = _along_border(box, chains[k][-1])
            k = min(range(len(chains)), key=lambda n: (begins[n] - end) % 4.0)
            edge += _corners(box, end, (begins[k] - end) % 4.0)
            if k == first or k not in left:
                break
        kept = [p for p, before in zip(edge, [edge[-1], *edge[:-1]], strict=True) if p != before]
        if len(kept) > 2:
            polygons.append(np.array(kept))
    return polygons


def _along_border(box: Box, point: Point) -> float:
    """Place of a point on the border, counter-clockwise from the lower left corner, 0 to 4."""
    r0, z0, r1, z1 = box
    r, z = point
    if z == z0:
        return (r - r0) / (r1 - r0)
    if r == r1:
        return 1.0 + (z - z0) / (z1 - z0)
    if z == z1:
        return 2.0 + (r1 - r) / (r1 - r0)
    return (3.0 + (z1 - z) / (z1 - z0)) % 4.0


def _corners(box: Box, begin: float, way: float) -> list[Point]:
    """Corners of the border strictly between a place and another a way on."""
    r0, z0, r1, z1 = box
    corners = ((r0, z0), (r1, z0), (r1, z1), (r0, z1))
    passed = range(int(np.floor(begin)) + 1, int(np.ceil(begin + way)))
    return [(float(corners[n % 4][0]), float(corners[n % 4][1])) for n in passed]
