"""Pressure recovery behind a sudden expansion of a pipe (Borda 1766, Carnot 1803).

Water leaves a narrow pipe with the speed U_1, mixes in a wider one and finally fills it uniformly.
If the pressure on the step between the pipes is that of the narrow one, p_1, the momentum of the
water gives, for any mixing,

    p_2 - p_1 = rho U_1^2 m (1 - m),     m = A_1/A_2.

In an axisymmetric flow only viscosity can mix, so the flow is laminar. Both pipes slip, so that the
stream is uniform up to the step and the walls take no momentum; shear acts only inside the water.
The suction at the step, p_1 - p_b, falls as 1/Re; with it the momentum of the water gives

    p_2 - p_1 = rho U_1^2 m (1 - m) - (1 - m) (p_1 - p_b).
"""

from dataclasses import dataclass, replace
from functools import cache

import numpy as np

from sinkbowl.flow.grid.grid import Array, Grid, Spacing, lay_lines
from sinkbowl.flow.grid.solid import Solid, closed, place_solid

from .tanks import DENSITY
from .verification_case import VerificationCase, finest, on_grids
from .viscosity import SIZE, SPEED, Stream, stream

WIDER = 1.5
"""Radius of the wide pipe over that of the narrow one, `SIZE`."""

REYNOLDS = 1000.0
"""Of the narrow pipe: the suction at the step is 4 % of the pressure recovery."""

BELOW, ABOVE = 2.0, 130.0
"""Lengths of the pipes from the step, in `SIZE`: mixing takes some 0.1 Re."""

END = 300.0
"""Time of the run in SIZE/SPEED; the flow is steady then."""

RATIO = 1.0 / WIDER**2
"""Area of the narrow pipe over that of the wide one."""


@dataclass(frozen=True)
class Mixed:
    """Readings of the steady flow.

    regained: mean pressure far downstream minus that far upstream; suction: the latter minus the
    mean on the step, both over rho U_1^2 m (1 - m); reattached: distance of reattachment in step
    heights.
    """

    regained: float
    suction: float
    reattached: float


def step_in_a_pipe(cells: int) -> tuple[Grid, Solid]:
    """Grid of `cells` in the narrow pipe's radius, and the solid around that pipe below z = 0."""
    fine = Spacing(SIZE / cells, -BELOW * SIZE, 8.0 * SIZE, 0.1)
    lines = lay_lines([-BELOW * SIZE, 0.0, ABOVE * SIZE], [fine])
    grid = Grid(np.linspace(0.0, WIDER * SIZE, round(WIDER * cells) + 1), lines)
    around = np.outer(np.arange(grid.shape[0]) >= cells, grid.z_c < 0.0)
    return grid, closed(grid, place_solid(grid, None), cells=around)


def _step(grid: Grid) -> int:
    return int(np.argmin(np.abs(grid.z_f)))


@cache
def mixed(cells: int, reynolds: float = REYNOLDS) -> Mixed:
    """Steady flow on `cells` in the narrow pipe's radius."""
    grid, solid = step_in_a_pipe(cells)
    flow, step = stream(grid, solid, 2.0 * SIZE * SPEED / reynolds, 1e-4), _step(grid)
    _let_slip(flow, cells, step)
    flow.run(END * SIZE / SPEED)
    whole, volume = DENSITY * SPEED**2 * RATIO * (1.0 - RATIO), solid.volume
    rows = np.sum(flow.state.pressure * volume, axis=0) / np.sum(volume, axis=0)
    beside = volume[cells:, step]
    on_step = float(np.average(flow.state.pressure[cells:, step], weights=beside))
    return Mixed(
        regained=float(rows[-2] - rows[0]) / whole,
        suction=float(rows[0] - on_step) / whole,
        reattached=_reattached(grid, flow, step) / ((WIDER - 1.0) * SIZE),
    )


def _let_slip(flow: Stream, side: int, step: int) -> None:
    """Make the walls of the narrow pipe and the step slip walls."""
    flow.friction.sheared[side:, : step + 1] = False
    flow.ops = replace(flow.ops, no_slip=None)


def _reattached(grid: Grid, flow: Stream, step: int) -> float:
    """Distance from the step at which the water beside the wall no longer flows back [m]."""
    along: Array = flow.state.u_z[-1, step + 1 :] - flow.state.speed
    heights = grid.z_f[step + 1 :]
    last = int(np.flatnonzero(along < 0.0)[-1])
    share = along[last] / (along[last] - along[last + 1])
    return float(heights[last] + share * (heights[last + 1] - heights[last]))


def sudden_expansion() -> tuple[VerificationCase, VerificationCase]:
    """Pressure recovery against Borda and Carnot, and against momentum with the step's pressure."""
    at_end = mixed(8)
    regained = finest(
        "sudden expansion, pressure recovery over rho U^2 m (1 - m)",
        "momentum with p_1 on the step (Borda, Carnot; from memory), m = 4/9",
        1.0,
        on_grids(lambda cells: mixed(cells).regained, (4, 8)),
        0.05,
        note=f"Slip walls, Re = {REYNOLDS:g}. The stream meets the wall {at_end.reattached:.1f} "
        f"step heights downstream. Suction at the step is {100.0 * at_end.suction:.1f} % of the "
        "pressure recovered, less at higher Re; hence 5 %",
    )
    closed = VerificationCase(
        "sudden expansion, the same with the step's own pressure",
        "momentum of all the water, from first principles; 1 % asked, common practice, no source",
        1.0 - (1.0 - RATIO) * at_end.suction,
        at_end.regained,
        0.01,
        note="the rest is incomplete mixing",
    )
    return regained, closed
