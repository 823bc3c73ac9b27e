"""Surface tension: force of the curved surface on water and walls."""

from dataclasses import dataclass
from typing import ClassVar

import numpy as np

from sinkbowl.flow.grid import Array, Grid
from sinkbowl.flow.kernels import Mesh, curvature
from sinkbowl.flow.state import FlowState

from . import Exchange, Force


@dataclass(frozen=True)
class Tension(Force):
    """Surface tension of one run.

    coefficient [N/m]; contact_angle: in the water, on all walls of the bowl [rad]; density: of the
    water [kg/m^3]; curvature (nr, nz): scratch [1/m].
    """

    coefficient: float
    contact_angle: float
    density: float
    curvature: Array
    column: ClassVar[str] = "buoyancy_correction"

    def act(self, state: FlowState, mesh: Mesh, stride: float) -> Exchange:
        """Apply the Laplace pressure at the surface, and the force at contact lines to the bowl."""
        surface = (state.extended, state.liquid, state.normal, state.offset)
        lift, _ = curvature.curvatures(
            mesh, state.water, *surface, self.contact_angle, mesh.r_f**2, self.curvature
        )
        push = stride / self.density * self.coefficient
        water = (state.extended, state.liquid, self.curvature)
        curvature.push(mesh.area_r, mesh.dr, *water, push, 1, 0, state.u_r)
        curvature.push(mesh.area_z, mesh.dz, *water, push, 0, 1, state.u_z)
        return Exchange(on_bowl=float(2.0 * np.pi * self.coefficient * lift))

    def longest_step(self, state: FlowState, mesh: Mesh) -> float:
        """Longest stable time step [s]: the shortest capillary wave must not cross a cell.

        sqrt(rho d^3 / (4 pi sigma)) with the mean density of water and air, rho / 2 (Brackbill,
        Kothe & Zemach 1992, J. Comput. Phys. 100, 335), d the smallest cell at the surface.
        """
        cell = curvature.least_surface_cell(mesh, state.liquid)
        return float(np.sqrt(self.density * cell**3 / (4.0 * np.pi * self.coefficient)))


def make_tension(grid: Grid, coefficient: float, contact_angle: float, density: float) -> Tension:
    """Prepare a surface tension [N/m] and a contact angle [rad] on a grid."""
    return Tension(coefficient, contact_angle, density, np.zeros(grid.shape))
