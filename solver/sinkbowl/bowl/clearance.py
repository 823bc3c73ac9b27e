"""Whether ballast clears the bowl's shell, and the nearest height at which it does.

In the r-z plane a ring is a circle and the shell a polygon. They do not overlap if the circle's
centre is outside the polygon and at least the circle's radius away from its outline. A tube is a
rectangle, which may touch the polygon but not overlap it.
"""

import math
from collections.abc import Sequence
from dataclasses import replace
from functools import partial

import numpy as np
from shapely import Polygon, box

from sinkbowl.bowl.ballast import Piece, Ring, Tube
from sinkbowl.bowl.bowl import COINCIDENT, Bowl
from sinkbowl.bowl.hull import FloatArray, distance_to
from sinkbowl.common.numerics import bisected

GRADUATION = 1e-5  # proposed heights are multiples of this [m]
LOOSE = 1e-3  # widest gap [m] between a wall and a band that is pressed on it
STRIDES = 400  # number of steps over bowl and piece in the search for a tube's clear height


def room(bowl: Bowl, radius: float, height: float) -> float:
    """Largest section radius [m] of a ring at a radius and height [m].

    0 if its centre line lies in the shell.
    """
    if bowl.contains(radius, height):
        return 0.0
    outline = np.vstack((bowl.polygon, bowl.polygon[:1]))
    return distance_to(np.array([radius, height]), outline)


def clears(bowl: Bowl, piece: Piece, height: float) -> bool:
    """Whether the piece, its centre at a height [m], at most touches the shell."""
    if isinstance(piece, Ring):
        return room(bowl, piece.radius, height) >= piece.section_radius - COINCIDENT
    moved = replace(piece, height=height)
    spare = COINCIDENT
    inner = box(
        moved.inner + spare, moved.lowest + spare, moved.outer - spare, moved.highest - spare
    )
    return not inner.intersects(Polygon(bowl.polygon))


def off_the_wall(bowl: Bowl, band: Tube) -> tuple[float, float] | None:
    """Inner and outer radius [m] of the shell beside a band that cuts into it or hangs off it.

    Rounded so that a band of that radius clears the shell; None if the band lies against it, or
    none of it is at the band's height.
    """
    shell = Polygon(bowl.polygon)
    beside = shell.intersection(box(0.0, band.lowest, 2.0 * shell.bounds[2], band.highest))
    if beside.area == 0.0:
        return None
    gap = Polygon(band.outline).distance(shell)
    if gap <= LOOSE and clears(bowl, band, band.height):
        return None
    inner, outer = np.array(beside.bounds)[[0, 2]] / GRADUATION
    return GRADUATION * math.floor(inner + 0.01), GRADUATION * math.ceil(outer - 0.01)


def first_overlap(pieces: Sequence[Piece]) -> tuple[int, int] | None:
    """Indices of two pieces that overlap; None if all at most touch."""
    sections = [Polygon(piece.outline).buffer(-COINCIDENT) for piece in pieces]
    for j, section in enumerate(sections):
        for i in range(j):
            if section.intersects(sections[i]):
                return i, j
    return None


def nearest_clear_height(bowl: Bowl, piece: Piece) -> float:
    """Height [m] nearest to the piece's own at which it clears the shell.

    A ring touches there: the circle's centre lies above a corner at the radius of the section, or
    on a line beside a segment at that distance. For a tube: search in steps, then bisection.
    """
    if isinstance(piece, Ring):
        touching = _touching(bowl.polygon, piece.radius, piece.section_radius)
        steps = touching / GRADUATION
        proposed = GRADUATION * np.unique(np.concatenate((np.floor(steps), np.ceil(steps))))
        by_distance = proposed[np.argsort(np.abs(proposed - piece.height))]
        return next(float(height) for height in by_distance if clears(bowl, piece, float(height)))
    stride = (bowl.rim_height + piece.thickness) / STRIDES
    for k in range(1, 4 * STRIDES):
        for way in (-1.0, 1.0):
            free, shut = piece.height + way * k * stride, piece.height + way * (k - 1) * stride
            if clears(bowl, piece, free):
                free, _ = bisected(partial(clears, bowl, piece), free, shut, 0.1 * GRADUATION)
                rounded = np.ceil(way * free / GRADUATION - 0.2) * way * GRADUATION
                return float(rounded) if clears(bowl, piece, float(rounded)) else free
    return piece.height + 4.0 * (bowl.rim_height + piece.thickness)


def _touching(polygon: FloatArray, radius: float, section: float) -> FloatArray:
    """Heights [m] at which a circle about `radius` touches a corner or a side's line."""
    r, z = polygon.T
    rise = np.sqrt(np.maximum(section**2 - (r - radius) ** 2, 0.0))
    near = np.abs(r - radius) <= section
    corners = np.concatenate(((z + rise)[near], (z - rise)[near]))
    along = np.roll(polygon, -1, axis=0) - polygon
    level = np.abs(along[:, 0]) > COINCIDENT
    dr, dz = along[level].T
    on_line = z[level] + (radius - r[level]) * dz / dr
    beside = section * np.hypot(1.0, dz / dr)
    return np.concatenate((corners, on_line + beside, on_line - beside))
