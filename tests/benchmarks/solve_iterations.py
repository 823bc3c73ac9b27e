"""Iterations of the pressure solve against the number of cells, and in the worst of a sinking.

    python tests/benchmarks/solve_iterations.py [cells ...]    # in mm

Prints a table. The steel cup with its 20 mm hole, resolved, on
stretched grids: some steps from still water, the fewer the larger the grid. Then the cup with the
wide hole on cells of 1.5 mm until its rim is under, every fifth step of it: the step that takes
most iterations from zero, with its pieces of water apart from each other. Each system is solved,
heave included, from zero and from the last pressure, to the residuals 1e-6 and 1e-9.
"""

from __future__ import annotations

import sys
from collections.abc import Sequence
from dataclasses import dataclass, fields, replace

import numpy as np
from scipy.ndimage import label

from sinkbowl.case.case import load_case
from sinkbowl.case.starter import shipped_case
from sinkbowl.flow.poisson import PressureSolver
from sinkbowl.flow.simulation import Simulation, initialise
from sinkbowl.flow.step import advance

CELLS = (2.0, 1.0, 0.5, 0.25, 0.12, 0.06)
"""Cell sizes [mm]: some 5 000 to a million cells."""

TOLERANCES = (1e-6, 1e-9)
WAYS = tuple((start, tolerance) for tolerance in TOLERANCES for start in ("zero", "last"))
NAMES = ("1e-6 from zero", "1e-6 from the last", "1e-9 from zero", "1e-9 from the last")
"""The four ways, in words."""

WORK = 4_000_000
"""Cells times steps that a grid is given, within 8 and 200 steps."""

EVERY = 5
"""Steps between two that are measured in the sinking."""


@dataclass(frozen=True)
class Measured(PressureSolver):
    """A solver that first counts the iterations of each way in `counts`."""

    counts: tuple[list[int], ...] = ()

    def solve(
        self, source: np.ndarray, heave: np.ndarray, sigma: float, pressure: np.ndarray, used: int
    ) -> tuple[int, float]:
        """Count, then solve as a step does."""
        for (start, tolerance), counts in zip(WAYS, self.counts, strict=True):
            plain = {entry.name: getattr(self, entry.name) for entry in fields(PressureSolver)}
            solver = PressureSolver(**{**plain, "tolerance": tolerance})
            guess = np.zeros_like(pressure) if start == "zero" else pressure.copy()
            counts.append(solver.solve(source, heave, sigma, guess, used)[0])
        return super().solve(source, heave, sigma, pressure, used)


@dataclass(frozen=True)
class Reading:
    """Cells, step, time [s], pieces of water, and iterations each way."""

    cells: int
    step: int
    time: float
    pieces: int
    counts: tuple[int, ...]

    def row(self, name: str) -> str:
        """A line of the table."""
        told = "".join(f"{count:19d}" for count in self.counts)
        return f"{name:22}{self.cells:9d}{self.step:6d}{1e3 * self.time:8.1f}{self.pieces:8d}{told}"


def sail(sim: Simulation, steps: int) -> None:
    """Some steps; fewer where the rim goes under."""
    for _ in range(steps):
        if sim.draft < sim.case.bowl.rim_height:
            advance(sim.state, sim.body(), sim.time_step(), sim.ops)


def measure(sim: Simulation) -> Reading:
    """One step more, its system solved each way."""
    counts: tuple[list[int], ...] = tuple([] for _ in WAYS)
    plain = sim.ops
    own = {entry.name: getattr(plain.solver, entry.name) for entry in fields(PressureSolver)}
    measuring = replace(plain, solver=Measured(**own, counts=counts))
    state = sim.state
    advance(state, sim.body(), sim.time_step(), measuring)
    pieces = label(state.liquid)[1]
    taken = tuple(found[0] for found in counts)
    return Reading(state.liquid.size, state.step, state.time, pieces, taken)


def sinking(name: str, cell: float) -> Simulation:
    """A shipped case set on the water, its hole resolved, in cells of a size [mm]."""
    case = load_case(shipped_case(name))
    return initialise(replace(case, flow=replace(case.flow, cell=1e-3 * cell, hole="resolved")))


def at_size(cell: float) -> Reading:
    """The reading of the cup's first moments on one grid."""
    sim = sinking("steel-cup", cell)
    sail(sim, max(8, min(200, WORK // sim.state.liquid.size)))
    return measure(sim)


def worst() -> Reading:
    """The step of a whole sinking that takes most iterations from zero to the closest residual."""
    sim = sinking("steel-cup-wide-hole", 1.5)
    found: list[Reading] = []
    while sim.draft < sim.case.bowl.rim_height:
        sail(sim, EVERY - 1)
        found.append(measure(sim))
    hardest = WAYS.index(("zero", min(TOLERANCES)))
    return max(found, key=lambda reading: reading.counts[hardest])


def main(cells: Sequence[float]) -> None:
    """Print the table."""
    heads = "".join(f"{name:>19}" for name in NAMES)
    print(f"{'':22}{'cells':>9}{'step':>6}{'t ms':>8}{'pieces':>8}{heads}", flush=True)
    for cell in cells:
        print(at_size(cell).row(f"20 mm, cell {cell:g} mm"), flush=True)
    print(worst().row("40 mm, worst step"))


if __name__ == "__main__":
    main([float(word) for word in sys.argv[1:]] or CELLS)
