"""The bowl on the grid: open fractions of cells and faces from its revolved outline.

Volumes and areas are exact for the outline (polygon clipping with the r-weight, Pappus), per
radian. Slivers with an open fraction below `LEAST_OPEN` are closed. Each cut cell keeps one
half-plane n.x <= c as the model of its open part, placed so that its volume is exact; the water's
plane is reconstructed inside that polygon. Each wall piece is stored with the cell whose pressure
acts on it, so that the hydrostatic force can be integrated exactly (`hydrostatic_defect`).

The cells inside the bowl are those connected without passing hole or rim.

The gate: a meniscus keeps a dry hole shut until the head is large enough. It is far thinner than
the cells and not resolved: the hole's outer end is closed by a lid, which moves with the bowl and
transmits the pressure to it, as the meniscus does at its edge. The gate opens for good when the
outer surface is higher above the hole's inner edge than the breakthrough head of
`statics/capillarity.py`. Only the static head counts: the pressure peak of a push or an impact is
far shorter than the meniscus needs to break.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import coo_matrix
from scipy.sparse.csgraph import connected_components

from sinkbowl.bowl.bowl import Bowl
from sinkbowl.common.numerics import FrozenArrays
from sinkbowl.flow.kernels.polygon import place_plane, rectangle, solid_faces, solid_moments

from .grid import Array, Grid, cell_volumes

Mask = NDArray[np.bool_]

LEAST_OPEN = 0.02
"""Open fraction below which a cell is closed off: the large faces of a sliver would empty and
overfill it in every step."""

WHOLE = 1.0 - 1e-9  # open fraction above which a cell counts as uncut


@dataclass(frozen=True)
class Solid(FrozenArrays):
    """Open parts of the grid, per radian; constant.

    volume (nr, nz) [m^3]; area_r (nr+1, nz), area_z (nr, nz+1) [m^2]; heave_area (nr, nz) [m^2],
    the bottom minus the top open area of a cell: the solid's net downward-facing area in it;
    plane (nr, nz, 3): normal into the solid and offset of a cut cell's open half-plane, zero where
    a cell is not cut; pieces (k, 4): ra, za, rb, zb of the wall's pieces in counter-clockwise
    order; piece_cell (k, 2): the open cell each piece belongs to; row_cell (k, 2): the same or, if
    the piece lies in a closed sliver, the nearest open cell of its row.
    """

    volume: Array
    area_r: Array
    area_z: Array
    heave_area: Array
    plane: Array
    pieces: Array
    piece_cell: NDArray[np.int64]
    row_cell: NDArray[np.int64]

    @property
    def open_cells(self) -> NDArray[np.bool_]:
        """Cells with water or air (nr, nz)."""
        return self.volume > 0.0

    @property
    def cut_cells(self) -> NDArray[np.bool_]:
        """Open cells that the wall passes through (nr, nz)."""
        return np.asarray(np.any(self.plane[..., :2] != 0.0, axis=-1))


def place_solid(grid: Grid, outline: Array | None) -> Solid:
    """Cut the grid with a closed outline (k, 2), counter-clockwise, or with nothing.

    Raises ValueError if the outline leaves the grid.
    """
    whole = cell_volumes(grid)
    full_r = np.outer(grid.r_f, grid.dz)
    full_z = np.outer(grid.r_c * grid.dr, np.ones(len(grid.z_f)))
    if outline is None:
        return _assemble(grid, whole.copy(), full_r, full_z, np.zeros((0, 2)))
    outline = outline.copy()
    r, z = outline[:, 0], outline[:, 1]
    if r.max() >= grid.r_f[-1] or z.min() <= grid.z_f[0] or z.max() >= grid.z_f[-1]:
        raise ValueError("the solid outline leaves the grid")
    solid = np.zeros(grid.shape)
    (i0, i1), (j0, j1) = _block(grid.r_f, r), _block(grid.z_f, z)
    work = np.empty((3, 4 * len(outline) + 16, 2))
    solid_moments(outline, grid.r_f, grid.z_f, i0, i1, j0, j1, work, solid)
    fraction = np.clip(1.0 - solid / whole, 0.0, 1.0)
    fraction[fraction < LEAST_OPEN] = 0.0
    fraction[fraction > WHOLE] = 1.0
    eps = 1e-7 * min(grid.dr.min(), grid.dz.min())
    closed_r, closed_z = np.zeros_like(full_r), np.zeros_like(full_z)
    marks = np.empty(len(outline))
    solid_faces(outline, grid.r_f, eps, grid.z_f, 0, marks, closed_r)
    solid_faces(outline, grid.z_f, eps, grid.r_f, 1, marks, closed_z)
    area_r = _snap(np.maximum(full_r - closed_r, 0.0), full_r)
    area_z = _snap(np.maximum(full_z - closed_z, 0.0), full_z)
    return _assemble(grid, fraction * whole, area_r, area_z, outline)


def _snap(area: Array, full: Array) -> Array:
    area[area < 1e-6 * full] = 0.0
    whole = area > (1.0 - 1e-6) * full
    area[whole] = full[whole]
    return area


def _block(lines: Array, x: Array) -> tuple[int, int]:
    first = int(np.searchsorted(lines, x.min(), side="right")) - 1
    last = int(np.searchsorted(lines, x.max(), side="left"))
    return max(first, 0), min(last, len(lines) - 1)


def _assemble(grid: Grid, volume: Array, area_r: Array, area_z: Array, outline: Array) -> Solid:
    _close_faces(volume, area_r, area_z)
    around = area_r[1:] + area_r[:-1] + area_z[:, 1:] + area_z[:, :-1]
    stranded = (volume > 0.0) & (around == 0.0)
    volume[stranded] = 0.0
    pieces, cells, row_cells = _wall_pieces(grid, outline, volume)
    return Solid(
        volume=volume,
        area_r=area_r,
        area_z=area_z,
        heave_area=heave_areas(volume, area_z),
        plane=_open_planes(grid, volume, pieces, cells, row_cells),
        pieces=pieces,
        piece_cell=cells,
        row_cell=row_cells,
    )


def closed(
    grid: Grid,
    solid: Solid,
    *,
    cells: Mask | None = None,
    r_faces: Mask | None = None,
    z_faces: Mask | None = None,
) -> Solid:
    """The solid with additional filled cells and closed faces: lids, plates without thickness,
    walls.

    Open cells separated from each other, or from a filled one, get a wall there.

    cells (nr, nz), r_faces (nr+1, nz), z_faces (nr, nz+1) : which; faces are open whole before
    """
    volume, area_r, area_z = solid.volume.copy(), solid.area_r.copy(), solid.area_z.copy()
    for array, chosen in ((volume, cells), (area_r, r_faces), (area_z, z_faces)):
        if chosen is not None:
            array[chosen] = 0.0
    _close_faces(volume, area_r, area_z)
    is_open = volume > 0.0
    shut_r, shut_z = (solid.area_r > 0.0) & (area_r == 0.0), (solid.area_z > 0.0) & (area_z == 0.0)
    pieces, beside = _lid_pieces(grid, shut_r, shut_z, is_open)
    return Solid(
        volume=volume,
        area_r=area_r,
        area_z=area_z,
        heave_area=heave_areas(volume, area_z),
        plane=np.where(is_open[..., None], solid.plane, 0.0),
        pieces=np.concatenate((solid.pieces, pieces)),
        piece_cell=np.concatenate((solid.piece_cell, beside)),
        row_cell=np.concatenate((solid.row_cell, beside)),
    )


def _lid_pieces(
    grid: Grid, shut_r: Mask, shut_z: Mask, is_open: Mask
) -> tuple[Array, NDArray[np.int64]]:
    """Wall pieces (k, 4) on faces that were shut, and the open cell (k, 2) each belongs to."""
    below, above = np.argwhere(shut_z[:, 1:] & is_open), np.argwhere(shut_z[:, :-1] & is_open)
    inside, outside = np.argwhere(shut_r[1:] & is_open), np.argwhere(shut_r[:-1] & is_open)
    r, z = grid.r_f, grid.z_f

    def piece(cells: NDArray[np.int64], a: tuple[int, int], b: tuple[int, int]) -> Array:
        """From one corner of each cell to another; (0, 0) is the inner lower one."""
        i, j = cells.T
        return np.column_stack((r[i + a[0]], z[j + a[1]], r[i + b[0]], z[j + b[1]]))

    return (
        np.concatenate(
            (
                piece(below, (0, 1), (1, 1)),
                piece(above, (1, 0), (0, 0)),
                piece(inside, (1, 1), (1, 0)),
                piece(outside, (0, 0), (0, 1)),
            )
        ),
        np.concatenate((below, above, inside, outside)).astype(np.int64),
    )


def heave_areas(volume: Array, area_z: Array) -> Array:
    """Upward minus downward facing solid area in each open cell (nr, nz)."""
    return np.where(volume > 0.0, area_z[:, :-1] - area_z[:, 1:], 0.0)


def _close_faces(volume: Array, area_r: Array, area_z: Array) -> None:
    """Close all faces of closed cells and the tub's side wall."""
    closed = volume <= 0.0
    area_r[1:][closed] = 0.0
    area_r[:-1][closed] = 0.0
    area_z[:, 1:][closed] = 0.0
    area_z[:, :-1][closed] = 0.0
    area_r[0] = 0.0
    area_r[-1] = 0.0


def _open_planes(
    grid: Grid, volume: Array, pieces: Array, cells: NDArray[np.int64], row_cells: NDArray[np.int64]
) -> Array:
    """Half-plane n.x <= c of each cut cell: n the mean of its wall pieces, c from its volume."""
    into_solid = np.zeros((*grid.shape, 2))
    for (ra, za, rb, zb), cell, own in zip(pieces, map(tuple, cells), row_cells, strict=True):
        if cell == tuple(own) and not _on_a_line(grid, ra, za, rb, zb):
            into_solid[cell] += za - zb, rb - ra
    plane = np.zeros((*grid.shape, 3))
    poly = np.empty((12, 2))
    for i, j in np.argwhere((volume > 0.0) & (volume < WHOLE * cell_volumes(grid))):
        size = np.hypot(*into_solid[i, j])
        n_r, n_z = into_solid[i, j] / size if size > 0.0 else (0.0, 1.0)
        n = rectangle(grid.r_f[i], grid.r_f[i + 1], grid.z_f[j], grid.z_f[j + 1], poly)
        plane[i, j] = n_r, n_z, place_plane(poly, n, n_r, n_z, volume[i, j])
    return plane


def _on_a_line(grid: Grid, ra: float, za: float, rb: float, zb: float) -> bool:
    """Whether a wall piece runs along a grid line, where it bounds a cell but does not cut it."""
    level = za == zb and bool(np.min(np.abs(grid.z_f - za)) < 1e-9 * grid.dz.min())
    upright = ra == rb and bool(np.min(np.abs(grid.r_f - ra)) < 1e-9 * grid.dr.min())
    return level or upright


def _wall_pieces(
    grid: Grid, outline: Array, volume: Array
) -> tuple[Array, NDArray[np.int64], NDArray[np.int64]]:
    """Cut the outline at all grid lines and give each piece to the open cell it faces."""
    pieces, cells, row_cells = [], [], []
    for a, b in zip(outline, np.roll(outline, -1, axis=0), strict=True):
        length = float(np.hypot(*(b - a)))
        if length == 0.0 or max(a[0], b[0]) == 0.0:
            continue
        normal = np.array([b[1] - a[1], a[0] - b[0]]) / length
        cuts = _cuts(grid, a, b)
        for s0, s1 in pairwise(cuts):
            if (s1 - s0) * length < 1e-12 * grid.dr.min():
                continue
            middle = a + 0.5 * (s0 + s1) * (b - a) + 1e-6 * grid.dr.min() * normal
            up, out = (1 if x >= 0.0 else -1 for x in (normal[1], normal[0]))
            along_z = ((0, 0), (0, up), (out, 0), (out, up), (0, 2 * up), (2 * out, 0))
            cell = _open_cell(grid, middle, volume, along_z)
            if cell is not None:
                along_r = tuple((k * out, 0) for k in range(grid.shape[0]))
                pieces.append(np.concatenate((a + s0 * (b - a), a + s1 * (b - a))))
                cells.append(cell)
                row_cells.append(_open_cell(grid, middle, volume, along_r) or cell)
    return (
        np.array(pieces).reshape(-1, 4),
        np.array(cells, dtype=np.int64).reshape(-1, 2),
        np.array(row_cells, dtype=np.int64).reshape(-1, 2),
    )


def _cuts(grid: Grid, a: Array, b: Array) -> Array:
    """Parameters 0..1 at which the edge from a to b crosses grid lines, both ends included."""
    cuts = [np.array([0.0, 1.0])]
    for axis, lines in ((0, grid.r_f), (1, grid.z_f)):
        if b[axis] != a[axis]:
            s = (lines - a[axis]) / (b[axis] - a[axis])
            cuts.append(s[(s > 0.0) & (s < 1.0)])
    return np.unique(np.concatenate(cuts))


def _open_cell(
    grid: Grid, x: Array, volume: Array, steps: Iterable[tuple[int, int]]
) -> tuple[int, int] | None:
    """The first open cell at `steps` from the cell that contains the point x, or None."""
    i = int(np.clip(np.searchsorted(grid.r_f, x[0]) - 1, 0, volume.shape[0] - 1))
    j = int(np.clip(np.searchsorted(grid.z_f, x[1]) - 1, 0, volume.shape[1] - 1))
    for di, dj in steps:
        k, m = i + di, j + dj
        if 0 <= k < volume.shape[0] and 0 <= m < volume.shape[1] and volume[k, m] > 0.0:
            return k, m
    return None


def inside_cells(grid: Grid, shut: Solid, rim_height: float) -> Mask:
    """Open cells inside the bowl (nr, nz), including those of its hole above the lid.

    shut : the bowl with a lid on its hole
    rim_height : height of the rim [m]; cells above it are outside
    """
    below_rim = grid.z_c < rim_height
    joined_r = (shut.area_r[1:-1] > 0.0) & below_rim
    joined_z = (shut.area_z[:, 1:-1] > 0.0) & (below_rim[1:] & below_rim[:-1])
    labels = components(shut.open_cells & below_rim, joined_r, joined_z)
    outside = labels == labels[0, 0]
    return np.asarray(shut.open_cells & below_rim & ~outside)


def components(cells: Mask, joined_r: Mask, joined_z: Mask) -> NDArray[np.int64]:
    """Labels (nr, nz) of the components connected through open faces."""
    number = np.arange(cells.size).reshape(cells.shape)
    a = np.concatenate((number[:-1][joined_r], number[:, :-1][joined_z]))
    b = np.concatenate((number[1:][joined_r], number[:, 1:][joined_z]))
    graph = coo_matrix((np.ones(len(a)), (a, b)), shape=(cells.size, cells.size))
    _, labels = connected_components(graph, directed=False)
    return np.asarray(labels.reshape(cells.shape), dtype=np.int64)


@dataclass(frozen=True)
class HolePlace:
    """The hole on the grid.

    radius: on the grid [m], in an unresolved hole the jet's; columns: cells across it; plug, exit:
    indices of the z-lines at its outer and inner end; edge: of the line at the inner edge of the
    case's bowl, equal to exit unless the wall is thickened.
    """

    radius: float
    columns: int
    plug: int
    exit: int
    edge: int

    @property
    def rows(self) -> NDArray[np.int64]:
        """Indices along r of its cells (columns,)."""
        return np.arange(self.columns)

    @property
    def neck(self) -> NDArray[np.int64]:
        """Indices of its z-lines, from plug to exit."""
        return np.arange(self.plug, self.exit + 1)

    def lid(self, grid: Grid) -> NDArray[np.bool_]:
        """The z-faces (nr, nz+1) of a lid without thickness across its outer end."""
        faces = np.zeros((grid.shape[0], len(grid.z_f)), dtype=np.bool_)
        faces[: self.columns, self.plug] = True
        return faces


def place_hole(grid: Grid, carried: Bowl, bowl: Bowl) -> HolePlace:
    """Find the hole of the bowl on the grid; `bowl` is the case's."""

    def line(height: float) -> int:
        return int(np.argmin(np.abs(grid.z_f - height)))

    return HolePlace(
        radius=carried.hole_radius,
        columns=int(np.count_nonzero(grid.r_c < carried.hole_radius)),
        plug=line(carried.outer_edge_height),
        exit=line(carried.inner_edge_height),
        edge=line(bowl.inner_edge_height),
    )
