"""A hundred thousand steps: memory does not grow, the conservation budgets stay closed."""

import numpy as np
import psutil
import pytest

from coarse_cups import case_of
from faults.killed_runs import CUP
from sinkbowl.files.result import read_result
from sinkbowl.running.runner import Progress, run

STEPS = 100_000

LEAKY = CUP.replace('hole = "resolved"\n', "").replace(
    'diameter = "40 mm"', 'diameter = "5 mm"\ndischarge_coefficient = 0.025'
)
"""The cup with a hole like a scratch: minutes on the water, a few hundred cells."""

MOST_GROWTH = 20e6
"""Growth of memory [bytes]: HDF5 keeps up to 1 MiB of each of the 17 columns of the history; one
array of the grid, kept at every step, would be 200 times as much."""


@pytest.mark.slow
def test_a_hundred_thousand_steps_take_no_more_memory_than_a_few(tmp_path):
    process = psutil.Process()
    memory: dict[int, int] = {}

    def look(now: Progress) -> None:
        memory[now.step] = process.memory_info().rss

    done = run(case_of(LEAKY), tmp_path / "cup.h5", progress=look)
    early = min(memory[step] for step in memory if step > 0.01 * STEPS)
    print(f"{done}, growth {1e-6 * (max(memory.values()) - early):.1f} MB")
    assert done.steps >= STEPS
    assert done.outcome == "sinks: full"
    assert max(memory.values()) - early < MOST_GROWTH
    history = read_result(tmp_path / "cup.h5").history
    assert len(history["t"]) == done.steps
    assert np.max(np.abs(history["volume_error"])) < 1e-12
    settled = history["t"] > 1.0
    assert np.max(np.abs(history["momentum_error"][settled])) < 0.02
