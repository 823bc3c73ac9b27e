"""Call of all kernels, to compile them (compiling.py): three functions that share hardly any.

Together the first two call all kernels of a run, with arrays of the same types; results are
discarded.
"""

import numpy as np

from sinkbowl.case.case import Case
from sinkbowl.common.constants import GRAVITY
from sinkbowl.flow.diagnostics import make_diagnostics, open_budget
from sinkbowl.flow.grid.grid import uniform_grid
from sinkbowl.flow.grid.solid import place_solid
from sinkbowl.flow.kernels.extension import has_bad_value
from sinkbowl.flow.operators import make_operators
from sinkbowl.flow.simulation import initialise
from sinkbowl.flow.state import HeaveBody, empty_state
from sinkbowl.flow.step import (
    StepReport,
    Stride,
    carry_water,
    hydrostatic_defect,
    predict_velocity,
    solve_pressure_and_heave,
)
from sinkbowl.reduced.discharge import law_of_equal
from sinkbowl.reduced.heave import first_state
from sinkbowl.reduced.kernels.filling import fill
from sinkbowl.reduced.kernels.hole import flow_of_all, jet_of_all
from sinkbowl.reduced.kernels.integration import ROW
from sinkbowl.reduced.kernels.rosenbrock import HEAVE
from sinkbowl.reduced.legs import integrate, terms_along
from sinkbowl.reduced.tables import tabulate

STEP = 1e-3  # time step of the warm-up [s]; arbitrary
FLOW, HEAD, REYNOLDS = 1e-4, 1e-2, 1e4  # arbitrary values [m^3/s], [m]


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


def warm_up_models(case: Case) -> None:
    """Integrate for no time, and evaluate the discharge law."""
    tables, law = tabulate(case), law_of_equal(case)
    bowl, state = tables.bowl, first_state(tables)
    integrate(HEAVE, bowl, state, False, latest=0.0)
    terms_along(bowl, np.zeros(1), state[None, :])
    fill(bowl, False, HEAD, np.zeros(1), np.zeros((1, ROW)), np.zeros(ROW))
    flow_of_all(law.rows, HEAD)
    jet_of_all(law.rows, np.zeros(1), FLOW, 0.0, bowl.rim)
    law.flow(HEAD)
    law.jet(FLOW, 0.0, bowl.rim)
    law.coefficient_at(REYNOLDS)
    law.coefficient_of_flow(FLOW)
