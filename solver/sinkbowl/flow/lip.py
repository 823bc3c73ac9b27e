"""The lip of a resolved hole: set back on the grid where the grid cannot part jet and lip.

Behind a sharp edge the jet leaves the lip: its surface starts along the base and bends up, so that
the gap beside it grows like z^(2/3) (free streamlines; Birkhoff & Zarantonello, Jets, Wakes, and
Cavities, 1957; from memory). While that gap is thinner than a cell the water in it is dragged
along, the jet fills the whole hole and far too much flows: 30 % of the jet's section with 16 cells
across a hole with a square lip of an eighth of its diameter, 13 % with 32, 3 % with 64
(`proof/orifices.py`).
Only the edge makes the jet, the lip behind it touches dead water. So on the grid the wall ends
`BEHIND` cells behind the edge, and what is left of the base up to the edge is a level sheet without
thickness, on a grid line. Jet and discharge are then those of a thin plate. With the cells the
change goes to nothing; the weight of the water that stands in the place of wall, and the lift of
what the sheet encloses below a curved base, are given back (`voyage.py`).
"""

from __future__ import annotations

import numpy as np

from sinkbowl.bowl.bowl import COINCIDENT, Bowl
from sinkbowl.case.case import Case

from .grid import Array, Grid

BEHIND = 2
"""Cells from the edge to the wall; with one of them 16 cells across a hole give 3 % too much."""

LONGEST_LIP = 0.5
"""Length over diameter up to which the jet stays clear of the lip; common practice, no source."""

STEEPEST = 0.4
"""Slope of the outer side up to which the sheet's level edge stands for its own: 1 % at 0.25, 4 %
at 0.5, where a square lip is as good, because the steeper the base, the sooner its jet is clear."""


def set_back(case: Case, bowl: Bowl, grid: Grid) -> Bowl:
    """The bowl with its lip set back where that is wanted, or the bowl as it is.

    Parameters
    ----------
    case : says what the hole's edge is
    bowl : as the grid carries it; the hole's radius is a grid line
    """
    long = case.bowl.base_thickness > LONGEST_LIP * case.hole.diameter
    if case.hole.edge != "sharp" or case.base_gone or long:
        return bowl
    at_edge = int(np.argmin(np.abs(grid.r_f - bowl.hole_radius)))
    level = grid.z_f[np.argmin(np.abs(grid.z_f - bowl.outer_edge_height))]
    tip, end = np.array([[bowl.hole_radius, level], [grid.r_f[at_edge + BEHIND], level]])
    below, above = _beyond(bowl.outer, end[0]), _beyond(bowl.inner, end[0])
    if not _is_base(bowl, end, below, above):
        return bowl
    up = below[:1] if below[0, 1] > level + COINCIDENT else end[None]
    inner = np.vstack((tip, end, up, above))
    return Bowl.from_outlines(_apart(np.vstack((tip, end, below))), _apart(inner), bowl.mass)


def _is_base(bowl: Bowl, end: Array, below: Array, above: Array) -> bool:
    """Whether the outlines beyond the sheet's end begin as a base does.

    The outer one is near to level, the inner one rises less than it runs; they do not come back to
    the hole, and they keep the bowl's lowest point.
    """
    if len(below) < 2 or len(above) < 2:
        return False
    run = end[0] - bowl.hole_radius
    steep = abs(below[0, 1] - end[1]) > STEEPEST * run
    wall = above[0, 1] - bowl.inner_edge_height > run or above[0, 1] <= end[1]
    back = min(below[1:, 0].min(), above[1:, 0].min()) < end[0]
    lowest = min(end[1], below[:, 1].min())
    return not (steep or wall or back) and bool(lowest <= COINCIDENT)


def _beyond(outline: Array, radius: float) -> Array:
    """The outline from the first point at a radius on; without points if it stays within."""
    out = np.flatnonzero(outline[:, 0] > radius + COINCIDENT)
    if not len(out):
        return outline[:0]
    a, b = outline[out[0] - 1], outline[out[0]]
    crossing = [radius, a[1] + (radius - a[0]) / (b[0] - a[0]) * (b[1] - a[1])]
    return np.vstack((crossing, outline[out[0] :]))


def _apart(points: Array) -> Array:
    """Points (n, 2) without those that repeat the one before."""
    step = np.hypot(*np.diff(points, axis=0).T)
    return np.asarray(points[np.append(True, step > COINCIDENT)])
