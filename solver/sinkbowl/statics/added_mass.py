"""Inertia of the water that a floating bowl and the flow through its hole set in motion outside.

The outer water is a half-space with p = 0 on its surface (impulsive, wave-free motion). Its
kinetic energy is a quadratic form in the bowl's speed V and the flow Q through the hole,

    2 T = M_11 V^2 - 2 M_12 V Q + M_22 Q^2.

For a flat disc of radius R in the surface with a hole of radius b, through which the flow is
uniform, the mixed boundary value problem is solved in closed form by Abel transforms (Copson
1947, Proc. Edinb. Math. Soc. 8, 14): with G(t) = int_0^t s w(s) / sqrt(t^2 - s^2) ds of each normal
velocity w, T_ij = 4 rho int_0^R G_i G_j dt. This gives Lamb's M_11 = 4/3 rho R^3 (Hydrodynamics,
art. 108, one side). Two corrections, each exact at both of its ends, extend it:

- a round bottom: M_11 and M_12 shrink by the ratio of half a spheroid's added mass (Lamb art. 114)
  to the disc's. The spheroid's depth c = 3 (D - V / A) follows from draft, hull volume and
  waterplane, so that every cup has c = 0 and every half spheroid its own depth;
- a narrow hole: the flow through it is uneven, which lowers the outer end correction of a small
  one from 8/(3 pi) b to Rayleigh's pi/4 b; M_22 is reduced by that ratio, fading out as
  (1 - (b/R)^2)^2 towards a hole as wide as the disc.
"""

import math
from typing import NamedTuple

import numpy as np

from sinkbowl.bowl.hull import FloatArray

Value = float | FloatArray

SMALLEST_DEPTH = 1e-6  # depth over radius below which half a spheroid counts as a disc

UNEVEN_FLOW = 1.0 - 3.0 * math.pi**2 / 32.0
"""Relative difference of Rayleigh's end correction pi/4 from 8/(3 pi) of uniform flow."""

NEAR_SPHERE = 0.1
"""1 - (depth over radius)^2 below which the spheroid's integral is taken from its series."""

ROUND_SERIES = tuple(6.0 * k / (2 * k + 1) * math.comb(2 * k, k) / 4.0**k for k in range(18, 0, -1))
"""Coefficients of that series, descending."""

FOK = (-0.01641, 0.03015, -0.02287, 0.06793, 0.0, 0.33818, 0.0, -1.40925, 1.0)
"""Coefficients of Fok's function of the opening's share of the tube's radius, descending."""


class OuterInertia(NamedTuple):
    """Coefficients of the outer water's kinetic energy, see the module.

    bowl : M_11 [kg]
    cross : M_12 [kg/m^2]
    hole : M_22 [kg/m^4]
    """

    bowl: Value
    cross: Value
    hole: Value


def outer_inertia(radius: Value, hole_radius: float, depth: Value, density: float) -> OuterInertia:
    """Inertia of the outer water under a bowl with a hole.

    radius : of the disc, a number or an array [m], > 0
    hole_radius : [m], > 0; counts as at most the radius
    depth : of the half spheroid as full as the hull [m], 0 for a disc
    density : of the water [kg/m^3]
    """
    b = np.minimum(hole_radius, radius)
    area = np.pi * b**2
    ring = (radius**2 - b**2) ** 1.5
    round_share = half_spheroid_share(depth / radius)
    uneven_share = 1.0 - UNEVEN_FLOW * (1.0 - (b / radius) ** 2) ** 2
    bowl = 4.0 / 3.0 * radius**3
    cross = 4.0 / 3.0 * (radius**3 - ring) / area
    hole = 8.0 / 3.0 * (radius**3 - 1.5 * b**2 * radius + b**3 - ring) / area**2
    return OuterInertia(
        density * round_share * bowl, density * round_share * cross, density * uneven_share * hole
    )


def half_spheroid_share(depth_ratio: Value) -> Value:
    """Added mass of half a spheroid in the surface over that of the disc of its waterplane.

    depth_ratio : depth over radius, >= 0; 0 is the disc (share 1), 1 a hemisphere (share pi/4)
    """
    c = np.maximum(depth_ratio, SMALLEST_DEPTH)
    gamma = 2.0 / 3.0 * c * _elliptic(c)
    share = np.where(depth_ratio < SMALLEST_DEPTH, 1.0, 0.5 * np.pi * c * gamma / (2.0 - gamma))
    return share if share.ndim else float(share)


def _elliptic(c: Value) -> FloatArray:
    """Carlson's integral R_D(1, 1, c^2): 3 [1/c - R_C(c^2, 1)] / (1 - c^2).

    (DLMF 19.20.22 and 19.6.15, from memory; near the sphere its series in 1 - c^2.)
    """
    off = 1.0 - c * c
    near = np.abs(off) < NEAR_SPHERE
    far = np.where(near, 1.0, off)
    arc = np.where(c < 1.0, np.arccos(np.minimum(c, 1.0)), np.arccosh(np.maximum(c, 1.0)))
    exact = 3.0 * (1.0 / c - arc / np.sqrt(np.abs(far))) / far
    return np.asarray(np.where(near, np.polyval(ROUND_SERIES, off), exact))


def inner_end_correction(hole_radius: float, column_radius: Value) -> FloatArray:
    """Length [m] by which the water above a hole in a column's base extends the fluid in it.

    pi/4 times the hole's radius, reduced by the column's wall with Fok's function (1941, Dokl.
    Akad. Nauk SSSR 31, 875; series from memory, agrees with a mode sum to 1e-4 below half the
    column's radius). 0 if the hole is as wide as the column.
    """
    share = np.minimum(hole_radius / column_radius, 1.0)
    return np.asarray(0.25 * math.pi * hole_radius * np.maximum(np.polyval(FOK, share), 0.0))
