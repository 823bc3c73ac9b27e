"""Axisymmetric menisci: the Young-Laplace equation, lengths in capillary lengths.

Along the arc s of a meniscus, with slope angle phi and height z in the direction in which the
pressure difference grows (z = 0 where the surface, continued, would be flat),

    dr/ds = cos(phi),  dz/ds = sin(phi),  dphi/ds = z - sin(phi) / r.

Two families are needed: the cap above a hole, which begins on the axis, and the meniscus outside a
rim, which decays at infinity (z ~ K_0(r)). Each is integrated up to the wanted slope, with shooting
for the wanted radius. (Hartland & Hartley 1976, Axisymmetric Fluid-Liquid Interfaces.)
"""

import math
from functools import lru_cache

import numpy as np

from sinkbowl.common.numerics import root
from sinkbowl.statics.kernels.meniscus import MOST_STEPS, PARTS, followed

FAR = 10.0  # distance from a rim at which its meniscus has decayed, in capillary lengths

REACH, PANELS = 9.0, 60
"""Upper end of the integrals of K over 1 / sqrt(r), r > 10, and panels up to there."""

FLAT = 1e-4  # slope over the wanted slope up to which a meniscus follows the linear theory
LOWEST = 1e-4  # slope [rad] below which there is no meniscus
LONG_SERIES = 100.0  # argument up to which the series of a Bessel function is summed here


@lru_cache(maxsize=256)
def cap_head(radius: float, slope: float) -> float:
    """Head over the air's pressure at the edge of a cap on a hole, in capillary lengths.

    radius : of the hole, in capillary lengths, > 0
    slope : of the surface at the edge [rad], 0..pi
    """
    if slope <= LOWEST:
        return 0.0

    def miss(log_height: float) -> float:
        return math.log(_cap(log_height, slope)[0] / radius)

    highest = 2.0 / radius if slope >= 0.5 * np.pi else 2.0 * np.sin(slope) / radius
    start = float(np.log(highest)) + 1e-6
    found = root(miss, start - 2.0 * radius - 5.0, start, xtol=1e-9)
    return _cap(found, slope)[1]


@lru_cache(maxsize=256)
def rim_depth(radius: float, slope: float) -> float:
    """Depth of a round edge below the surface around it, in capillary lengths.

    2 sin(slope / 2) for a straight edge.

    radius : of the edge, in capillary lengths
    slope : of the surface at the edge [rad], 0..pi

    Raises ValueError for a radius below 1, at which steep menisci neck in above the edge.
    """
    if radius < 1.0:
        raise ValueError("a rim narrower than one capillary length is outside the theory")
    if slope <= LOWEST:
        return 0.0

    def miss(log_height: float) -> float:
        return _outside(radius, float(np.exp(log_height)), slope)[0] - radius

    found = root(miss, -2.0 * FAR, float(np.log(4.0)) - 0.1 * FAR, xtol=1e-9)
    return _outside(radius, float(np.exp(found)), slope)[1]


def _cap(log_height: float, slope: float) -> tuple[float, float]:
    """Radius and head at which a cap has a slope; log_height: logarithm of the head at its apex.

    The head itself underflows for a hole hundreds of capillary lengths wide.
    """
    # While flat, the surface is z = height I_0(r); start before it is steeper than FLAT.
    steep = math.log(slope) - log_height
    r = max(math.exp(min(0.0, steep)) * FLAT, math.log(FLAT) + steep)
    apex = math.exp(log_height + r)
    first = (r, apex * _scaled_bessel_i(0, r), apex * _scaled_bessel_i(1, r))
    return _until_slope(first, slope, 1.0)


def _outside(radius: float, height: float, slope: float) -> tuple[float, float]:
    """Radius and depth at which a meniscus, followed inwards from a small height, has a slope."""
    r = radius + FAR
    rise = height * _ratio_k(r)
    return _until_slope((r, height, math.atan(rise)), slope, -1.0)


def _until_slope(
    first: tuple[float, float, float], slope: float, outwards: float
) -> tuple[float, float]:
    """Radius and height of a meniscus followed outwards (1) or inwards (-1) to a slope."""
    r, z, phi = first
    room = np.empty((len(PARTS), 2))
    log_r, z = followed(math.log(phi), math.log(r), z, math.log(slope), outwards, room)
    if math.isnan(log_r):
        raise ArithmeticError(f"the shape of a meniscus did not end after {MOST_STEPS} steps")
    return math.exp(log_r), z


def _scaled_bessel_i(order: int, r: float) -> float:
    """exp(-r) I_0(r) or exp(-r) I_1(r)."""
    if r <= LONG_SERIES:
        return _bessel_i(order, r) * math.exp(-r)
    from scipy.special import ive  # slow to import, and hardly a hole is that wide

    return float(ive(order, r))


def _bessel_i(order: int, r: float) -> float:
    """I_0 or I_1 by its series, whose terms are all positive (Abramowitz & Stegun 9.6.10)."""
    term = total = (0.5 * r) ** order
    k = 1
    while term > 1e-17 * total:
        term *= 0.25 * r * r / (k * (k + order))
        total += term
        k += 1
    return total


def _ratio_k(r: float) -> float:
    """K_1 / K_0 far out, by the integrals of exp(-r cosh t) cosh(n t) (Abramowitz & Stegun 9.6.24).

    The trapezoidal rule gives them to round-off: they decay faster than any exponential.
    """
    t = np.linspace(0.0, REACH / math.sqrt(r), PANELS + 1)
    weight = np.exp(-r * (np.cosh(t) - 1.0))
    weight[0] *= 0.5
    return float(np.sum(weight * np.cosh(t)) / np.sum(weight))
