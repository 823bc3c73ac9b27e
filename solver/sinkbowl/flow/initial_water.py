"""Water at the start: flat in each column of cells and exact in cut cells."""

import numpy as np
from numpy.typing import NDArray

from sinkbowl.common.constants import GRAVITY

from .grid.grid import Array
from .kernels.interface import open_polygon
from .kernels.mesh import Mesh
from .kernels.polygon import clip, moment
from .operators import FlowOperators
from .state import FlowState
from .step import extend_velocity, locate_surface


def fill_to(
    state: FlowState, ops: FlowOperators, level: float | Array, cells: NDArray[np.bool_]
) -> None:
    """Fill the given open cells with still water up to a height [m], at its rest pressure.

    Call `complete_state` after all parts are filled. The height is common to all columns or an
    array (nr,), one per column.
    """
    mesh = ops.mesh_of(state)
    heights = np.broadcast_to(level, len(mesh.r_c))
    for j in range(len(mesh.z_c)):
        share = (heights - mesh.z_f[j]) / mesh.dz[j]
        column = cells[:, j] & (mesh.volume[:, j] > 0.0)
        rest = ops.density * GRAVITY * np.maximum(heights - mesh.z_c[j], 0.0)
        state.extended[cells[:, j], j] = np.clip(share, 0.0, 1.0)[cells[:, j]]
        state.pressure[column, j] = rest[column]
        deep = column & (share >= 1.0)
        state.water[deep, j] = mesh.volume[deep, j]
        for i in map(int, np.flatnonzero(column & (share > 0.0) & ~deep)):
            state.water[i, j] = mesh.volume[i, j] * _open_share(mesh, i, j, float(heights[i]))


def _open_share(mesh: Mesh, i: int, j: int, level: float) -> float:
    rect, poly, wet = (np.empty((16, 2)) for _ in range(3))
    n = open_polygon(mesh.r_f, mesh.z_f, mesh.plane, i, j, rect, poly)
    return float(moment(wet, clip(poly, n, 0.0, 1.0, level, wet)) / moment(poly, n))


def complete_state(state: FlowState, ops: FlowOperators) -> None:
    """Locate the surface and extend the velocity after filling."""
    locate_surface(state, ops)
    extend_velocity(state, ops)
    for old, new in ((state.u_r_old, state.u_r), (state.u_z_old, state.u_z)):
        old[:] = new
    state.known_r_old[:] = state.known_r
    state.known_z_old[:] = state.known_z
