"""Cells inside the bowl, found by connectivity without passing hole or rim."""

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import coo_matrix
from scipy.sparse.csgraph import connected_components

from .grid import Grid
from .solid import Mask, Solid


def inside_cells(grid: Grid, shut: Solid, rim_height: float) -> Mask:
    """Open cells inside the bowl (nr, nz), including those of its hole above the lid.

    Parameters
    ----------
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
