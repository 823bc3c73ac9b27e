"""Viscosity and no-slip walls against exact solutions and the drag of spheres.

The vessel is full of water, without gravity, and moves down at constant speed through water at
rest; in its frame this is an upward stream. There is no surface, so a step is convection, viscosity
and pressure. Only the Reynolds number matters for speeds, lengths and viscosities.
"""

from dataclasses import dataclass
from functools import partial
from itertools import pairwise

import numpy as np

from sinkbowl.flow.effects.friction import Friction, make_friction
from sinkbowl.flow.grid import Grid, Spacing, lay_lines
from sinkbowl.flow.operators import FlowOperators, make_operators
from sinkbowl.flow.simulation import courant_step
from sinkbowl.flow.solid import Solid, closed, place_solid
from sinkbowl.flow.state import FlowState, HeaveBody, empty_state, make_mesh
from sinkbowl.flow.step import (
    Stride,
    extend_velocity,
    locate_surface,
    predict_velocity,
    solve_pressure_and_heave,
)

from . import Check, VerificationCase, finest, on_grids, order
from .tanks import DENSITY, plate, sphere

SIZE = 0.01  # radius of pipe, hole and sphere [m]
SPEED = 0.1  # speed of the vessel, downwards [m/s]
BLASIUS = 0.332057  # f''(0) of f''' + f f''/2 = 0: shear of a plate over rho V^2 / sqrt(Re_x)

HELD = HeaveBody(mass=1.0, gravity=0.0, held=True)


@dataclass
class Stream:
    """Water that streams past a solid; drag is the water's upward force on it [N]."""

    ops: FlowOperators
    state: FlowState
    drag: float = 0.0

    @property
    def friction(self) -> Friction:
        """The friction of the flow."""
        found = self.ops.force(Friction)
        assert found is not None
        return found

    def step(self, dt: float) -> None:
        """Advance by dt [s]."""
        state, ops, friction = self.state, self.ops, self.friction
        predict_velocity(state, Stride(dt), ops)
        shear = friction.act(state, ops.mesh_of(state), dt).on_bowl
        _, pressure, _ = solve_pressure_and_heave(state, HELD, 0.0, Stride(dt), ops)
        extend_velocity(state, ops)
        state.time, state.dt, state.stride = state.time + dt, dt, dt
        self.drag = pressure + shear

    def run(self, end: float) -> None:
        """Advance to the time `end` [s], with small steps at first."""
        state = self.state
        longest = self.friction.longest_step(state, self.ops.mesh_of(state))
        self.step(0.01 * min(longest, courant_step(state, self.ops)))
        while state.time < end:
            self.step(min(longest, courant_step(state, self.ops)))

    def pressure_at(self, height: float) -> float:
        """Mean pressure at a level [Pa], interpolated between rows of cells."""
        grid, volume = self.ops.grid, self.ops.solid.volume
        rows = np.sum(self.state.pressure * volume, axis=0) / np.sum(volume, axis=0)
        return float(np.interp(height, grid.z_c, rows))


def stream(
    grid: Grid, solid: Solid, viscosity: float, tolerance: float, speed: float = SPEED
) -> Stream:
    """Water at rest around a solid that is pushed down; viscosity in m^2/s."""
    ops = make_operators(grid, solid, DENSITY, tolerance, viscosity=viscosity)
    state = empty_state(grid)
    state.water[:] = solid.volume
    state.extended[:] = 1.0
    locate_surface(state, ops)
    state.speed = -speed
    return Stream(ops, state)


def but_column(grid: Grid, column: int) -> Solid:
    """A tank with one column of cells filled."""
    filled = np.zeros(grid.shape, dtype=np.bool_)
    filled[column] = True
    return closed(grid, place_solid(grid, None), cells=filled)


def pipe_gradient(cells: int) -> float:
    """Pressure loss along a pipe at Re = 1 over that of Hagen and Poiseuille, 8 mu V / R^2."""
    viscosity, cell = 2.0 * SIZE * SPEED, SIZE / cells
    z_f = np.linspace(0.0, 6.0 * SIZE, 3 * cells + 1)
    grid = Grid(np.linspace(0.0, SIZE + cell, cells + 2), z_f)
    flow = stream(grid, but_column(grid, cells), viscosity, 1e-6)
    flow.run(0.5 * SIZE**2 / viscosity)
    lost = flow.pressure_at(2.5 * SIZE) - flow.pressure_at(3.5 * SIZE)
    return lost * SIZE / (8.0 * DENSITY * viscosity * SPEED)


def hole_resistance(cells: int) -> float:
    """Pressure loss of creeping flow in a thin hole over 3 mu Q / a^3."""
    viscosity, slow = SIZE * SPEED, 0.01 * SPEED
    wide = 6.0 * SIZE
    near = Spacing(SIZE / cells, 0.7 * SIZE, 1.3 * SIZE, 0.15)
    level = Spacing(SIZE / cells, -0.3 * SIZE, 0.3 * SIZE, 0.15)
    grid = Grid(lay_lines([0.0, SIZE, wide], [near]), lay_lines([-wide, 0.0, wide], [level]))
    flow = stream(grid, plate(grid, wide, SIZE), viscosity, 1e-4, slow)
    flow.run(SIZE**2 / viscosity)
    through = np.pi * wide**2 * slow
    return flow.pressure_at(-wide) * SIZE**3 / (3.0 * DENSITY * viscosity * through)


def sphere_drag(reynolds: float, cells: int, reach: float, end: float) -> float:
    """Drag coefficient of a sphere in a tank of `reach` radii, after a distance of `end` radii."""
    near = Spacing(SIZE / cells, 0.0, 1.2 * SIZE, 0.15)
    level = Spacing(SIZE / cells, -1.2 * SIZE, 1.2 * SIZE, 0.15)
    far = reach * SIZE
    lines = lay_lines([-far, 0.0, 1.5 * far], [level])
    grid = Grid(lay_lines([0.0, SIZE, far], [near]), lines)
    viscosity = 2.0 * SIZE * SPEED / reynolds
    flow = stream(grid, place_solid(grid, sphere(SIZE)), viscosity, 1e-4)
    flow.run(end * SIZE / SPEED)
    return flow.drag / (0.5 * DENSITY * SPEED**2 * np.pi * SIZE**2)


def plate_shear(cells: int, even: float = 2.0) -> float:
    """Shear on an impulsively started wall over mu V / sqrt(pi nu t), `cells` per sqrt(nu t).

    The wall is a cylinder with a radius of a thousand layers. Parallel flow needs no pressure.
    Cells are equal over `even` layers, then grow by a tenth each.
    """
    layer, viscosity = SIZE, SIZE * SPEED
    time, cell = layer**2 / viscosity, layer / cells
    lines = lay_lines([0.0, cell, 20.0 * layer], [Spacing(cell, 0.0, even * layer)])
    grid = Grid(1000.0 * layer + lines, np.linspace(0.0, 4.0 * cell, 5))
    solid = but_column(grid, 0)
    mesh = make_mesh(grid, solid)
    friction = make_friction(mesh, viscosity, DENSITY)
    state = empty_state(grid)
    state.liquid[:], state.extended[:], state.speed = solid.open_cells, 1.0, -SPEED
    steps = int(np.ceil(time / friction.longest_step(state, mesh)))
    force = 0.0
    for _ in range(steps):
        state.u_z_old[:] = state.u_z
        force = friction.act(state, mesh, time / steps).on_bowl
        state.u_z[:, [0, -1]] = state.u_z[:, [1, -2]]
    area = 2.0 * np.pi * grid.r_f[1] * float(grid.z_c[-1] - grid.z_c[0])
    exact = DENSITY * viscosity * SPEED / np.sqrt(np.pi * viscosity * (time - time / steps))
    return float(force / area / exact)


@dataclass(frozen=True)
class PlateLayer:
    """Friction on a flat plate: shear at its length L over Blasius', drag over the exact one."""

    shear: float
    drag: float


LAYERS = 100  # length of the plate in sqrt(nu L/V), which is the root of its Reynolds number


def plate_layer(cells: float) -> PlateLayer:
    """Steady boundary layer on a plate, cells of 1/`cells` of sqrt(nu L/V) at the wall and growing.

    The plate is a part of the inner wall of a ring whose radius is a hundred times the width of
    the stream; ahead of the plate that wall slips. The plate continues beyond the length L.
    """
    layer = SIZE
    viscosity, along = SPEED * layer / LAYERS, 2.0 * layer
    cell = layer / cells
    lines = lay_lines([0.0, cell, 800.0 * layer], [Spacing(cell, 0.0, 0.0)])
    rows = np.arange(-LAYERS // 4, LAYERS + 1, dtype=np.float64)
    grid = Grid(8e4 * layer + lines, along * (rows - 0.5))
    flow = stream(grid, but_column(grid, 0), viscosity, 1e-4)
    friction, no_slip = flow.friction, flow.ops.no_slip
    assert no_slip is not None
    ahead = int(np.argmin(np.abs(rows)))
    friction.sheared[1, : ahead + 1] = False
    no_slip.share_z[no_slip.z[:, 1] <= ahead] = 0.0
    flow.run(6.0 * LAYERS * layer / SPEED)
    shear = np.abs(friction.stress.rz[1, ahead + 1 :])
    x = grid.z_f[ahead + 1 :]
    reached = int(np.searchsorted(x, LAYERS * layer))
    found = float(np.interp(LAYERS * layer, x, shear)) / (BLASIUS * SPEED**2 / LAYERS)
    length = x[reached] - 0.5 * along
    reynolds = SPEED * length / viscosity
    exact = length * SPEED**2 * (2.0 * BLASIUS / np.sqrt(reynolds) + 0.5 * 2.326 / reynolds)
    return PlateLayer(found, float(along * np.sum(shear[:reached]) / exact))


def pipe() -> tuple[VerificationCase, VerificationCase]:
    """Developed flow in a pipe and its order."""
    grids = on_grids(pipe_gradient, (6, 12, 24))
    found = finest(
        "pipe flow, pressure loss over the exact one",
        "8 mu V/R^2, Hagen-Poiseuille; 0.5 % asked, common practice, no source",
        1.0,
        grids,
        0.005,
    )
    source = "second order; 1.8 asked, common practice, no source"
    return found, order("pipe", source, 1.8, halving(*(ours - 1.0 for _, ours in grids[-2:])))


def started_plate() -> VerificationCase:
    """Stokes' first problem: an impulsively started wall."""
    return finest(
        "impulsively started plate, shear over the exact one",
        "mu V/sqrt(pi nu t), Stokes 1851 (from memory); 1 % asked, common practice, no source",
        1.0,
        tuple((f"{n} cells in sqrt(nu t)", plate_shear(n)) for n in (2, 4, 8)),
        0.01,
    )


def started_plate_graded() -> VerificationCase:
    """The same with cells growing from the wall, as at a bowl."""
    return finest(
        "impulsively started plate, cells growing from it, shear",
        "mu V/sqrt(pi nu t), Stokes 1851 (from memory); 3 % asked, as for the flat plate",
        1.0,
        tuple((f"{n} cells in sqrt(nu t)", plate_shear(n, 0.0)) for n in (1, 2, 4)),
        0.03,
    )


def plate_in_a_stream() -> tuple[VerificationCase, VerificationCase]:
    """Boundary layer on a plate with 5 and 10 cells, growing from the wall: shear and drag."""
    runs = {f"{n} cells in sqrt(nu L/V)": plate_layer(n) for n in (1, 2)}
    found = finest(
        "flat plate, Re = 10,000, shear at its length",
        "0.332 rho V^2/sqrt(Re), Blasius 1908 (from memory); 3 % asked: two grids differ by 1 %",
        1.0,
        tuple((label, run.shear) for label, run in runs.items()),
        0.03,
        note="the layer, up to 99 % of the stream, is five times sqrt(nu L/V)",
    )
    source = "0.664/sqrt(Re) + 1.163/Re, Blasius 1908, Imai 1957 (from memory); 3 % as the shear"
    drag = tuple((label, run.drag) for label, run in runs.items())
    return found, finest("flat plate, drag", source, 1.0, drag, 0.03)


def creeping_hole() -> tuple[VerificationCase, VerificationCase]:
    """Creeping flow through a thin hole with a singular edge, and its order."""
    grids = on_grids(hole_resistance, (10, 20, 40))
    found = finest(
        "creeping flow, thin hole, pressure over exact",
        "3 mu Q/a^3, Sampson 1891 (from memory)",
        1.0,
        grids,
        0.01,
        note="first order at the edge; the walls are six radii away, which finer grids show",
    )
    source = "first order beside a singular edge; 0.7 asked, common practice, no source"
    steps = [after - before for (_, before), (_, after) in pairwise(grids)]
    return found, order("creeping hole", source, 0.7, halving(*steps))


def halving(before: float, after: float) -> float:
    """Order observed from two errors, the cells of the second half as large."""
    return float(np.log2(abs(before / after)))


def _sphere(
    reynolds: int, drag: float, cells: tuple[int, ...], reach: float, end: float
) -> VerificationCase:
    return finest(
        f"sphere, drag coefficient, Re = {reynolds}",
        "Clift, Grace & Weber 1978, as the library fluids 1.3.1 has it",
        drag,
        on_grids(lambda n: sphere_drag(reynolds, n, reach, end), cells),
        0.03,
        note="how the grid cuts the sphere scatters it by 1 %; width of the tank under 1 %",
    )


# At Re = 1 the disturbance reaches far, so the tank is wide; at 10 the flow is about to separate;
# at 100 a steady ring eddy lies behind the sphere.
sphere_in_slow_flow = partial(_sphere, 1, 27.16, (4, 6), 40.0, 16.0)
sphere_with_a_wake = partial(_sphere, 10, 4.258, (6, 10), 20.0, 30.0)
sphere_with_an_eddy = partial(_sphere, 100, 1.087, (8, 12, 16), 15.0, 40.0)

CHECKS: tuple[Check, ...] = (
    pipe,
    started_plate,
    started_plate_graded,
    plate_in_a_stream,
    creeping_hole,
    sphere_in_slow_flow,
    sphere_with_a_wake,
    sphere_with_an_eddy,
)
