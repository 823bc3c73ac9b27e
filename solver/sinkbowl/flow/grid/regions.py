"""Which cells lie inside the bowl: found by what is connected without passing hole or rim."""

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import coo_matrix
from scipy.sparse.csgraph import connected_components

from .grid import Grid
from .solid import Solid

Mask = NDArray[np.bool_]


def inside_cells(
    grid: Grid, solid: Solid, rim_height: float, hole_radius: float, edge_height: float
) -> Mask:
    """Open cells inside the bowl, hole included (nr, nz).

    The hole is closed, for the count, by a disc at its outer edge.

    Parameters
    ----------
    rim_height : height of the rim [m]; cells above it are outside
    hole_radius : radius of the hole [m], a grid line
    edge_height : height of the hole's outer edge [m], a grid line
    """
    below_rim = grid.z_c < rim_height
    plug = int(np.argmin(np.abs(grid.z_f - edge_height)))
    joined_r = (solid.area_r[1:-1] > 0.0) & below_rim
    joined_z = (solid.area_z[:, 1:-1] > 0.0) & (below_rim[1:] & below_rim[:-1])
    joined_z[grid.r_c < hole_radius, plug - 1] = False
    labels = _components(solid.open_cells & below_rim, joined_r, joined_z)
    outside = labels == labels[0, 0]
    return np.asarray(solid.open_cells & below_rim & ~outside)


def _components(cells: Mask, joined_r: Mask, joined_z: Mask) -> NDArray[np.int64]:
    number = np.arange(cells.size).reshape(cells.shape)
    a = np.concatenate((number[:-1][joined_r], number[:, :-1][joined_z]))
    b = np.concatenate((number[1:][joined_r], number[:, 1:][joined_z]))
    graph = coo_matrix((np.ones(len(a)), (a, b)), shape=(cells.size, cells.size))
    _, labels = connected_components(graph, directed=False)
    return np.asarray(labels.reshape(cells.shape), dtype=np.int64)
