"""Drops, columns and tanks with surface tension for the flow solver's tests."""

import numpy as np

from sinkbowl.common import GRAVITY
from sinkbowl.flow.effects.tension import Tension, make_tension
from sinkbowl.flow.grid import Array, Grid, uniform_grid
from sinkbowl.flow.kernels import curvature
from sinkbowl.flow.kernels.polygon import solid_moments
from sinkbowl.flow.operators import FlowOperators, make_operators
from sinkbowl.flow.release import complete_state
from sinkbowl.flow.solid import Solid, place_solid
from sinkbowl.flow.state import FlowState, HeaveBody, empty_state
from sinkbowl.flow.step import advance
from sinkbowl.verification.tanks import DENSITY

SIGMA = 72.74e-3  # N/m at 20 degC, IAPWS R1-76
HELD = HeaveBody(mass=1.0, gravity=0.0, held=True)


def tense_tank(
    grid: Grid, solid: Solid | None = None, angle: float = 0.5 * np.pi
) -> tuple[FlowOperators, FlowState]:
    """An empty tank whose water has surface tension."""
    solid = solid or place_solid(grid, None)
    tension = make_tension(grid, SIGMA, angle, DENSITY)
    return make_operators(grid, solid, DENSITY, 1e-10, tension=tension), empty_state(grid)


def tension_of(ops: FlowOperators) -> Tension:
    """The surface tension of a tense tank."""
    found = ops.force(Tension)
    assert found is not None
    return found


def fill_outline(ops: FlowOperators, state: FlowState, outline: Array) -> None:
    """Water within a closed outline (k, 2), counter-clockwise, exact for its edges."""
    grid = ops.grid
    work = np.empty((3, 4 * len(outline) + 16, 2))
    solid_moments(outline, grid.r_f, grid.z_f, 0, len(grid.dr), 0, len(grid.dz), work, state.water)
    np.minimum(state.water, ops.solid.volume, out=state.water)
    complete_state(state, ops)


def spheroid(width: float, height: float, centre: float, points: int = 20001) -> Array:
    """Outline of a spheroid on the axis from its two semi-axes."""
    angle = np.linspace(-0.5 * np.pi, 0.5 * np.pi, points)
    outline = np.column_stack((width * np.cos(angle), centre + height * np.sin(angle)))
    outline[[0, -1], 0] = 0.0
    return outline


def drop(cells: int, radius: float, box: float, centre: float = 0.0):
    """A round drop in a box of `box` radii, `cells` cells over the drop's radius."""
    n = round(cells * box)
    grid = uniform_grid(box * radius, -box * radius, box * radius, n, 2 * n)
    ops, state = tense_tank(grid)
    fill_outline(ops, state, spheroid(radius, radius, centre))
    return ops, state


def surface_curvature(ops: FlowOperators, state: FlowState) -> tuple[Array, int]:
    """Curvature of the cells at the surface [1/m], and how many of them were fitted."""
    tension = tension_of(ops)
    kappa = tension.curvature
    _, fitted = curvature.curvatures(
        ops.mesh_of(state), state.water, state.extended, state.liquid, state.normal, state.offset,
        tension.contact_angle, ops.mesh_of(state).r_f**2, kappa,
    )  # fmt: skip
    return kappa, fitted


def tube(cells: int, radius: float, angle: float) -> tuple[float, float, float]:
    """A closed tube half full, at rest: what its meniscus does.

    Returns
    -------
    Pressure under the meniscus, less the weight of the mean column [Pa]; upward force of the
    surface on the wall [N]; surface at the wall above that on the axis [m].
    """
    even, wall = uniform_grid(radius, 0.0, 2.0 * radius, cells, 2 * cells), 2.0 * radius / cells
    grid, thin = Grid(np.append(even.r_f, radius + wall), even.z_f), 1e-6 * wall
    low, high = radius, radius + wall - thin
    outline = np.array(
        [[low, thin], [high, thin], [high, 2.0 * radius - thin], [low, 2.0 * radius - thin]]
    )
    ops, state = tense_tank(grid, place_solid(grid, outline), angle)
    share = np.clip((radius - grid.z_f[:-1]) / grid.dz, 0.0, 1.0)
    state.water[:cells] = share * ops.solid.volume[:cells]
    complete_state(state, ops)
    body = HeaveBody(mass=1.0, gravity=GRAVITY, held=True)
    for _ in range(1500):
        dt = 0.7 * tension_of(ops).longest_step(state, ops.mesh_of(state))
        lift = advance(state, body, dt, ops).unseen["buoyancy_correction"]
        for u in (state.u_r, state.u_z, state.u_r_old, state.u_z_old):
            u *= 0.98
    heights = state.water.sum(axis=1)[:cells] / (grid.r_c * grid.dr)[:cells]
    pressure = float(np.mean(state.pressure[:cells, 2])) - DENSITY * GRAVITY * (
        radius - grid.z_c[2]
    )
    return pressure, lift, float(heights[-1] - heights[0])
