"""Flooding of a bowl that tips: heel against filling, until its rim dips.

The equilibrium heel of an unstable bowl changes with the inner level. The low point of its rim is
at the outer surface at the flooding heel, where

    level(phi) = H cos phi - R sin phi,

H and R the rim's height and radius, both sides distances along the vertical from the foot of the
axis. Either the equilibrium heel grows to the flooding heel, or it ends below it (no righting arm
at any heel in between): then the bowl rolls on until its rim dips, in a time that statics does not
give. In both cases water comes over the rim from the same inner level on.
"""

from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from sinkbowl.bowl.hull import FloatArray
from sinkbowl.case.case import Case
from sinkbowl.common.numerics import FrozenArrays, bisected
from sinkbowl.statics.heel import flooding_heel, resting_heel, righted_between
from sinkbowl.statics.stability import StabilityCurve, metacentric_height, stability_curve

CLOSE_LEVEL = 1e-6  # accuracy of the inner level at flooding [m]

CLEARLY = 0.99
"""Ratio of the last equilibrium heel to the flooding heel below which the bowl rolls on."""

POINTS = 13  # inner levels of the heel curve, from where the bowl begins to heel to where it floods


@dataclass(frozen=True, eq=False)
class Flooding(FrozenArrays):
    """Heel against filling of a bowl that tips, until a rim point goes under.

    inner_level : above the inner base when upright [m], (n,); from dry to flooding
    heel : of equilibrium [rad], (n,), 0 upright; the last one is the flooding heel
    flooding_heel : at which the rim's low point is at the outer surface [rad]
    rolls : whether it rolls on to that heel from a clearly smaller one
    """

    inner_level: FloatArray
    heel: FloatArray
    flooding_heel: float
    rolls: bool

    @property
    def level(self) -> float:
        """Inner level at which it floods [m]."""
        return float(self.inner_level[-1])

    @property
    def begins(self) -> int:
        """Index of the last level at which it is upright, 0 if there is none."""
        return int(np.flatnonzero(self.heel[:-1] == 0.0)[-1]) if self.heel[0] == 0.0 else 0


def holds(case: Case, inner_level: float) -> bool:
    """Whether the bowl has an equilibrium heel up to the flooding heel."""
    return righted_between(case, inner_level) is not None


@lru_cache(maxsize=4)
def flooding(case: Case) -> Flooding | None:
    """Heel against filling until a rim point goes under.

    None for a bowl that does not tip, also if a finer search finds an equilibrium just below the
    flooding heel at every filling.
    """
    curve = stability_curve(case)
    if curve is None or not (curve.tips or curve.tips_dry):
        return None
    found = _last_held(case, curve)
    if found is None:
        return None
    held, lost = found
    most = flooding_heel(case, lost)
    if held == lost:
        return Flooding(np.array([lost]), np.array([most]), most, True)
    begin = _begin(case, curve, held)
    levels = np.linspace(begin, held, POINTS)
    heels = [resting_heel(case, float(level)) or 0.0 for level in levels]
    heels[0] = 0.0 if begin > curve.inner_level[0] else heels[0]
    level = np.concatenate((levels, [lost]))
    heel = np.array([*heels, most])
    if begin > curve.inner_level[0]:
        level = np.concatenate((curve.inner_level[:1], level))
        heel = np.concatenate(([resting_heel(case, float(level[0])) or 0.0], heel))
    return Flooding(level, heel, most, bool(heel[-2] < CLEARLY * most))


def _last_held(case: Case, curve: StabilityCurve) -> tuple[float, float] | None:
    """Neighbouring inner levels [m], the last with an equilibrium heel and the first without.

    Twice the first level if there is none at it; None if there always is one.
    """
    held = float(curve.inner_level[0])
    for i in np.flatnonzero(curve.metacentric_height <= 0.0):
        lost = float(curve.inner_level[i])
        if not holds(case, lost):
            break
        held = lost
    else:
        return None
    if not holds(case, held):
        return held, held
    return bisected(lambda level: holds(case, level), held, lost, CLOSE_LEVEL)


def _begin(case: Case, curve: StabilityCurve, held: float) -> float:
    """Inner level [m] from which the bowl that floods after `held` is not upright."""
    upright = (curve.metacentric_height > 0.0) & (curve.inner_level <= held)
    if not upright.any():
        return float(curve.inner_level[0])
    last = int(np.flatnonzero(upright)[-1])
    low, high = float(curve.inner_level[last]), min(float(curve.inner_level[last + 1]), held)
    return bisected(lambda z: metacentric_height(case, z) > 0.0, low, high, CLOSE_LEVEL)[0]
