"""The pressure solve against a direct one, and what conjugate gradients need of their operators."""

from dataclasses import dataclass, replace

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.sparse import csc_matrix, diags
from scipy.sparse.linalg import spsolve

from flow_bodies import SLANTED_RING, FloatArray
from sinkbowl.common.errors import RunError
from sinkbowl.flow.grid import Grid, Spacing, lay_lines, uniform_grid
from sinkbowl.flow.kernels import conjugate, multigrid, pressure
from sinkbowl.flow.kernels import stack as levels
from sinkbowl.flow.poisson import PressureSolver, pressure_solver
from sinkbowl.flow.solid import Solid, place_solid
from sinkbowl.flow.state import make_mesh

SCALE = 1e-6  # dt / rho of a millisecond in water [m^3 s/kg]

MOBILITY = 2.0 * np.pi * 1e-3 / 0.2
"""2 pi dt / M of a bowl of 200 g and a step of a millisecond [s/kg]."""


@dataclass(frozen=True)
class System:
    """Assembled pressure equation of a tank filled to a level; `heave` as the solver takes it."""

    solver: PressureSolver
    liquid: NDArray[np.bool_]
    volume: FloatArray
    heave: FloatArray
    top: int

    def solve(self, source: FloatArray, sigma: float) -> tuple[FloatArray, int]:
        """Pressure from a zero guess, and the iterations it took."""
        found = np.zeros(self.liquid.shape)
        steps, _ = self.solver.solve(source, self.heave, sigma, found, self.top)
        return found, steps


def assembled(grid: Grid, solid: Solid, level: float, tolerance: float = 1e-10) -> System:
    mesh = make_mesh(grid, solid)
    share = np.clip((level - grid.z_f[:-1]) / grid.dz, 0.0, 1.0)
    extended = np.broadcast_to(share, grid.shape).copy()
    liquid = np.zeros(grid.shape, dtype=np.bool_)
    top = pressure.mark_liquid(mesh, extended, liquid)
    solver = pressure_solver(grid.shape, tolerance)
    pressure.assemble(mesh, extended, liquid, SCALE, solver.right, solver.above, solver.fixed)
    return System(solver, liquid, mesh.volume, solid.heave_area * liquid, top)


def ring_in_water(cell: float, growth: float = 0.1) -> System:
    """The slanted ring in a tank filled to 20 mm above z = 0, cells growing outward."""
    grid = Grid(
        lay_lines([0.0, 0.02, 0.2], [Spacing(cell, 0.0, 0.06, growth)]),
        lay_lines([-0.25, 0.0, 0.1], [Spacing(cell, -0.05, 0.05, growth)]),
    )
    return assembled(grid, place_solid(grid, SLANTED_RING), 0.02)


def open_tank(nr: int, nz: int, tolerance: float) -> System:
    """Square cells, four fifths full."""
    height = 0.1 * nz / nr
    grid = uniform_grid(0.1, 0.0, height, nr, nz)
    return assembled(grid, place_solid(grid, None), 0.8 * height + 1e-5, tolerance)


def sparse_matrix(system: System) -> csc_matrix:
    """The same operator as a sparse matrix, written down from its couplings."""
    solver = system.solver
    right, above = solver.right.ravel(), solver.above.ravel()
    nz = solver.shape[1]
    couplings = diags([right[:-nz], above[:-1]], [nz, 1])
    couplings = couplings + couplings.T
    own = solver.fixed.ravel() + np.asarray(couplings.sum(axis=1)).ravel()
    own[own == 0.0] = 1.0
    return csc_matrix(diags(own) - couplings)


def noise(system: System, seed: int) -> FloatArray:
    """Random outflow of liquid cells."""
    rng = np.random.default_rng(seed)
    return np.where(system.liquid, rng.normal(size=system.liquid.shape) * system.volume, 0.0)


@pytest.mark.parametrize("sigma", [0.0, MOBILITY, 1e4 * MOBILITY])
@pytest.mark.parametrize("cell", [8e-3, 4e-3])
def test_pressure_agrees_with_a_direct_solution(cell, sigma):
    """scipy.sparse.linalg.spsolve; the rank-one heave term by Sherman and Morrison (1950). Held,
    free, and far lighter than its added mass. The residual is brought to 1e-10; 1e-7 leaves room
    for the matrix's condition number of some thousands."""
    system = ring_in_water(cell)
    source, heave = noise(system, 1).ravel(), system.heave.ravel()
    found, _ = system.solve(source.reshape(system.liquid.shape), sigma)
    matrix = sparse_matrix(system)
    plain, response = spsolve(matrix, source), spsolve(matrix, heave)
    exact = plain - response * sigma * (heave @ plain) / (1.0 + sigma * (heave @ response))
    error = np.abs(found.ravel() - exact).max() / np.abs(exact).max()
    assert abs(heave @ exact) > 0.0
    assert error < 1e-7, f"{error:.1e}"


def test_pressure_agrees_with_a_direct_solution_on_a_strongly_stretched_grid():
    """spsolve; cells from 0.5 mm to beyond 10 mm, of aspect ratios up to 20."""
    system = ring_in_water(0.7e-3, growth=0.15)
    source = noise(system, 2)
    found, steps = system.solve(source, 0.0)
    exact = spsolve(sparse_matrix(system), source.ravel())
    error = np.abs(found.ravel() - exact).max() / np.abs(exact).max()
    print(f"{system.liquid.size} cells, {steps} iterations, error {error:.1e}")
    assert error < 1e-7, f"{error:.1e}"
    assert steps <= 20


def test_still_water_has_its_hydrostatic_pressure():
    """p = rho g depth at cell centres solves the equation with the gravity step as its source."""
    system = open_tank(12, 20, 1e-12)
    z_c = (np.arange(20) + 0.5) * 0.1 / 12
    level = 0.8 * 0.1 * 20 / 12 + 1e-5
    depth = np.where(system.liquid, level - z_c, 0.0)
    source = (sparse_matrix(system) @ depth.ravel()).reshape(depth.shape)
    bottom = np.zeros_like(source)
    bottom[:, 0] = SCALE * system.volume[:, 0] * 12 / 0.1
    assert source == pytest.approx(bottom, abs=1e-12 * bottom.max())
    found, _ = system.solve(bottom, 0.0)
    assert found == pytest.approx(depth, abs=1e-11)


def dense(system: System, apply: str) -> FloatArray:
    """Matrix of the operator or of one multigrid cycle on the liquid cells, column by column."""
    solver, stack, n = system.solver, system.solver.stack, system.liquid.size
    stack.used[0] = system.top
    levels.build(stack, *solver.couplings)
    cells = slice(stack.start[0], stack.start[0] + n)
    liquid = np.flatnonzero(system.liquid)
    matrix = np.zeros((len(liquid), len(liquid)))
    heave = system.heave.ravel()
    for column, cell in enumerate(liquid):
        unit, out = np.zeros(n), np.zeros(n)
        unit[cell] = 1.0
        if apply == "operator":
            solver.guess[cells] = unit
            lift = MOBILITY * heave[cell]
            conjugate.apply(stack, solver.couplings, heave, lift, solver.guess, out, solver.sums)
        else:
            stack.b[cells] = unit
            multigrid.cycle(stack)
            out = stack.x[cells]
        matrix[:, column] = out[liquid]
    return matrix


def in_double(system: System) -> System:
    """The same system with a multigrid stack in double precision."""
    solver = pressure_solver(system.liquid.shape, system.solver.tolerance, np.float64)
    for mine, its in zip(solver.couplings, system.solver.couplings, strict=True):
        mine[:] = its
    return replace(system, solver=solver)


@pytest.mark.slow
@pytest.mark.parametrize("apply", ["operator", "preconditioner"])
def test_operator_and_preconditioner_are_symmetric_and_positive_definite(apply):
    """What conjugate gradients demand (Saad 2003, sect. 6.7 and 9.2); round-off of the entries."""
    matrix = dense(in_double(ring_in_water(10e-3, growth=0.2)), apply)
    skew = np.abs(matrix - matrix.T).max() / np.abs(matrix).max()
    assert skew < 1e-13, f"{skew:.1e}"
    eigenvalues = np.linalg.eigvalsh(0.5 * (matrix + matrix.T))
    assert eigenvalues[0] > 0.0, f"{len(matrix)} cells, least eigenvalue {eigenvalues[0]:.1e}"


def test_cycle_in_single_precision_is_the_double_one_to_its_round_off():
    """Entries of the preconditioner; 1e-5 is 80 units in the last place of single precision."""
    system = ring_in_water(10e-3, growth=0.2)
    exact = dense(in_double(system), "preconditioner")
    found = dense(system, "preconditioner")
    assert found == pytest.approx(exact, abs=1e-5 * np.abs(exact).max())


@pytest.mark.slow
def test_single_precision_costs_no_iterations_on_a_fine_grid():
    """125 thousand cells to 1e-9: as many steps as with a cycle in double, or one more."""
    system = open_tank(250, 500, 1e-9)
    source = noise(system, 3)
    assert system.solve(source, 0.0)[1] <= in_double(system).solve(source, 0.0)[1] + 1


def test_operator_is_the_sparse_matrix_with_the_heave_term():
    """A + sigma h h^T, entry by entry."""
    system = ring_in_water(10e-3)
    liquid, heave = system.liquid.ravel(), system.heave.ravel()[system.liquid.ravel()]
    exact = sparse_matrix(system).toarray()[np.ix_(liquid, liquid)]
    exact += MOBILITY * np.outer(heave, heave)
    assert dense(system, "operator") == pytest.approx(exact, abs=1e-14 * np.abs(exact).max())


def test_one_cycle_is_close_to_the_inverse():
    """A good preconditioner: all eigenvalues of B A lie near one, their spread below 4. A spread
    kappa reduces the error per iteration by (sqrt kappa - 1) / (sqrt kappa + 1), Saad 2003, eq.
    6.128; 4 means a third."""
    system = ring_in_water(8e-3)
    exact = sparse_matrix(system).toarray()
    liquid = system.liquid.ravel()
    product = dense(system, "preconditioner") @ exact[np.ix_(liquid, liquid)]
    values = np.sort(np.linalg.eigvals(product).real)
    assert values[-1] / values[0] < 4.0, f"{values[0]:.2f} to {values[-1]:.2f}"


@pytest.mark.parametrize("family", [(32, 64, 128, 256), (45, 90, 180, 250)], ids=["2^n", "odd"])
def test_iterations_hardly_grow_from_two_thousand_cells_to_130_thousand(family):
    """Open-top tank, four fifths full, noise as the source, to 1e-9. A method without coarse grids
    needs sqrt(cells) times more, eight times here; a multigrid cycle should not need half as many
    again."""
    steps = []
    for nr in family:
        system = open_tank(nr, 2 * nr, 1e-9)
        steps.append(system.solve(noise(system, 3), 0.0)[1])
    print("iterations", dict(zip(family, steps, strict=True)))
    assert steps[-1] <= 1.5 * steps[0], f"{steps}"
    assert max(steps) <= 20


def test_columns_above_the_water_are_passed_over_without_a_trace():
    """The same answer whether the solver is told how high the water stands or not."""
    system = ring_in_water(5e-3)
    source = noise(system, 4)
    assert system.top < system.liquid.shape[1]
    told, _ = system.solve(source, MOBILITY)
    untold = np.zeros_like(told)
    system.solver.solve(source, system.heave, MOBILITY, untold, system.liquid.shape[1])
    assert told == pytest.approx(untold, abs=1e-8 * np.abs(untold).max())
    assert not told[~system.liquid].any()


def test_nothing_to_balance_and_a_solution_that_is_its_own_guess_take_no_iteration():
    """A zero source ends at once, whatever the guess was; the old pressure is used."""
    system = ring_in_water(10e-3)
    found = np.where(system.liquid, 1.0, 0.0)
    nothing = np.zeros_like(found)
    told = system.solver.solve(nothing, system.heave, MOBILITY, found, system.top)
    assert told == (0, 0.0)
    assert not found.any()
    source = noise(system, 5)
    found, _ = system.solve(source, MOBILITY)
    steps, _ = system.solver.solve(source, system.heave, MOBILITY, found, system.top)
    assert steps <= 1


def test_source_that_is_not_a_number_is_an_error_not_a_result():
    """No silent garbage: the residual must be at its tolerance, or the run fails."""
    system = ring_in_water(10e-3)
    source = noise(system, 6)
    source[3, 3] = np.nan
    with pytest.raises(RunError, match="did not converge"):
        system.solve(source, MOBILITY)
