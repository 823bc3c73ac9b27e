"""Bodies of revolution with closed-form volumes, and grids, for the flow solver's unit tests."""

import math

import numpy as np
from numpy.typing import NDArray

from sinkbowl.flow.grid import Grid, Spacing, lay_lines, uniform_grid
from sinkbowl.flow.solid import Solid, place_solid

FloatArray = NDArray[np.float64]

SLANTED_RING = np.array(
    [[0.02, -0.05], [0.04, -0.05], [0.07, 0.04], [0.06, 0.05], [0.035, -0.03], [0.02, -0.03]]
)
"""A bowl-like ring with a level base, slanted walls and a hole [m], counter-clockwise."""

HORSESHOE = np.array(
    [
        [0.02, -0.031], [0.08, -0.031], [0.08, 0.043], [0.063, 0.043],
        [0.063, -0.012], [0.041, -0.012], [0.041, 0.027], [0.02, 0.027],
    ]
)  # fmt: skip
"""Section of two rings joined by a base [m]: a line across it meets the solid twice."""


def pappus(outline: FloatArray) -> float:
    """Volume per radian of a closed outline (k, 2): triangles to the origin, area times mean r."""
    after = np.roll(outline, -1, axis=0)
    areas = 0.5 * (outline[:, 0] * after[:, 1] - outline[:, 1] * after[:, 0])
    return math.fsum(areas * (outline[:, 0] + after[:, 0]) / 3.0)


def distances(points: FloatArray, line: FloatArray) -> FloatArray:
    """Distance of each point from a polyline (n, 2)."""
    a, step = line[:-1], np.diff(line, axis=0)
    gap = points[:, None, :] - a
    share = np.clip(np.sum(gap * step, axis=2) / np.sum(step**2, axis=1), 0.0, 1.0)
    return np.asarray(np.min(np.linalg.norm(gap - share[..., None] * step, axis=2), axis=1))


def even_grid(cells: int, radius: float = 0.1) -> Grid:
    """Even cells, `cells` over the radius; z from -radius to radius with z = 0 in mid-cell."""
    return uniform_grid(radius, -radius, radius, cells, 2 * cells + 1)


def graded_grid(cell: float = 0.005) -> Grid:
    """Cells that grow outward from r = 20 mm and z = 0, whose lines these are."""
    r_f = lay_lines([0.0, 0.02, 0.1], [Spacing(cell, 0.0, 0.03)])
    return Grid(r_f, lay_lines([-0.1, 0.0, 0.1], [Spacing(cell, -0.03, 0.03)]))


def slanted_tank(cell: float = 0.005) -> tuple[Grid, Solid]:
    """The graded grid with the slanted ring in it."""
    grid = graded_grid(cell)
    return grid, place_solid(grid, SLANTED_RING)
