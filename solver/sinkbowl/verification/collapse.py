"""Collapse of an empty sphere deep in water, and a bubble that oscillates there.

Collapse (Rayleigh 1917, Phil. Mag. 34, 94):

(3/2) (dR/dt)^2 = (p/rho) ((R0/R)^3 - 1), hence the time until the radius has shrunk to x R0,

    t(x) = R0 sqrt(3 rho/(2 p)) int_x^1 s^(3/2) (1 - s^3)^(-1/2) ds,

0.914681 R0 sqrt(rho/p) in total. The pressure p is the weight of the water above: the void is
`REACH` radii deep, and as far from the walls of a wide tub. These boundaries delay the collapse to
a tenth of the radius by 0.67, 0.19 and 0.01 % at 100, 300 and 1000 radii, for any cell.

A bubble of closed-off air of radius R at the pressure p is a spring (Minnaert 1933, Phil. Mag. 16,
235):

    w^2 = 3 gamma p / (rho R^2) / (1 - R/R_far),

the last factor for the water that ends at R_far.
"""

import numpy as np
from scipy.integrate import quad

from sinkbowl.common import ATMOSPHERE, GRAVITY
from sinkbowl.flow.effects.pockets import ADIABATIC, Pockets
from sinkbowl.flow.grid import Array, Grid, Spacing, lay_lines
from sinkbowl.flow.operators import FlowOperators, make_operators
from sinkbowl.flow.release import complete_state
from sinkbowl.flow.solid import place_solid
from sinkbowl.flow.state import FlowState, HeaveBody, empty_state
from sinkbowl.flow.step import advance

from . import Check, VerificationCase, finest, on_grids
from .tanks import DENSITY, sphere
from .waves import PERIODS, Swing, read_swing

RADIUS = 0.05  # radius of the void at the start [m]
REACH = 300.0  # distance to the boundaries, over the radius
PRESSURE = DENSITY * GRAVITY * REACH * RADIUS  # pressure far from the void, at its depth [Pa]
LEAST = 0.1  # share of the radius down to which the void is followed
PRESSED = 0.01  # initial excess pressure of the bubble, over the atmosphere's
STEPS = 400  # time steps per period of the bubble: the implicit gas law damps faster motion


def time_to(share: float) -> float:
    """Rayleigh's time until the radius has shrunk to a share of its first value [s]."""
    integral, _ = quad(lambda s: s**1.5 / np.sqrt(1.0 - s**3), share, 1.0)
    return float(RADIUS * np.sqrt(1.5 * DENSITY / PRESSURE) * integral)


def collapse(cells: int) -> tuple[Array, Array]:
    """Times [s] and radii over the first one, down to `LEAST`, on `cells` per radius."""
    ops, state = hollow(wide_grid(RADIUS / cells), GRAVITY)
    body = HeaveBody(mass=1.0, gravity=GRAVITY, held=True)
    first, whole = _void(ops, state), time_to(0.0)
    dt, times, radii = 0.002 * whole, [0.0], [1.0]
    while radii[-1] > LEAST:
        advance(state, body, dt, ops)
        times.append(state.time)
        radii.append(float(np.cbrt(_void(ops, state) / first)))
        fastest = max(np.abs(state.u_r).max(), np.abs(state.u_z).max())
        dt = min(0.005 * whole, 0.3 * RADIUS / cells / fastest)
    return np.array(times), np.array(radii)


def wide_grid(cell: float) -> Grid:
    """Cells of a size [m] about the origin that grow outward, to REACH radii."""
    far = REACH * RADIUS
    wide = [Spacing(cell, 0.0, 1.2 * RADIUS, 0.1)]
    high = [Spacing(cell, -1.2 * RADIUS, 1.2 * RADIUS, 0.1)]
    return Grid(lay_lines([0.0, far], wide), lay_lines([-far, 0.0, far], high))


def hollow(grid: Grid, gravity: float, pockets: bool = False) -> tuple[FlowOperators, FlowState]:
    """Water at rest, open at the top, without the sphere about the origin, a void or a pocket."""
    air = Pockets(grid.shape) if pockets else None
    ops = make_operators(grid, place_solid(grid, None), DENSITY, 1e-9, pockets=air)
    state = empty_state(grid)
    state.water[:] = place_solid(grid, sphere(RADIUS)).volume
    complete_state(state, ops)
    weight = DENSITY * gravity * (grid.z_f[-1] - grid.z_c)
    state.pressure[:] = np.where(state.liquid, weight, 0.0)
    return ops, state


def _void(ops: FlowOperators, state: FlowState) -> float:
    """Volume without water around the origin [m^3 per radian]."""
    grid = ops.grid
    near = np.ix_(grid.r_c < 2.0 * RADIUS, np.abs(grid.z_c) < 2.0 * RADIUS)
    return float(np.sum(ops.solid.volume[near] - state.water[near]))


def void_verifications() -> tuple[VerificationCase, VerificationCase]:
    """The void's time to half and to a tenth of its radius."""
    runs = {cells: collapse(cells) for cells in (8, 16)}

    def verification(share: float, words: str, note: str) -> VerificationCase:
        def reached(cells: int) -> float:
            times, radii = runs[cells]
            return float(np.interp(-share, -radii, times))

        return finest(
            f"collapse of a void, time to {words} of its radius",
            "Rayleigh 1917, his integral (0.914681 R sqrt(rho/p) in total)",
            time_to(share),
            on_grids(reached, (8, 16)),
            0.01,
            "s",
            note=note,
        )

    tub = "the part that no grid changes is due to the tub"
    last = "all but the last 0.17 % of the collapse"
    return verification(0.5, "half", tub), verification(LEAST, "a tenth", last)


def minnaert() -> float:
    """Frequency of the bubble [Hz]."""
    stiffness = 3.0 * ADIABATIC * ATMOSPHERE / (DENSITY * (1.0 - 1.0 / REACH))
    return float(np.sqrt(stiffness) / (2.0 * np.pi * RADIUS))


def ring(cells: int) -> Swing:
    """Oscillation of a bubble, `cells` per radius, without gravity."""
    ops, state = hollow(wide_grid(RADIUS / cells), 0.0, pockets=True)
    assert ops.pockets is not None  # asked for
    first = ops.pockets.follow(state, ops.mesh_of(state)).volume[0]
    state.pocket_air[0] = first * (1.0 + PRESSED) ** (1.0 / ADIABATIC)
    rest = state.pocket_air[0]
    body = HeaveBody(mass=1.0, gravity=0.0, held=True)
    times, swelling = [0.0], [first - rest]
    while state.time < PERIODS / minnaert():
        report = advance(state, body, 1.0 / (STEPS * minnaert()), ops)
        times.append(state.time)
        swelling.append(float(report.air.volume[0] - rest))
    return read_swing(np.array(times), np.array(swelling), abs(first - rest))


def bubble_verification() -> VerificationCase:
    """The bubble's frequency."""
    return finest(
        "oscillating bubble",
        "3 gamma p = rho w^2 R^2, Minnaert 1933 (from memory)",
        minnaert(),
        on_grids(lambda cells: ring(cells).frequency, (8, 16)),
        0.02,
        "Hz",
        note="100 mm wide; the water's end at 300 radii is counted in the reference",
    )


CHECKS: tuple[Check, ...] = (void_verifications,)
