"""Three stages of the water in a bowl: free bell, filling annulus, submerged jet.

The jet's water first flies, a bell over a dry base. It *lands* when the bowl carries a share
`CARRIED` of the inner water's weight. It then lies around the jet until it has run in to the hole:
the jet is *submerged* when the pressure beside its foot, minus that of closed-off air, is a share
`STANDING` of the pressure of all the water lying flat.

Both follow from the flow's history. With P the upward momentum of the inner water, W its volume and
F_h the thrust through the hole, the bowl pushes it upwards with

    F = P' - F_h + rho g W,

averaged over a short time. In the heave model F is the weight of the water not aloft plus the
momentum of landing water, and the share of the pressure is w (solver/HEAVE.md, section 3).
"""

import math
from collections.abc import Mapping
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from sinkbowl.case.case import Case
from sinkbowl.common import GRAVITY
from sinkbowl.common.sinking import FloatArray, Sinking
from sinkbowl.reduced.kernels.heave import ALOFT, FORCE_DOWN, SHARE, STATE, TERMS
from sinkbowl.reduced.legs import terms_along
from sinkbowl.reduced.start import beginning
from sinkbowl.reduced.tables import tabulate
from sinkbowl.statics.hydrostatics import held_level

NAMES = ("free bell", "filling annulus", "submerged jet")

CARRIED, STANDING = 0.1, 0.5  # shares of the weight and of the pressure, see the module

MEAN_OVER = 0.2
"""Time over which the flow's force and pressure are averaged, times sqrt(R/g), R at the rim."""

AIR = "pocket_pressure"  # column of the pressure of closed-off air
READINGS = ("inner_momentum", "hole_thrust", "foot_pressure")  # required columns of the history


class Stages(NamedTuple):
    """Times at which the first water lands and the jet is submerged [s]; None if not."""

    landed: float | None
    submerged: float | None


def stages_of_flow(case: Case, history: Mapping[str, FloatArray]) -> Stages | None:
    """Stages of a flow run; None if its history does not have the readings."""
    if not all(name in history for name in READINGS) or _has_none(case):
        return None
    t, weight = history["t"], case.water.density * GRAVITY
    half = 0.5 * MEAN_OVER * math.sqrt(case.bowl.rim_radius / GRAVITY)
    middle = t[(t >= t[0] + half) & (t <= t[-1] - half)]
    push = weight * history["inner_volume"] - history["hole_thrust"]

    def mean(values: FloatArray, gain: FloatArray | None = None) -> FloatArray:
        """Mean over the window about each middle, plus the rate of another quantity."""
        total = np.concatenate(([0.0], np.cumsum(0.5 * (values[1:] + values[:-1]) * np.diff(t))))
        if gain is not None:
            total = total + gain
        ends = (np.interp(middle + side * half, t, total) for side in (-1.0, 1.0))
        low, high = ends
        return np.asarray((high - low) / (2.0 * half))

    force, volume = mean(push, history["inner_momentum"]), mean(history["inner_volume"])
    foot = history["foot_pressure"]
    if AIR in history:
        foot = foot - history[AIR]
    level = mean(history["inner_level"])
    return _stages(
        case, middle, force >= CARRIED * weight * volume, mean(foot) >= STANDING * weight * level
    )


def stages_of_heave(case: Case, sinking: Sinking) -> Stages | None:
    """Stages of the heave model's sinking of the case."""
    if _has_none(case) or len(sinking.t) < 2:
        return None
    bowl = tabulate(case).bowl
    kept = sinking.t <= sinking.events.get("rim_under", math.inf)
    course = np.zeros((int(kept.sum()), STATE))
    columns = (sinking.draft, sinking.speed, sinking.inner_volume, sinking.hole_flow)
    course[:, :4] = np.column_stack(columns)[kept]
    terms = terms_along(bowl, sinking.t[kept], course).T
    weight = bowl.density * GRAVITY * course[:, 2]
    resting = GRAVITY * (bowl.density * np.maximum(course[:, 2] - bowl.plug, 0.0))
    force = resting - GRAVITY * terms[TERMS + ALOFT] + terms[TERMS + FORCE_DOWN]
    return _stages(case, sinking.t[kept], force >= CARRIED * weight, terms[SHARE] >= STANDING)


def _has_none(case: Case) -> bool:
    """Whether it goes under at once, has no base, or begins with water inside."""
    return beginning(case).under or case.base_gone or held_level(case) is not None


def _stages(
    case: Case, t: FloatArray, carried: NDArray[np.bool_], standing: NDArray[np.bool_]
) -> Stages:
    """First times (n,) of the first condition and, after it, of the second.

    Nothing lands before a fountain under the starting head has risen.
    """
    rise = math.sqrt(2.0 * max(beginning(case).head, 0.0) / GRAVITY)
    landed = _first(t, carried & (t > rise))
    submerged = None if landed is None else _first(t, standing & (t >= landed))
    return Stages(landed, submerged)


def _first(t: FloatArray, held: NDArray[np.bool_]) -> float | None:
    return float(t[np.argmax(held)]) if held.any() else None
