"""A floating hemisphere in forced heave: added mass and damping by waves.

A. Hulme 1982, J. Fluid Mech. 121, 443: both in units of (2/3) pi rho a^3 against Ka = w^2 a/g. The
sphere, sunk to its equator, moves with V = A w sin wt; the force on it without the hydrostatic lift
has a part in phase with -dV/dt, the added mass, and one in phase with -V, the damping.
"""

from dataclasses import dataclass

import numpy as np

from sinkbowl.common import GRAVITY
from sinkbowl.flow.effects.beach import Beach
from sinkbowl.flow.grid import Array, Grid, Spacing, lay_lines
from sinkbowl.flow.operators import FlowOperators, make_operators
from sinkbowl.flow.release import complete_state, fill_to
from sinkbowl.flow.simulation import WAVE
from sinkbowl.flow.solid import place_solid
from sinkbowl.flow.state import FlowState, HeaveBody, empty_state
from sinkbowl.flow.step import (
    Stride,
    carry_water,
    extend_velocity,
    hydrostatic_defect,
    locate_surface,
    predict_velocity,
    solve_pressure_and_heave,
)

from . import Check, VerificationCase, finest, on_grids
from .tanks import DENSITY, sphere

RADIUS = 0.05  # radius of the sphere [m]
AMPLITUDE = 0.02 * RADIUS  # amplitude [m], small for linear theory
PERIODS = 3  # periods of motion: a smooth start, a transient, and one for the reading
WIDTH, DEPTH = 3.0, 1.5  # radius and depth of the water, in wavelengths: no wave returns in time

DISPLACED = 2.0 / 3.0 * np.pi * DENSITY * RADIUS**3
"""Mass of water that the hemisphere displaces [kg]."""

SOURCE = "Hulme 1982 (from memory, computed again by another method)"


@dataclass(frozen=True)
class Response:
    """Added mass and damping over the displaced water (and w)."""

    added_mass: float
    damping: float


def move(cells: int, ka: float) -> Response:
    """Move the hemisphere at Ka on `cells` per radius."""
    omega = float(np.sqrt(ka * GRAVITY / RADIUS))
    period, cell = 2.0 * np.pi / omega, RADIUS / cells
    steps = int(np.ceil(period / min(period / 200.0, WAVE * np.sqrt(cell / GRAVITY))))
    dt = period / steps
    ops, state = afloat(_grid(cell, 2.0 * np.pi * RADIUS / ka))
    times, forces = [], []
    for _ in range(PERIODS * steps):
        middle = state.time + 0.5 * dt
        speed = AMPLITUDE * omega * np.sin(omega * middle) * min(1.0, middle / period)
        times.append(state.time)
        forces.append(forced_step(ops, state, dt, speed))
    return _read(np.array(times[-steps:]), np.array(forces[-steps:]), omega)


def _grid(cell: float, wavelength: float) -> Grid:
    """Fine around the hemisphere, twenty cells per wavelength outside."""
    wide, deep = WIDTH * wavelength, DEPTH * wavelength
    waves = Spacing(wavelength / 20.0, 0.0, wide)
    near = Spacing(cell, 0.0, 1.3 * RADIUS, 0.1)
    high = Spacing(cell, -1.2 * RADIUS, 1.3 * RADIUS, 0.1)
    r_f = lay_lines([0.0, RADIUS, wide], [near, waves])
    return Grid(r_f, lay_lines([-deep, 0.0, 1.3 * RADIUS], [high]))


def afloat(grid: Grid, beach: Beach | None = None) -> tuple[FlowOperators, FlowState]:
    """Still water up to the sphere's equator."""
    solid = place_solid(grid, sphere(RADIUS))
    ops = make_operators(grid, solid, DENSITY, 1e-8, beach=beach)
    state = empty_state(grid)
    fill_to(state, ops, 0.0, np.ones(grid.shape, dtype=np.bool_))
    complete_state(state, ops)
    return ops, state


def forced_step(ops: FlowOperators, state: FlowState, dt: float, speed: float) -> float:
    """One time step with a given final speed of the body; returns the water's upward force [N]."""
    carry_water(state, dt, ops)
    state.height += dt * state.speed
    locate_surface(state, ops)
    predict_velocity(state, Stride(dt), ops)
    for acting in ops.forces:
        acting.act(state, ops.mesh_of(state), dt)
    defect = hydrostatic_defect(state, HeaveBody(mass=1.0, gravity=GRAVITY), ops)
    state.speed = speed
    held = HeaveBody(mass=1.0, gravity=GRAVITY, held=True)
    _, force, _ = solve_pressure_and_heave(state, held, 0.0, Stride(dt), ops)
    extend_velocity(state, ops)
    state.time += dt
    state.dt = state.stride = dt
    state.step += 1
    return force + defect


def _read(t: Array, force: Array, omega: float) -> Response:
    """Least squares of a constant and both phases; heave is -A cos wt plus its mean."""
    phases = np.column_stack((np.ones_like(t), np.cos(omega * t), np.sin(omega * t)))
    _, even, odd = np.linalg.lstsq(phases, force, rcond=None)[0]
    stiffness = DENSITY * GRAVITY * np.pi * RADIUS**2
    unit = DISPLACED * AMPLITUDE * omega**2
    return Response(float((stiffness * AMPLITUDE - even) / unit), float(-odd / unit))


def _verifications(
    ka: float, added_mass: float, damping: float
) -> tuple[VerificationCase, VerificationCase]:
    runs = {cells: move(cells, ka) for cells in (8, 16)}
    masses = on_grids(lambda cells: runs[cells].added_mass, (8, 16))
    losses = on_grids(lambda cells: runs[cells].damping, (8, 16))
    name = f"heaving hemisphere, Ka = {ka:g}"
    return (
        finest(f"{name}, added mass", SOURCE, added_mass, masses, 0.01),
        finest(f"{name}, damping", SOURCE, damping, losses, 0.03),
    )


def middle_wave() -> tuple[VerificationCase, VerificationCase]:
    """Waves about six radii long, near the hemisphere's heave period."""
    return _verifications(1.0, 0.4284, 0.2484)


def long_wave() -> tuple[VerificationCase, VerificationCase]:
    """Waves about sixty radii long."""
    return _verifications(0.1, 0.8627, 0.1816)


CHECKS: tuple[Check, ...] = (middle_wave, long_wave)
