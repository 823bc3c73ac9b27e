"""Oscillation of water between a tube and the ring around it: a U-tube of revolution.

T = 2 pi sqrt(L/(2 g)) with L the length of the water along the tube, for equal sections (any
textbook of fluid mechanics; seen). L includes an unknown part for the turn at the bottom. It does
not depend on the legs and cancels between two depths h: T2^2 - T1^2 = 4 pi^2 (h2 - h1)/g.

With the ring closed at its top, over an air column of length l at the pressure p,

    w^2 = (2 g + gamma p / (rho l)) / L,   1/w2^2 - 1/w1^2 = (L2 - L1)/(2 g + gamma p / (rho l)).
"""

import numpy as np

from sinkbowl.common import ATMOSPHERE, GRAVITY
from sinkbowl.flow.effects.pockets import ADIABATIC, Pockets
from sinkbowl.flow.grid import Grid
from sinkbowl.flow.operators import make_operators
from sinkbowl.flow.release import complete_state, fill_to
from sinkbowl.flow.simulation import WAVE
from sinkbowl.flow.solid import closed, place_solid
from sinkbowl.flow.state import HeaveBody, empty_state
from sinkbowl.flow.step import advance

from . import Check, VerificationCase, finest, on_grids
from .tanks import DENSITY, on_line
from .waves import PERIODS, Swing, read_swing

TUBE = 0.05  # radius of the inner tube, and the gap under it [m]
LEGS = (0.1, 0.2)  # depths of the water in the legs, above the gap [m]
COLUMN = 0.1  # length of the air column over the closed ring [m]
AMPLITUDE = 0.002  # height of the inner level above rest at the start [m]


def swing(cells: int, leg: float, column: float = 0.0) -> Swing:
    """Oscillation with `cells` per tube radius; the tube's wall is two cells thick.

    With a column of air [m] the ring is closed at that height above the level at rest, and the
    amplitude is a tenth of AMPLITUDE, small compared with the column.
    """
    cell = TUBE / cells
    grid = _grid(cell, leg, column + 7.0 * cell)
    top = grid.z_f[-1] - 0.5 * cell
    wall = TUBE + 2.0 * cell
    outline = np.array([[TUBE, TUBE], [wall, TUBE], [wall, top], [TUBE, top]])
    solid = place_solid(grid, outline)
    pockets, amplitude, dt = None, AMPLITUDE, WAVE * np.sqrt(cell / GRAVITY)
    end = 1.2 * PERIODS * _period(leg)
    if column:
        lid = np.outer(grid.r_c > wall, on_line(grid.z_f, TUBE + leg + column))
        solid, pockets = closed(grid, solid, z_faces=lid), Pockets(grid.shape)
        amplitude = 0.1 * AMPLITUDE
        spring = ADIABATIC * ATMOSPHERE / (DENSITY * column)
        end *= np.sqrt(2.0 * GRAVITY / spring)
        dt = 1e-3 * end
    ops = make_operators(grid, solid, DENSITY, 1e-9, pockets=pockets)
    state = empty_state(grid)
    inner = np.broadcast_to((grid.r_c < TUBE)[:, None], grid.shape)
    fill_to(state, ops, TUBE + leg + amplitude, inner)
    fill_to(state, ops, TUBE + leg - amplitude, ~inner)
    complete_state(state, ops)
    area = 0.5 * TUBE**2
    if pockets is not None:
        pockets.follow(state, ops.mesh_of(state))
        state.pocket_air[0] = area * column
    body = HeaveBody(mass=1.0, gravity=GRAVITY, held=True)
    times, heights = [], []
    while state.time < end:
        times.append(state.time)
        heights.append(float(state.water[inner].sum()) / area - TUBE - leg)
        advance(state, body, dt, ops)
    return read_swing(np.array(times), np.array(heights), amplitude)


def _grid(cell: float, leg: float, above: float) -> Grid:
    """Grid lines on both faces of the wall, air above the water up to a height [m]; the outer ring
    has the tube's section."""
    wall = TUBE + 2.0 * cell
    rim = float(np.hypot(TUBE, wall))
    tube = np.linspace(0.0, TUBE, round(TUBE / cell) + 1)
    ring = np.linspace(wall, rim, round((rim - wall) / cell) + 1)
    r_f = np.concatenate((tube, [TUBE + cell], ring))
    rows = round((TUBE + leg + above) / cell)
    return Grid(r_f, np.linspace(0.0, rows * cell, rows + 1))


def _period(leg: float) -> float:
    """Period of legs of a depth, without the turn [s]."""
    return float(2.0 * np.pi * np.sqrt(leg / GRAVITY))


def added_period(cells: int, column: float = 0.0) -> float:
    """Period that the added length has by itself, sqrt(T2^2 - T1^2) [s]."""
    quick, slow = (1.0 / swing(cells, leg, column).frequency for leg in LEGS)
    return float(np.sqrt(slow**2 - quick**2))


def length_verification() -> VerificationCase:
    """The period of the length that the deeper legs add."""
    return finest(
        "U-tube, period of the added length",
        "T = 2 pi sqrt(L/(2g)), textbook (seen)",
        _period(LEGS[1] - LEGS[0]),
        on_grids(added_period, (4, 8)),
        0.005,
        "s",
        note="from legs 100 and 200 mm deep, so that the turn at the bottom drops out",
    )


def spring_verification() -> VerificationCase:
    """The period of the added length between two legs, one end closed."""
    spring = 2.0 * GRAVITY + ADIABATIC * ATMOSPHERE / (DENSITY * COLUMN)
    return finest(
        "U-tube with a closed end, period of the added length",
        "w^2 = (2 g + gamma p/(rho l))/L, from first principles",
        float(2.0 * np.pi * np.sqrt(2.0 * (LEGS[1] - LEGS[0]) / spring)),
        on_grids(lambda cells: added_period(cells, COLUMN), (8, 12)),
        0.02,
        "s",
        note="an air column of 100 mm as the spring; the turn at the bottom drops out",
    )


CHECKS: tuple[Check, ...] = (length_verification,)
