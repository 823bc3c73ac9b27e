"""Graded tensor-product grid in (r, z), fixed to the bowl.

Grid lines are laid so that the local spacing follows a target h(x): fine at the hole's edge, `cell`
around the bowl and both free surfaces, stretched outward. Straight walls lie on grid lines. The
lines of a segment are the points at which N(x) = int dx / h(x) takes equally spaced values, so a
target whose slope is at most s gives neighbouring cells whose sizes differ by at most about s.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from sinkbowl.common.numerics import FrozenArrays, frozen

Array = NDArray[np.float64]

GROWTH = 0.095
"""Maximum growth of the spacing per unit length: neighbouring cells differ by at most 10 %."""

SPARE = 0.02
"""Tolerance of rounding a number of cells down, in cells: it avoids an extra cell by round-off, and
cells are larger than wanted at most by this share over their number."""


@dataclass(frozen=True)
class Grid(FrozenArrays):
    """Face positions r_f (nr+1,) and z_f (nz+1,) [m]; r_f starts at the axis; constant.

    A tub's floor changes only lines of the `Mesh`.
    """

    r_f: Array
    z_f: Array

    @property
    def shape(self) -> tuple[int, int]:
        """Number of cells (nr, nz)."""
        return len(self.r_f) - 1, len(self.z_f) - 1

    @cached_property
    def r_c(self) -> Array:
        """Radii of cell centres (nr,) [m]."""
        return frozen(0.5 * (self.r_f[1:] + self.r_f[:-1]))

    @cached_property
    def z_c(self) -> Array:
        """Heights of cell centres (nz,) [m]."""
        return frozen(0.5 * (self.z_f[1:] + self.z_f[:-1]))

    @cached_property
    def dr(self) -> Array:
        """Widths of cells (nr,) [m]."""
        return frozen(np.diff(self.r_f))

    @cached_property
    def dz(self) -> Array:
        """Heights of cells (nz,) [m]."""
        return frozen(np.diff(self.z_f))


@dataclass(frozen=True)
class Spacing:
    """Target spacing along one axis: `size` between `low` and `high`, growing outside."""

    size: float
    low: float
    high: float
    growth: float = GROWTH

    def __call__(self, x: Array) -> Array:
        """Target spacing at x [m]."""
        outside = np.maximum(np.maximum(self.low - x, x - self.high), 0.0)
        return self.size + self.growth * outside


def lay_lines(breaks: Sequence[float], targets: Sequence[Spacing]) -> Array:
    """Grid lines (n,) through all `breaks` [m], ascending; spacing by the finest of `targets`."""
    lines = [np.array([breaks[0]])]
    for low, high in pairwise(breaks):
        x = np.linspace(low, high, 2001)
        density = 1.0 / np.min([target(x) for target in targets], axis=0)
        count = np.concatenate(([0.0], np.cumsum(0.5 * (density[1:] + density[:-1]) * np.diff(x))))
        cells = max(1, int(np.ceil(count[-1] - SPARE)))
        inner = np.interp(np.linspace(0.0, count[-1], cells + 1)[1:], count, x)
        inner[-1] = high
        lines.append(inner)
    return np.concatenate(lines)


def merge_close(breaks: Sequence[float], gap: float) -> list[float]:
    """Ascending breaks without those closer than `gap` [m] to their predecessor.

    The first and the last are always kept.
    """
    ordered = sorted(set(breaks))
    kept = [ordered[0]]
    for position in ordered[1:]:
        if position - kept[-1] > gap:
            kept.append(position)
    if kept[-1] != ordered[-1]:
        kept[-1] = ordered[-1]
    return kept


def uniform_grid(radius: float, bottom: float, top: float, nr: int, nz: int) -> Grid:
    """Grid of equal cells: nr by nz over 0..radius and bottom..top [m]."""
    return Grid(np.linspace(0.0, radius, nr + 1), np.linspace(bottom, top, nz + 1))


def cell_volumes(grid: Grid) -> Array:
    """Volume of each whole cell per radian (nr, nz) [m^3]."""
    return np.outer(grid.r_c * grid.dr, grid.dz)
