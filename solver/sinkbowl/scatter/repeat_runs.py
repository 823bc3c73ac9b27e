"""How wide the draws of a sinking time are, by the hole's width: a table shipped with the package.

One run cannot tell how much the next one would differ. The table can, roughly: it was made of runs
of other bowls with a hole as wide, d/D, hole over inner diameter of the rim.
"""

from __future__ import annotations

import csv
import math
from dataclasses import dataclass
from functools import cache
from importlib.resources import files

import numpy as np
from numpy.typing import NDArray

from sinkbowl.case.case import Case
from sinkbowl.common.frozen import frozen

TABLE = "repeat_runs.csv"

RUNS, FREEDOM, STUDENT = 15, 12, 2.1788
"""Runs of each row of the table, five on each of three grids; degrees of freedom of their standard
deviation; and Student's t of it at 97.5 %."""


@dataclass(frozen=True)
class RepeatRuns:
    """Half-widths at 95 %, as shares of the sinking time.

    scatter: of one more run about the mean of the table's; grid: error of the default grid.
    """

    scatter: float
    grid: float

    @property
    def deviation(self) -> float:
        """Standard deviation of the table's runs, share of the time."""
        return self.scatter / (STUDENT * math.sqrt(1.0 + 1.0 / RUNS))


def hole_ratio(case: Case) -> float:
    """Hole over inner diameter of the rim, d/D [1]."""
    return case.hole.diameter / (2.0 * float(case.bowl.inner[-1, 0]))


def repeat_runs_at(ratio: float) -> RepeatRuns:
    """The table at a width of the hole, d/D; linear between rows, beyond the last as there."""
    rows = table()
    scatter, grid = (float(np.interp(ratio, rows[:, 0], rows[:, k])) for k in (1, 2))
    return RepeatRuns(scatter, grid)


@cache
def table() -> NDArray[np.float64]:
    """Rows of d/D, scatter and grid, (n, 3), by d/D."""
    text = files(__package__).joinpath(TABLE).read_text(encoding="utf-8")
    lines = [line for line in text.splitlines() if not line.startswith("#")]
    return frozen(np.array([[float(cell) for cell in row[:3]] for row in csv.reader(lines[1:])]))
