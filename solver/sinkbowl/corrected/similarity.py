"""Dimensionless numbers of a bowl on which the error of the heave model depends.

Two bowls with the same numbers sink alike, with times as sqrt(length / g) (Froude similarity);
viscosity enters by the size, g R^3 / nu^2 (Galilei number). Four numbers of the plugged outer hull
describe the shape, so that any outline has a place on the map of cups, cones and caps:

- hole: its diameter over that of the rim;
- load: mass over that of the water that the hull displaces down to its rim;
- shell: water that the shell itself displaces, over the same;
- height: from the hole's lower edge to the rim, over the rim's radius (its logarithm);
- fullness: volume of the hull over that of a cylinder around it;
- foot: waterplane a tenth of the height up, over that of the rim;
- lip: length of the hole over its diameter;
- size: ln(g R^3 / nu^2) / 2;
- pace: asinh(2 T / P), T the heave model's sinking time, P the heave period. For a bowl that sinks
  within one or two periods it matters whether the rim is reached on the way down or up: the
  difference between flow and heave oscillates with T / P and vanishes on both sides.

The correction depends on five of them, on the pace, and on the share of the time that heave takes
for half of the way (`Likeness`). The expected error of heave has the scale

    scale = 1 / (r (1 + c pace / b^2)),

r the bowl's speed at the rim over its mean speed, b the hole over the rim, pace here T / P. An
error of the draft becomes one of time by 1/r; theory neglects terms of the order of b^2 and the
first period, a share 1/pace of the time. For a narrow hole the scale tends to 0: heave is right.
"""

import math
from dataclasses import dataclass

import numpy as np

from sinkbowl.case.case import Case
from sinkbowl.common import GRAVITY
from sinkbowl.common.numerics import root as find_root
from sinkbowl.common.sinking import FloatArray, Sinking
from sinkbowl.statics.hydrostatics import heave_period
from sinkbowl.statics.vessel import vessel_of

NAMES = ("hole", "load", "shell", "height", "fullness", "foot", "lip", "size", "pace")
"""Names of the numbers, in the order of `similarity`."""

FOOT = 0.1  # share of the height of the foot's waterplane: above a rounded edge


def similarity(case: Case, heave_time: float) -> FloatArray:
    """Dimensionless numbers of a case, (9,), in the order of `NAMES`.

    heave_time: the heave model's sinking time [s]. Raises ValueError if the bowl goes under at
    once.
    """
    period = heave_period(case)
    if period is None:
        raise ValueError("a bowl that goes under at once has no heave period")
    vessel, bowl = vessel_of(case), case.bowl
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


LEARNT_BY = ("load", "shell", "height", "fullness", "foot", "pace", "half")
"""Numbers that the difference of flow and heave depends on; half: ln of the share of the time."""

NARROW = 0.045  # c of the scale, of maximum likelihood; 0.02 to 0.1 are nearly as good


@dataclass(frozen=True, eq=False)
class Likeness:
    """Coordinates and scale of the expected error of heave.

    x: (7,) as in `LEARNT_BY`; scale: see the module; pace: T / P; stalls: whether it nearly stalls.
    """

    x: FloatArray
    scale: float
    pace: float
    stalls: bool

    @property
    def rough(self) -> float:
        """Factor of the variance that no smooth surface explains.

        From the second period on, and smaller the less a period is of the time.
        """
        return self.scale * self.pace**4 / (1.0 + self.pace**4) / (1.0 + self.pace)


def likeness(case: Case, heave: Sinking) -> Likeness:
    """`Likeness` of a bowl that floats dry and sinks by the heave model.

    Raises ValueError if the bowl goes under at once.
    """
    assert heave.sinking_time is not None
    hole, load, shell, height, fullness, foot, _, _, pace = similarity(case, heave.sinking_time)
    start, bobs = heave.draft[0], 0.5 * math.sinh(pace)
    half = _reached(heave, 0.5 * (start + case.bowl.rim_height))
    share = half / heave.sinking_time
    scale = 1.0 / (heave.rim_speed * (1.0 + NARROW * bobs / hole**2))
    x = np.array([load, shell, height, fullness, foot, pace, math.log(share)])
    return Likeness(x, scale, bobs, heave.nearly_stalls)


def _reached(sinking: Sinking, depth: float) -> float:
    """Time at which a draft [m] is first reached [s].

    Cubic, not linear as `first_at`: a model keeps only a thousand moments.
    """
    k = max(int(np.argmax(sinking.draft >= depth)), 1)
    (t, end), (a, b) = sinking.t[k - 1 : k + 1], sinking.draft[k - 1 : k + 1]
    step = end - t
    u, v = step * sinking.speed[k - 1 : k + 1]

    def short_of(s: float) -> float:
        way = s * s * (3.0 - 2.0 * s) * (b - a) + s * (1.0 - s) * ((1.0 - s) * u - s * v)
        return float(a + way - depth)

    return float(t + step * find_root(short_of, 0.0, 1.0))
