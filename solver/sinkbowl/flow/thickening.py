"""Oblique walls: their thickness, and thickening of those too thin for the grid."""

import numpy as np

from sinkbowl.bowl.bowl import Bowl
from sinkbowl.bowl.hull import distance_to

from .grid.grid import Array

WALL_CELLS = 2.0
"""A wall that is not aligned with the grid must span this many cells, or it is thickened."""


def wall_cell(bowl: Bowl) -> float:
    """Largest cell around a bowl without thickening [m]; infinite if any cell does."""
    return thinnest_oblique_wall(bowl) / WALL_CELLS


def thinnest_oblique_wall(bowl: Bowl) -> float:
    """Minimum thickness [m] of the oblique parts of the wall.

    Infinite if the whole wall is upright or level.
    """
    least = np.inf
    for a, b in zip(bowl.inner[:-1], bowl.inner[1:], strict=True):
        if np.min(np.abs(b - a)) > 1e-9:
            for s in (0.0, 0.5, 1.0):
                least = min(least, distance_to(a + s * (b - a), bowl.outer))
    return float(least)


def thicken_inwards(bowl: Bowl, amount: float) -> Bowl:
    """The bowl with its inner outline moved inwards by `amount` [m], mitred at its bends.

    Both ends slide along their segments to the hole's radius and to the rim's height.
    """
    inner = bowl.inner
    step = np.diff(inner, axis=0)
    step /= np.hypot(*step.T)[:, None]
    before, after = np.vstack((step[:1], step)), np.vstack((step, step[-1:]))
    mean = 0.5 * (before + after)
    mitre = mean / np.einsum("ij,ij->i", mean, mean)[:, None]
    moved = inner + amount * np.column_stack((-mitre[:, 1], mitre[:, 0]))
    moved[0] += _slide(step[0], 0, bowl.hole_radius - moved[0, 0])
    moved[-1] += _slide(step[-1], 1, bowl.rim_height - moved[-1, 1])
    inside = (moved[1:-1, 0] > bowl.hole_radius) & (moved[1:-1, 1] < bowl.rim_height)
    kept = np.vstack((moved[:1], moved[1:-1][inside], moved[-1:]))
    return Bowl.from_outlines(bowl.outer, kept, bowl.mass)


def _slide(direction: Array, axis: int, by: float) -> Array:
    """Step along a direction that changes the coordinate `axis` by `by`."""
    return np.asarray(direction * (by / direction[axis]) if direction[axis] != 0.0 else 0.0)
