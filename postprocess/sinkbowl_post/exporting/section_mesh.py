"""The section of a run as polygons: all cells that are not solid, cut at the wall.

In space the half plane is x = r, y = 0, z = z. Whole cells are rectangles; a cut cell is the
polygon of its open part, or two polygons: its rectangle minus the section of the solid. The
solid's outline is split at grid lines first, so that neighbours have these points in common
exactly. Polygons are cut into triangles by clipping ears (Meisters 1975).

The section revolved about the axis has hexahedra, and wedges at the axis, in N equal sectors. These
cells have straight edges between two half planes, so each has the same share of the volume swept by
its polygon: sin(2 pi/N) / (2 pi/N), 0.995 for 36 sectors. Triangles of cut cells become wedges too.
Values are those of the middle of each sector.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from shapely import Polygon, box, get_parts
from shapely.geometry.base import BaseGeometry
from shapely.geometry.polygon import orient

from sinkbowl.common.errors import ResultError
from sinkbowl.files.result import Result
from sinkbowl_post.exporting.field_mesh import Array, Block, FieldMesh, Numbers

Numbering = dict[tuple[float, float], int]
Point = tuple[float, float]
Cell = tuple[int, int]

SAME_PLACE = 1e-6  # tolerance for points on a grid line, as a share of the smallest cell
FEWEST_SECTORS, MOST_SECTORS = 3, 360


@dataclass(frozen=True, eq=False)
class Section:
    """Points (n, 2) of r, z [m]; whole cells, rectangles; the open polygons of cut cells.

    Volumes are those of a turn about the axis.
    """

    points: Array
    whole: Block
    cut: tuple[Block, ...]

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
        numbers: Numbering = {}
        rectangles = [
            ((r_f[i], z_f[j]), (r_f[i + 1], z_f[j]), (r_f[i + 1], z_f[j + 1]), (r_f[i], z_f[j + 1]))
            for i, j in np.argwhere(whole)
        ]
        corners = np.array([_numbered(box, numbers) for box in rectangles], dtype=np.intp)
        cells = np.flatnonzero(whole)
        quads = Block("quad", corners.reshape(-1, 4), cells, volume.ravel()[cells])
        cut = _cut(parts, volume, numbers)
        return cls(np.array(list(numbers)), quads, cut)

    def as_polygons(self) -> FieldMesh:
        """One cell of the mesh per cell of the grid."""
        return FieldMesh(self._in_space, (self.whole, *self.cut))

    def as_triangles(self) -> FieldMesh:
        """The same with cut cells as triangles, for formats without polygons."""
        triangles = self.triangles()
        cut = (triangles,) if len(triangles.cell) else ()
        return FieldMesh(self._in_space, (self.whole, *cut))

    @property
    def _in_space(self) -> Array:
        """Points (n, 3)."""
        return np.insert(self.points, 1, 0.0, axis=1)

    def triangles(self) -> Block:
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
            return Block("triangle", np.zeros((0, 3), np.intp), np.zeros(0, np.intp), np.zeros(0))
        parts = (np.concatenate(part) for part in (corners, cells, volumes))
        return Block("triangle", *parts)


def _numbered(points: Iterable[Sequence[float]], numbers: Numbering) -> list[int]:
    """Numbers of points, without duplicates."""
    return [numbers.setdefault((float(r), float(z)), len(numbers)) for r, z in points]


def _cut(
    parts: dict[tuple[int, int], list[Array]], volume: Array, numbers: Numbering
) -> tuple[Block, ...]:
    """Open polygons by number of corners; a cell's volume is divided among its polygons."""
    groups: dict[int, list[tuple[list[int], int, float]]] = {}
    for (i, j), polygons in parts.items():
        swept = np.array([revolved_volume(polygon) for polygon in polygons])
        shares = volume[i, j] * swept / np.sum(swept)
        for polygon, share in zip(polygons, shares, strict=True):
            named = _numbered(polygon, numbers)
            cell = int(np.ravel_multi_index((i, j), volume.shape))
            groups.setdefault(len(named), []).append((named, cell, float(share)))
    return tuple(
        Block(
            "triangle" if count == 3 else "polygon",
            *(np.array(column) for column in zip(*group, strict=True)),
        )
        for count, group in sorted(groups.items())
    )


ON_EDGE = 1e-13  # twice the area over the polygon's squared size below which a point is on an edge


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


def open_polygons(r_f: Array, z_f: Array, outline: Array) -> dict[Cell, list[Array]]:
    """Open polygons (k, 2) of r, z, counter-clockwise, of each cell that the outline crosses.

    A solid inside one cell crosses none.

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
        (int(i), int(j)): _outlines(box(r_f[i], z_f[j], r_f[i + 1], z_f[j + 1]).difference(solid))
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
    known = [one for one in get_parts(area) if isinstance(one, Polygon) and one.area > 0.0]
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


def revolved(section: Section, sectors: int) -> FieldMesh:
    """Mesh of a section revolved about the axis.

    Raises ResultError if the number of sectors is out of range.
    """
    if not FEWEST_SECTORS <= sectors <= MOST_SECTORS:
        raise ResultError(
            f"--revolve {sectors}: give {FEWEST_SECTORS} to {MOST_SECTORS} sectors, 36 for a "
            "smooth bowl."
        )
    points, number = _turned(section.points, sectors)
    blocks = []
    for flat in (section.whole, section.triangles()):
        on_axis = section.points[flat.corners, 0] == 0.0
        for pattern in np.unique(on_axis, axis=0):
            chosen = np.all(on_axis == pattern, axis=1)
            blocks.append(_swept_block(flat, chosen, pattern, number))
    return FieldMesh(points, tuple(blocks))


def _turned(points: Array, sectors: int) -> tuple[Array, Numbers]:
    """Points (n, 3) in space and their numbers (sectors + 1, m) in each half plane."""
    off_axis = points[:, 0] > 0.0
    off, on = np.flatnonzero(off_axis), np.flatnonzero(~off_axis)
    number = np.empty((sectors + 1, len(points)), dtype=np.intp)
    number[:, on] = np.arange(len(on))
    number[:, off] = (
        len(on) + np.arange(sectors + 1)[:, None] % sectors * len(off) + np.arange(len(off))
    )
    angle = 2.0 * np.pi * np.arange(sectors) / sectors
    r, z = points[off].T
    axis = np.column_stack((np.zeros((len(on), 2)), points[on, 1]))
    x, y = np.outer(np.cos(angle), r).ravel(), np.outer(np.sin(angle), r).ravel()
    return np.vstack((axis, np.column_stack((x, y, np.tile(z, sectors))))), number


def _swept_block(flat: Block, chosen: Array, on_axis: Array, number: Numbers) -> Block:
    """Cells of the chosen polygons, all with the same corners on the axis."""
    corners, sectors = flat.corners[chosen], len(number) - 1
    ends, begins = number[1:, corners], number[:-1, corners]
    kind, order = _shape(on_axis)
    both = np.concatenate((ends, begins), axis=-1)[..., order]
    angle = 2.0 * np.pi * (np.arange(sectors) + 0.5) / sectors
    return Block(
        kind,
        both.reshape(-1, len(order)),
        np.tile(flat.cell[chosen], sectors),
        np.tile(flat.open_volume[chosen] / sectors, sectors),
        np.repeat(angle, np.count_nonzero(chosen)),
    )


def _shape(on_axis: Array) -> tuple[str, list[int]]:
    """Kind of cell swept by a polygon, and its corners.

    Numbers 0 ... k-1 are the polygon's corners at the sector's end, k ... 2k-1 at its start. A
    rectangle touches the axis with its left side or not at all.
    """
    k, touching = len(on_axis), np.flatnonzero(on_axis).tolist()
    if k == 4:
        return ("wedge", [0, 5, 1, 3, 6, 2]) if touching else ("hexahedron", list(range(8)))
    if not touching:
        return "wedge", list(range(6))
    if len(touching) == 1:
        a, (b, c) = touching[0], _after(touching[0])
        return "pyramid", [b, b + 3, c + 3, c, a]
    (free,) = {0, 1, 2} - set(touching)
    a, b = _after(free)
    return "tetra", [a, b, free, free + 3]


def _after(corner: int) -> tuple[int, int]:
    return (corner + 1) % 3, (corner + 2) % 3
