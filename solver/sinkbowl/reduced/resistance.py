"""Resistance of the outer water to the bowl's motion: drag, and radiated waves.

*Drag* of the bottom in still water, quadratic: F = 1/2 rho C_D A V |V| with A the outer waterplane
minus the hole. C_D is that of a disc normal to the flow, 1.1 (Munson, Fundamentals of Fluid
Mechanics, fig. 9.20, Re > 1000; Hoerner has 1.17), for a flat bottom and 0.38 (hollow hemisphere,
convex side first; also printed 0.34) for a hemispherical one, by a straight line in the depth of
the equivalent half spheroid between. The values are for bodies with water on all sides; 10 % for a
disc, rather 20 % for a bowl whose upper side carries its own water.

*Waves* damp the heave. They are made by the displaced volume A V - Q, which is zero in quasi-static
sinking and without a base. So b (V - Q / A) is the force on the bowl, and divided by A the pressure
at the hole. Haskind's relation gives b from the force of a long wave on the bowl, in deep water
without walls,

    b = omega K X^2 / (2 rho g^2),   X = rho g A exp(-K l),   l = (V_hull + M_11 / rho) / A

(the exponential stands for Froude-Krylov and inertia forces, exact to first order in K l), taken
at the natural frequency omega^2 = g / l, K = 1 / l. The same formula at given K a, against the
hemisphere of Hulme (1982, J. Fluid Mech. 121, 443): within 10 % at K a = 0.1 and a third too much
at K a = 1. Reflection by walls is neglected.
"""

import math

import numpy as np

from sinkbowl.common import GRAVITY
from sinkbowl.statics.added_mass import Value
from sinkbowl.statics.vessel import Outside

FLAT, HEMISPHERE = 0.827, 0.38 * 0.827 / 1.1
"""Drag coefficients of a disc and of a hemisphere's convex side."""


def drag_coefficient(depth_ratio: Value) -> Value:
    """C_D against depth over radius of the equivalent half spheroid (0 flat, 1 hemisphere)."""
    return FLAT + (HEMISPHERE - FLAT) * np.clip(depth_ratio, 0.0, 1.0)


def drag_factor(outside: Outside, hole_area: float, density: float) -> Value:
    """Force against the motion over V |V| [kg/m].

    outside : the outer water at one or many drafts
    hole_area : [m^2]
    density : of the water [kg/m^3]
    """
    area = np.maximum(outside.area - hole_area, 0.0)
    return 0.5 * density * drag_coefficient(outside.depth / outside.radius) * area


def wave_damping(outside: Outside, density: float) -> Value:
    """Damping b of free heave by radiated waves [N s/m].

    outside : the outer water at one or many drafts
    density : of the water [kg/m^3]
    """
    length = (outside.displaced + outside.inertia.bowl / density) / outside.area
    frequency = np.sqrt(GRAVITY / length)
    return 0.5 * density * frequency / length * (outside.area * math.exp(-1.0)) ** 2
