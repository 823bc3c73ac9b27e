"""The dimensionless numbers of a bowl that decide how far the heave model is off.

Two bowls with the same numbers sink alike, times as sqrt(length / g) (Froude's similarity): what
viscosity does is in the size, g R^3 / nu^2 (Galilei's number). Shapes enter by four numbers of the
plugged outer hull, so that any outline has a place on the map of cups, cones and caps:

- hole: its diameter over that of the rim;
- load: mass over that of the water that the hull displaces down to its rim;
- shell: water that the shell itself displaces, over the same;
- height: from the hole's lower edge to the rim, over the rim's radius (its logarithm);
- fullness: volume of the hull over that of a cylinder around it;
- foot: waterplane a tenth of the height up, over that of the rim;
- lip: length of the hole over its diameter;
- size: ln(g R^3 / nu^2) / 2;
- pace: asinh(2 T / P), T the heave model's sinking time, P the period of free bobbing. Where a bowl
  goes down within a bob or two, it matters whether its rim is reached on the way down or up: the
  difference between flow and heave swings with T / P, and dies out on both sides.
"""

from __future__ import annotations

import math

import numpy as np

from sinkbowl.case.case import Case
from sinkbowl.common.constants import GRAVITY
from sinkbowl.common.sinking import FloatArray
from sinkbowl.statics.bobbing import heave_period
from sinkbowl.statics.vessel import Vessel

NAMES = ("hole", "load", "shell", "height", "fullness", "foot", "lip", "size", "pace")
"""What the numbers are, in the order in which `similarity` gives them."""

FOOT = 0.1
"""Share of the height at which the foot's waterplane is taken: clear of a rounded edge."""


def similarity(case: Case, heave_time: float) -> FloatArray:
    """Dimensionless numbers of a case, (9,), in the order of `NAMES`.

    heave_time: the heave model's sinking time [s].

    Raises
    ------
    ValueError : the bowl goes under at once
    """
    period = heave_period(case)
    if period is None:
        raise ValueError("a bowl that goes under at once does not bob")
    vessel, bowl = Vessel(case), case.bowl
    height = vessel.rim - vessel.outer_edge
    plane = math.pi * vessel.rim_radius**2
    hull = float(bowl.outer_hull.volume[-1])
    viscosity = case.water.viscosity / case.water.density
    return np.array(
        [
            vessel.hole_radius / vessel.rim_radius,
            vessel.mass / (vessel.density * vessel.hull_volume),
            bowl.solid_volume / hull,
            math.log(height / vessel.rim_radius),
            hull / (plane * height),
            float(bowl.outer_hull.waterplane(vessel.outer_edge + FOOT * height)) / plane,
            bowl.base_thickness / case.hole.diameter,
            0.5 * math.log(GRAVITY * vessel.rim_radius**3 / viscosity**2),
            math.asinh(2.0 * heave_time / period),
        ]
    )
