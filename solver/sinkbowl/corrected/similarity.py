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

What is learnt depends on five of them, on the pace, and on the share of its time after which heave
has done half of the way (`Likeness`). How much heave can be off is known beforehand:

    scale = 1 / (r (1 + c pace / b^2)),

r the bowl's speed at the rim over its mean speed, b the hole over the rim, pace here T / P. An
error of the draft becomes one of time by 1/r; theory leaves out terms of the order of b^2, and what
comes in the first bob, a share 1/pace of the time. A narrow hole's scale is nothing: heave stands.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from sinkbowl.case.case import Case
from sinkbowl.common.constants import GRAVITY
from sinkbowl.common.roots import root as find_root
from sinkbowl.common.sinking import FloatArray, Sinking
from sinkbowl.statics.hydrostatics import heave_period
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
        raise ValueError("a bowl that goes under at once has no heave period")
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


LEARNT_BY = ("load", "shell", "height", "fullness", "foot", "pace", "half")
"""Numbers that the difference of flow and heave depends on; half: ln of the share of the time."""

NARROW = 0.045
"""c of the scale: of greatest likelihood; 0.02 to 0.1 do nearly as well."""


@dataclass(frozen=True, eq=False)
class Likeness:
    """What heave's solution of a bowl says of how far off it may be.

    x: (7,) as in `LEARNT_BY`; scale: see the module; pace: T / P; stalls: whether it nearly does.
    """

    x: FloatArray
    scale: float
    pace: float
    stalls: bool

    @property
    def rough(self) -> float:
        """Shape of the variance that no smooth surface explains: from the second bob on."""
        return self.scale * self.pace**4 / (1.0 + self.pace**4)


def likeness(case: Case, heave: Sinking) -> Likeness:
    """Of a bowl that floats dry and sinks by the heave model.

    Raises
    ------
    ValueError : the bowl goes under at once
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
    """Time at which a draft [m] is first reached, cubic between two moments [s]."""
    k = max(int(np.argmax(sinking.draft >= depth)), 1)
    (t, end), (a, b) = sinking.t[k - 1 : k + 1], sinking.draft[k - 1 : k + 1]
    step = end - t
    u, v = step * sinking.speed[k - 1 : k + 1]

    def short_of(s: float) -> float:
        way = s * s * (3.0 - 2.0 * s) * (b - a) + s * (1.0 - s) * ((1.0 - s) * u - s * v)
        return float(a + way - depth)

    return float(t + step * find_root(short_of, 0.0, 1.0))
