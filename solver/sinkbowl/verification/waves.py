"""Axisymmetric sloshing in an upright cylinder against linear theory.

w^2 = g k tanh kh with J1(kR) = 0 (Lamb, Hydrodynamics, art. 191, from memory; zeros from
scipy.special). R = h = 0.1 m: 3.0837 and 4.1746 Hz.
"""

from dataclasses import dataclass

import numpy as np
from scipy.special import j0, jn_zeros

from sinkbowl.common.constants import GRAVITY
from sinkbowl.flow.grid.grid import Array, uniform_grid
from sinkbowl.flow.grid.solid import place_solid
from sinkbowl.flow.operators import FlowOperators, make_operators
from sinkbowl.flow.release import complete_state
from sinkbowl.flow.simulation import WAVE
from sinkbowl.flow.state import FlowState, HeaveBody, empty_state
from sinkbowl.flow.step import advance

from .tanks import DENSITY
from .verification_case import Check, VerificationCase, finest, on_grids, order

RADIUS = DEPTH = 0.1
"""Radius of the cylinder and depth of the water [m]."""

PERIODS = 3.0
"""Number of periods."""

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


CHECKS: tuple[Check, ...] = (first_mode, second_mode, damped_mode)
