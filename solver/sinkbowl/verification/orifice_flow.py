"""Steady flow and impulse through an orifice in a pipe.

A plate without thickness lies across a pipe with water below and air above it and is pushed down
through the water at constant speed without gravity. In the plate's frame this is the steady flow V
through the pipe's end plate: with the hole's area a, the pipe's A and the jet's speed U

    V A = C_c a U,     U^2 = V^2 + 2 dp/rho,

so the contraction C_c follows from the jet's section and, independently, from the pressure far
below. Pushed from rest, the impulse Pi far below gives the inertance length l_e = Pi a/(rho A V). A
narrow ring slot at a large radius represents the plane slot, whose jet is known exactly.
"""

from dataclasses import dataclass, replace
from functools import cache
from math import sqrt

import numpy as np

from sinkbowl.common import GRAVITY
from sinkbowl.flow.grid import Grid, Spacing, lay_lines
from sinkbowl.flow.operators import FlowOperators, make_operators
from sinkbowl.flow.release import complete_state, fill_to
from sinkbowl.flow.simulation import WAVE, courant_step
from sinkbowl.flow.solid import Solid, closed, place_solid
from sinkbowl.flow.state import FlowState, HeaveBody, empty_state
from sinkbowl.flow.step import Stride, advance, solve_pressure_and_heave

from .tanks import DENSITY, on_line

HOLE = 0.01  # radius of the holes, half width of the slots against a wall of symmetry [m]
MEAN_SPEED = 1.0  # mean speed through the hole, relative to the plate [m/s]
CROSSINGS = 4.0  # distance of the mean flow in a run, in radii; the jet is steady after two
SLOT_RADIUS = 1000.0 * HOLE  # radius of the ring slot that represents a plane one [m]

WHERE_MEASURED = 2.5 * HOLE
"""Height above the edge at which the jet's section is read [m]; it no longer changes there."""

PLATE = HeaveBody(mass=1.0, gravity=0.0, held=True)


@dataclass(frozen=True)
class Pipe:
    """A pipe with an orifice: `cells` per `HOLE`.

    width: from the axis (or `inner`, the slot's wall of symmetry) to the pipe's wall [m]; tube:
    length of a thin tube from the hole down into the water [m]; lip: the plate's thickness in
    cells; below, above: extent of the pipe [m].
    """

    width: float
    cells: int
    inner: float = 0.0
    tube: float = 0.0
    lip: int = 0
    below: float = 3.0
    above: float = 3.0 * HOLE

    @property
    def edge(self) -> float:
        """Radius of the hole's edge [m]."""
        return self.inner + HOLE

    @property
    def opening(self) -> float:
        """Area of the hole over that of the pipe."""
        outer = self.inner + self.width
        return (self.edge**2 - self.inner**2) / (outer**2 - self.inner**2)

    def grid(self) -> Grid:
        """Equal cells at the edge and along the jet, growing outward."""
        cell = HOLE / self.cells
        across = lay_lines([0.0, HOLE, self.width], [Spacing(cell, 0.0, 1.3 * HOLE)])
        fine = Spacing(cell, -self.tube - 0.5 * HOLE, WHERE_MEASURED - self.tube)
        breaks = {-self.tube - self.below, -self.tube, 0.0, self.lip * cell, self.above}
        return Grid(self.inner + across, lay_lines(sorted(breaks), [fine]))

    def solid(self, grid: Grid) -> Solid:
        """The plate on the grid."""
        if self.lip:
            wall, top = grid.r_f[-1] - 1e-9 * HOLE, self.lip * HOLE / self.cells
            section = [[self.edge, 0.0], [wall, 0.0], [wall, top], [self.edge, top]]
            return place_solid(grid, np.array(section))
        across = np.outer(grid.r_c > self.edge, on_line(grid.z_f))
        along = (grid.z_c > -self.tube) & (grid.z_c < 0.0)
        tube = np.outer(on_line(grid.r_f, self.edge), along)
        return closed(grid, place_solid(grid, None), r_faces=tube, z_faces=across)


@dataclass(frozen=True)
class Jet:
    """Contraction of a steady jet, from its section and from the pressure far below."""

    section: float
    pressure: float


def inertance_length(pipe: Pipe) -> float:
    """Inertance length of a thin hole, l_e over the hole's radius."""
    grid = replace(pipe, above=pipe.below).grid()
    ops, state = make_operators(grid, pipe.solid(grid), DENSITY, 1e-9), empty_state(grid)
    state.water[:] = ops.solid.volume
    state.extended[:] = 1.0
    complete_state(state, ops)
    state.speed = -MEAN_SPEED * pipe.opening
    solve_pressure_and_heave(state, PLATE, 0.0, Stride(1.0), ops)
    return _far_pressure(state, grid) / (DENSITY * MEAN_SPEED * HOLE)


def jet_section(pipe: Pipe) -> float:
    """Contraction from the jet's section."""
    return steady_jet(pipe).section


def discharge_coefficient(pipe: Pipe) -> float:
    """Contraction from the pressure far below."""
    return steady_jet(pipe).pressure


@cache
def steady_jet(pipe: Pipe) -> Jet:
    """Run over `CROSSINGS` radii of the mean flow; the pressure is the mean of the last radius."""
    grid = pipe.grid()
    ops, state = make_operators(grid, pipe.solid(grid), DENSITY, 1e-6), empty_state(grid)
    _fill_below(pipe, ops, state)
    state.speed = -MEAN_SPEED * pipe.opening
    end, total, last = CROSSINGS * HOLE / MEAN_SPEED, 0.0, 0.0
    while state.time < end:
        dt = min(courant_step(state, ops), 0.25 * HOLE / pipe.cells / MEAN_SPEED)
        advance(state, PLATE, dt, ops)
        if state.time > end - HOLE / MEAN_SPEED:
            total, last = total + _far_pressure(state, grid) * dt, last + dt
    speed = sqrt(state.speed**2 + 2.0 * total / last / DENSITY)
    inside = grid.r_c < pipe.edge
    wet = 2.0 * state.water[inside].sum(axis=0) / grid.dz / (pipe.edge**2 - pipe.inner**2)
    section = float(np.interp(WHERE_MEASURED - pipe.tube, grid.z_c, wet))
    return Jet(section, MEAN_SPEED / speed)


def draining_time(pipe: Pipe, high: float, low: float) -> float:
    """Time [s] in which the level over the hole in a tank's base falls from high to low [m].

    The tank is the pipe upside down, filled half a radius higher so that the jet is established.
    """
    start = high + 0.5 * HOLE
    turned = replace(pipe, below=start + 2.0 * HOLE, above=start).grid()
    grid = Grid(turned.r_f, -turned.z_f[::-1])
    ops, state = make_operators(grid, pipe.solid(grid), DENSITY, 1e-6), empty_state(grid)
    above = grid.z_c > 0.0
    fill_to(state, ops, start, np.broadcast_to(above, grid.shape))
    complete_state(state, ops)
    held = replace(PLATE, gravity=GRAVITY)
    level, times, levels = start, [0.0], [start]
    while level > low:
        wave = WAVE * sqrt(HOLE / pipe.cells / GRAVITY)
        advance(state, held, min(wave, courant_step(state, ops)), ops)
        level = 2.0 * float(state.water[:, above].sum()) / pipe.width**2
        times.append(state.time)
        levels.append(level)
    passed = np.interp([-high, -low], -np.array(levels), times)
    return float(passed[1] - passed[0])


def _fill_below(pipe: Pipe, ops: FlowOperators, state: FlowState) -> None:
    grid = ops.grid
    inside_tube = (grid.r_c < pipe.edge)[:, None] & (grid.z_c > -pipe.tube)
    fill_to(state, ops, 0.0, (grid.z_c < 0.0) & ~inside_tube)
    state.pressure[:] = 0.0
    complete_state(state, ops)


def _far_pressure(state: FlowState, grid: Grid) -> float:
    return float(np.average(state.pressure[:, 0], weights=grid.r_c * grid.dr))


def round_pipe(opening: float, cells: int, tube: float = 0.0, lip: int = 0) -> Pipe:
    """Round pipe with a hole of `opening` times its area."""
    width = HOLE / sqrt(opening)
    below = max(2.0 * width, 3.0 * HOLE)
    return Pipe(width, cells, tube=tube, lip=lip, below=below)


def channel(opening: float, cells: int) -> Pipe:
    """Plane channel with a slot of `opening` times its width."""
    width = HOLE / opening
    return Pipe(width, cells, inner=SLOT_RADIUS, below=max(2.0 * width, 3.0 * HOLE))
