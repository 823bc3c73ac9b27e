"""Geometric multigrid on a stack of grids: one V-cycle.

Smoother: line relaxation in both directions (Trottenberg, Oosterlee & Schueller, Multigrid, 2001,
sect. 5.1), needed for stretched cells: along r damped Jacobi, all lines at once, contiguous in
memory; along z zebra order, every second line, then the others. The order after the coarse grid is
reversed, so that the cycle is symmetric.
"""

from . import kernel, part
from .stack import eliminate, eliminate_four

DAMPING = 0.7
"""Weight of a relaxed line along r against its old value: undamped Jacobi does not reduce the
shortest wave. It affects only the time, not results beyond the tolerance."""

COARSEST_SWEEPS = 2
"""Symmetric sweeps on the coarsest level instead of a solution."""


@part
def relax_columns(s, level, parity):
    """Solve the lines along z with i % 2 == parity, neighbours fixed (Thomas)."""
    n, m = s.columns[level], s.rows[level]
    tops = s.tops[s.first_row[level] : s.first_row[level] + m]
    for i in range(parity, m, 2):
        row = s.start[level] + i * n
        left, right = s.right[row - n : row], s.right[row : row + n]
        pivot = s.pivot_z[row : row + n]
        x_left, x_right = s.x[row - n : row], s.x[row + n : row + 2 * n]
        x, b = s.x[row : row + n], s.b[row : row + n]
        for j in range(tops[i]):
            x[j] = (b[j] + left[j] * x_left[j] + right[j] * x_right[j]) * pivot[j]
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
def relax_rows_from_rest(s, level):
    """Solve all lines along r for x, damped, the first guess being zero."""
    n, m = s.columns[level], s.rows[level]
    tops = s.tops[s.first_row[level] : s.first_row[level] + m]
    damping = s.x.dtype.type(DAMPING)
    for i in range(m):
        row = s.start[level] + i * n
        left, pivot = s.right[row - n : row], s.pivot_r[row : row + n]
        x_left = s.x[row - n : row]
        x, b = s.x[row : row + n], s.b[row : row + n]
        for j in range(tops[i]):
            x[j] = (damping * b[j] + left[j] * x_left[j]) * pivot[j]
    for i in range(m - 2, -1, -1):
        row = s.start[level] + i * n
        factor, x = s.factor_r[row : row + n], s.x[row : row + n]
        x_right = s.x[row + n : row + 2 * n]
        for j in range(tops[i]):
            x[j] += factor[j] * x_right[j]


@part
def relax_rows(s, level):
    """Solve all lines along r for t, neighbours fixed, and apply the damped change."""
    n, m = s.columns[level], s.rows[level]
    tops = s.tops[s.first_row[level] : s.first_row[level] + m]
    damping = s.x.dtype.type(DAMPING)
    kept = s.x.dtype.type(1.0 - DAMPING)
    for i in range(m):
        row = s.start[level] + i * n
        left = s.right[row - n : row]
        above, below = s.above[row : row + n], s.above[row - 1 : row + n - 1]
        pivot = s.pivot_r[row : row + n]
        x_below, x_above = s.x[row - 1 : row + n - 1], s.x[row + 1 : row + n + 1]
        t_left, t = s.t[row - n : row], s.t[row : row + n]
        b = s.b[row : row + n]
        for j in range(tops[i]):
            source = b[j] + below[j] * x_below[j] + above[j] * x_above[j]
            t[j] = (damping * source + left[j] * t_left[j]) * pivot[j]
    for i in range(m - 1, -1, -1):
        row = s.start[level] + i * n
        factor = s.factor_r[row : row + n]
        t, t_right = s.t[row : row + n], s.t[row + n : row + 2 * n]
        x = s.x[row : row + n]
        for j in range(tops[i]):
            t[j] += factor[j] * t_right[j]
            x[j] = kept * x[j] + t[j]


@part
def restrict_sum(s, level):
    """Sum the residual b - A x into the next level's right side (transpose of `add_prolonged`).

    The odd lines along z were solved last and have no residual.
    """
    n, wide = s.columns[level], s.columns[level + 1]
    for i in range(0, s.rows[level], 2):
        row = s.start[level] + i * n
        x = s.x[row : row + n]
        x_left, x_right = s.x[row - n : row], s.x[row + n : row + 2 * n]
        x_below, x_above = s.x[row - 1 : row + n - 1], s.x[row + 1 : row + n + 1]
        left, right = s.right[row - n : row], s.right[row : row + n]
        below, above = s.above[row - 1 : row + n - 1], s.above[row : row + n]
        diagonal, b = s.diagonal[row : row + n], s.b[row : row + n]
        t = s.t[row : row + n]
        top = s.tops[s.first_row[level] + i]
        for j in range(top):
            t[j] = (
                b[j]
                - diagonal[j] * x[j]
                + (left[j] * x_left[j] + right[j] * x_right[j])
                + (below[j] * x_below[j] + above[j] * x_above[j])
            )
        first = s.start[level + 1] + i // 2 * wide
        coarse = s.b[first : first + wide]
        for j in range(top // 2):
            coarse[j] = t[2 * j] + t[2 * j + 1]
        for j in range(top // 2, wide):
            coarse[j] = 0
        if top % 2 == 1:
            coarse[top // 2] = t[top - 1]


@part
def add_prolonged(s, level):
    """Add the values of level + 1 to the even lines along z; the odd ones are solved next."""
    n, wide = s.columns[level], s.columns[level + 1]
    for i in range(0, s.rows[level], 2):
        row = s.start[level] + i * n
        first = s.start[level + 1] + i // 2 * wide
        x, coarse = s.x[row : row + n], s.x[first : first + wide]
        top = s.tops[s.first_row[level] + i]
        for j in range(top // 2):
            x[2 * j] += coarse[j]
            x[2 * j + 1] += coarse[j]
        if top % 2 == 1:
            x[top - 1] += coarse[top // 2]


@kernel
def cycle(s):
    """One V-cycle from a zero guess: s.x[finest] approximates A^-1 s.b[finest], symmetrically.

    Arrays of all levels are consecutive, see `Stack`.
    """
    last = s.start.shape[0] - 1
    for level in range(last + 1):
        relax_rows_from_rest(s, level)
        relax_columns(s, level, 0)
        relax_columns(s, level, 1)
        if level < last:
            restrict_sum(s, level)
    for _ in range(COARSEST_SWEEPS - 1):
        relax_columns(s, last, 1)
        relax_columns(s, last, 0)
        relax_rows(s, last)
        relax_rows(s, last)
        relax_columns(s, last, 0)
        relax_columns(s, last, 1)
    for level in range(last, -1, -1):
        if level < last:
            add_prolonged(s, level)
        relax_columns(s, level, 1)
        relax_columns(s, level, 0)
        relax_rows(s, level)
