"""The lip of a resolved hole: taken out of the jet's way where the grid cannot part the two.

Behind a sharp edge the jet leaves the lip: its surface starts along the base and bends up, so that
the gap beside it grows like z^(2/3) (free streamlines; Birkhoff & Zarantonello, Jets, Wakes, and
Cavities, 1957; from memory). While that gap is thinner than a cell the water in it is dragged
along, the jet fills the whole hole and far too much flows: 30 % of the jet's section with 16 cells
across a hole with a square lip of an eighth of its diameter, 13 % with 32, 3 % with 64
(`proof/orifices.py`). Only the edge makes the jet, the lip behind it touches dead water. So on the
grid, and there only, one of two things is done.

The lip of a level base with fewer than `CLEAR_CELLS` cells across its hole is *cut back* from the
edge at a slope of one in two. Beside a curved base that wedge would leak, since a cell at its tip
has two open parts, and in a narrow base it has no room. There the wall is *set back*: it ends
`BEHIND` cells behind the edge, and what is left of the base up to the edge is a level sheet
without thickness, on a grid line. Its jet is a thin plate's on every grid; but a level base does
better with the wedge, because with 20 cells across the wedge lets 2 % too much through and the
sheet 4 % too little. The weight of water that stands in the place of wall, and the lift of what
the sheet encloses below a curved base, are given back (`voyage.py`).
"""

from __future__ import annotations

from itertools import pairwise
from typing import Literal

import numpy as np

from sinkbowl.bowl.bowl import COINCIDENT, Bowl
from sinkbowl.case.case import Case

from .grid import Array, Grid

Lip = Literal["", "cut back", "set back"]

CLEAR_CELLS = 64.0
"""Cells across the hole from which on the grid parts a jet from a level base's square lip."""

SLOPE = 0.5
"""A lip that is cut back goes back by this share of its height."""

MOST_OF_BASE = 0.5
"""The share of the base's width that the cut may take."""

BEHIND = 2
"""Cells from the edge to a wall set back; with one of them 16 cells across a hole give 3 % too
much."""

LONGEST_LIP = 0.5
"""Length over diameter up to which the jet stays clear of the lip; common practice, no source."""

STEEPEST = 0.4
"""Slope of the outer side up to which the sheet's level edge stands for its own: 1 % at 0.25, 4 %
at 0.5, where a square lip is as good, because the steeper the base, the sooner its jet is clear."""


def clear_lip(case: Case, bowl: Bowl, grid: Grid, finest: float) -> tuple[Bowl, Lip]:
    """The bowl with its lip out of the jet's way, and what was done; or the bowl as it is.

    Parameters
    ----------
    case : says what the hole's edge is
    bowl : as the grid carries it; the hole's radius is a grid line
    finest : size of the cells at the hole [m]
    """
    long = case.bowl.base_thickness > LONGEST_LIP * case.hole.diameter
    if case.hole.edge != "sharp" or case.base_gone or long:
        return bowl, ""
    if _is_level(bowl):
        if case.hole.diameter >= CLEAR_CELLS * finest:
            return bowl, ""
        cut = cut_back(bowl)
        if cut is not bowl:
            return cut, "cut back"
    back = set_back(bowl, grid)
    return back, "" if back is bowl else "set back"


def _is_level(bowl: Bowl) -> bool:
    """Whether the base is level beside the hole."""
    edge, following = bowl.outer[:2]
    return bool(following[1] == edge[1] and following[0] > edge[0])


def cut_back(bowl: Bowl) -> Bowl:
    """The bowl with its lip cut back from the edge of its level base, where there is room."""
    edge, following = bowl.outer[:2]
    for k, (a, b) in enumerate(pairwise(bowl.inner)):
        meets = _meeting(edge, a, b)
        if meets is None:
            continue
        if meets[0] - edge[0] > MOST_OF_BASE * (following[0] - edge[0]):
            return bowl
        cut = np.vstack((edge, meets, bowl.inner[k + 1 :]))
        return Bowl.from_outlines(bowl.outer, cut, bowl.mass)
    return bowl


def _meeting(edge: Array, a: Array, b: Array) -> Array | None:
    """Where the cut from the edge meets the segment from a to b of the inner outline."""
    beyond_a, beyond_b = (SLOPE * (p[1] - edge[1]) - (p[0] - edge[0]) for p in (a, b))
    if beyond_a < 0.0 or beyond_b > 0.0 or beyond_a == beyond_b:
        return None
    return np.asarray(a + beyond_a / (beyond_a - beyond_b) * (b - a))


def set_back(bowl: Bowl, grid: Grid) -> Bowl:
    """The bowl with its lip set back and a sheet up to the edge, where its base allows it."""
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
