"""The section of a run as polygons: all cells that are not solid, cut at the wall.

In space the half plane is x = r, y = 0, z = z. Whole cells are rectangles; a cut cell is the
polygon of its open part, or two polygons.

Triangulation of simple polygons by clipping ears (Meisters 1975).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sinkbowl.files.result import Result
from sinkbowl_post.exporting.field_mesh import Array, Block, FieldMesh, Numbers
from sinkbowl_post.exporting.open_parts import open_polygons, revolved_volume


@dataclass(frozen=True, eq=False)
class Polygons:
    """Polygons of the same number of corners.

    Attributes
    ----------
    corners : (m, k) numbers of points, counter-clockwise
    cell : (m,) flat index of the values in a field (nr, nz)
    open_volume : (m,) revolved about the axis [m^3]
    """

    corners: Numbers
    cell: Numbers
    open_volume: Array


@dataclass(frozen=True, eq=False)
class Section:
    """Points (n, 2) of r, z [m]; whole cells, rectangles; the open polygons of cut cells."""

    points: Array
    whole: Polygons
    cut: tuple[Polygons, ...]

    @classmethod
    def of(cls, result: Result) -> Section:
        """Section of a result's grid."""
        r_f, z_f, is_open = (result.grid[name] for name in ("r_f", "z_f", "open_fraction"))
        volume = np.pi * np.outer(np.diff(r_f**2), np.diff(z_f)) * is_open
        outline = result.grid["grid_outline"]
        parts = {
            cell: polygons
            for cell, polygons in open_polygons(r_f, z_f, outline).items()
            if polygons and 0.0 < is_open[cell] < 1.0
        }
        whole = is_open > 0.0
        whole[tuple(np.array(list(parts), dtype=int).reshape(-1, 2).T)] = False
        numbers = _Numbers()
        rectangles = [
            ((r_f[i], z_f[j]), (r_f[i + 1], z_f[j]), (r_f[i + 1], z_f[j + 1]), (r_f[i], z_f[j + 1]))
            for i, j in np.argwhere(whole)
        ]
        corners = np.array([[numbers.of(*p) for p in box] for box in rectangles], dtype=np.intp)
        cells = np.flatnonzero(whole)
        quads = Polygons(corners.reshape(-1, 4), cells, volume.ravel()[cells])
        cut = _cut(parts, volume, numbers)
        return cls(np.array(list(numbers.known)), quads, cut)

    def as_polygons(self) -> FieldMesh:
        """One cell of the mesh per cell of the grid."""
        cut = [
            _flat("triangle" if group.corners.shape[1] == 3 else "polygon", group)
            for group in self.cut
        ]
        return FieldMesh(_in_space(self.points), (_flat("quad", self.whole), *cut))

    def as_triangles(self) -> FieldMesh:
        """The same with cut cells as triangles, for formats without polygons."""
        triangles = self.triangles()
        blocks = [_flat("quad", self.whole)]
        if len(triangles.cell):
            blocks.append(_flat("triangle", triangles))
        return FieldMesh(_in_space(self.points), tuple(blocks))

    def triangles(self) -> Polygons:
        """The cut cells as triangles, each with its share of the open volume."""
        corners, cells, volumes = [], [], []
        for group in self.cut:
            for polygon, cell, volume in zip(
                group.corners, group.cell, group.open_volume, strict=True
            ):
                three = polygon[triangles_of(self.points[polygon])]
                swept = np.array([revolved_volume(self.points[corner]) for corner in three])
                kept = swept > 0.0
                corners.append(three[kept])
                cells.append(np.full(np.count_nonzero(kept), cell))
                volumes.append(volume * swept[kept] / np.sum(swept))
        if not corners:
            return Polygons(np.zeros((0, 3), np.intp), np.zeros(0, np.intp), np.zeros(0))
        return Polygons(*(np.concatenate(parts) for parts in (corners, cells, volumes)))


class _Numbers:
    """Numbers of points, without duplicates."""

    def __init__(self) -> None:
        self.known: dict[tuple[float, float], int] = {}

    def of(self, r: float, z: float) -> int:
        return self.known.setdefault((float(r), float(z)), len(self.known))


def _cut(
    parts: dict[tuple[int, int], list[Array]], volume: Array, numbers: _Numbers
) -> tuple[Polygons, ...]:
    """Open polygons by number of corners; a cell's volume is divided among its polygons."""
    groups: dict[int, list[tuple[list[int], int, float]]] = {}
    for (i, j), polygons in parts.items():
        swept = np.array([revolved_volume(polygon) for polygon in polygons])
        shares = volume[i, j] * swept / np.sum(swept)
        for polygon, share in zip(polygons, shares, strict=True):
            named = [numbers.of(r, z) for r, z in polygon]
            cell = int(np.ravel_multi_index((i, j), volume.shape))
            groups.setdefault(len(named), []).append((named, cell, float(share)))
    return tuple(
        Polygons(*(np.array(column) for column in zip(*group, strict=True)))
        for _, group in sorted(groups.items())
    )


def _flat(kind: str, polygons: Polygons) -> Block:
    angle = np.zeros(len(polygons.cell))
    return Block(kind, polygons.corners, polygons.cell, polygons.open_volume, angle)


def _in_space(points: Array) -> Array:
    return np.column_stack((points[:, 0], np.zeros(len(points)), points[:, 1]))


ON_EDGE = 1e-13
"""Twice the area over the polygon's squared size below which a point is on an edge."""


def triangles_of(polygon: Array) -> NDArray[np.intp]:
    """Corner numbers (k - 2, 3) of the triangles of a counter-clockwise polygon (k, 2).

    The ear with the largest minimum angle is clipped first. Triangles of collinear corners have no
    area; the total is always the polygon's area.
    """
    left = list(range(len(polygon)))
    found = []
    while len(left) > 3:
        best = max(range(len(left)), key=lambda n: _quality(polygon, left, n))
        found.append((left[best - 1], left[best], left[(best + 1) % len(left)]))
        del left[best]
    return np.array([*found, left], dtype=np.intp)


def _quality(polygon: Array, left: list[int], n: int) -> float:
    """Twice the ear's area over its longest side squared; negative if not an ear."""
    corners = left[n - 1], left[n], left[(n + 1) % len(left)]
    a, b, c = polygon[list(corners)]
    area = float(_turn(a, b, c))
    others = polygon[[k for k in left if k not in corners]].T
    near = -ON_EDGE * float(np.max(np.ptp(polygon, axis=0))) ** 2
    inside = np.all([_turn(p, q, others) >= near for p, q in ((a, b), (b, c), (c, a))], axis=0)
    if area < 0.0 or np.any(inside):
        return -1.0
    longest = max(float(np.sum((p - q) ** 2)) for p, q in ((a, b), (b, c), (c, a)))
    return area / longest


def _turn(a: Array, b: Array, c: Array) -> Array:
    """Twice the area to the left of a, b, c; c may be (2, m)."""
    return np.asarray((b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0]))
