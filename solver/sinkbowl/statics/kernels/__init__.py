"""Kernels of statics: water in a bowl that heels (heel.py), a meniscus (capillarity.py).

*Water in a hull of revolution below an inclined level.* A horizontal slice is a disc of radius R,
cut by the level along a chord at the distance c from the axis, of half length h = sqrt(R^2 - c^2):
the wet segment has area R^2 atan2(h, c) - c h and first moment 2/3 h^3. Slices are added up by
composite Gauss-Legendre quadrature.

*A meniscus along its arc* by the Young-Laplace equation: modified midpoint steps, extrapolated
(Gragg, Bulirsch & Stoer; Hairer, Norsett & Wanner, Solving Ordinary Differential Equations I,
II.9).
"""

import math

import numpy as np

from sinkbowl.compiled import kernel, part


@part
def newton_step(place, excess, slope, low, high):
    """The next place towards the root of an increasing function, and the ends of the bracket.

    excess, slope : of the function at the place

    Half way between the ends if Newton's step leaves the bracket, or the slope is 0.
    """
    if excess > 0.0:
        high = place
    else:
        low = place
    following = place - excess / slope if slope > 0.0 else 0.5 * (low + high)
    if not low <= following <= high:
        following = 0.5 * (low + high)
    return following, low, high


PANELS = 12
"""Equal panels of the quadrature over the height, split further at the hull's steps."""

GAUSS_X, GAUSS_W = (tuple(float(x) for x in row) for row in np.polynomial.legendre.leggauss(8))

NEWTON_STEPS, LEVEL_CLOSE = 60, 1e-10
"""Maximum number of steps towards a heeled level, and its accuracy [m]."""


@part
def water_and_plane(heights, area, widest, level, heel):
    """Volume [m^3], moments about axis and z = 0 [m^4], area of the inclined surface [m^2]."""
    cosine, sine, last = math.cos(heel), math.sin(heel), heights.size - 1
    low, high = heights[0], min(heights[last], (level + widest * sine) / cosine)
    kink = (level - widest * sine) / cosine
    volume = across = upright = chords = 0.0
    begin, panel, i = low, 1, 0
    while begin < high:
        while panel < PANELS and low + panel * (high - low) / PANELS <= begin:
            panel += 1
        end = high if panel == PANELS else low + panel * (high - low) / PANELS
        if begin < kink < end:
            end = kink
        while i + 1 < last and heights[i + 1] <= begin:
            i += 1
        if last < PANELS and heights[i + 1] > begin:
            end = min(end, heights[i + 1])
        for k in range(len(GAUSS_X)):
            z = begin + 0.5 * (end - begin) * (1.0 + GAUSS_X[k])
            while i + 1 < last and heights[i + 1] <= z:
                i += 1
            s = z - heights[i]
            square = max(area[i, 0] + s * (area[i, 1] + s * area[i, 2]), 0.0) / math.pi
            radius = math.sqrt(square)
            chord = min(max((z * cosine - level) / sine, -radius), radius)
            half = math.sqrt(max(square - chord * chord, 0.0))
            weight = 0.5 * (end - begin) * GAUSS_W[k]
            slice_ = weight * (square * math.atan2(half, chord) - chord * half)
            volume += slice_
            across += weight * 2.0 / 3.0 * half**3
            upright += slice_ * z
            chords += weight * half
        begin = end
    return volume, across, upright, 2.0 * chords / sine


@kernel
def heeled(heights, area, widest, volume, heel, upright_level):
    """Level [m] of a volume [m^3] at a heel [rad], and the water below it.

    heights (k+1,), area (k, 3) : of a `Hull`; widest : its largest radius [m]
    upright_level : level of the volume without heel [m]

    The level is a distance along the vertical from z = 0 on the axis, found by Newton's method in a
    shrinking bracket: the volume grows with it at the rate of the inclined surface's area. With it
    the volume and its first moments, towards the side that is down and about z = 0 [m^4].
    """
    reach = widest * math.sin(heel)
    low = heights[0] * math.cos(heel) - reach
    high = heights[-1] * math.cos(heel) + reach
    level = min(max(upright_level * math.cos(heel), low), high)
    for _ in range(NEWTON_STEPS):
        here, _, _, plane = water_and_plane(heights, area, widest, level, heel)
        before = level
        level, low, high = newton_step(level, here - volume, plane, low, high)
        if abs(level - before) < LEVEL_CLOSE:
            break
    here, across, upright, _ = water_and_plane(heights, area, widest, level, heel)
    return level, here, across, upright


ACCURACY = 1e-9
"""Relative tolerance of the integration."""

MOST_STEPS = 20_000
"""Steps of one integration; ten are usual, some hundreds where a neck closes."""

PARTS, FIRST_PARTS = (2, 4, 6, 8, 10, 12), 8
"""Numbers of parts of a step for the extrapolation, and the first step as a part of the way."""


@part
def along(log_phi, log_r, z, outwards):
    """Rates of log r and z with log phi: the slope angle increases monotonically.

    In logarithms the slow start far from the edge, the fast end near it and a closing neck take few
    steps.
    """
    r, phi = math.exp(log_r), math.exp(log_phi)
    rise = math.sin(phi)
    pace = phi / (z - outwards * rise / r)
    return outwards * pace * math.cos(phi) / r, pace * rise


@part
def midpoints(x, a, b, h, parts, outwards):
    """The modified midpoint rule over h in an even number of parts."""
    d = h / parts
    first, second = along(x, a, b, outwards)
    c, e = a + d * first, b + d * second
    for k in range(1, parts):
        first, second = along(x + k * d, c, e, outwards)
        a, b, c, e = c, e, a + 2.0 * d * first, b + 2.0 * d * second
    return c, e


@part
def extrapolated(x, a, b, h, outwards, table):
    """Result of one step, and its error over the accuracy; table: (PARTS, 2) scratch."""
    nearly_a = nearly_b = 0.0
    for k in range(len(PARTS)):
        one, two = midpoints(x, a, b, h, PARTS[k], outwards)
        for j in range(k):
            weight = (PARTS[k] / PARTS[k - 1 - j]) ** 2 - 1.0
            above_one, above_two = table[j, 0], table[j, 1]
            table[j, 0], table[j, 1] = one, two
            nearly_a, nearly_b = one, two
            one, two = one + (one - above_one) / weight, two + (two - above_two) / weight
        table[k, 0], table[k, 1] = one, two
    error = abs(one - nearly_a) / (abs(one) + 1e-3) + abs(two - nearly_b) / (abs(two) + 1e-3)
    return one, two, error / ACCURACY


@kernel
def followed(x, log_r, z, end, outwards, table):
    """log r and z after log phi has increased from x to end; nan after too many steps.

    outwards: 1.0, or -1.0 for a meniscus integrated inwards; table: (PARTS, 2) scratch
    """
    h = (end - x) / FIRST_PARTS
    for _ in range(MOST_STEPS):
        last = abs(h) >= abs(end - x)
        h = end - x if last else h
        one, two, error = extrapolated(x, log_r, z, h, outwards, table)
        if error <= 1.0:
            x, log_r, z = x + h, one, two
            if last:
                return log_r, z
        if not math.isfinite(error):
            error = math.inf  # the step is far too long
        h *= min(max(0.9 * (error + 1e-30) ** (-1.0 / (2 * len(PARTS) - 1)), 0.1), 4.0)
    return math.nan, math.nan
