"""What the water inside the bowl does to it: readings that tell a reduced model's terms apart.

Upward momentum of the inner water, what is thrown above the rim included; the jet's thrust,
pressure and momentum flux through the hole at its inner edge; the pressure on the base beside the
hole, that a pool would press with and water in the air does not.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sinkbowl.common.constants import GRAVITY

from .grid.grid import Array
from .kernels import sums
from .simulation import Simulation

CLEAR = 2
"""Cells between the hole's edge and the ring on which the pressure beside it is read."""

RING, LEAST_RING = 0.3, 3
"""Width of that ring, over the hole's radius, and in cells at least."""


@dataclass(frozen=True)
class InnerDiagnostics:
    """Cells of the readings.

    within, above (nr, nz): in the bowl or above it, and the latter alone; foot (n, 2): the lowest
    cells of the ring beside the hole; hole_area, foot_area (n,): per radian [m^2]; foot_depth (n,):
    of their centres below the hole's inner edge [m].
    """

    within: NDArray[np.bool_]
    above: NDArray[np.bool_]
    foot: NDArray[np.int64]
    hole_area: Array
    foot_area: Array
    foot_depth: Array

    def row(self, sim: Simulation) -> dict[str, float]:
        """Part of a row of the history."""
        state, density = sim.state, 2.0 * np.pi * sim.case.water.density
        return {
            "inner_momentum": density
            * sums.upward_momentum_where(state.water, state.u_z, self.within),
            "aloft_volume": 2.0 * np.pi * sums.total_where(state.water, self.above),
            "hole_thrust": self._thrust(sim),
            "foot_pressure": self._foot_pressure(sim),
        }

    def _thrust(self, sim: Simulation) -> float:
        """Pressure and momentum flux relative to the bowl through the hole [N]."""
        state, volume, hole = sim.state, sim.ops.solid.volume, sim.layout.hole
        density, i, j = sim.case.water.density, hole.rows, hole.edge
        below = state.water[i, j - 1] / volume[i, j - 1]
        wet = np.clip(0.5 * (below + state.water[i, j] / volume[i, j]), 0.0, 1.0)
        velocity = state.u_z[i, j] - state.speed
        height = sim.ops.grid.z_c[j] - sim.ops.grid.z_f[j]
        moved = state.pressure[i, j] + density * GRAVITY * height
        pressure = np.where(state.liquid[i, j], moved, 0.0)
        flux = density * wet * velocity * np.abs(velocity)
        return float(2.0 * np.pi * np.sum((pressure + flux) * self.hole_area))

    def _foot_pressure(self, sim: Simulation) -> float:
        """Mean pressure beside the hole, at its inner edge's height; the air's where dry [Pa]."""
        if not len(self.foot):
            return 0.0
        i, j = self.foot.T
        weight = sim.case.water.density * GRAVITY
        depth = np.where(sim.state.liquid[i, j], self.foot_depth, 0.0)
        pressure = sim.state.pressure[i, j] - weight * depth
        return float(np.sum(pressure * self.foot_area) / np.sum(self.foot_area))


def make_inner_diagnostics(sim: Simulation) -> InnerDiagnostics:
    """Find the cells that the readings need."""
    grid, solid, hole = sim.ops.grid, sim.ops.solid, sim.layout.hole
    high = grid.z_c[None, :] > sim.case.bowl.rim_height
    above = high & (grid.r_c[:, None] < sim.layout.bowl.inner[-1, 0])
    level = sim.case.bowl.inner_edge_height
    area, cell = grid.r_c * grid.dr, float(grid.dr[0])
    first = hole.radius + CLEAR * cell
    last = first + max(RING * hole.radius, LEAST_RING * cell)
    pool = sim.inside & (solid.volume > 0.0) & (grid.z_c[None, :] > level)
    ring = [i for i in np.flatnonzero((grid.r_c > first) & (grid.r_c < last)) if pool[i].any()]
    foot = np.array([(i, int(np.argmax(pool[i]))) for i in ring], dtype=np.int64).reshape(-1, 2)
    return InnerDiagnostics(
        within=sim.inside | above,
        above=above,
        foot=foot,
        hole_area=area[hole.rows],
        foot_area=area[foot[:, 0]],
        foot_depth=level - grid.z_c[foot[:, 1]],
    )
