"""Water in a hull of revolution below an inclined level; see statics/heel.py.

A horizontal slice is a disc of radius R, cut by the level along a chord at the distance c from the
axis, of half length h = sqrt(R^2 - c^2): the wet segment has area R^2 atan2(h, c) - c h and first
moment 2/3 h^3. Slices are added up by composite Gauss-Legendre quadrature.
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
