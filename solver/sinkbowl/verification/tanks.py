"""Tanks of water with simple bodies, for verification cases."""

import numpy as np
from numpy.typing import NDArray

from sinkbowl.flow.grid import Array, Grid, Spacing, lay_lines
from sinkbowl.flow.operators import FlowOperators, make_operators
from sinkbowl.flow.release import complete_state
from sinkbowl.flow.solid import Solid, closed, place_solid
from sinkbowl.flow.state import FlowState, empty_state

DENSITY = 998.2072  # density of water at 20 degC [kg/m^3], IAPWS-95
REACH = 12.0  # radii of water around a body that count as deep


def full_tank(grid: Grid, solid: Solid) -> tuple[FlowOperators, FlowState]:
    """A tank full of water at rest, open at the top."""
    return tank_filled_to(grid, solid, float(grid.z_f[-1]))


def tank_filled_to(grid: Grid, solid: Solid, line: float) -> tuple[FlowOperators, FlowState]:
    """A tank of water at rest below a grid line z [m], with air above."""
    ops, state = make_operators(grid, solid, DENSITY, 1e-10), empty_state(grid)
    below = grid.z_c < line
    state.water[:, below] = solid.volume[:, below]
    state.extended[:, below] = 1.0
    complete_state(state, ops)
    return ops, state


def deep_grid(radius: float, cell: float, height: float) -> Grid:
    """Grid around a body of +- `height` [m] at the origin, deep water to all sides."""
    near = [Spacing(cell, 0.0, 1.3 * radius, 0.1)]
    far = REACH * radius
    up = [Spacing(cell, -height - 0.3 * radius, height + 0.3 * radius, 0.1)]
    return Grid(lay_lines([0.0, radius, far], near), lay_lines([-far, 0.0, far], up))


def surface_grid(radius: float, cell: float, height: float) -> Grid:
    """The same with the still surface on the line z = 0 and some air above the body."""
    deep = deep_grid(radius, cell, height)
    up = [Spacing(cell, -height - 0.3 * radius, height + 0.3 * radius, 0.1)]
    return Grid(deep.r_f, lay_lines([-REACH * radius, 0.0, height + 0.3 * radius], up))


def plate(grid: Grid, outer: float, inner: float = 0.0) -> Solid:
    """A disc (or ring) without thickness on the grid line z = 0, radii [m]."""
    covered = (grid.r_c < outer) & (grid.r_c > inner)
    return closed(grid, place_solid(grid, None), z_faces=np.outer(covered, on_line(grid.z_f)))


def on_line(lines: Array, position: float = 0.0) -> NDArray[np.bool_]:
    """Index of the grid line [m] nearest to a position [m]."""
    return np.asarray(np.arange(len(lines)) == np.argmin(np.abs(lines - position)))


def sphere(radius: float, points: int = 721) -> Array:
    """Outline (points, 2) of a sphere about the origin, counter-clockwise from its lowest point."""
    angle = np.linspace(-0.5 * np.pi, 0.5 * np.pi, points)
    outline = radius * np.column_stack((np.cos(angle), np.sin(angle)))
    outline[[0, -1], 0] = 0.0
    return outline
