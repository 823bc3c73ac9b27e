"""Sinking times of the cup with a 40 mm hole in water of another viscosity.

    python tests/benchmarks/viscosity_changed.py

Four times, one and a fourth of water's, with base cells of 0.4, 0.2 and 0.1 mm, so that the
boundary layer always has the same number of cells; five releases each, with mean and standard
deviation.
"""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np

from sinkbowl.case.case import parse_case
from sinkbowl.case.starter import shipped_case
from sinkbowl.running.process_pool import ProcessPool, cores
from sinkbowl.scatter import drawn
from sinkbowl.verification.flow_map import released

CASES = ((4.0, 0.4), (1.0, 0.2), (0.25, 0.1))  # viscosity over water's, base cell [mm]
MEMBERS = 5


def sinking_time(factor: float, base_cell: float, member: int) -> float:
    """Time until the rim is under [s]."""
    text = shipped_case("steel-cup-wide-hole").read_text(encoding="utf-8")
    text += f'\n[flow]\nhole = "resolved"\nbase_cell = "{base_cell} mm"\n'
    case = parse_case(text, Path(), "cup.toml")
    water = replace(case.water, viscosity=factor * case.water.viscosity)
    return released(replace(case, water=water), drawn(0, member)).rim


if __name__ == "__main__":
    with ProcessPool(cores()) as pool:
        for factor, cell in CASES:
            jobs = [pool.submit(sinking_time, factor, cell, member) for member in range(MEMBERS)]
            times = np.array([job.result() for job in jobs])
            print(f"| {factor:g} | {cell} mm | {times.mean():.4f} ± {times.std(ddof=1):.4f} s |")
