"""Quadratic drag of the bowl's bottom in still water.

F = 1/2 rho C_D A V |V| with A the outer waterplane minus the hole. C_D is that of a disc normal to
the flow, 1.1 (Munson, Fundamentals of Fluid Mechanics, fig. 9.20, Re > 1000; Hoerner has 1.17), for
a flat bottom and 0.38 (hollow hemisphere, convex side first; also printed 0.34) for a hemispherical
one, by a straight line in the depth of the equivalent half spheroid between. The values are for
bodies with water on all sides; 10 % for a disc, rather 20 % for a bowl whose upper side carries its
own water.
"""

import numpy as np

from sinkbowl.statics.added_mass import Value
from sinkbowl.statics.vessel import Outside

FLAT, HEMISPHERE = 0.827, 0.38 * 0.827 / 1.1
"""Drag coefficients of a disc and of a hemisphere's convex side."""


def drag_coefficient(depth_ratio: Value) -> Value:
    """C_D against depth over radius of the equivalent half spheroid (0 flat, 1 hemisphere)."""
    return FLAT + (HEMISPHERE - FLAT) * np.clip(depth_ratio, 0.0, 1.0)


def drag_factor(outside: Outside, hole_area: float, density: float) -> Value:
    """Force against the motion over V |V| [kg/m].

    Parameters
    ----------
    outside : the outer water at one or many drafts
    hole_area : [m^2]
    density : of the water [kg/m^3]
    """
    area = np.maximum(outside.area - hole_area, 0.0)
    return 0.5 * density * drag_coefficient(outside.depth / outside.radius) * area
