"""Whether the ballast ring clears the bowl's shell, and the nearest height at which it would.

In the r-z plane the ring is a circle and the shell a polygon: they stay apart where the circle's
centre lies outside the polygon and no closer to its outline than the circle's radius.
"""

from __future__ import annotations

import numpy as np

from sinkbowl.bowl.ballast import Ballast
from sinkbowl.bowl.bowl import COINCIDENT, Bowl
from sinkbowl.bowl.hull import FloatArray, distance_to

GRADUATION = 1e-5
"""Heights are proposed in whole steps of this [m]."""


def room(bowl: Bowl, radius: float, height: float) -> float:
    """Radius [m] of the stoutest section that a ring at a radius and height [m] can have.

    0 where its centre line lies in the shell.
    """
    if bowl.contains(radius, height):
        return 0.0
    outline = np.vstack((bowl.polygon, bowl.polygon[:1]))
    return distance_to(np.array([radius, height]), outline)


def clears(bowl: Bowl, ring: Ballast, height: float) -> bool:
    """Whether the ring, its centre at a height [m], at most touches the shell."""
    return room(bowl, ring.radius, height) >= ring.section_radius - COINCIDENT


def nearest_clear_height(bowl: Bowl, ring: Ballast) -> float:
    """Height [m] nearest to the ring's own at which it clears the shell.

    It touches there: the circle's centre lies above a corner at the radius of the section, or on a
    line beside a segment at that distance.
    """
    touching = _touching(bowl.polygon, ring.radius, ring.section_radius)
    steps = touching / GRADUATION
    proposed = GRADUATION * np.unique(np.concatenate((np.floor(steps), np.ceil(steps))))
    by_distance = proposed[np.argsort(np.abs(proposed - ring.height))]
    return next(float(height) for height in by_distance if clears(bowl, ring, float(height)))


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
