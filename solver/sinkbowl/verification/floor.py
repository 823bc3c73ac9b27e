"""A floor that is not the bottom of the grid, against theory.

A sphere of radius a, its centre at h over a floor and moving perpendicularly to it, has the added
mass

    m_a = (2/3) pi rho a^3 (1 + 3 sum mu_n),   mu_n = mu_(n-1) (a/d_n)^3,   d_n = 2h - x_(n-1),
    x_n = a^2/d_n,   mu_0 = 1,   x_0 = 0,

the series of images of a dipole in sphere and floor (Hicks 1880, from memory). Its first term gives
Lamb's 1 + (3/8)(a/h)^3 (Hydrodynamics, art. 99, from memory); it is summed to round-off. Without
gravity and friction the energy (M + m_a) V^2/2 is conserved while the sphere descends.
"""

import math

import numpy as np
from scipy.special import j0

from sinkbowl.common import GRAVITY
from sinkbowl.flow.effects.floor import place_floor
from sinkbowl.flow.grid import Grid, Spacing, lay_lines, uniform_grid
from sinkbowl.flow.operators import FlowOperators, make_operators
from sinkbowl.flow.release import complete_state
from sinkbowl.flow.simulation import WAVE
from sinkbowl.flow.solid import place_solid
from sinkbowl.flow.state import FlowState, HeaveBody, empty_state
from sinkbowl.flow.step import Stride, advance, extend_velocity, solve_pressure_and_heave

from . import Check, VerificationCase, finest, on_grids
from .tanks import DENSITY, REACH, sphere
from .waves import PERIODS, follow, frequency, raise_levels, read_swing, wave_number
from .waves import RADIUS as TANK
from .waves import SOURCE as SLOSHING

RADIUS = 0.05  # radius of the sphere [m]

HALF_DEEP = 2.0 / 3.0 * math.pi * DENSITY * RADIUS**3
"""Added mass of the sphere in deep water [kg], half of the displaced water."""

NEAR = 1.25  # height of the sphere's centre over the floor where it is pushed, in radii
FROM, TO = 2.0, 1.3  # heights of its descent, in radii
MODE = 1  # mode of the sloshing
DEPTH = 0.031  # depth of the water over the floor [m], in the cylinder of `waves.py`
LIFTED = 0.0123  # height of the floor over the bottom of the grid [m], not on a grid line

GRIDS = (8, 16, 32)
SOURCE = "images of a dipole in sphere and floor, Hicks 1880 (from memory)"


def exact_added_mass(height: float) -> float:
    """Added mass [kg] of the sphere at a height of its centre in radii."""
    total, strength, place = 0.0, 1.0, 0.0
    for _ in range(200):
        apart = 2.0 * height - place
        strength, place = strength / apart**3, 1.0 / apart
        total += strength
    return HALF_DEEP * (1.0 + 3.0 * total)


def stand(state: FlowState, ops: FlowOperators, height: float) -> None:
    """Put the floor of a full tank at a height [m] and remove the water below."""
    assert ops.floor is not None
    state.floor = float(ops.grid.z_f[0])
    place_floor(state, ops.floor, height, 0.0)
    b = state.bottom
    state.water[:, b] = np.minimum(state.water[:, b], ops.mesh_of(state).volume[:, b])


def over_floor(cells: int, low: float, height: float) -> tuple[FlowOperators, FlowState]:
    """A sphere over a floor, in water far to its sides and above; bottom of the grid and floor."""
    cell, far = RADIUS / cells, REACH * RADIUS
    near = [Spacing(cell, 0.0, 1.3 * RADIUS, 0.1)]
    up = [Spacing(cell, -1.3 * RADIUS, 1.3 * RADIUS, 0.1)]
    z_f = lay_lines([-low * RADIUS, 0.0, far], up)
    grid = Grid(lay_lines([0.0, RADIUS, far], near), z_f)
    solid = place_solid(grid, sphere(RADIUS))
    ops = make_operators(grid, solid, DENSITY, 1e-10, with_floor=True)
    state = empty_state(grid)
    state.water[:], state.extended[:] = solid.volume, 1.0
    stand(state, ops, -height * RADIUS)
    complete_state(state, ops)
    return ops, state


def _push(ops: FlowOperators, state: FlowState, mass: float) -> None:
    """Apply the downward impulse of a mass [kg] at 1 m/s to body and water."""
    state.speed = -1.0
    solve_pressure_and_heave(state, HeaveBody(mass, 0.0), 0.0, Stride(1.0), ops)
    extend_velocity(state, ops)


def pushed(cells: int) -> float:
    """Added mass [kg] near the floor, which is a third of a radius over the grid's bottom."""
    ops, state = over_floor(cells, NEAR + 0.31, NEAR)
    _push(ops, state, 1.0)
    return -1.0 / state.speed - 1.0


def slowed(cells: int) -> float:
    """Remaining share of the speed when the sphere has come down to the floor."""
    ops, state = over_floor(cells, FROM, FROM)
    body = HeaveBody(HALF_DEEP, 0.0)
    _push(ops, state, body.mass)
    first, passed = state.speed, []
    while state.floor < -TO * RADIUS:
        advance(state, body, 0.2 * RADIUS / cells / abs(state.speed), ops)
        passed.append((state.floor, state.speed / first))
    heights, speeds = np.array(passed).T
    return float(np.interp(-TO * RADIUS, heights, speeds))


def slosh(cells: int) -> float:
    """Frequency [Hz] of shallow water, `cells` per radius."""
    high = LIFTED + 1.5 * DEPTH
    grid = uniform_grid(TANK, 0.0, high, cells, round(cells * high / TANK))
    ops = make_operators(grid, place_solid(grid, None), DENSITY, 1e-9, with_floor=True)
    state, amplitude = empty_state(grid), 0.01 * DEPTH
    stand(state, ops, LIFTED)
    raise_levels(ops, state, LIFTED + DEPTH + amplitude * j0(wave_number(MODE) * grid.r_c))
    dt = WAVE * math.sqrt(grid.dz.min() / GRAVITY)
    return read_swing(*follow(ops, state, MODE, dt, PERIODS, DEPTH), amplitude).frequency


def near_floor() -> VerificationCase:
    """Sphere close to a floor, pushed from rest."""
    name = f"added mass, sphere {NEAR:g} a over a floor"
    return finest(name, SOURCE, exact_added_mass(NEAR), on_grids(pushed, GRIDS), 0.01, "kg")


def coming_down() -> VerificationCase:
    """Sphere that moves towards the floor: the floor rises through the grid's rows."""
    masses = [HALF_DEEP + exact_added_mass(height) for height in (FROM, TO)]
    return finest(
        f"sphere, {FROM:g} to {TO:g} a over a floor, speed retained",
        f"energy is conserved; {SOURCE}",
        math.sqrt(masses[0] / masses[1]),
        on_grids(slowed, GRIDS),
        0.01,
        note="in deep water it loses 0.8, 1.0 and 0.3 % over the same way on these grids",
    )


def shallow_mode() -> VerificationCase:
    """Sloshing of water that is a third of the radius deep."""
    name = f"sloshing over a floor, {DEPTH / TANK:g} radii deep, mode {MODE}"
    grids = on_grids(slosh, (24, 48))
    return finest(name, SLOSHING, frequency(MODE, DEPTH), grids, 0.003, "Hz")


CHECKS: tuple[Check, ...] = (near_floor, coming_down, shallow_mode)
