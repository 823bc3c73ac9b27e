"""Integration of a meniscus along its arc (Young-Laplace); see statics/capillarity.py.

Modified midpoint steps, extrapolated (Gragg, Bulirsch & Stoer; Hairer, Norsett & Wanner, Solving
Ordinary Differential Equations I, II.9).
"""

import math

from sinkbowl.compiled import kernel, part

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
