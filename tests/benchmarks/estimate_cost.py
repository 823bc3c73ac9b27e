"""Predicted against real wall time, steps and cells of shipped cases.

    python tests/benchmarks/estimate_cost.py [cell in mm] [hole in mm ...]

Prints a line a run: first the shipped cases, then the steel cup with the holes given. Without a
cell the grid is what the case says. Times are wall seconds and, since other programs hardly change
it, processor seconds; the load average stands in each line.
"""

import os
import sys
import tempfile
from dataclasses import replace
from pathlib import Path
from time import process_time

from sinkbowl.case.case import Case, load_case
from sinkbowl.case.starter import shipped_case
from sinkbowl.running.estimate import estimate
from sinkbowl.running.runner import run

CASES = ("open-ring", "steel-cup-wide-hole", "steel-cup", "brass-cap", "beech-dish-brass-ring")


def with_cell(case: Case, cell: float | None) -> Case:
    """The case with other cells [mm]."""
    return case if cell is None else replace(case, flow=replace(case.flow, cell=1e-3 * cell))


def compare(case: Case) -> None:
    """Estimate a case, run it and print both."""
    told = estimate(case)
    begin = process_time()
    with tempfile.TemporaryDirectory() as folder:
        done = run(case, Path(folder) / "run.h5")
    used = process_time() - begin
    cells = told.finest.cells[0] * told.finest.cells[1]
    print(
        f"{case.title[:30]:30}{1e3 * case.hole.diameter:6.1f}{cells:7}"
        f"{told.finest.steps:7}{done.steps:7}{told.finest.steps / done.steps:6.2f}"
        f"{told.seconds:8.1f}{done.wall_seconds:8.1f}{told.seconds / done.wall_seconds:6.2f}"
        f"{told.processor_seconds:8.1f}{used:8.1f}{told.processor_seconds / used:6.2f}"
        f"{os.getloadavg()[0]:6.1f}",
        flush=True,
    )


def main(cell: float | None, holes: list[float]) -> None:
    """Print the table."""
    print(
        f"{'case':30}{'hole':>6}{'cells':>7}{'steps':>7}{'real':>7}{'ratio':>6}"
        f"{'wall':>8}{'real':>8}{'ratio':>6}{'cpu':>8}{'real':>8}{'ratio':>6}{'load':>6}"
    )
    if not holes:
        for name in CASES:
            compare(with_cell(load_case(shipped_case(name)), cell))
    cup = with_cell(load_case(shipped_case("steel-cup")), cell)
    for hole in holes:
        compare(cup.with_hole(hole * 1e-3))


if __name__ == "__main__":
    given = [float(word) for word in sys.argv[1:]]
    main(given[0] if given else None, given[1:])
