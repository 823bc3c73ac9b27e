"""The open parts of cut cells as polygons: each cell's rectangle minus the section of the solid.

The outline is split at grid lines first, so that neighbours have these points in common exactly.
"""

import numpy as np
from numpy.typing import NDArray
from shapely import Polygon, box
from shapely.geometry.base import BaseGeometry
from shapely.geometry.polygon import orient

Array = NDArray[np.float64]
Point = tuple[float, float]
Cell = tuple[int, int]

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
    points = np.array(_split(r_f, z_f, outline))
    solid, after = Polygon(points), np.roll(points, -1, axis=0)
    on_lines = np.column_stack((np.isin(points[:, 0], r_f), np.isin(points[:, 1], z_f)))
    along = np.any(on_lines & (points == after), axis=1)
    r, z = 0.5 * (points + after)[~along].T
    crossed = set(zip(np.searchsorted(r_f, r) - 1, np.searchsorted(z_f, z) - 1, strict=True))
    if len(crossed) == 1 and not along.any():
        return {}
    return {
        (int(i), int(j)): _outlines(
            box(r_f[i], z_f[j], r_f[i + 1], z_f[j + 1]).difference(solid),
        )
        for i, j in sorted(crossed)
        if 0 <= i < len(r_f) - 1 and 0 <= j < len(z_f) - 1
    }


def revolved_volume(polygon: Array) -> float:
    """Volume of a polygon (k, 2) of r, z revolved about the axis [m^3] (Pappus)."""
    r, z = polygon.T
    s, rise = np.roll(r, -1), np.roll(z, -1) - z
    return float(np.pi / 3.0 * np.sum((r * r + r * s + s * s) * rise))


def _outlines(area: BaseGeometry) -> list[Array]:
    """Corners of the pieces of an area, counter-clockwise, the first corner once."""
    pieces = getattr(area, "geoms", [area])
    known = [piece for piece in pieces if isinstance(piece, Polygon) and piece.area > 0.0]
    return [np.array(orient(piece).exterior.coords)[:-1] for piece in known]


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
