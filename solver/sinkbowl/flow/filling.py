"""Water at the start: flat levels, exact in cut cells."""

import numpy as np
from numpy.typing import NDArray

from sinkbowl.common.constants import GRAVITY

from .kernels.interface import open_polygon
from .kernels.polygon import clip, moment
from .operators import FlowOperators
from .state import FlowState
from .step import extend_velocity, locate_surface


def fill_to(state: FlowState, ops: FlowOperators, level: float, cells: NDArray[np.bool_]) -> None:
    """Fill the given open cells with still water up to a height [m], at its rest pressure.

    Call `settle` when all parts are filled.
    """
    grid, solid = ops.grid, ops.solid
    for j in range(grid.shape[1]):
        share = (level - grid.z_f[j]) / grid.dz[j]
        column = cells[:, j] & solid.open_cells[:, j]
        state.virtual[cells[:, j], j] = np.clip(share, 0.0, 1.0)
        state.pressure[column, j] = ops.density * GRAVITY * max(level - grid.z_c[j], 0.0)
        if share >= 1.0:
            state.water[column, j] = solid.volume[column, j]
        elif share > 0.0:
            for i in map(int, np.flatnonzero(column)):
                state.water[i, j] = solid.volume[i, j] * _open_share(ops, i, j, level)


def _open_share(ops: FlowOperators, i: int, j: int, level: float) -> float:
    rect, poly, wet = (np.empty((16, 2)) for _ in range(3))
    n = open_polygon(ops.grid.r_f, ops.grid.z_f, ops.solid.plane, i, j, rect, poly)
    return float(moment(wet, clip(poly, n, 0.0, 1.0, level, wet)) / moment(poly, n))


def settle(state: FlowState, ops: FlowOperators) -> None:
    """Locate the surface and extend the velocity after filling."""
    locate_surface(state, ops)
    extend_velocity(state, ops)
    for old, new in ((state.u_r_old, state.u_r), (state.u_z_old, state.u_z)):
        old[:] = new
    state.known_r_old[:] = state.known_r
    state.known_z_old[:] = state.known_z
