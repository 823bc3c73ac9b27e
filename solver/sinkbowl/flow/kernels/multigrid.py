"""Geometric multigrid on a stack of grids that each halve the one above, as pieces.

The operator of a level is five-point and symmetric:

    (A x)_ij = (fixed + sum of couplings) x_ij - sum of couplings times neighbours.

Coarse levels gather 2 x 2 cells: the coupling across a coarse face is the sum of the two fine ones
halved, because the distance between coarse centres is twice as long; `fixed` is summed. Smoother:
alternating zebra line relaxation in z and in r (Trottenberg, Oosterlee & Schueller, Multigrid,
2001, sect. 5.1), which stretched cells need; the lines are factorised once per matrix.

All levels lie in flat arrays, level l in the slice that starts at start[l] and holds rows[l] x
columns[l] values in [i, j] order. The last row has no coupling to the right and the last column
none upwards, and one row of zeros stands before the first level and after the last: so every cell
may read its four neighbours without asking where the grid ends. Columns from used[l] on hold
nothing but air and are passed over; so are, in each row, the cells from its own top on, whose x
stays zero.
"""

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from . import kernel, part

Array = NDArray[np.float64]
Index = NDArray[np.int64]


class Stack(NamedTuple):
    """All levels in flat arrays: index tables, matrix, line factors, and working vectors.

    tops (rows of all levels): one more than the last column of each row that takes part, level l's
    from first_row[l] on; pivot_z, lower_z, factor_z (pivot_r, factor_r): reciprocal pivots and
    elimination factors of the lines along z (along r); active: cells that take part.
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
    active: NDArray[np.bool_]
    x: Array
    b: Array
    r: Array


@part
def coarsen(s, level):
    """Fill the coefficients of level + 1 from those of level."""
    a = s.start[level]
    n = s.columns[level]
    b = s.start[level + 1]
    m = s.columns[level + 1]
    for k in range(b, b + s.rows[level + 1] * m):
        s.right[k] = 0.0
        s.above[k] = 0.0
        s.fixed[k] = 0.0
    for i in range(s.rows[level]):
        for j in range(s.used[level]):
            fine = a + i * n + j
            coarse = b + (i // 2) * m + j // 2
            s.fixed[coarse] += s.fixed[fine]
            if i % 2 == 1:
                s.right[coarse] += 0.5 * s.right[fine]
            if j % 2 == 1:
                s.above[coarse] += 0.5 * s.above[fine]


@part
def factorise(s, level):
    """Diagonal of a level (1 where a cell has no coupling: air, solid) and factors of its lines."""
    n = s.columns[level]
    for i in range(s.rows[level]):
        row = s.start[level] + i * n
        top = 0
        for k in range(row, row + s.used[level]):
            total = s.fixed[k] + s.right[k] + s.above[k] + s.right[k - n] + s.above[k - 1]
            s.active[k] = total > 0.0
            if total > 0.0:
                top = k - row + 1
            diagonal = total if total > 0.0 else 1.0
            s.diagonal[k] = diagonal
            s.pivot_z[k] = 1.0 / (diagonal - s.above[k - 1] * s.factor_z[k - 1])
            s.lower_z[k] = s.above[k - 1] * s.pivot_z[k]
            s.factor_z[k] = s.above[k] * s.pivot_z[k]
            s.pivot_r[k] = 1.0 / (diagonal - s.right[k - n] * s.factor_r[k - n])
            s.factor_r[k] = s.right[k] * s.pivot_r[k]
        s.tops[s.first_row[level] + i] = top


@part
def gather_columns(s, level, i):
    """x = pivot times what the neighbours of line i add to its right side."""
    n = s.columns[level]
    row = s.start[level] + i * n
    left = s.right[row - n : row]
    right = s.right[row : row + n]
    pivot = s.pivot_z[row : row + n]
    x_left = s.x[row - n : row]
    x_right = s.x[row + n : row + 2 * n]
    x = s.x[row : row + n]
    b = s.b[row : row + n]
    for j in range(s.tops[s.first_row[level] + i]):
        x[j] = (b[j] + left[j] * x_left[j] + right[j] * x_right[j]) * pivot[j]


@part
def eliminate(x, lower, factor, used):
    """Forward and back substitution along one line."""
    for j in range(1, used):
        x[j] += lower[j] * x[j - 1]
    for j in range(used - 2, -1, -1):
        x[j] += factor[j] * x[j + 1]


@part
def eliminate_four(x, lower, factor, used, stride):
    """The same along four lines `stride` apart at once: each waits for itself only."""
    a = x[:used]
    b = x[stride : stride + used]
    c = x[2 * stride : 2 * stride + used]
    d = x[3 * stride : 3 * stride + used]
    la = lower[:used]
    lb = lower[stride : stride + used]
    lc = lower[2 * stride : 2 * stride + used]
    ld = lower[3 * stride : 3 * stride + used]
    for j in range(1, used):
        a[j] += la[j] * a[j - 1]
        b[j] += lb[j] * b[j - 1]
        c[j] += lc[j] * c[j - 1]
        d[j] += ld[j] * d[j - 1]
    fa = factor[:used]
    fb = factor[stride : stride + used]
    fc = factor[2 * stride : 2 * stride + used]
    fd = factor[3 * stride : 3 * stride + used]
    for j in range(used - 2, -1, -1):
        a[j] += fa[j] * a[j + 1]
        b[j] += fb[j] * b[j + 1]
        c[j] += fc[j] * c[j + 1]
        d[j] += fd[j] * d[j + 1]


@part
def relax_columns(s, level, parity):
    """Solve the lines along z with i % 2 == parity, their neighbours held (Thomas)."""
    n = s.columns[level]
    m = s.rows[level]
    tops = s.tops[s.first_row[level] : s.first_row[level] + m]
    for i in range(parity, m, 2):
        gather_columns(s, level, i)
    i = parity
    while i + 6 < m:
        row = s.start[level] + i * n
        top = max(max(tops[i], tops[i + 2]), max(tops[i + 4], tops[i + 6]))
        eliminate_four(s.x[row:], s.lower_z[row:], s.factor_z[row:], top, 2 * n)
        i += 8
    while i < m:
        row = s.start[level] + i * n
        eliminate(s.x[row:], s.lower_z[row:], s.factor_z[row:], tops[i])
        i += 2


@part
def relax_rows(s, level, parity):
    """Solve the lines along r with j % 2 == parity, their neighbours held (Thomas)."""
    n = s.columns[level]
    m = s.rows[level]
    for i in range(m):
        row = s.start[level] + i * n
        left = s.right[row - n : row]
        above = s.above[row : row + n]
        below = s.above[row - 1 : row + n - 1]
        pivot = s.pivot_r[row : row + n]
        x_left = s.x[row - n : row]
        x_below = s.x[row - 1 : row + n - 1]
        x_above = s.x[row + 1 : row + n + 1]
        x = s.x[row : row + n]
        b = s.b[row : row + n]
        for j in range(parity, s.tops[s.first_row[level] + i], 2):
            source = b[j] + below[j] * x_below[j] + above[j] * x_above[j]
            x[j] = (source + left[j] * x_left[j]) * pivot[j]
    for i in range(m - 2, -1, -1):
        row = s.start[level] + i * n
        factor = s.factor_r[row : row + n]
        x = s.x[row : row + n]
        x_right = s.x[row + n : row + 2 * n]
        for j in range(parity, s.tops[s.first_row[level] + i], 2):
            x[j] += factor[j] * x_right[j]


@part
def residual(s, level):
    """r = b - A x on a level."""
    n = s.columns[level]
    for i in range(s.rows[level]):
        row = s.start[level] + i * n
        x = s.x[row : row + n]
        x_left = s.x[row - n : row]
        x_right = s.x[row + n : row + 2 * n]
        x_below = s.x[row - 1 : row + n - 1]
        x_above = s.x[row + 1 : row + n + 1]
        left = s.right[row - n : row]
        right = s.right[row : row + n]
        below = s.above[row - 1 : row + n - 1]
        above = s.above[row : row + n]
        diagonal = s.diagonal[row : row + n]
        b = s.b[row : row + n]
        r = s.r[row : row + n]
        for j in range(s.tops[s.first_row[level] + i]):
            r[j] = (
                b[j]
                - diagonal[j] * x[j]
                + (left[j] * x_left[j] + right[j] * x_right[j])
                + (below[j] * x_below[j] + above[j] * x_above[j])
            )


@part
def restrict_sum(s, level):
    """Sum a level's residual into the next one's right side (the transpose of `add_prolonged`)."""
    a = s.start[level]
    n = s.columns[level]
    b = s.start[level + 1]
    m = s.columns[level + 1]
    for k in range(b, b + s.rows[level + 1] * m):
        s.b[k] = 0.0
    for i in range(s.rows[level]):
        for j in range(s.tops[s.first_row[level] + i]):
            s.b[b + (i // 2) * m + j // 2] += s.r[a + i * n + j]


@part
def add_prolonged(s, level):
    """Add the coarse values of level + 1 to the cells of level that they cover."""
    a = s.start[level]
    n = s.columns[level]
    b = s.start[level + 1]
    m = s.columns[level + 1]
    for i in range(s.rows[level]):
        for j in range(s.tops[s.first_row[level] + i]):
            k = a + i * n + j
            if s.active[k]:
                s.x[k] += s.x[b + (i // 2) * m + j // 2]


@part
def relax_forward(s, level):
    """One sweep over all four sets of lines."""
    for parity in range(2):
        relax_columns(s, level, parity)
    for parity in range(2):
        relax_rows(s, level, parity)


@part
def relax_backward(s, level):
    """The sets of lines in the opposite order, so that the cycle is symmetric."""
    for parity in range(1, -1, -1):
        relax_rows(s, level, parity)
    for parity in range(1, -1, -1):
        relax_columns(s, level, parity)


@part
def clear(s, level):
    """Zero first guess on a level."""
    first = s.start[level]
    for k in range(first, first + s.rows[level] * s.columns[level]):
        s.x[k] = 0.0


@kernel
def build(s):
    """Fill all levels from the couplings of the finest, of which used[0] columns hold water."""
    for level in range(1, s.start.shape[0]):
        s.used[level] = (s.used[level - 1] + 1) // 2
    for level in range(s.start.shape[0]):
        if level > 0:
            coarsen(s, level - 1)
        factorise(s, level)


@kernel
def cycle(s, coarsest_sweeps):
    """One V-cycle from a zero guess: s.x[finest] approximates A^-1 s.b[finest], symmetrically."""
    last = s.start.shape[0] - 1
    for level in range(last):
        clear(s, level)
        relax_forward(s, level)
        residual(s, level)
        restrict_sum(s, level)
    clear(s, last)
    for _ in range(coarsest_sweeps):
        relax_forward(s, last)
        relax_backward(s, last)
    for level in range(last - 1, -1, -1):
        add_prolonged(s, level)
        relax_backward(s, level)
