"""Damping of sloshing by friction at bottom and side wall.

A wave of frequency w has Stokes layers, sqrt(2 nu/w) thick, on bottom and side wall. The mean loss
per area is rho U^2 sqrt(nu w/2)/2, U being the amplitude of the velocity there. With phi = J0(kr)
cosh k(z + h), J1(kR) = 0, in an upright cylinder of radius R and depth h, the decay rate of the
amplitude is half the loss over the wave's energy:

    sqrt(nu w/2) (k/sinh 2kh + (1 - 2kh/sinh 2kh)/(2R)),

bottom and side (Case & Parkinson 1957, J. Fluid Mech. 2, 172, from memory; derived here from first
principles). The loss inside the water is smaller by the ratio of layer to wave, and is added.

At the edge of the surface the water missing in the layer comes from the inside: a sink of strength
U delta (1 - i)/2, which adds delta (1 - i)/(pi s) of U at a depth s. Its integral over s is
logarithmic: with k delta of 0.04, deep water loses up to a fifth more at its side than by the
formula, the more the finer the cells. So the tank is shallow here, and k delta 0.026.
"""

import numpy as np
from scipy.special import j0

from sinkbowl.common.constants import GRAVITY
from sinkbowl.flow.grid.grid import Array, Grid, Spacing, lay_lines
from sinkbowl.flow.grid.solid import Solid, closed, place_solid
from sinkbowl.flow.operators import make_operators
from sinkbowl.flow.simulation import WAVE
from sinkbowl.flow.state import empty_state

from .tanks import DENSITY
from .verification_case import Check, VerificationCase, finest
from .waves import RADIUS, follow, frequency, raise_levels, wave_number

DEPTH = 0.03
"""Depth of the water [m]: two thirds of the loss are at the bottom."""

VISCOSITY = 4e-6
"""Four times water's [m^2/s]; the layer is 0.7 mm thick."""

AMPLITUDE = 3e-4
"""Height of the wave at the axis [m]."""

PERIODS = 4.0
"""Number of periods."""

GROWTH = 0.1
"""Growth of the cells from the walls inwards."""


def layer() -> float:
    """Thickness of the Stokes layer, sqrt(2 nu/w) [m]."""
    return float(np.sqrt(VISCOSITY / (np.pi * frequency(1, DEPTH))))


def wall_damping_rate() -> tuple[float, float]:
    """Decay rates of mode 1 by the walls and in the water itself [1/s].

    The second is 2 nu k^2 of deep water times the factor of a bottom (Hunt 1964, from memory).
    """
    k, omega = wave_number(1), 2.0 * np.pi * frequency(1, DEPTH)
    kh = k * DEPTH
    bottom = k / np.sinh(2.0 * kh)
    side = (1.0 - 2.0 * kh / np.sinh(2.0 * kh)) / (2.0 * RADIUS)
    inside = np.cosh(4.0 * kh) + np.cosh(2.0 * kh) - 1.0
    water = 2.0 * VISCOSITY * k**2 * inside / (np.cosh(4.0 * kh) - 1.0)
    return float(np.sqrt(0.5 * VISCOSITY * omega) * (bottom + side)), float(water)


def basin(cells: int, in_layer: float) -> tuple[Grid, Solid]:
    """Basin with a wall of one cell inside the tub, which slips, and a bottom of one cell.

    cells: over the radius, far from the walls; in_layer: in the Stokes layer, at the walls.
    """
    cell, fine = RADIUS / cells, layer() / in_layer
    r = RADIUS - _from_wall(RADIUS, cell, fine)[::-1]
    z = _from_wall(DEPTH, cell, fine)
    above = DEPTH + (z[-1] - z[-2]) * np.arange(1, 2 + int(0.3 * DEPTH / (z[-1] - z[-2])))
    r[0] = 0.0
    grid = Grid(np.append(r, RADIUS + fine), np.concatenate(([-fine], z, above)))
    walls = np.zeros(grid.shape, dtype=np.bool_)
    walls[-1], walls[:, 0] = True, True
    return grid, closed(grid, place_solid(grid, None), cells=walls)


def _from_wall(length: float, cell: float, fine: float) -> Array:
    """Lines from a wall at 0 to a length [m], `fine` at the wall and growing to `cell`."""
    return lay_lines([0.0, length], [Spacing(fine, 0.0, 0.0, GROWTH), Spacing(cell, 0.0, length)])


def wall_damping(cells: int, in_layer: float) -> float:
    """Decay rate of the peaks of mode 1 [1/s], by a straight line through their logarithms."""
    grid, solid = basin(cells, in_layer)
    ops, state = make_operators(grid, solid, DENSITY, 1e-9, viscosity=VISCOSITY), empty_state(grid)
    shape = j0(wave_number(1) * grid.r_c)
    raise_levels(ops, state, DEPTH + AMPLITUDE * shape)
    limits = [force.longest_step(state, ops.mesh_of(state)) for force in ops.forces]
    dt = min(WAVE * np.sqrt(grid.dz.min() / GRAVITY), *limits)
    t, a = follow(ops, state, 1, dt, PERIODS, DEPTH, slice(-1))
    high = np.abs(a)
    peaks = 1 + np.flatnonzero((high[1:-1] >= high[:-2]) & (high[1:-1] > high[2:]))
    return -float(np.polyfit(t[peaks], np.log(high[peaks]), 1)[0])


def no_slip_basin() -> VerificationCase:
    """Mode 1 in a shallow cylinder with no-slip bottom and side."""
    grids = tuple(
        (f"{cells} cells a radius, {inside} in the layer", wall_damping(cells, inside))
        for cells, inside in ((24, 1), (32, 2), (48, 3))
    )
    return finest(
        "sloshing, mode 1, damping by walls",
        "Stokes layers, Case & Parkinson 1957 (from memory, derived here); 10 %: k delta is 3 %",
        sum(wall_damping_rate()),
        grids,
        0.1,
        "1/s",
    )


CHECKS: tuple[Check, ...] = (no_slip_basin,)
