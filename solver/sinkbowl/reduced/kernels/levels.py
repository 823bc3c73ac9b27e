"""Volume below a height, area at it, and the inverse; see common/numerics.py.

V(z) = V_i + s (c_1 + s (c_2 + s c_3)), s = z - z_i, with a circular segment of each round ring. The
inverse is Newton's method in a shrinking bracket.
"""

import math

from sinkbowl.compiled import part
from sinkbowl.statics.kernels import newton_step

MOST_STEPS = 100
CLOSE = 1e-15
"""Accuracy of a level as a share of the heights' range."""


@part
def interval(heights, z):
    """Index of the interval that contains z; the first or last one beyond the ends."""
    low, high = 0, heights.size - 1
    while high - low > 1:
        middle = (low + high) // 2
        if z >= heights[middle]:
            low = middle
        else:
            high = middle
    return low


@part
def volume_and_area(levels, z):
    """Volume [m^3] below z [m], and area [m^2] just above it."""
    heights, cubic, rings = levels.heights, levels.cubic, levels.rings
    at = min(max(z, heights[0]), heights[-1])
    i = interval(heights, at)
    s = at - heights[i]
    volume = cubic[i, 0] + s * (cubic[i, 1] + s * (cubic[i, 2] + s * cubic[i, 3]))
    area = cubic[i, 1] + s * (2.0 * cubic[i, 2] + s * 3.0 * cubic[i, 3])
    for k in range(rings.shape[0]):
        x = min(max((z - rings[k, 2]) / rings[k, 3], -1.0), 1.0)
        chord = math.sqrt(1.0 - x * x)
        volume += rings[k, 0] * (math.pi - math.acos(x) + x * chord) / math.pi
        area += math.copysign(4.0 * math.pi * rings[k, 1] * rings[k, 3] * chord, rings[k, 0])
    return volume, area


@part
def level_of(levels, volume, guess):
    """Height [m] below which a volume [m^3] lies, and the area there [m^2].

    guess : initial height [m]
    """
    low, high = levels.heights[0], levels.heights[-1]
    close = CLOSE * (high - low)
    z = min(max(guess, low), high)
    area = 0.0
    for _ in range(MOST_STEPS):
        here, area = volume_and_area(levels, z)
        before = z
        z, low, high = newton_step(z, here - volume, area, low, high)
        if abs(z - before) <= close:
            break
    return z, area


@part
def between(columns, k, place):
    """Column k of a table (n, m) of equidistant rows at a position 0 .. n - 1, linear between."""
    last = columns.shape[0] - 1
    at = min(max(place, 0.0), float(last))
    i = min(int(at), last - 1)
    share = at - i
    return columns[i, k] + share * (columns[i + 1, k] - columns[i, k])
