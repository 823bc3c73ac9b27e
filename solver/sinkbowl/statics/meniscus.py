"""Axisymmetric menisci: the Young-Laplace equation in a unit of length of one capillary length.

Along the arc s of a meniscus, with slope angle phi and height z in the direction in which the
pressure difference grows (z = 0 where the surface, continued, would be flat),

    dr/ds = cos(phi),  dz/ds = sin(phi),  dphi/ds = z - sin(phi) / r.

Two families are wanted: the cap above a hole, which begins on the axis, and the meniscus outside
a rim, which dies out at infinity (z ~ K_0(r)). Each is integrated until its slope is the wanted one
and shot at the wanted radius. (Hartland & Hartley 1976, Axisymmetric Fluid-Liquid Interfaces.)
"""

from __future__ import annotations

import math
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray
from scipy.integrate import odeint
from scipy.optimize import brentq
from scipy.special import ive, kve

FAR = 10.0
"""Distance from a rim at which its meniscus has died out, in capillary lengths."""

ACCURACY = 1e-9
"""Relative tolerance of the integration."""

MOST_STEPS = 20_000
"""Steps of one integration; a hundred are usual, a few thousand where a neck closes."""

FLAT = 1e-4
"""Slope over the slope asked for up to which a meniscus is that of the linear theory."""

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
        return math.log(_cap(log_height, slope)[0] / radius)

    highest = 2.0 / radius if slope >= 0.5 * np.pi else 2.0 * np.sin(slope) / radius
    start = float(np.log(highest)) + 1e-6
    root = brentq(miss, start - 2.0 * radius - 5.0, start, xtol=1e-9)
    return _cap(root, slope)[1]


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


def _cap(log_height: float, slope: float) -> tuple[float, float]:
    """Radius and head where a cap has a slope; log_height: logarithm of the head at its apex.

    That head itself is no number any more where a hole is hundreds of capillary lengths wide.
    """
    # While it is flat the surface is z = height I_0(r); start before it is steeper than FLAT.
    steep = math.log(slope) - log_height
    r = max(math.exp(min(0.0, steep)) * FLAT, math.log(FLAT) + steep)
    apex = math.exp(log_height + r)
    first = (r, apex * float(ive(0, r)), apex * float(ive(1, r)))
    return _until_slope(first, slope, 1.0)


def _outside(radius: float, height: float, slope: float) -> tuple[float, float]:
    """Radius and depth where a meniscus of a small height far out has a slope, coming inwards."""
    r = radius + FAR
    rise = height * float(kve(1, r) / kve(0, r))
    return _until_slope((r, height, math.atan(rise)), slope, -1.0)


def _until_slope(
    first: tuple[float, float, float], slope: float, outwards: float
) -> tuple[float, float]:
    """Radius and height of a meniscus followed outwards (1) or inwards (-1) to a slope.

    The slope grows all the way; in logarithms the slow start far from the edge, the quick end near
    it and a neck that closes all take few steps.
    """

    def along(log_phi: float, state: NDArray[np.float64]) -> tuple[float, float]:
        r, z, phi = math.exp(state[0]), state[1], math.exp(log_phi)
        rise = math.sin(phi)
        pace = phi / (z - outwards * rise / r)
        return outwards * pace * math.cos(phi) / r, pace * rise

    r, z, phi = first
    way = odeint(
        along,
        (math.log(r), z),
        (math.log(phi), math.log(slope)),
        tfirst=True,
        mxstep=MOST_STEPS,
        rtol=ACCURACY,
        atol=1e-3 * ACCURACY,
    )
    return math.exp(way[-1, 0]), float(way[-1, 1])
