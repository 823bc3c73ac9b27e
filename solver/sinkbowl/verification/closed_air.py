"""Closed-off air as a spring, against two frequencies of small oscillations.

A bubble deep in water (Minnaert 1933, Phil. Mag. 16, 235), of radius R at the pressure p:

    w^2 = 3 gamma p / (rho R^2) / (1 - R/R_far),

the last factor for the water that ends at R_far. Water in a U-tube with one end closed, its air
column of length l at the pressure p, the water along the tube of length L:

    w^2 = (2 g + gamma p / (rho l)) / L.

L includes an unknown part for the turn at the bottom, which, as in `u_tube.py`, cancels between two
depths of the legs: 1/w2^2 - 1/w1^2 = (L2 - L1)/(2 g + gamma p / (rho l)).
"""

import numpy as np

from sinkbowl.common.constants import ATMOSPHERE, GRAVITY
from sinkbowl.flow.effects.pockets import ADIABATIC
from sinkbowl.flow.state import HeaveBody
from sinkbowl.flow.step import advance

from .collapse import RADIUS, REACH, hollow, wide_grid
from .tanks import DENSITY
from .u_tube import LEGS, added_period
from .verification_case import Check, VerificationCase, finest, on_grids
from .waves import PERIODS, Swing, read_swing

PRESSED = 0.01
"""Initial excess pressure of the bubble, over the atmosphere's."""

COLUMN = 0.1
"""Length of the air column over the closed leg [m]."""

STEPS = 400
"""Time steps per period: the implicit gas law damps faster motion."""


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


CHECKS: tuple[Check, ...] = (bubble_verification, spring_verification)
