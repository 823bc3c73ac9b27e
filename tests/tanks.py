"""Small tanks of water for the flow solver's tests."""

from dataclasses import replace

import numpy as np
from scipy.special import j0, jn_zeros

from sinkbowl.constants import GRAVITY
from sinkbowl.flow.filling import settle
from sinkbowl.flow.grid import Grid, Spacing, lay_lines, uniform_grid
from sinkbowl.flow.solid import Solid, place_solid
from sinkbowl.flow.state import FlowState, HeaveBody, empty_state
from sinkbowl.flow.step import (
    FlowOperators,
    advance,
    make_operators,
    solve_pressure_and_heave,
)

DENSITY = 998.2072  # kg/m^3, IAPWS-95 at 20 degC


def full_tank(grid: Grid, solid: Solid) -> tuple[FlowOperators, FlowState]:
    """A tank full of water at rest, open at the top."""
    ops, state = make_operators(grid, solid, DENSITY, 1e-10), empty_state(grid)
    state.water[:] = solid.volume
    state.virtual[:] = 1.0
    settle(state, ops)
    return ops, state


def added_mass(grid: Grid, solid: Solid) -> float:
    """Added mass of a body that is pushed from rest, from the speed that is left of a push [kg]."""
    ops, state = full_tank(grid, solid)
    body = HeaveBody(mass=1.0, gravity=0.0)
    state.speed = 1.0
    solve_pressure_and_heave(state, body, 0.0, 1.0, ops)
    return body.mass * (1.0 / state.speed - 1.0)


def deep_grid(radius: float, cell: float, height: float, reach: float = 12.0) -> Grid:
    """Grid around a body of +- `height` at the origin, `reach` radii to all sides."""
    near = [Spacing(cell, 0.0, 1.3 * radius, 0.1)]
    far = reach * radius
    up = [Spacing(cell, -height - 0.3 * radius, height + 0.3 * radius, 0.1)]
    return Grid(lay_lines([0.0, radius, far], near), lay_lines([-far, 0.0, far], up))


def plate(grid: Grid, outer: float, inner: float = 0.0) -> Solid:
    """A disc (or ring) without thickness on the grid line z = 0."""
    solid = place_solid(grid, None)
    area = solid.area_z.copy()
    covered = (grid.r_c < outer) & (grid.r_c > inner)
    area[covered, int(np.argmin(np.abs(grid.z_f)))] = 0.0
    return replace(solid, area_z=area, heave_area=area[:, :-1] - area[:, 1:])


def slosh(cells: int, mode: int, amplitude: float, periods: float = 3.0) -> tuple[float, float]:
    """Period over linear theory and amplitude kept per period of an axisymmetric mode.

    Cylinder R = h = 0.1 m with `cells` per radius, w^2 = g k tanh kh, J1(kR) = 0.
    """
    radius = depth = 0.1
    grid = uniform_grid(radius, 0.0, 1.25 * depth, cells, cells * 5 // 4)
    solid = place_solid(grid, None)
    ops, state = make_operators(grid, solid, DENSITY, 1e-9), empty_state(grid)
    k = jn_zeros(1, mode)[-1] / radius
    shape, ring = j0(k * grid.r_c), grid.r_c * grid.dr
    share = (depth + amplitude * shape[:, None] - grid.z_f[:-1]) / grid.dz
    state.water[:] = np.clip(share, 0.0, 1.0) * solid.volume
    settle(state, ops)
    period = 2.0 * np.pi / np.sqrt(GRAVITY * k * np.tanh(k * depth))
    body = HeaveBody(mass=1.0, gravity=GRAVITY, held=True)
    times, heights = [], []
    while state.time < periods * period:
        level = state.water.sum(axis=1) / ring - depth
        times.append(state.time)
        heights.append(float(np.sum(level * shape * ring) / np.sum(shape**2 * ring)))
        advance(state, body, 0.2 * np.sqrt(grid.dz[0] / GRAVITY), ops)
    t, a = np.array(times), np.array(heights)
    flips = np.flatnonzero(a[:-1] * a[1:] < 0.0)
    zero = t[flips] - a[flips] * (t[flips + 1] - t[flips]) / (a[flips + 1] - a[flips])
    inner = a[1:-1]
    peaks = np.abs(inner[(np.abs(inner) >= np.abs(a[:-2])) & (np.abs(inner) > np.abs(a[2:]))])
    kept = (peaks[-1] / amplitude) ** (2.0 / len(peaks))
    return 2.0 * float(np.mean(np.diff(zero))) / period, float(kept)
