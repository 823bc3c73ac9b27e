"""Openings and jets: inertance of the hole, contraction of the jet, recovery of its pressure.

*Pressure recovery behind a sudden expansion* of a pipe (Borda 1766, Carnot 1803). Water leaves a
narrow pipe with the speed U_1, mixes in a wider one and finally fills it uniformly. If the pressure
on the step between the pipes is that of the narrow one, p_1, the momentum of the water gives, for
any mixing,

    p_2 - p_1 = rho U_1^2 m (1 - m),     m = A_1/A_2.

In an axisymmetric flow only viscosity can mix, so the flow is laminar. Both pipes slip, so that the
stream is uniform up to the step and the walls take no momentum; shear acts only inside the water.
The suction at the step, p_1 - p_b, falls as 1/Re; with it the momentum of the water gives

    p_2 - p_1 = rho U_1^2 m (1 - m) - (1 - m) (p_1 - p_b).
"""

from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import cache, partial
from math import atan, pi, sqrt

import numpy as np
from scipy.optimize import brentq

from sinkbowl.common import GRAVITY
from sinkbowl.flow.grid import Array, Grid, Spacing, lay_lines
from sinkbowl.flow.solid import Solid, closed, place_solid

from . import Check, VerificationCase, finest, on_grids
from .orifice_flow import (
    HOLE,
    Pipe,
    channel,
    discharge_coefficient,
    draining_time,
    inertance_length,
    jet_section,
    round_pipe,
)
from .tanks import DENSITY
from .viscosity import SIZE, SPEED, Stream, stream

FREE_JET = "free-streamline boundary elements, 0.5913 +- 0.0003; agrees with Bloch 1968/69"

PIPE_JET = {0.2: 0.6008, 0.4: 0.6216, 0.6: 0.6566, 0.8: 0.7203}
"""Contraction against area ratio, without friction, +- 0.0005."""

WEISBACH = {0.2: 0.632, 0.4: 0.659, 0.6: 0.712, 0.8: 0.813}  # the same, measured

INERTANCE_NOTE = (
    "First order in the cell: the edge is sharp. On coarse grids the hole seems longer."
)


def slot_jet(opening: float) -> float:
    """Exact contraction C of a slot in a plane channel: 1/C = 1 + (2/pi) (1/x - x) atan x, x = mC.

    From the free-streamline solution (von Mises 1917; this form from memory, it gives his table).
    """

    def short_of(c: float) -> float:
        x = opening * c
        return 1.0 / c - 1.0 - 2.0 / pi * (1.0 / x - x) * atan(x)

    return float(brentq(short_of, 0.5, 1.0))


def fok(ratio: float) -> float:
    """Fok's factor on the inertance length pi a/2 for a hole of `ratio` times the pipe's radius."""
    terms = (1.0, -1.40925, 0.0, 0.33818, 0.0, 0.06793, -0.02287, 0.03015, -0.01641)
    return sum(factor * ratio**power for power, factor in enumerate(terms))


def _orifice(
    name: str,
    source: str,
    reference: float,
    allowed: float,
    pipe: Callable[[int], Pipe],
    read: Callable[[Pipe], float],
    cells: tuple[int, ...],
    note: str,
    unit: str = "",
) -> VerificationCase:
    """A check on grids of `cells` a radius; the finest counts."""
    grids = tuple((f"{2 * n} cells a hole", read(pipe(n))) for n in cells)
    return finest(name, source, reference, grids, allowed, unit, note=note)


inertance_in_a_plane = partial(
    _orifice,
    "inertance of a thin hole in a plane",
    "pi a/2, conductivity 2a (Rayleigh; from memory); the pipe is 1000 times as wide",
    0.5 * pi,
    0.01,
    lambda n: round_pipe(1e-6, n),
    inertance_length,
    (8, 16, 32, 64),
    INERTANCE_NOTE,
    "radii",
)
"""End corrections of both sides, pi a/2 in total."""

inertance_in_a_pipe = partial(
    _orifice,
    "inertance of a thin hole, half the pipe's radius",
    "Fok 1941, series from memory",
    0.5 * pi * fok(0.5),
    0.01,
    lambda n: round_pipe(0.25, n),
    inertance_length,
    (8, 16, 32, 64, 128),
    INERTANCE_NOTE,
    "radii",
)
"""A hole half as wide as its pipe has a third of the inertance of a free one."""

jet_of_a_hole = partial(
    _orifice,
    "jet's section, thin hole",
    FREE_JET,
    0.5913,
    0.01,
    lambda n: round_pipe(0.01, n),
    jet_section,
    (8, 16, 32),
    "The pipe is ten times as wide as the hole.",
)

discharge_of_a_hole = partial(
    _orifice,
    "discharge coefficient, thin hole",
    FREE_JET,
    0.5913,
    0.01,
    lambda n: round_pipe(0.01, n),
    discharge_coefficient,
    (8, 16, 32),
    "Without friction it equals the contraction. Head is lost at the edge, less on fine grids.",
)

jet_of_a_square_lip = partial(
    _orifice,
    "jet's section, square lip of 1/8 diameter",
    FREE_JET,
    0.5913,
    0.02,
    lambda n: round_pipe(0.04, n, lip=n // 4),
    jet_section,
    (8, 16, 32),
    "The jet clings to the lip while the gap between them is thinner than a cell or two.",
)
"""The real jet is clear of it from the edge on."""

inward_tube = partial(
    _orifice,
    "discharge coefficient, inward tube",
    "momentum and energy, exact: (1 - sqrt(1 - m))/m, m = 1/4 (Borda; 1/2 for m = 0)",
    4.0 * (1.0 - sqrt(0.75)),
    0.02,
    lambda n: round_pipe(0.25, n, tube=2.0 * HOLE),
    discharge_coefficient,
    (8, 16, 40),
    "From the pressure; the jet's section in the tube is not steady. The grid's lip is thinner "
    "than a cell but not sharp.",
)
"""Borda's tube in a pipe of four times its area."""


def slot(opening: float, allowed: float = 0.01) -> VerificationCase:
    """Section of the jet from a slot in a plane channel."""
    return _orifice(
        f"jet's section, slot, width ratio {opening:g}",
        "free streamlines, exact (von Mises 1917; from memory)",
        slot_jet(opening),
        allowed,
        lambda n: channel(opening, n),
        jet_section,
        (8, 16),
        "A ring slot at 1000 times its half width stands for the plane slot.",
    )


def area_ratio(opening: float) -> tuple[VerificationCase, VerificationCase]:
    """Section of the jet from a thin hole in a pipe, against theory and the measured table."""
    theory = _orifice(
        f"jet's section, area ratio {opening:g}",
        "ring vortices along the jet, computed by another method, not published",
        PIPE_JET[opening],
        0.02,
        lambda n: round_pipe(opening, n),
        jet_section,
        (8, 16),
        "The method is in tests/vortex_sheet.py; it gives 0.5914 for the small hole.",
    )
    measured = replace(
        theory,
        name=f"{theory.name}, as measured",
        source="Weisbach (from memory)",
        reference=WEISBACH[opening],
        note="A jet without friction contracts more than this table: by "
        f"{100.0 * (WEISBACH[opening] / PIPE_JET[opening] - 1.0):.0f} % in theory.",
    )
    return theory, measured


def draining_tank() -> VerificationCase:
    """Quasi-steady fall of the level in a tank with ten times the area of its hole."""
    pipe, high, low = round_pipe(0.1, 8), 23.0 * HOLE, 19.0 * HOLE
    steady = discharge_coefficient(pipe)
    torricelli = sqrt(2.0 / GRAVITY) * (sqrt(high) - sqrt(low)) / (steady * pipe.opening)
    return VerificationCase(
        "draining tank, level 23 to 19 radii",
        "t = (A/(C_d a)) sqrt(2/g) (sqrt h1 - sqrt h2) with the solver's own steady C_d",
        torricelli,
        draining_time(pipe, high, low),
        0.01,
        unit="s",
        note="16 cells a hole. The falling jet's own weight adds a little to the head.",
    )


WIDER = 1.5  # radius of the wide pipe over that of the narrow one, `SIZE`
REYNOLDS = 1000.0  # of the narrow pipe: the suction at the step is 4 % of the pressure recovery
BELOW, ABOVE = 2.0, 130.0  # lengths of the pipes from the step, in `SIZE`: mixing takes some 0.1 Re
END = 300.0  # time of the run in SIZE/SPEED; the flow is steady then
RATIO = 1.0 / WIDER**2  # area of the narrow pipe over that of the wide one


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


@cache
def mixed(cells: int, reynolds: float = REYNOLDS) -> Mixed:
    """Steady flow on `cells` in the narrow pipe's radius."""
    grid, solid = step_in_a_pipe(cells)
    flow = stream(grid, solid, 2.0 * SIZE * SPEED / reynolds, 1e-4)
    step = int(np.argmin(np.abs(grid.z_f)))
    # the walls of the narrow pipe and the step slip
    flow.friction.sheared[cells:, : step + 1] = False
    flow.ops = replace(flow.ops, no_slip=None)
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
    by_step = VerificationCase(
        "sudden expansion, the same with the step's own pressure",
        "momentum of all the water, from first principles; 1 % asked, common practice, no source",
        1.0 - (1.0 - RATIO) * at_end.suction,
        at_end.regained,
        0.01,
        note="the rest is incomplete mixing",
    )
    return regained, by_step


CHECKS: tuple[Check, ...] = (
    inertance_in_a_plane,
    inertance_in_a_pipe,
    jet_of_a_hole,
    discharge_of_a_hole,
    jet_of_a_square_lip,
    partial(slot, 0.02, 0.005),
    partial(slot, 0.3),
    partial(slot, 0.5),
    partial(slot, 0.7),
    inward_tube,
    draining_tank,
    sudden_expansion,
    *(partial(area_ratio, opening) for opening in WEISBACH),
)
"""The verification cases; each call takes seconds."""
