"""Conjugate gradients for the pressure with the heave as a rank-one term, multigrid inside.

Solves (A + sigma h h^T) p = b, A the five-point operator of the finest level, h the heave areas and
sigma = 2 pi dt / M, with the pockets of closed-off air eliminated (`pockets.py`). The
preconditioner is one V-cycle on A in single precision; the solution is in double precision. Steps
are those of Saad, Iterative Methods for Sparse Linear Systems, 2nd ed. 2003, algorithm 9.1. All
loops skip the cells above each row's top, which have no couplings; the inner products are summed
column by column, as independent sums.
"""

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from . import kernel, part
from .multigrid import cycle
from .pockets import add_coupling, pocket_response
from .stack import convert

Array = NDArray[np.float64]


class Couplings(NamedTuple):
    """Coupling of each cell to the right, upwards and to p = 0, in the layout of the finest level.

    A row of zeros is before the first row, and each last cell has no coupling. own: `fixed`, or 1
    where a cell has no coupling at all, so that its pressure is defined.
    """

    right: Array
    above: Array
    fixed: Array
    own: Array


@kernel
def inner(a, b):
    """Inner product as four independent sums.

    a, b (n,).
    """
    n = a.shape[0]
    s0 = s1 = s2 = s3 = 0.0
    for k in range(0, n - 3, 4):
        s0 += a[k] * b[k]
        s1 += a[k + 1] * b[k + 1]
        s2 += a[k + 2] * b[k + 2]
        s3 += a[k + 3] * b[k + 3]
    for k in range(n - n % 4, n):
        s0 += a[k] * b[k]
    return (s0 + s1) + (s2 + s3)


@part
def collect(sums):
    """Total of the columns' sums, which are set to 0 for the next product."""
    total = 0.0
    for j in range(sums.shape[0]):
        total += sums[j]
        sums[j] = 0.0
    return total


@kernel
def product(s, a, b, sums):
    """Inner product of two vectors, b in the stack's layout.

    a (n,) flat on the finest level; sums (columns,) is scratch space.
    """
    n = s.columns[0]
    for i in range(s.rows[0]):
        left = a[i * n : i * n + n]
        right = b[s.start[0] + i * n : s.start[0] + i * n + n]
        for j in range(s.tops[i]):
            sums[j] += left[j] * right[j]
    return collect(sums)


@kernel
def apply(s, a, heave, lift, x, out, sums):
    """out = A x + lift h on the finest level; returns x . out. x lies in the stack's layout.

    heave, out (n,) flat on the finest level; sums (columns,) is scratch space.
    """
    n = s.columns[0]
    for i in range(s.rows[0]):
        row = s.start[0] + i * n
        here = x[row : row + n]
        x_left, x_right = x[row - n : row], x[row + n : row + 2 * n]
        x_below, x_above = x[row - 1 : row + n - 1], x[row + 1 : row + n + 1]
        left, right = a.right[row - n : row], a.right[row : row + n]
        below, above = a.above[row - 1 : row + n - 1], a.above[row : row + n]
        own, area = a.own[row : row + n], heave[i * n : i * n + n]
        y = out[i * n : i * n + n]
        for j in range(s.tops[i]):
            y[j] = (
                own[j] * here[j]
                + area[j] * lift
                + (left[j] * (here[j] - x_left[j]) + right[j] * (here[j] - x_right[j]))
                + (below[j] * (here[j] - x_below[j]) + above[j] * (here[j] - x_above[j]))
            )
            sums[j] += here[j] * y[j]
    return collect(sums)


@part
def turn(s, beta, p, heave, sums):
    """Next direction p = z + beta p, z from the stack; returns h . p."""
    n = s.columns[0]
    for i in range(s.rows[0]):
        row = s.start[0] + i * n
        here, z = p[row : row + n], s.x[row : row + n]
        area = heave[i * n : i * n + n]
        for j in range(s.tops[i]):
            here[j] = z[j] + beta * here[j]
            sums[j] += area[j] * here[j]
    return collect(sums)


@part
def update_residual(s, alpha, p, q, scale, x, r, sums):
    """Step alpha along p: x += alpha p, r -= alpha q, the stack's b = scale r; returns r . r."""
    n = s.columns[0]
    for i in range(s.rows[0]):
        row = s.start[0] + i * n
        along, b = p[row : row + n], s.b[row : row + n]
        change, found = q[i * n : i * n + n], x[i * n : i * n + n]
        left = r[i * n : i * n + n]
        for j in range(s.tops[i]):
            found[j] += alpha * along[j]
            rest = left[j] - alpha * change[j]
            left[j] = rest
            b[j] = scale * rest
            sums[j] += rest * rest
    return collect(sums)


@kernel
def solve(s, a, heave, sigma, pockets, b, x, tolerance, most, vectors, guess, sums):
    """Solve in place from the guess x; returns iterations and the relative residual reached.

    b, x, heave (n,) flat on the finest level; vectors (2, n), sums (columns,) and, in the stack's
    layout, guess are scratch space. `tolerance` is the residual's 2-norm over that of b.
    """
    first = s.start[0]
    last = first + x.shape[0]
    r, q, p = vectors[0], vectors[1], guess
    collect(sums)
    size = np.sqrt(inner(b, b))
    convert(b, r)
    convert(x, p[first:last])
    for k in range(x.shape[0]):
        x[k] = 0.0
    if size == 0.0:
        return 0, 0.0
    lift = inner(heave, p[first:last])
    lift = sigma * (lift - pocket_response(pockets, sigma, p, first, lift))
    apply(s, a, heave, lift, p, q, sums)
    add_coupling(pockets, p, first, q)
    left = np.sqrt(update_residual(s, 1.0, p, q, 1.0 / size, x, r, sums)) / size
    steps, rho = 0, 1.0
    while left > tolerance and steps < most:
        cycle(s)
        rho_new = product(s, r, s.x, sums)
        lift = turn(s, rho_new / rho if steps > 0 else 0.0, p, heave, sums)
        lift = sigma * (lift - pocket_response(pockets, sigma, p, first, lift))
        rho = rho_new
        along = apply(s, a, heave, lift, p, q, sums)
        alpha = rho / (along + add_coupling(pockets, p, first, q))
        left = np.sqrt(update_residual(s, alpha, p, q, 1.0 / size, x, r, sums)) / size
        steps += 1
    return steps, left
