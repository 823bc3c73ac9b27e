"""Cost of a time step of the shipped steel cup, part by part.

    python tests/benchmarks/step_cost.py [simulated seconds] [cell in mm]

Prints a table: calls, milliseconds a step and share of each part of the step, and its roof: how
long its arrays, each read or written once a pass, would take to stream from and to memory (triad
a = b + s c, arrays larger than the caches), over the time that it takes. More than 100 % means that
arrays stay in the caches from part to part. Machines are noisy: compare shares and ratios measured
in one run, not milliseconds of two.
"""

import cProfile
import pstats
import sys
from dataclasses import replace
from pathlib import Path
from time import perf_counter

import numba
import numpy as np

from sinkbowl.case.case import load_case
from sinkbowl.case.starter import shipped_case
from sinkbowl.flow.simulation import Simulation, initialise
from sinkbowl.flow.step import advance

SHOWN = 20
"""Lines of the table."""

TRIAD = 40_000_000
"""Numbers in each array of the triad."""


AN_ITERATION = 4 / 3 * 46.75 / 2 + 17.5
"""Numbers a cell that one iteration of the solve moves: a cycle in single precision, on all levels,
and the vectors of the conjugate gradients in double."""

NUMBERS = {
    "conjugate.solve": 20.5,
    "stack.build": 25.0,
    "interface.reconstruct": 3.1,
    "transport.give_back": 2.0,
    "transport.flux_r": 5.0,
    "transport.flux_z": 5.0,
    "transport.dilation": 3.0,
    "transport.apply_flux": 4.1,
    "transport.half_full": 2.1,
    "extension.extrapolate_in_time": 4.4,
    "extension.mark_wet_faces": 2.4,
    "extension.settle_far_air": 2.3,
    "extension.courant_rate": 6.0,
    "momentum.convect_r": 6.1,
    "momentum.convect_z": 6.1,
    "step.predict_velocity": 12.0,
    "pressure.mark_liquid": 2.1,
    "pressure.assemble": 7.1,
    "pressure.divergence": 6.1,
    "pressure.divergence_wanted": 4.1,
    "pressure.prepare": 7.1,
    "pressure.add_gravity": 3.0,
    "pressure.correct": 5.1,
}
"""Numbers of eight bytes a cell that a call moves at least; flags count an eighth, single precision
a half, neighbours nothing. The solve's are those before its first iteration; it passes over the
air, other parts are counted as if they did not."""


@numba.njit
def triad(a: np.ndarray, b: np.ndarray, c: np.ndarray, factor: float) -> None:
    """a = b + factor c."""
    for k in range(a.shape[0]):
        a[k] = b[k] + factor * c[k]


def bandwidth() -> float:
    """Bytes a second that one thread streams, best of some triads."""
    a, b, c = (np.ones(TRIAD) for _ in range(3))
    best = np.inf
    for _ in range(6):
        begin = perf_counter()
        triad(a, b, c, 2.0)
        best = min(best, perf_counter() - begin)
    return 3.0 * a.nbytes / best


def one_step(sim: Simulation) -> int:
    """Advance by one step; returns the pressure solve's iterations."""
    dt = sim.time_step()
    return advance(sim.state, sim.body(), dt, sim.ops).iterations


def main(until: float, cell: float | None) -> None:
    """Step until the given time and print the table."""
    case = load_case(shipped_case("steel-cup"))
    if cell is not None:
        case = replace(case, flow=replace(case.flow, cell=cell))
    sim = initialise(case)
    for _ in range(3):
        one_step(sim)
    profile, iterations, first = cProfile.Profile(), 0, sim.state.step
    begin = perf_counter()
    profile.enable()
    while sim.state.time < until:
        iterations += one_step(sim)
    profile.disable()
    wall, steps = perf_counter() - begin, sim.state.step - first
    cells = sim.ops.grid.shape[0] * sim.ops.grid.shape[1]
    print(
        f"{cells} cells, {steps} steps, {1e3 * wall / steps:.2f} ms a step, "
        f"{1e6 * wall / steps / cells:.3f} us a cell, {iterations / steps:.1f} iterations a step"
    )
    streamed = bandwidth()
    print(
        f"triad: {streamed / 1e9:.1f} GB/s; a step lasts as long as streaming "
        f"{streamed * wall / steps / cells / 8.0:.0f} numbers a cell"
    )
    parts = pstats.Stats(profile).stats.items()  # type: ignore[attr-defined]
    moved, wet = 8.0 * cells / streamed, float(np.mean(sim.state.liquid))
    costly = sorted(parts, key=lambda part: -part[1][2])
    print(f"{'part':32}{'calls/step':>11}{'ms/step':>9}{'share':>8}{'roof':>7}")
    whole = 0.0
    for place, ((file, _, name), (calls, _, own, _, _)) in enumerate(costly):
        where = f"{Path(file).stem}.{name}"
        least = calls * NUMBERS.get(where, 0.0)
        if where == "conjugate.solve":
            least = wet * (least + iterations * AN_ITERATION)
        whole += moved * least
        if place < SHOWN:
            roof = f"{moved * least / own:7.0%}" if least else ""
            line = f"{where:32}{calls / steps:11.1f}{1e3 * own / steps:9.3f}{own / wall:8.1%}{roof}"
            print(line)
    print(f"{'the whole step':32}{'':11}{1e3 * wall / steps:9.3f}{'':8}{whole / wall:7.0%}")


if __name__ == "__main__":
    given = [float(word) for word in sys.argv[1:]]
    main(given[0] if given else 0.3, given[1] * 1e-3 if len(given) > 1 else None)
