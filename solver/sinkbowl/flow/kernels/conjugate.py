"""Conjugate gradients for the pressure with the heave as a rank-one term, multigrid inside.

Solves (A + sigma h h^T) p = b, A the five-point operator of the finest level, h the heave areas and
sigma = 2 pi dt / M. The preconditioner is one V-cycle on A. Steps are those of Saad, Iterative
Methods for Sparse Linear Systems, 2nd ed. 2003, algorithm 9.1.
"""

import numpy as np

from . import kernel, part
from .multigrid import cycle

COARSEST_SWEEPS = 4


@kernel
def inner(a, b):
    """Inner product; a plain loop, since a threaded library call costs more than it saves here."""
    total = 0.0
    for k in range(a.shape[0]):
        total += a[k] * b[k]
    return total


@part
def copy(source, target):
    """Copy one vector; slice assignment would take seconds to compile."""
    for k in range(source.shape[0]):
        target[k] = source[k]


@part
def fill(target, value):
    """Set all of a vector to one value."""
    for k in range(target.shape[0]):
        target[k] = value


@kernel
def apply(s, heave, sigma, x, out):
    """out = (A + sigma h h^T) x on the finest level; x lies in the stack's layout."""
    n = s.columns[0]
    first = s.start[0]
    lift = sigma * inner(heave, x[first : first + out.shape[0]])
    for i in range(s.rows[0]):
        row = first + i * n
        here = x[row : row + n]
        x_left = x[row - n : row]
        x_right = x[row + n : row + 2 * n]
        x_below = x[row - 1 : row + n - 1]
        x_above = x[row + 1 : row + n + 1]
        left = s.right[row - n : row]
        right = s.right[row : row + n]
        below = s.above[row - 1 : row + n - 1]
        above = s.above[row : row + n]
        diagonal = s.diagonal[row : row + n]
        area = heave[i * n : i * n + n]
        y = out[i * n : i * n + n]
        top = s.tops[i]
        for j in range(top):
            y[j] = (
                diagonal[j] * here[j]
                + area[j] * lift
                - (left[j] * x_left[j] + right[j] * x_right[j])
                - (below[j] * x_below[j] + above[j] * x_above[j])
            )
        for j in range(top, n):
            y[j] = 0.0


@kernel
def solve(s, heave, sigma, b, x, tolerance, most, vectors, guess):
    """Solve in place from the guess x; returns iterations and the relative residual reached.

    b, x, heave (n,) flat on the finest level; vectors (2, n) and, in the stack's layout,
    guess are scratch space. `tolerance` is the residual's 2-norm over that of b.
    """
    a = s.start[0]
    e = a + s.rows[0] * s.columns[0]
    r = vectors[0]
    q = vectors[1]
    p_padded = guess
    p = p_padded[a:e]
    z = s.x[a:e]
    size = np.sqrt(inner(b, b))
    if size == 0.0:
        fill(x, 0.0)
        return 0, 0.0
    copy(x, p)
    apply(s, heave, sigma, p_padded, q)
    for k in range(b.shape[0]):
        r[k] = b[k] - q[k]
    left = np.sqrt(inner(r, r)) / size
    steps = 0
    rho = 1.0
    while left > tolerance and steps < most:
        copy(r, s.b[a:e])
        cycle(s, COARSEST_SWEEPS)
        rho_new = inner(r, z)
        beta = rho_new / rho if steps > 0 else 0.0
        rho = rho_new
        for k in range(b.shape[0]):
            p[k] = z[k] + beta * p[k]
        apply(s, heave, sigma, p_padded, q)
        alpha = rho / inner(p, q)
        for k in range(b.shape[0]):
            x[k] += alpha * p[k]
            r[k] -= alpha * q[k]
        left = np.sqrt(inner(r, r)) / size
        steps += 1
    return steps, left
