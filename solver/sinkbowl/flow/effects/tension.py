"""Surface tension: the pull of the curved surface on water and walls."""

from dataclasses import dataclass

import numpy as np

from sinkbowl.flow.grid.grid import Array
from sinkbowl.flow.kernels import curvature, laplace
from sinkbowl.flow.kernels.mesh import Mesh
from sinkbowl.flow.state import FlowState


@dataclass(frozen=True)
class Tension:
    """Surface tension of one run.

    coefficient [N/m]; contact_angle: in the water, on all walls of the bowl [rad]; curvature
    (nr, nz): scratch [1/m].
    """

    coefficient: float
    contact_angle: float
    curvature: Array


def pull_surface(state: FlowState, mesh: Mesh, tension: Tension, scale: float) -> float:
    """Give the surface its Laplace pressure; returns the upward force of its edges on walls [N].

    scale: dt / rho. Call between `predict_velocity` and the pressure solve.
    """
    kappa = tension.curvature
    lift, _ = curvature.curvatures(
        mesh,
        state.water,
        state.virtual,
        state.liquid,
        state.normal,
        state.offset,
        tension.contact_angle,
        mesh.r_f**2,
        kappa,
    )
    push = scale * tension.coefficient
    laplace.push_r(mesh, state.virtual, state.liquid, kappa, push, state.u_r)
    laplace.push_z(mesh, state.virtual, state.liquid, kappa, push, state.u_z)
    return float(2.0 * np.pi * tension.coefficient * lift)


def longest_step(state: FlowState, mesh: Mesh, tension: Tension, density: float) -> float:
    """Longest stable time step [s]: the shortest capillary wave must not outrun a cell.

    sqrt(rho d^3 / (4 pi sigma)) with the mean density of water and air, rho / 2 (Brackbill, Kothe
    & Zemach 1992, J. Comput. Phys. 100, 335), d the smallest cell at the surface.
    """
    cell = laplace.least_surface_cell(mesh, state.liquid)
    return float(np.sqrt(density * cell**3 / (4.0 * np.pi * tension.coefficient)))
