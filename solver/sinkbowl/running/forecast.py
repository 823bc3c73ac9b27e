"""Forecast of the work of a flow run: cells, steps, duration.

Cells are those of the grid. The duration is that of the heave model, extended to the end of a run.
Its head and speed V also give the time step by the two limits of `simulation.time_step`:

    dt = min( W sqrt(least dz / g),  C / rate ),
    rate^2 = (K sqrt(2 g head) / least cell)^2 + (B V / least dz)^2.

W and C are the solver's own wave and Courant limits. K is the sum of both velocity components where
the water turns into the hole, over the jet's speed. It grows with the number n of cells across the
hole, which resolve more of the fast water at its edge, K = 1.25 (n / 20)^(1/4) up to n = 20; on
finer grids the jet is fastest. With the base gone there is no edge, and the water moves only
vertically: K / least cell becomes 1 / least dz. B = 2: water passes the wall of a wide hole about
as fast as the bowl sinks. These values are from runs of the shipped cases with coarse cells, the
delay of the water over the rim from runs with coarse and fine ones.
"""

import math
from dataclasses import dataclass

import numpy as np

from sinkbowl.case.case import Case
from sinkbowl.common import GRAVITY
from sinkbowl.common.sinking import Sinking
from sinkbowl.design.budget.variation import meniscus_aside
from sinkbowl.flow.grid import Array
from sinkbowl.flow.layout import Layout, cell_refused, lay_out
from sinkbowl.flow.simulation import COURANT, WAVE
from sinkbowl.reduced import MODELS
from sinkbowl.running.events import END_CELLS, rest_window

TURN = 1.25  # K with TURN_CELLS across the hole or more

TURN_CELLS = 20.0
TURN_GROWTH = 0.25

RUSH = 2.0  # B: speed of the water past the wall, relative to it, over the bowl's speed
INRUSH = 0.4  # delay of the water over the rim, not in the heave model, in sqrt(radius / g)

HELD_BACK = 6.0  # the same by closed-off air, which coarse cells lose, for a narrow hole
HELD_CELLS = 80.0  # cells across the hole from which none of it is lost

SECONDS_A_CELL = 2e-7  # approximate processor time of a step per cell [s], on a small machine

LONGEST_RUN = 3 * 24 * 3600.0
"""Expected processor time above which a run is refused [s]: three days."""

INSTANTS = 2000  # number of points in time at which the time step is evaluated


@dataclass(frozen=True)
class Forecast:
    """Work of a run.

    cells : of the grid, r and z
    steps : expected
    duration : simulated time at the end of the run [s], expected
    """

    cells: tuple[int, int]
    steps: int
    duration: float

    @property
    def cell_steps(self) -> int:
        """Cells times steps: proportional to the work."""
        return self.cells[0] * self.cells[1] * self.steps


def forecast(case: Case) -> Forecast:
    """Expected work of a run; CaseError if the case cannot be computed."""
    layout = lay_out(case)
    sinking = MODELS["heave"](meniscus_aside(case))
    duration = _duration(case, layout, sinking)
    t = np.linspace(0.0, duration, INSTANTS)
    steps = float(np.mean(1.0 / _time_step(case, layout, sinking, t))) * duration
    return Forecast(layout.grid.shape, max(1, math.ceil(steps)), duration)


def check_patience(case: Case) -> None:
    """Refuse a run that takes too long.

    Raises CaseError if the case cannot be computed, or not within LONGEST_RUN.
    """
    work = forecast(case)
    seconds = work.cell_steps * SECONDS_A_CELL
    if seconds <= LONGEST_RUN:
        return
    finest = lay_out(case).finest
    most = finest * math.sqrt(seconds / LONGEST_RUN)
    raise cell_refused(
        case,
        finest,
        f"asks for {work.steps:.2g} steps of {work.cells[0] * work.cells[1]:.2g} cells, "
        f"some {seconds / 86400.0:.2g} days",
        f"Give about {1e3 * most:.2g} mm.",
        "flow.cell" if case.flow.base_cell is None else "flow.base_cell",
    )


def _duration(case: Case, layout: Layout, sinking: Sinking) -> float:
    """Simulated time at the end of the run [s]; see events.py."""
    end = float(sinking.t[-1])
    if "half_sunk" in sinking.events:
        return sinking.events["half_sunk"] + 2.0 * rest_window(case)
    if case.base_gone:
        depth = layout.grid.z_f[-1] - END_CELLS * layout.cell - float(sinking.draft[-1])
        speed = max(float(sinking.speed[-1]), math.sqrt(GRAVITY * layout.cell))
        return end + float(depth) / speed
    rim = case.bowl.rim_radius
    kept = min(case.hole.diameter / layout.finest / HELD_CELLS, 1.0)
    delay = INRUSH + HELD_BACK * kept * (1.0 - 0.5 * case.hole.diameter / rim)
    return end + delay * math.sqrt(rim / GRAVITY)


def _time_step(case: Case, layout: Layout, sinking: Sinking, t: Array) -> Array:
    """Expected time step at some times [s]."""
    grid = layout.grid
    head, speed = np.interp(t, sinking.t, sinking.head), np.interp(t, sinking.t, sinking.speed)
    jet = np.sqrt(2.0 * GRAVITY * np.maximum(head, 0.0))
    low, finest = float(grid.dz.min()), float(min(grid.dr.min(), grid.dz.min()))
    across = case.hole.diameter / layout.finest
    turn = TURN * min(across / TURN_CELLS, 1.0) ** TURN_GROWTH
    edge = 1.0 / low if case.base_gone else turn / finest
    rate = np.maximum(np.hypot(edge * jet, RUSH * speed / low), 1e-9)
    return np.asarray(np.minimum(WAVE * math.sqrt(low / GRAVITY), COURANT / rate))
