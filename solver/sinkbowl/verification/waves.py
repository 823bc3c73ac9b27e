"""Axisymmetric sloshing in an upright cylinder against linear theory.

w^2 = g k tanh kh with J1(kR) = 0 (Lamb, Hydrodynamics, art. 191, from memory; zeros from
scipy.special). R = h = 0.1 m: 3.0837 and 4.1746 Hz.

*Friction at bottom and side wall.* A wave of frequency w has Stokes layers, sqrt(2 nu/w) thick, on
both. The mean loss per area is rho U^2 sqrt(nu w/2)/2, U being the amplitude of the velocity there.
With phi = J0(kr) cosh k(z + h), in a cylinder of radius R and depth h, the decay rate of the
amplitude is half the loss over the wave's energy:

    sqrt(nu w/2) (k/sinh 2kh + (1 - 2kh/sinh 2kh)/(2R)),

bottom and side (Case & Parkinson 1957, J. Fluid Mech. 2, 172, from memory; derived here from first
principles). The loss inside the water is smaller by the ratio of layer to wave, and is added.

At the edge of the surface the water missing in the layer comes from the inside: a sink of strength
U delta (1 - i)/2, which adds delta (1 - i)/(pi s) of U at a depth s. Its integral over s is
logarithmic: with k delta of 0.04, deep water loses up to a fifth more at its side than by the
formula, the more the finer the cells. So the tank is shallow there, and k delta 0.026.
"""

from dataclasses import dataclass

import numpy as np
from scipy.special import j0, jn_zeros

from sinkbowl.common import GRAVITY
from sinkbowl.flow.grid import Array, Grid, Spacing, lay_lines, uniform_grid
from sinkbowl.flow.operators import FlowOperators, make_operators
from sinkbowl.flow.release import complete_state
from sinkbowl.flow.simulation import WAVE
from sinkbowl.flow.solid import Solid, closed, place_solid
from sinkbowl.flow.state import FlowState, HeaveBody, empty_state
from sinkbowl.flow.step import advance

from . import Check, VerificationCase, finest, on_grids, order
from .tanks import DENSITY

RADIUS = DEPTH = 0.1  # radius of the cylinder and depth of the water [m]
PERIODS = 3.0  # number of periods

VISCOUS = 1e-4
"""Kinematic viscosity that damps the waves [m^2/s]; the layer under the surface is 3 mm."""

SOURCE = "w^2 = g k tanh kh, J1(kR) = 0, Lamb art. 191 (from memory)"


@dataclass(frozen=True)
class Swing:
    """Observed frequency [Hz] and amplitude retained per period."""

    frequency: float
    kept: float


def wave_number(mode: int) -> float:
    """k of an axisymmetric mode [1/m]."""
    return float(jn_zeros(1, mode)[-1]) / RADIUS


def frequency(mode: int, depth: float = DEPTH) -> float:
    """Frequency of an axisymmetric mode by linear theory [Hz], in water of a depth [m]."""
    k = wave_number(mode)
    return float(np.sqrt(GRAVITY * k * np.tanh(k * depth)) / (2.0 * np.pi))


def slosh(cells: int, mode: int, amplitude: float, viscosity: float = 0.0) -> Swing:
    """Sloshing of a mode with an amplitude [m], `cells` per radius; viscosity in m^2/s."""
    grid = uniform_grid(RADIUS, 0.0, 1.25 * DEPTH, cells, cells * 5 // 4)
    shape = j0(wave_number(mode) * grid.r_c)
    solid = place_solid(grid, None)
    ops, state = make_operators(grid, solid, DENSITY, 1e-9, viscosity=viscosity), empty_state(grid)
    raise_levels(ops, state, DEPTH + amplitude * shape)
    dt = WAVE * np.sqrt(grid.dz[0] / GRAVITY)
    dt = min([dt, *(force.longest_step(state, ops.mesh_of(state)) for force in ops.forces)])
    return read_swing(*follow(ops, state, mode, dt, PERIODS), amplitude)


def raise_levels(ops: FlowOperators, state: FlowState, levels: Array) -> None:
    """Put water at rest, with a level [m] per column, into an empty cylinder."""
    mesh = ops.mesh_of(state)
    share = (levels[:, None] - mesh.z_f[:-1]) / mesh.dz
    state.water[:] = np.clip(share, 0.0, 1.0) * mesh.volume
    complete_state(state, ops)


def follow(
    ops: FlowOperators,
    state: FlowState,
    mode: int,
    dt: float,
    periods: float,
    depth: float = DEPTH,
    columns: slice = slice(None),
) -> tuple[Array, Array]:
    """Times [s] and heights [m] of a mode that swings for some periods in water of a depth [m].

    columns: those of the grid that hold water.
    """
    body = HeaveBody(mass=1.0, gravity=GRAVITY, held=True)
    shape = j0(wave_number(mode) * ops.grid.r_c)[columns]
    ring = (ops.grid.r_c * ops.grid.dr)[columns]
    times, heights = [], []
    while state.time < periods / frequency(mode, depth):
        level = state.water[columns].sum(axis=1) / ring - depth
        times.append(state.time)
        heights.append(float(np.sum(level * shape * ring) / np.sum(shape**2 * ring)))
        advance(state, body, dt, ops)
    return np.array(times), np.array(heights)


def read_swing(t: Array, a: Array, amplitude: float) -> Swing:
    """Frequency from the zeros of heights a at times t, retained amplitude from the last peak."""
    flips = np.flatnonzero(a[:-1] * a[1:] < 0.0)
    zero = t[flips] - a[flips] * (t[flips + 1] - t[flips]) / (a[flips + 1] - a[flips])
    inner = a[1:-1]
    peaks = (np.abs(inner) >= np.abs(a[:-2])) & (np.abs(inner) > np.abs(a[2:]))
    last = 1 + int(np.flatnonzero(peaks)[-1])
    pace = 0.5 / float(np.mean(np.diff(zero)))
    swings = round(2.0 * pace * float(t[last]))
    return Swing(pace, float((np.abs(a[last]) / amplitude) ** (2.0 / swings)))


def first_mode() -> tuple[VerificationCase, VerificationCase]:
    """Mode 1, 1/100 of the depth high: its frequency and constant amplitude."""
    runs = {cells: slosh(cells, 1, 1e-3) for cells in (16, 32)}
    swings = on_grids(lambda cells: runs[cells].frequency, (16, 32))
    return finest("sloshing, mode 1", SOURCE, frequency(1), swings, 0.003, "Hz"), finest(
        "sloshing, mode 1, amplitude retained per period",
        "all of it: no viscosity, from first principles",
        1.0,
        on_grids(lambda cells: runs[cells].kept, (16, 32)),
        0.002,
    )


def second_mode() -> tuple[VerificationCase, VerificationCase]:
    """Mode 2, whose shorter wave has errors far above the finite-amplitude shift; its order."""
    exact = frequency(2)
    grids = on_grids(lambda cells: slosh(cells, 2, 3e-4).frequency, (12, 24, 48))
    errors = [abs(exact / ours - 1.0) for _, ours in grids]
    return finest("sloshing, mode 2", SOURCE, exact, grids, 0.003, "Hz"), order(
        "sloshing mode 2",
        "second order in space and time; 1.8 asked, common practice, no source",
        1.8,
        float(np.log2(errors[0] / errors[-1]) / (len(errors) - 1)),
    )


def damping_rate(mode: int, viscosity: float) -> float:
    """Decay rate [1/s] of the amplitude of a mode by viscosity [m^2/s].

    Lamb's exact equation for waves on deep water, (n + 2 nu k^2)^2 + w^2 = 4 nu^2 k^3 m with
    nu m^2 = n + nu k^2; 2 nu k^2 is its limit for small viscosity.
    """
    k, omega = wave_number(mode), 2.0 * np.pi * frequency(mode)
    n = -2.0 * viscosity * k**2 + 1j * omega
    for _ in range(30):
        m = np.sqrt(n / viscosity + k**2)
        n = -2.0 * viscosity * k**2 + 1j * np.sqrt(omega**2 - 4.0 * viscosity**2 * k**3 * m)
    return float(-n.real)


def damped_mode() -> VerificationCase:
    """Mode 1 in a liquid 100 times as viscous as water: its layer is a cell deep."""

    def rate(cells: int) -> float:
        run = slosh(cells, 1, 1e-3, VISCOUS)
        return -float(np.log(run.kept)) * run.frequency

    return finest(
        "sloshing, mode 1, damping by viscosity",
        "exact equation for deep water, Lamb art. 349 (from memory); 10 % as for drops",
        damping_rate(1, VISCOUS),
        on_grids(rate, (16, 32)),
        0.1,
        "1/s",
    )


SHALLOW = 0.03  # depth of the water [m]: two thirds of the loss are at the bottom
WALL_VISCOSITY = 4e-6  # four times water's [m^2/s]; the layer is 0.7 mm thick
WALL_AMPLITUDE = 3e-4  # height of the wave at the axis [m]
DAMPED_PERIODS = 4.0  # number of periods
GROWTH = 0.1  # growth of the cells from the walls inwards


def layer() -> float:
    """Thickness of the Stokes layer, sqrt(2 nu/w) [m]."""
    return float(np.sqrt(WALL_VISCOSITY / (np.pi * frequency(1, SHALLOW))))


def wall_damping_rate() -> tuple[float, float]:
    """Decay rates of mode 1 by the walls and in the water itself [1/s].

    The second is 2 nu k^2 of deep water times the factor of a bottom (Hunt 1964, from memory).
    """
    k, omega = wave_number(1), 2.0 * np.pi * frequency(1, SHALLOW)
    kh = k * SHALLOW
    bottom = k / np.sinh(2.0 * kh)
    side = (1.0 - 2.0 * kh / np.sinh(2.0 * kh)) / (2.0 * RADIUS)
    inside = np.cosh(4.0 * kh) + np.cosh(2.0 * kh) - 1.0
    water = 2.0 * WALL_VISCOSITY * k**2 * inside / (np.cosh(4.0 * kh) - 1.0)
    return float(np.sqrt(0.5 * WALL_VISCOSITY * omega) * (bottom + side)), float(water)


def basin(cells: int, in_layer: float) -> tuple[Grid, Solid]:
    """Basin with a wall of one cell inside the tub, which slips, and a bottom of one cell.

    cells: over the radius, far from the walls; in_layer: in the Stokes layer, at the walls.
    """
    cell, fine = RADIUS / cells, layer() / in_layer
    r = RADIUS - _from_wall(RADIUS, cell, fine)[::-1]
    z = _from_wall(SHALLOW, cell, fine)
    above = SHALLOW + (z[-1] - z[-2]) * np.arange(1, 2 + int(0.3 * SHALLOW / (z[-1] - z[-2])))
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
    ops = make_operators(grid, solid, DENSITY, 1e-9, viscosity=WALL_VISCOSITY)
    state = empty_state(grid)
    shape = j0(wave_number(1) * grid.r_c)
    raise_levels(ops, state, SHALLOW + WALL_AMPLITUDE * shape)
    limits = [force.longest_step(state, ops.mesh_of(state)) for force in ops.forces]
    dt = min(WAVE * np.sqrt(grid.dz.min() / GRAVITY), *limits)
    t, a = follow(ops, state, 1, dt, DAMPED_PERIODS, SHALLOW, slice(-1))
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


CHECKS: tuple[Check, ...] = (first_mode, second_mode, damped_mode, no_slip_basin)
