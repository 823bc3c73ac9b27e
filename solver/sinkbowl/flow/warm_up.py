"""Call of all kernels of a run, to compile them, in two halves that share none.

Together the two halves call all kernels of a run, with arrays of the same types; results are
discarded.
"""

from sinkbowl.case.case import Case
from sinkbowl.common.constants import GRAVITY

from .diagnostics import make_diagnostics, open_budget
from .grid.grid import uniform_grid
from .grid.solid import place_solid
from .kernels.extension import has_bad_value
from .operators import make_operators
from .simulation import initialise
from .state import HeaveBody, empty_state
from .step import (
    StepReport,
    Stride,
    carry_water,
    hydrostatic_defect,
    predict_velocity,
    solve_pressure_and_heave,
)

STEP = 1e-3
"""Time step of the warm-up [s]; arbitrary."""


def warm_up_surface(case: Case) -> None:
    """Initialise, move the water, and read the diagnostics."""
    sim = initialise(case)
    state, ops = sim.state, sim.ops
    has_bad_value(state.u_r)
    sim.time_step()
    for state.step in range(2):  # r before z, then z before r
        carry_water(state, STEP, ops)
    for force in ops.forces:
        force.act(state, sim.mesh, STEP)
    hydrostatic_defect(state, sim.body(), ops)
    if ops.pockets is not None:
        state.pockets, state.pocket_air[0] = 1, 1.0  # so that one is measured
        ops.pockets.follow(state, sim.mesh)
    state.time = STEP
    still = StepReport(STEP, 0.0, 0.0, 0.0, 0)
    make_diagnostics(sim).row(sim, open_budget(sim), still, STEP)


def warm_up_pressure(_: Case) -> None:
    """Convect and project in an empty small tub."""
    grid = uniform_grid(1.0, 0.0, 1.0, 8, 8)
    ops, state = make_operators(grid, place_solid(grid, None), 1.0), empty_state(grid)
    predict_velocity(state, Stride(STEP), ops)
    solve_pressure_and_heave(state, HeaveBody(1.0, GRAVITY), 0.0, Stride(STEP), ops)
