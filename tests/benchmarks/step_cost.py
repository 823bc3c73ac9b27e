"""Cost of a time step of the shipped steel cup, part by part.

    python tests/benchmarks/step_cost.py [simulated seconds] [cell in mm]

Prints a table: calls, milliseconds a step and share of each part of the step; and how many numbers
a cell the machine could stream in that time (triad a = b + s c, arrays larger than its caches).
Machines are noisy: compare shares and ratios measured in one run, not milliseconds of two.
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
from sinkbowl.case.shipped import shipped_case
from sinkbowl.flow.step import advance
from sinkbowl.flow.voyage import Voyage, embark

TRIAD = 40_000_000
"""Numbers in each array of the triad."""


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


def one_step(voyage: Voyage) -> int:
    """Advance by one step; returns the pressure solve's iterations."""
    dt = voyage.time_step()
    return advance(voyage.state, voyage.body(), dt, voyage.ops).iterations


def main(until: float, cell: float | None) -> None:
    """Step until the given time and print the table."""
    case = load_case(shipped_case("steel-cup"))
    if cell is not None:
        case = replace(case, flow=replace(case.flow, cell=cell))
    voyage = embark(case)
    for _ in range(3):
        one_step(voyage)
    profile, iterations, first = cProfile.Profile(), 0, voyage.state.step
    begin = perf_counter()
    profile.enable()
    while voyage.state.time < until:
        iterations += one_step(voyage)
    profile.disable()
    wall, steps = perf_counter() - begin, voyage.state.step - first
    cells = voyage.ops.grid.shape[0] * voyage.ops.grid.shape[1]
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
    costly = sorted(parts, key=lambda part: -part[1][2])[:14]
    print(f"{'part':42}{'calls/step':>11}{'ms/step':>9}{'share':>8}")
    for (file, _, name), (calls, _, own, _, _) in costly:
        where = f"{Path(file).stem}.{name}"
        print(f"{where:42}{calls / steps:11.1f}{1e3 * own / steps:9.3f}{own / wall:8.1%}")


if __name__ == "__main__":
    given = [float(word) for word in sys.argv[1:]]
    main(given[0] if given else 0.3, given[1] * 1e-3 if len(given) > 1 else None)
