"""From a case to a grid: cell sizes, grid lines, and the outline that the grid can carry."""

from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from ..bowl import Bowl
from ..case import Case
from .grid import Array, Grid, Spacing, lay_lines, merge_close

CELLS_PER_RIM = 50
"""Cells over the rim's radius where the case names no cell."""

FINEST_SHARE = 0.25
"""The cells at the hole's edge are at most four times finer than the others."""

CELLS_PER_HOLE = 20
"""Cells wanted across the hole; the finest cell follows from it within FINEST_SHARE."""

WALL_CELLS = 2.0
"""A wall that is not aligned with the grid must span this many cells, or it is thickened."""

DEPTH_IN_RADII = 3.0
"""The bottom plane of a deep tub lies this many rim radii under the bowl."""

HEADROOM = 1.0
"""Room above the rim, in bowl heights, for the jet and for sinking on after the rim is under."""


@dataclass(frozen=True)
class Layout:
    """Grid, outline on the grid and how it was chosen.

    outline (k, 2): section of the solid on the grid [m]; thickened: by how much the wall was
    thickened inwards to be carried [m], 0 where it was not; cell, finest: sizes [m].
    """

    grid: Grid
    outline: Array
    cell: float
    finest: float
    thickened: float


def lay_out(case: Case) -> Layout:
    """Choose the grid of a case."""
    bowl = case.bowl
    cell = case.flow.cell or default_cell(bowl)
    finest = min(cell, max(case.hole.diameter / CELLS_PER_HOLE, FINEST_SHARE * cell))
    thin = thinnest_oblique_wall(bowl)
    thickened = max(0.0, WALL_CELLS * cell - thin) if thin < np.inf else 0.0
    outline = bowl.polygon if thickened == 0.0 else thicken_inwards(bowl, thickened)
    return Layout(_grid(case, cell, finest), outline, cell, finest, thickened)


def default_cell(bowl: Bowl) -> float:
    """A fiftieth of the rim's radius; finer, down to half of that, where a wall asks for it."""
    coarse = bowl.rim_radius / CELLS_PER_RIM
    return float(np.clip(thinnest_oblique_wall(bowl) / WALL_CELLS, 0.5 * coarse, coarse))


def _grid(case: Case, cell: float, finest: float) -> Grid:
    bowl, hole = case.bowl, case.bowl.hole_radius
    widest = float(bowl.outer[:, 0].max())
    near_r = [
        Spacing(cell, 0.0, widest + 5.0 * cell),
        Spacing(finest, hole - 3 * finest, hole + 3 * finest),
    ]
    breaks_r = merge_close([0.0, *bowl.straight_r, widest], 0.35 * finest)
    near_r += _wall_spacings(breaks_r, cell)
    r_f = lay_lines([*breaks_r, case.flow.tub_radius], near_r)
    top = bowl.inner_edge_height
    rim = bowl.rim_height
    near_z = [
        Spacing(cell, -10.0 * cell, rim + 5.0 * cell),
        Spacing(finest, -3.0 * finest, top + 3.0 * finest),
    ]
    breaks_z = merge_close([0.0, *bowl.straight_z, rim], 0.35 * finest)
    near_z += _wall_spacings(breaks_z, cell)
    low, high = -DEPTH_IN_RADII * widest, rim + HEADROOM * max(rim, 0.5 * widest)
    return Grid(r_f, lay_lines([low, *breaks_z, high], near_z))


def _wall_spacings(breaks: list[float], cell: float) -> list[Spacing]:
    """At least two cells between two breaks that stand closer than two cells."""
    gaps = pairwise(breaks)
    return [Spacing(0.5 * (b - a), a, b) for a, b in gaps if b - a < WALL_CELLS * cell]


def thinnest_oblique_wall(bowl: Bowl) -> float:
    """Least thickness [m] of those parts of the wall that no grid line can follow.

    Infinite where all of the wall is upright or level.
    """
    least = np.inf
    for a, b in zip(bowl.inner[:-1], bowl.inner[1:], strict=True):
        if np.min(np.abs(b - a)) > 1e-9:
            for s in (0.0, 0.5, 1.0):
                least = min(least, _distance(a + s * (b - a), bowl.outer))
    return float(least)


def _distance(point: Array, line: Array) -> float:
    """Distance of a point from a polyline (n, 2)."""
    a, step = line[:-1], np.diff(line, axis=0)
    s = np.einsum("ij,ij->i", point - a, step) / np.einsum("ij,ij->i", step, step)
    nearest = a + np.clip(s, 0.0, 1.0)[:, None] * step
    return float(np.min(np.hypot(*(point - nearest).T)))


def thicken_inwards(bowl: Bowl, amount: float) -> Array:
    """Closed outline (k, 2) of the section with the inner outline moved inwards by `amount` [m]."""
    inner = bowl.inner
    step = np.diff(inner, axis=0)
    step = np.vstack((step[:1], step, step[-1:]))
    mean = step[:-1] / np.hypot(*step[:-1].T)[:, None] + step[1:] / np.hypot(*step[1:].T)[:, None]
    mean /= np.hypot(*mean.T)[:, None]
    moved = inner + amount * np.column_stack((-mean[:, 1], mean[:, 0]))
    moved[0, 0], moved[-1, 1] = bowl.hole_radius, bowl.rim_height
    keep = (moved[:, 0] >= bowl.hole_radius - 1e-12) & (moved[:, 1] <= bowl.rim_height + 1e-12)
    return np.vstack((bowl.outer, moved[keep][::-1]))
