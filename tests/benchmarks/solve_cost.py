"""Cost of the pressure solve against general sparse solvers, on the matrices of a real sinking.

    pip install pyamg
    python tests/benchmarks/solve_cost.py [cells ...]     # in mm, default 2 1 0.5

The steel cup with its 20 mm hole, once its jet stands, on uniform-to-stretched grids. Each solver
starts from zero and goes to the same residual; set-up counts, because the matrix changes with every
step. The bowl is held, so that all solve the same five-point system. Compare the ratios of one run.
"""

from __future__ import annotations

import sys
from collections.abc import Callable
from dataclasses import replace
from time import perf_counter

import numpy as np
import pyamg
from scipy.sparse import csr_matrix, diags
from scipy.sparse.linalg import splu

from sinkbowl.case.case import load_case
from sinkbowl.case.starter import shipped_case
from sinkbowl.flow.poisson import PressureSolver, pressure_solver
from sinkbowl.flow.simulation import initialise
from sinkbowl.flow.step import advance

UNTIL = 0.08
"""When the matrix is taken [s]: the jet stands, the bowl heaves."""

TOLERANCES = (1e-6, 1e-9)
REPEATS = 5


def loaded_solver(cell: float) -> tuple[PressureSolver, np.ndarray, int]:
    """A solver filled with the couplings of the last step, its right side, and rows in use."""
    case = load_case(shipped_case("steel-cup"))
    sim = initialise(replace(case, flow=replace(case.flow, cell=cell, hole="resolved")))
    while sim.state.time < UNTIL:
        dt = sim.time_step()
        advance(sim.state, sim.body(), dt, sim.ops)
    solver = sim.ops.solver
    return solver, sim.ops.scratch.source.copy(), sim.state.top


def matrix(solver: PressureSolver) -> tuple[csr_matrix, np.ndarray]:
    """The system of the active cells as a general sparse matrix, and which cells they are."""
    right, above, fixed = (a.ravel().copy() for a in (solver.right, solver.above, solver.fixed))
    n = solver.shape[1]
    left, below = np.zeros_like(right), np.zeros_like(above)
    left[n:], below[1:] = right[:-n], above[:-1]
    total = right + left + above + below + fixed
    bands = [-right[:-n], -above[:-1], total, -above[:-1], -right[:-n]]
    whole = diags(bands, [n, 1, 0, -1, -n], format="csr")
    active = np.flatnonzero(total > 0.0)
    return csr_matrix(whole[active][:, active]), active


def best_time(solve: Callable[[], int]) -> tuple[float, int]:
    """Shortest of some runs [s], and the iterations of the last."""
    times = []
    for _ in range(REPEATS):
        begin = perf_counter()
        iterations = solve()
        times.append(perf_counter() - begin)
    return min(times), iterations


def ours(source: PressureSolver, b: np.ndarray, used: int, tolerance: float) -> Callable[[], int]:
    """Conjugate gradients with one multigrid cycle, from zero, set-up included."""
    solver = pressure_solver(source.shape, tolerance)
    for name in ("right", "above", "fixed"):
        getattr(solver, name)[:] = getattr(source, name)

    def solve() -> int:
        return solver.solve(b, solver.heave, 0.0, np.zeros(solver.shape), used)[0]

    return solve


def general(
    make: Callable[[csr_matrix], pyamg.MultilevelSolver],
    a: csr_matrix,
    b: np.ndarray,
    tolerance: float,
) -> Callable[[], int]:
    """Algebraic multigrid inside conjugate gradients, set-up included."""

    def solve() -> int:
        residuals: list[float] = []
        make(a).solve(b, tol=tolerance, accel="cg", maxiter=200, residuals=residuals)
        return len(residuals) - 1

    return solve


def direct(a: csr_matrix, b: np.ndarray) -> Callable[[], int]:
    """Sparse LU, set-up included."""

    def solve() -> int:
        splu(a.tocsc()).solve(b)
        return 0

    return solve


def main(cells: list[float]) -> None:
    """Print a table for each cell size [mm]."""
    for cell in cells:
        solver, source, used = loaded_solver(1e-3 * cell)
        a, active = matrix(solver)
        b = source.ravel()[active]
        for tolerance in TOLERANCES:
            ways = {
                "ours": ours(solver, source, used, tolerance),
                "PyAMG, Ruge-Stueben + CG": general(pyamg.ruge_stuben_solver, a, b, tolerance),
                "PyAMG, smoothed aggregation + CG": general(
                    pyamg.smoothed_aggregation_solver, a, b, tolerance
                ),
                "scipy sparse LU": direct(a, b),
            }
            print(f"\n{len(active)} unknowns, cell {cell:g} mm, residual {tolerance:g}")
            first = 0.0
            for name, solve in ways.items():
                solve()
                wall, iterations = best_time(solve)
                first = first or wall
                share = 1e9 * wall / len(active) / max(iterations, 1)
                print(
                    f"  {name:34}{1e3 * wall:9.2f} ms{iterations:5d} iterations"
                    f"{share:8.0f} ns a cell and iteration{wall / first:8.1f} x ours"
                )


if __name__ == "__main__":
    main([float(word) for word in sys.argv[1:]] or [2.0, 1.0, 0.5])
