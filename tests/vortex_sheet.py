"""A free jet from a thin hole in a plate across a round pipe, by a sheet of ring vortices.

Wall, plate and the jet's surface are one sheet that carries the jump of the tangential velocity;
behind it the fluid rests. Its stream function is the same all along (Lamb, Hydrodynamics, art. 161,
ring vortices; from memory):

    sum of gamma G(x, x') ds' = psi_0,    psi_0 = v_j r_j^2 / 2,

gamma unknown on the wall and the plate and v_j = 1 on the free surface, whose shape is unknown: the
angle of its tangent, a short series with the square root at the edge and the exponential decay far
down that theory asks for. Speed at the edge is v_j. This has nothing in common with the
flow solver: no grid, no time, no pressure.
"""

import numpy as np
from numpy.typing import NDArray
from scipy.linalg import lu_factor, lu_solve
from scipy.optimize import least_squares
from scipy.special import ellipe, ellipk

Array = NDArray[np.float64]

PARTS = 8  # parts of an element that are integrated by four points each
TERMS = 10  # terms of the series for the tangent's angle
DECAY = 2.0  # decay of the angle a hole's radius down the jet

FINENESS = 2.0
"""Elements are refined by this factor. With 2, 3, 4 a hole of a hundredth of the pipe's area gives
0.59170, 0.59154, 0.59148."""

EDGE = 0.01  # weight of the edge's speed beside the mean square of the stream function

_POINTS, _WEIGHTS = np.polynomial.legendre.leggauss(4)
_PLACES = (np.arange(PARTS)[:, None] + 0.5 + 0.5 * _POINTS).ravel() / PARTS
_SHARES = np.tile(_WEIGHTS, PARTS) / (2 * PARTS)


def ring(r: Array, z: Array, r_ring: Array, z_ring: Array) -> Array:
    """Stream function of a ring vortex of unit strength."""
    m = 4.0 * r * r_ring / ((r + r_ring) ** 2 + (z - z_ring) ** 2)
    k = np.sqrt(m)
    return np.asarray(
        np.sqrt(r * r_ring) / (2.0 * np.pi) * ((2.0 / k - k) * ellipk(m) - 2.0 / k * ellipe(m))
    )


def sheet(nodes: Array, points: Array) -> Array:
    """Stream function at points (n, 2) of unit sheets between nodes (m+1, 2), as (n, m)."""
    a, step = nodes[:-1], np.diff(nodes, axis=0)
    length = np.hypot(*step.T)
    along = a[:, None] + _PLACES[:, None] * step[:, None]
    out = np.array([ring(r, z, along[..., 0], along[..., 1]) @ _SHARES * length for r, z in points])
    middle = a + 0.5 * step
    for i, (r, z) in enumerate(points):
        for j in np.flatnonzero(np.abs(middle - (r, z)).sum(axis=1) < 1e-14):
            out[i, j] = _own(r, z, along[j], length[j])
    return out


def _own(r: float, z: float, along: Array, length: float) -> float:
    """An element at its own middle, r/2pi (ln(8r/s) - 2) integrated exactly."""
    away = np.hypot(along[:, 0] - r, along[:, 1] - z)
    near = r / (2.0 * np.pi) * (np.log(8.0 * r / away) - 2.0)
    rest = (ring(r, z, along[:, 0], along[:, 1]) - near) @ _SHARES * length
    exact = length * (np.log(8.0 * r) - 1.0 - np.log(0.5 * length))
    return float(rest + r / (2.0 * np.pi) * exact)


def graded(length: float, first: float, growth: float) -> Array:
    """Positions from 0 to length, each step `growth` times the one before."""
    count = int(np.ceil(np.log1p(length / first * (growth - 1.0)) / np.log(growth)))
    steps = first * growth ** np.arange(count)
    return np.concatenate(([0.0], np.cumsum(steps))) * length / steps.sum()


def contraction(area_ratio: float) -> float:
    """Section of the jet far down over that of the hole, for hole over pipe area."""
    a, growth, first = np.sqrt(area_ratio), 1.0 + 0.2 / FINENESS, 2e-3 * np.sqrt(area_ratio)
    fixed = _wall_and_plate(a, first / FINENESS, growth)
    far = graded(400.0, 0.3 * a, 1.2)
    upstream = np.column_stack((np.ones_like(far), fixed[0, 1] - far))
    s = graded(10.0 * a, first / FINENESS, growth)
    u = np.sqrt(1.0 - np.exp(-DECAY * 0.5 * (s[1:] + s[:-1]) / a))
    series = np.polynomial.chebyshev.chebvander(2.0 * u - 1.0, TERMS - 1)
    start = np.polynomial.chebyshev.chebvander(np.array([-1.0]), TERMS - 1)[0]
    on_fixed = 0.5 * (fixed[1:] + fixed[:-1])
    solver, from_above = lu_factor(sheet(fixed, on_fixed)), sheet(upstream, on_fixed).sum(axis=1)

    def surface(c: Array) -> Array:
        whole = np.concatenate(([1.0 - start[1:] @ c], c))
        angle = -0.5 * np.pi * (1.0 - u) * (series @ whole)
        steps = np.diff(s)[:, None] * np.column_stack((np.sin(angle), np.cos(angle)))
        return np.vstack(([[a, 0.0]], np.array([a, 0.0]) + np.cumsum(steps, axis=0)))

    def short_of(c: Array) -> Array:
        free = surface(c)
        psi = 0.5 * free[-1, 0] ** 2
        beyond = np.column_stack((np.full_like(far, free[-1, 0]), free[-1, 1] + far))
        jet = np.vstack((free, beyond[1:]))
        speed = lu_solve(solver, psi - sheet(jet, on_fixed).sum(axis=1) - 2.0 * psi * from_above)
        middle = 0.5 * (free[1:] + free[:-1])
        miss = sheet(jet, middle).sum(axis=1) + sheet(fixed, middle) @ speed - psi
        miss += 2.0 * psi * sheet(upstream, middle).sum(axis=1)
        weighted = miss * np.sqrt(np.diff(s) / a) / (0.5 * a * a)
        return np.append(weighted, EDGE * (_at_edge(a, on_fixed, speed) - 1.0))

    found = least_squares(
        short_of, np.zeros(TERMS - 1), jac="3-point", method="lm", xtol=1e-14, ftol=1e-14
    )
    assert np.abs(found.fun).max() < 5e-5, "the sheet is no stream surface"
    return float((surface(found.x)[-1, 0] / a) ** 2)


def _wall_and_plate(a: float, first: float, growth: float) -> Array:
    """Nodes from six radii upstream along the wall and the plate to the hole's edge."""
    half = 0.5 * (1.0 - a)
    from_edge = graded(half, min(first, 0.02 * half), growth)
    from_corner = graded(half, 0.02 * half / FINENESS, growth)
    r = np.concatenate((a + from_edge, (1.0 - from_corner)[::-1][1:]))
    plate = np.column_stack((r, np.zeros_like(r)))
    z = graded(6.0, (1.0 - a) / (60.0 * FINENESS), growth)[1:]
    return np.vstack((np.column_stack((np.ones_like(z), -z))[::-1], plate[::-1]))


def _at_edge(a: float, points: Array, speed: Array) -> float:
    """Speed at the edge, from 1, sqrt(s) and s fitted to some elements of the plate beside it."""
    near = slice(-14, -2)
    s = np.hypot(*(points[near] - (a, 0.0)).T)
    basis = np.column_stack((np.ones_like(s), np.sqrt(s), s))
    return float(np.linalg.lstsq(basis, speed[near], rcond=None)[0][0])
