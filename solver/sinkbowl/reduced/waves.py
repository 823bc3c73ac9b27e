"""Radiated waves, which damp the heave of the bowl.

Waves are made by the displaced volume A V - Q, which is zero in quasi-static sinking and without a
    base. So b (V - Q / A) is the force on the bowl, and divided by A
the pressure at the hole. Haskind's relation gives b from the force of a long wave on the bowl, in
deep water without walls,

    b = omega K X^2 / (2 rho g^2),   X = rho g A exp(-K l),   l = (V_hull + M_11 / rho) / A

(the exponential stands for Froude-Krylov and inertia forces, exact to first order in K l), taken
at the natural frequency omega^2 = g / l, K = 1 / l. The same formula at given K a, against the
hemisphere of Hulme (1982, J. Fluid Mech. 121, 443): within 10 % at K a = 0.1 and a third too much
at K a = 1. Reflection by walls is neglected.
"""

import math

import numpy as np

from sinkbowl.common.constants import GRAVITY
from sinkbowl.statics.added_mass import Value
from sinkbowl.statics.vessel import Outside


def wave_damping(outside: Outside, density: float) -> Value:
    """Damping b of free heave by radiated waves [N s/m].

    Parameters
    ----------
    outside : the outer water at one or many drafts
    density : of the water [kg/m^3]
    """
    length = (outside.displaced + outside.inertia.bowl / density) / outside.area
    frequency = np.sqrt(GRAVITY / length)
    return 0.5 * density * frequency / length * (outside.area * math.exp(-1.0)) ** 2
