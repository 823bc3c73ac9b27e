"""Uncertainties of a sinking time against d/D, from two tables shipped with the package.

*repeat_runs.csv*: scatter of repeat runs, from runs of other bowls with the same d/D, for a single
run without scatter of its own.

*not_computed.csv*: effects that the flow solver leaves out. In axisymmetric flow ring vortices at
the jet's edge stay whole and retard the jet, which shifts the time. The ring of closed-off air (d/D
0.3 to 0.7) stays whole in a run and breaks into bubbles in reality; as a void it has no resistance.
"""

import math
from dataclasses import dataclass
from functools import cache

import numpy as np
from numpy.typing import NDArray

from sinkbowl.case.case import Case
from sinkbowl.common.frozen import frozen
from sinkbowl.common.table import shipped_table

REPEAT_RUNS, NOT_COMPUTED = "repeat_runs.csv", "not_computed.csv"

RUNS, FREEDOM, STUDENT = 15, 12, 2.1788
"""Runs of each row of the first table, five on each of three grids; degrees of freedom of their
standard deviation; and Student's t of it at 97.5 %."""

RELEASE = 0.006
"""Half-width at 95 % of careful releases of a bowl, share of the time: runs in three dimensions
scatter by 0.2 to 0.4 % (another code, unpublished)."""


@dataclass(frozen=True)
class RepeatRuns:
    """Half-widths at 95 %, as shares of the sinking time.

    scatter: of another run about the mean; grid: error of the default grid.
    """

    scatter: float
    grid: float

    @property
    def deviation(self) -> float:
        """Standard deviation of the table's runs, share of the time."""
        return self.scatter / (STUDENT * math.sqrt(1.0 + 1.0 / RUNS))


@dataclass(frozen=True)
class NotComputed:
    """Shares of the sinking time.

    shift: by three dimensions; shift_half, air_half: half-widths at 95 % of the shift and by
    closed-off air.
    """

    shift: float
    shift_half: float
    air_half: float


def hole_ratio(case: Case) -> float:
    """Hole over inner diameter of the rim, d/D [1]."""
    return case.hole.diameter / (2.0 * float(case.bowl.inner[-1, 0]))


def repeat_runs_at(ratio: float) -> RepeatRuns:
    """The first table at d/D."""
    scatter, grid = _at(ratio, REPEAT_RUNS)[:2]
    return RepeatRuns(scatter, grid)


def not_computed(ratio: float, air: str) -> NotComputed:
    """The second table at d/D; air: "kept" or "void"."""
    shift, shift_half, kept, void = _at(ratio, NOT_COMPUTED)
    return NotComputed(shift, shift_half, kept if air == "kept" else void)


def _at(ratio: float, name: str) -> list[float]:
    """Columns of a table at d/D; linear between rows, constant beyond."""
    rows = numbers(name)
    return [float(np.interp(ratio, rows[:, 0], column)) for column in rows[:, 1:].T]


@cache
def numbers(name: str) -> NDArray[np.float64]:
    """Numbers of a table, d/D first, (n, 3) or (n, 5), sorted by d/D."""
    width = {REPEAT_RUNS: 3, NOT_COMPUTED: 5}[name]
    rows = shipped_table(__package__, name)
    return frozen(np.array([[float(cell) for cell in [*row.values()][:width]] for row in rows]))
