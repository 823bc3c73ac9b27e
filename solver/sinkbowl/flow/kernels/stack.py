"""The stack of multigrid levels, each half the previous one, and the factors of their lines.

The operator of a level is five-point and symmetric:

    (A x)_ij = (fixed + sum of couplings) x_ij - sum of couplings times neighbours.

Coarse levels join 2 x 2 cells: the coupling across a coarse face is the sum of the two fine ones
halved, because the distance between coarse centres is twice as long; `fixed` is summed. The lines
are factorised once per matrix, from the surplus of each cell's diagonal over its coupling to the
next one. This needs no subtraction, so single precision is enough for the whole stack.

All levels are in flat arrays, level l in the slice from start[l] with rows[l] x columns[l] values
in [i, j] order. The last row has no coupling to the right and the last column none upwards, and one
row of zeros is before the first level and after the last: every cell can read its four neighbours
without checks at the edges. Columns from used[l] on contain only air and are skipped, as are, in
each row, the cells from its top on, whose x stays zero.

The Thomas algorithm goes along lines contiguous in memory. Each cell of a line needs the previous
one, so several independent lines are processed together.
"""

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from . import kernel, part

Array = NDArray[np.float32]
Index = NDArray[np.int64]

LEAST_OWN = 1e-7
"""Minimum part of a diagonal besides the couplings along its line; keeps pivots above zero."""


class Stack(NamedTuple):
    """All levels in flat arrays: index tables, matrix, line factors, and working vectors.

    tops (rows of all levels): one more than the last active column of each row, level l's from
    first_row[l] on; pivot_z, lower_z, factor_z (pivot_r, factor_r): reciprocal pivots and
    elimination factors of the lines along z (along r); t: scratch space.
    """

    start: Index
    rows: Index
    columns: Index
    used: Index
    first_row: Index
    tops: Index
    right: Array
    above: Array
    fixed: Array
    diagonal: Array
    pivot_z: Array
    lower_z: Array
    factor_z: Array
    pivot_r: Array
    factor_r: Array
    x: Array
    b: Array
    t: Array


@part
def coarsen(s, level):
    """Fill the coefficients of level + 1 from those of level."""
    a, n = s.start[level], s.columns[level]
    b, m = s.start[level + 1], s.columns[level + 1]
    half = s.right.dtype.type(0.5)
    for k in range(b, b + s.rows[level + 1] * m):
        s.right[k] = s.above[k] = s.fixed[k] = 0
    used = s.used[level]
    for i in range(s.rows[level]):
        fine, coarse = a + i * n, b + (i // 2) * m
        share = half if i % 2 == 1 else half - half
        right, above = s.right[fine : fine + n], s.above[fine : fine + n]
        fixed = s.fixed[fine : fine + n]
        sum_right, sum_above = s.right[coarse : coarse + m], s.above[coarse : coarse + m]
        sum_fixed = s.fixed[coarse : coarse + m]
        for j in range(used // 2):
            sum_fixed[j] += fixed[2 * j] + fixed[2 * j + 1]
            sum_right[j] += share * (right[2 * j] + right[2 * j + 1])
            sum_above[j] += half * above[2 * j + 1]
        if used % 2 == 1:
            sum_fixed[used // 2] += fixed[used - 1]
            sum_right[used // 2] += share * right[used - 1]


@part
def factorise_r(s, level):
    """Diagonal of a level (1 for cells without coupling: air, solid), tops, factors along r."""
    n = s.columns[level]
    one, least = s.x.dtype.type(1.0), s.x.dtype.type(LEAST_OWN)
    for i in range(s.rows[level]):
        row = s.start[level] + i * n
        fixed = s.fixed[row : row + n]
        above, below = s.above[row : row + n], s.above[row - 1 : row + n - 1]
        left, right = s.right[row - n : row], s.right[row : row + n]
        share_left, share = s.t[row - n : row], s.t[row : row + n]
        diagonal = s.diagonal[row : row + n]
        pivot, factor = s.pivot_r[row : row + n], s.factor_r[row : row + n]
        for j in range(s.used[level]):
            own = fixed[j] + above[j] + below[j]
            total = own + left[j] + right[j]
            diagonal[j] = total if total > 0 else one
            own = max(own, least * total) if total > 0 else one
            surplus = own + left[j] * share_left[j]
            pivot[j] = one / (surplus + right[j])
            factor[j] = right[j] * pivot[j]
            share[j] = surplus * pivot[j]
        top = s.used[level]
        while top > 0 and fixed[top - 1] + below[top - 1] + left[top - 1] + right[top - 1] <= 0:
            top -= 1
        s.tops[s.first_row[level] + i] = top


@part
def factorise_z(s, level):
    """Factors along z."""
    n, m = s.columns[level], s.rows[level]
    a, used = s.start[level], s.used[level]
    one, least = s.x.dtype.type(1.0), s.x.dtype.type(LEAST_OWN)
    for i in range(m):
        row = a + i * n
        diagonal = s.diagonal[row : row + n]
        above, below = s.above[row : row + n], s.above[row - 1 : row + n - 1]
        fixed = s.fixed[row : row + n]
        left, right = s.right[row - n : row], s.right[row : row + n]
        own = s.t[row : row + n]
        for j in range(used):
            across = fixed[j] + left[j] + right[j]
            coupled = across + below[j] + above[j] > 0
            own[j] = max(across, least * diagonal[j]) if coupled else one
    i = 0
    while i + 3 < m:
        row = a + i * n
        surplus_of_four(s.t[row:], s.above[row - 1 :], used, n)
        i += 4
    while i < m:
        row = a + i * n
        surplus_of_one(s.t[row:], s.above[row - 1 :], used)
        i += 1
    for i in range(m):
        row = a + i * n
        above, below = s.above[row : row + n], s.above[row - 1 : row + n - 1]
        surplus, pivot = s.t[row : row + n], s.pivot_z[row : row + n]
        lower, factor = s.lower_z[row : row + n], s.factor_z[row : row + n]
        for j in range(used):
            pivot[j] = one / (surplus[j] + above[j])
            lower[j] = below[j] * pivot[j]
            factor[j] = above[j] * pivot[j]


@part
def convert(source, target):
    """Copy a vector, perhaps to another precision; slice assignment takes seconds to compile."""
    for k in range(source.shape[0]):
        target[k] = source[k]


@part
def load(s, right, above, fixed, own):
    """Load the finest couplings; own is fixed, or 1 for a cell without any coupling."""
    n = s.columns[0]
    first = s.start[0]
    cells = s.rows[0] * n
    left, to_right = right[first - n : first - n + cells], right[first : first + cells]
    below, to_above = above[first - 1 : first - 1 + cells], above[first : first + cells]
    to_none, here = fixed[first : first + cells], own[first : first + cells]
    for k in range(cells):
        alone = to_none[k] + to_right[k] + to_above[k] + left[k] + below[k] <= 0.0
        here[k] = 1.0 if alone else to_none[k]
    convert(to_right, s.right[first : first + cells])
    convert(to_above, s.above[first : first + cells])
    convert(to_none, s.fixed[first : first + cells])


@kernel
def build(s, right, above, fixed, own):
    """Fill all levels and `own` from the finest couplings; used[0] columns have water.

    right, above, fixed, own: the finest level's cells with a margin, see `Couplings`.
    """
    load(s, right, above, fixed, own)
    for level in range(1, s.start.shape[0]):
        s.used[level] = (s.used[level - 1] + 1) // 2
        coarsen(s, level - 1)
    for level in range(s.start.shape[0]):
        factorise_r(s, level)
        factorise_z(s, level)
    for k in range(s.x.shape[0]):
        s.x[k] = s.t[k] = 0


@part
def eliminate(x, lower, factor, used):
    """Forward and back substitution along one line."""
    a = x[0]
    for j in range(1, used):
        a = x[j] + lower[j] * a
        x[j] = a
    for j in range(used - 2, -1, -1):
        a = x[j] + factor[j] * a
        x[j] = a


@part
def four(x, used, stride):
    """The first `used` values of four lines `stride` apart."""
    return (
        x[:used],
        x[stride : stride + used],
        x[2 * stride : 2 * stride + used],
        x[3 * stride : 3 * stride + used],
    )


@part
def eliminate_four(x, lower, factor, used, stride):
    """The same along four lines `stride` apart at once."""
    x0, x1, x2, x3 = four(x, used, stride)
    l0, l1, l2, l3 = four(lower, used, stride)
    a, b, c, d = x0[0], x1[0], x2[0], x3[0]
    for j in range(1, used):
        a = x0[j] + l0[j] * a
        b = x1[j] + l1[j] * b
        c = x2[j] + l2[j] * c
        d = x3[j] + l3[j] * d
        x0[j], x1[j], x2[j], x3[j] = a, b, c, d
    f0, f1, f2, f3 = four(factor, used, stride)
    for j in range(used - 2, -1, -1):
        a = x0[j] + f0[j] * a
        b = x1[j] + f1[j] * b
        c = x2[j] + f2[j] * c
        d = x3[j] + f3[j] * d
        x0[j], x1[j], x2[j], x3[j] = a, b, c, d


@part
def surplus_of_one(x, below, used):
    """Surplus of each reduced diagonal over the coupling upwards, in place of that of the cell.

    surplus_j = x_j + below_j share_j-1, share = surplus / (surplus + above): the result of an
    elimination along the line, without a subtraction. below[j + 1] is the coupling above cell j.
    """
    a = x[0]
    for j in range(1, used):
        a = x[j] + below[j] * (a / (a + below[j]))
        x[j] = a


@part
def surplus_of_four(x, below, used, stride):
    """The same along four lines `stride` apart at once."""
    x0, x1, x2, x3 = four(x, used, stride)
    c0, c1, c2, c3 = four(below, used, stride)
    a, b, c, d = x0[0], x1[0], x2[0], x3[0]
    for j in range(1, used):
        a = x0[j] + c0[j] * (a / (a + c0[j]))
        b = x1[j] + c1[j] * (b / (b + c1[j]))
        c = x2[j] + c2[j] * (c / (c + c2[j]))
        d = x3[j] + c3[j] * (d / (d + c3[j]))
        x0[j], x1[j], x2[j], x3[j] = a, b, c, d
