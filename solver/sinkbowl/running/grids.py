"""The same case on several grids, which tell of the error of the finest one.

The finest grid is the case's own, each of the others coarser by sqrt(2), so that three grids cost
about half more than one; with a resolved hole the cells around the bowl only up to where its wall
would be thickened. The hole is treated on all of them as on the finest. Of the coarser runs only
the curves are kept, in the group `levels` of the finest run's result file.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import Literal

from sinkbowl.case.case import WIDEST_CELL, Case
from sinkbowl.common.shown import Shown, TextTable, seconds
from sinkbowl.flow.layout import cell_refused, lay_out
from sinkbowl.flow.thickening import wall_cell
from sinkbowl.running.convergence import Convergence
from sinkbowl.running.runner import RunResult
from sinkbowl.scatter.interval import told_time

RATIO = math.sqrt(2.0)
"""Coarser over finer cell from one grid to the next."""

FEWEST, MOST = 3, 5
"""Numbers of grids that can be asked for."""


@dataclass(frozen=True, repr=False)
class Grids(Shown):
    """A case on several grids, finest first.

    Attributes
    ----------
    finest : how the run on the finest grid ended; its file holds all the rest as well
    cells, sinking_times : of each grid [m], [s], a mean where it has members; None where a rim did
        not pass under
    verdict : on the sinking time; None where it is missing on one of the three finest grids
    warning : what is wrong with the sequence, in words; empty where nothing is
    """

    finest: RunResult
    cells: tuple[float, ...]
    sinking_times: tuple[float | None, ...]
    verdict: Convergence | None
    warning: str

    @property
    def uncertainty(self) -> float | None:
        """Numerical uncertainty of the sinking time on the finest grid [s], at about 95 %."""
        return self.verdict.uncertainty if self.verdict else None

    @property
    def table(self) -> TextTable:
        """The grids and what they say together."""
        rows = [
            ("outcome", self.finest.outcome),
            ("sinking time", told_time(self.finest.sinking_time, self.finest.interval)),
            *(
                (f"on cells of {1e3 * cell:.3g} mm", "none" if t is None else seconds(t))
                for cell, t in zip(self.cells, self.sinking_times, strict=True)
            ),
            *([("warning", self.warning)] if self.warning else []),
        ]
        title = f"{self.finest.path}: {self.finest.status}, {len(self.cells)} grids"
        return TextTable(rows, title)


def coarser_cases(case: Case, levels: int) -> list[Case]:
    """The case and coarser ones with the same treatment of the hole, finest first.

    Raises
    ------
    CaseError : the coarsest grid would not show the bowl
    """
    layout = lay_out(case)
    most = WIDEST_CELL * case.bowl.rim_radius / RATIO ** (levels - 1)
    if layout.cell > most:
        raise cell_refused(
            case,
            layout.cell,
            f"is too coarse for {levels} grids, of which it is the finest",
            f"Give at most {1e3 * most:.3g} mm.",
        )
    hole: Literal["closed", "resolved"] = "closed" if layout.closed else "resolved"
    coarser = []
    for k in range(1, levels):
        cell, base = layout.cell * RATIO**k, layout.finest * RATIO**k
        if not layout.closed:
            cell = min(cell, max(layout.cell, wall_cell(case.bowl)))
        flow = replace(case.flow, cell=cell, base_cell=None if layout.closed else base, hole=hole)
        coarser.append(replace(case, flow=flow))
    return [case, *coarser]
