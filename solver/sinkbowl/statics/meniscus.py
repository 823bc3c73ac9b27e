"""Axisymmetric menisci: the Young-Laplace equation in a unit of length of one capillary length.

Along the arc s of a meniscus, with slope angle phi and height z in the direction in which the
pressure difference grows (z = 0 where the surface, continued, would be flat),

    dr/ds = cos(phi),  dz/ds = sin(phi),  dphi/ds = z - sin(phi) / r.

Two families are wanted: the cap above a hole, which begins on the axis, and the meniscus outside
a rim, which dies out at infinity (z ~ K_0(r)). Each is integrated until its slope is the wanted one
and shot at the wanted radius. (Hartland & Hartley 1976, Axisymmetric Fluid-Liquid Interfaces.)
"""

from __future__ import annotations

from collections.abc import Callable
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray
from scipy.integrate import solve_ivp
from scipy.optimize import brentq
from scipy.special import ive, kve

FAR = 10.0
"""Distance from a rim at which its meniscus has died out, in capillary lengths."""

LONGEST = 1e3
"""Bound of the arc that is integrated, in capillary lengths beyond the radius."""

ACCURACY = 1e-8
"""Relative tolerance of the integration."""

LOWEST, HIGHEST = 1e-4, np.pi
"""Slopes that a meniscus can be asked for [rad]."""


@lru_cache(maxsize=256)
def cap_head(radius: float, slope: float) -> float:
    """Pressure at the edge of a cap on a hole, as a height.

    Parameters
    ----------
    radius : of the hole, in capillary lengths, > 0
    slope : of the surface at the edge [rad], 0..pi

    Returns
    -------
    Head over the air's pressure at the height of the edge, in capillary lengths.
    """
    if slope <= LOWEST:
        return 0.0

    def miss(log_height: float) -> float:
        return float(np.log(_cap(float(np.exp(log_height)), slope)[0] / radius))

    highest = 2.0 / radius if slope >= 0.5 * np.pi else 2.0 * np.sin(slope) / radius
    start = float(np.log(highest)) + 1e-6
    root = brentq(miss, start - 2.0 * radius - 5.0, start, xtol=1e-9)
    return _cap(float(np.exp(root)), slope)[1]


@lru_cache(maxsize=256)
def rim_depth(radius: float, slope: float) -> float:
    """Depth of a round edge below the surface around it, which meets it with a slope.

    Parameters
    ----------
    radius : of the edge, in capillary lengths, at least 1
    slope : of the surface at the edge [rad], 0..pi

    Returns
    -------
    Depth in capillary lengths; 2 sin(slope / 2) for a straight edge.

    Raises
    ------
    ValueError : if the edge is so narrow that steep menisci neck in above it
    """
    if radius < 1.0:
        raise ValueError("a rim narrower than one capillary length is not covered")
    if slope <= LOWEST:
        return 0.0

    def miss(log_height: float) -> float:
        return _outside(radius, float(np.exp(log_height)), slope)[0] - radius

    root = brentq(miss, -2.0 * FAR, np.log(4.0) - 0.1 * FAR, xtol=1e-9)
    return _outside(radius, float(np.exp(root)), slope)[1]


def _cap(height: float, slope: float) -> tuple[float, float]:
    """Radius and head where a cap with a head at its apex has a slope."""
    # Near the axis the surface is z = height I_0(r); start where it has hardly risen.
    r = min(1e-3, 1e-3 * slope / height)
    first = (r, height * float(np.exp(r) * ive(0, r)), height * float(np.exp(r) * ive(1, r)))
    last = _until_slope(first, slope, 1.0)
    return float(last[0]), float(last[1])


def _outside(radius: float, height: float, slope: float) -> tuple[float, float]:
    """Radius and depth where a meniscus of a small height far out has a slope, coming inwards."""
    r = radius + FAR
    rise = height * float(kve(1, r) / kve(0, r))
    last = _until_slope((r, height, float(np.arctan(rise))), slope, -1.0)
    return float(last[0]), float(last[1])


def _until_slope(
    first: tuple[float, float, float], slope: float, outwards: float
) -> NDArray[np.float64]:
    """Follow a meniscus outwards (1) or inwards (-1) until its slope is reached."""

    def along(_: float, state: NDArray[np.float64]) -> tuple[float, float, float]:
        r, z, phi = state
        return outwards * np.cos(phi), np.sin(phi), z - outwards * np.sin(phi) / r

    def reached(_: float, state: NDArray[np.float64]) -> float:
        return float(state[2] - slope)

    event: Callable[..., float] = reached
    event.terminal = True  # type: ignore[attr-defined]
    solution = solve_ivp(
        along,
        (0.0, first[0] + LONGEST),
        first,
        method="DOP853",
        events=event,
        rtol=ACCURACY,
        atol=1e-3 * ACCURACY,
    )
    return np.asarray(solution.y[:, -1])
