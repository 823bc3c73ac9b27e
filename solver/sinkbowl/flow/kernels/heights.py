"""Height functions: position of the surface in a column of cells, and slope between columns.

A height is the sum of the fractions along a column, an exact mean of the surface's position over
the column's width. Columns run along the second axis of the arrays; for columns along r the arrays
are transposed and the marks are squared radii, so that sums are exact there too. Slopes are on the
faces between two columns. At a wall the slope is the contact angle's; if the surface is above the
wall's edge, the line is pinned there and the slope is that from the edge to the column's height
(Gibbs' condition). Slopes are sines of the angle to the abscissa.
"""

import numpy as np

from . import kernel, part

FULL = 1.0 - 1e-6
"""Share of a phase above which a column ends."""

NEARLY = 0.95
"""Share that ends a column which does not reach FULL: voids in water, drops in air."""

LONGEST = 6
"""Maximum number of cells on either side of the start of a column."""


@part
def walk(fraction, across, marks, a, b, step, to_water):
    """Follow column a from cell b into water or air, or to a wall.

    Returns the last cell, the water in the cells after b in units of `marks`, and whether an end
    was found.
    """
    last = fraction.shape[1] - 1
    k = b
    total = 0.0
    share = fraction[a, b] if to_water else 1.0 - fraction[a, b]
    for _ in range(LONGEST):
        ahead = k + step
        if share >= FULL or ahead < 0 or ahead > last or across[a, max(k, ahead)] <= 0.0:
            return k, total, True
        following = fraction[a, ahead] if to_water else 1.0 - fraction[a, ahead]
        if following < share:
            return k, total, share >= NEARLY
        k = ahead
        share = following
        total += fraction[a, k] * (marks[k + 1] - marks[k])
    return k, total, share >= NEARLY


@kernel
def column_height(fraction, across, marks, a, b, up):
    """Position of the surface in column a near cell b, and whether there is one.

    fraction (na, nb): share of water; across (na, nb+1): open areas of the faces that a column
    passes; marks (nb+1,): positions of these faces, or their squares; up: 1 if the water is on the
    side of low marks, else -1.
    """
    wet, below, found = walk(fraction, across, marks, a, b, -up, True)
    if not found:
        return 0.0, False
    _, above, found = walk(fraction, across, marks, a, b, up, False)
    total = below + above + fraction[a, b] * (marks[b + 1] - marks[b])
    return marks[wet if up > 0 else wet + 1] + up * total, found


@part
def wall_sine(into, upward, angle):
    """Sine of the surface's slope at a wall, rising towards it.

    into, upward: the wall's unit normal into the solid, along the abscissa and away from the water.
    """
    return np.cos(np.arctan2(upward, into) - angle)


@part
def pinned_slope(beside, marks, face, b, up, height, half_width):
    """Slope from a column's height to the edge of the wall beside it; large if there is none."""
    last = beside.shape[1] - 1
    k = b
    for _ in range(LONGEST):
        k += up
        if k < 0 or k > last:
            break
        if beside[face, k] > 0.0:
            return up * (marks[k if up > 0 else k + 1] - height) / half_width
    return 1e9
