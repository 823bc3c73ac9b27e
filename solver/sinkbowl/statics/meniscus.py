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
from collections.abc import Callable
from functools import lru_cache

import numpy as np

from sinkbowl.common.roots import root

FAR = 10.0
"""Distance from a rim at which its meniscus has died out, in capillary lengths."""

ACCURACY = 1e-9
"""Relative tolerance of the integration."""

MOST_STEPS = 20_000
"""Steps of one integration; ten are usual, some hundreds where a neck closes."""

PARTS, FIRST_PARTS = (2, 4, 6, 8, 10, 12), 8
"""Parts of a step whose results are extrapolated, and the first step as a part of the way."""

REACH, PANELS = 9.0, 60
"""Upper end of the integrals of K over 1 / sqrt(r), r > 10, and panels up to there."""

Pair = tuple[float, float]
Along = Callable[[float, float, float], Pair]

FLAT = 1e-4
"""Slope over the slope asked for up to which a meniscus is that of the linear theory."""

LOWEST, HIGHEST = 1e-4, np.pi
"""Slopes that a meniscus can be asked for [rad]."""


LONG_SERIES = 100.0
"""Argument up to which the series of a Bessel function is added up here."""


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
    found = root(miss, start - 2.0 * radius - 5.0, start, xtol=1e-9)
    return _cap(found, slope)[1]


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

    found = root(miss, -2.0 * FAR, float(np.log(4.0)) - 0.1 * FAR, xtol=1e-9)
    return _outside(radius, float(np.exp(found)), slope)[1]


def _cap(log_height: float, slope: float) -> tuple[float, float]:
    """Radius and head where a cap has a slope; log_height: logarithm of the head at its apex.

    That head itself is no number any more where a hole is hundreds of capillary lengths wide.
    """
    # While it is flat the surface is z = height I_0(r); start before it is steeper than FLAT.
    steep = math.log(slope) - log_height
    r = max(math.exp(min(0.0, steep)) * FLAT, math.log(FLAT) + steep)
    apex = math.exp(log_height + r)
    first = (r, apex * _scaled_bessel_i(0, r), apex * _scaled_bessel_i(1, r))
    return _until_slope(first, slope, 1.0)


def _outside(radius: float, height: float, slope: float) -> tuple[float, float]:
    """Radius and depth where a meniscus of a small height far out has a slope, coming inwards."""
    r = radius + FAR
    rise = height * _ratio_k(r)
    return _until_slope((r, height, math.atan(rise)), slope, -1.0)


def _until_slope(
    first: tuple[float, float, float], slope: float, outwards: float
) -> tuple[float, float]:
    """Radius and height of a meniscus followed outwards (1) or inwards (-1) to a slope.

    The slope grows all the way; in logarithms the slow start far from the edge, the quick end near
    it and a neck that closes all take few steps.
    """

    def along(log_phi: float, log_r: float, z: float) -> tuple[float, float]:
        r, phi = math.exp(log_r), math.exp(log_phi)
        rise = math.sin(phi)
        pace = phi / (z - outwards * rise / r)
        return outwards * pace * math.cos(phi) / r, pace * rise

    r, z, phi = first
    log_r, z = _followed(along, math.log(phi), (math.log(r), z), math.log(slope))
    return math.exp(log_r), z


def _followed(along: Along, x: float, y: Pair, end: float) -> Pair:
    """Two numbers at the end of their way from x.

    Modified midpoint steps, extrapolated (Gragg, Bulirsch & Stoer; Hairer, Norsett & Wanner,
    Solving Ordinary Differential Equations I, II.9).
    """
    h = (end - x) / FIRST_PARTS
    for _ in range(MOST_STEPS):
        last = abs(h) >= abs(end - x)
        h = end - x if last else h
        try:
            best, error = _extrapolated(along, x, y, h)
        except (OverflowError, ValueError, ZeroDivisionError):
            best, error = y, math.inf  # far too long a step
        if error <= 1.0:
            x, y = x + h, best
            if last:
                return y
        h *= min(max(0.9 * (error + 1e-30) ** (-1.0 / (2 * len(PARTS) - 1)), 0.1), 4.0)
    raise ArithmeticError(f"a meniscus was not followed to its end in {MOST_STEPS} steps")


def _extrapolated(along: Along, x: float, y: Pair, h: float) -> tuple[Pair, float]:
    """Result of one step, and its error over the accuracy asked for."""
    rows: list[list[Pair]] = []
    for k, parts in enumerate(PARTS):
        row = [_midpoints(along, x, y, h, parts)]
        for j, (c, d) in enumerate(rows[-1] if rows else ()):
            weight = (parts / PARTS[k - 1 - j]) ** 2 - 1.0
            a, b = row[-1]
            row.append((a + (a - c) / weight, b + (b - d) / weight))
        rows.append(row)
    best, nearly = rows[-1][-1], rows[-1][-2]
    missing = (abs(a - b) / (abs(a) + 1e-3) for a, b in zip(best, nearly, strict=True))
    error = sum(missing) / ACCURACY
    return best, math.inf if math.isnan(error) else error


def _midpoints(along: Along, x: float, y: Pair, h: float, parts: int) -> Pair:
    """The modified midpoint rule over h in an even number of parts."""
    d = h / parts
    slope = along(x, *y)
    (a, b), (c, e) = y, (y[0] + d * slope[0], y[1] + d * slope[1])
    for k in range(1, parts):
        slope = along(x + k * d, c, e)
        a, b, c, e = c, e, a + 2.0 * d * slope[0], b + 2.0 * d * slope[1]
    return c, e


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

    The trapezoidal rule takes them to round-off: they fall off faster than any exponential.
    """
    t = np.linspace(0.0, REACH / math.sqrt(r), PANELS + 1)
    weight = np.exp(-r * (np.cosh(t) - 1.0))
    weight[0] *= 0.5
    return float(np.sum(weight * np.cosh(t)) / np.sum(weight))
