"""Equilibrium heel of an unstable bowl, or that it tips.

A film of water on the base has its full free-surface effect only at an infinitesimal heel: once it
has run to one side it moves no further. So a bowl with a negative metacentric height may heel by a
few degrees (angle of loll) until more water rights it. The righting arm at a finite heel phi
follows from the volumes below the inclined levels,

    W GZ / (rho g) = V B.t - V_in C.t - (m / rho) G.t,    t = (cos phi, sin phi),

with B and C the centres of the displaced and of the inner water in the bowl frame (`kernels`)
and G that of shell and ring. The ring counts with the part that is wet when upright.
"""

import math
from functools import lru_cache
from typing import NamedTuple

import numpy as np

from sinkbowl.bowl.bowl import Bowl
from sinkbowl.bowl.hull import Hull
from sinkbowl.case.case import Case
from sinkbowl.common import GRAVITY
from sinkbowl.common.numerics import root
from sinkbowl.statics.hydrostatics import draft_at
from sinkbowl.statics.kernels import heeled

HEEL_STEPS = np.radians([0.02, 1.0, 3.0, 6.0, 10.0, 15.0, 20.0, 30.0, 45.0, 60.0])
"""Heels [rad] tried in turn while the rim is dry, then the one at which it just is; a bowl righted
at the first stays upright, one not righted at the last tips."""

LEAST_HEEL = float(HEEL_STEPS[0])  # small heel [rad] from which an upright bowl must be righted
NEARLY = 0.9999  # share of the flooding heel up to which heels are tried: its rim is just dry there

CLOSE_HEEL, CLOSE_REST = 1e-6, 1e-6
"""How close the flooding heel and a heel of rest are found [rad]."""


class HeeledWater(NamedTuple):
    """Water below an inclined level.

    level : distance along the vertical from z = 0 on the axis [m]
    volume : [m^3]
    moment_x : first moment towards the side that is down [m^4]
    moment_z : first moment about the bowl frame's z = 0 [m^4]
    """

    level: float
    volume: float
    moment_x: float
    moment_z: float


class _Floating(NamedTuple):
    """What a floating bowl keeps at every heel.

    hull_volume, hull_level : water displaced by the hull [m^3], and its level upright [m]
    water, water_level : the same of the water inside
    displaced : by hull and outer ballast [m^3]
    weight : first moment of all weights but the inner water about z = 0, over the water's
        density, less that of the water that ballast displaces [m^4]
    """

    hull_volume: float
    hull_level: float
    water: float
    water_level: float
    displaced: float
    weight: float


def resting_heel(case: Case, inner_level: float, moment: float = 0.0) -> float | None:
    """Equilibrium heel [rad] after a small disturbance, 0 upright; None if the bowl tips.

    It then heels until its rim dips.

    case : the bowl
    inner_level : height of the inner level above the inner base when upright [m]
    moment : heeling moment when upright [N m], >= 0; it falls with the cosine of the heel, as
        that of a force in the bowl's frame does that stays upright
    """
    righted = righted_between(case, inner_level, moment)
    if righted is None or (righted[0] == 0.0 and moment == 0.0):
        return None if righted is None else 0.0
    lever = _lever(case, inner_level, moment)

    def excess(heel: float) -> float:
        value = _excess(case, inner_level, heel, lever)
        return -1.0 if value is None else value

    return root(excess, *righted, xtol=CLOSE_REST)


def righted_between(
    case: Case, inner_level: float, moment: float = 0.0
) -> tuple[float, float] | None:
    """Two neighbouring tried heels [rad] around the equilibrium.

    The first is 0 for an upright bowl; None for one that tips.
    """
    before, lever = 0.0, _lever(case, inner_level, moment)
    for heel in map(float, HEEL_STEPS):
        excess = _excess(case, inner_level, heel, lever)
        if excess is None:
            break
        if excess > 0.0:
            return before, heel
        before = heel
    last = NEARLY * flooding_heel(case, inner_level)
    excess = _excess(case, inner_level, last, lever) if last > before else None
    return (before, last) if excess is not None and excess > 0.0 else None


@lru_cache(maxsize=16)  # of one bowl at several heels
def _floating(case: Case, inner_level: float) -> _Floating | None:
    """The bowl at rest with an inner level [m]; None if upright its rim is under."""
    draft = draft_at(case, inner_level)
    if draft is None:
        return None
    bowl, z = case.bowl, case.bowl.inner_edge_height + inner_level
    within, beside = case.inner_ballast, case.outer_ballast
    hull_volume, water = float(bowl.outer_volume(draft)), float(bowl.inner_volume(z))
    solid = bowl.mass * bowl.centroid_z + within.mass_moment + beside.mass_moment
    return _Floating(
        hull_volume=hull_volume,
        hull_level=float(bowl.outer_hull.level(hull_volume)),
        water=water,
        water_level=float(bowl.inner_hull.level(water)),
        displaced=hull_volume + beside.volume_below(draft),
        weight=solid / case.water.density - within.moment_below(z) - beside.moment_below(draft),
    )


def _afloat(case: Case, inner_level: float) -> _Floating:
    found = _floating(case, inner_level)
    if found is None:
        raise ValueError(f"with its inner level at {inner_level:.4g} m the bowl is under")
    return found


def _lever(case: Case, inner_level: float, moment: float) -> float:
    """Arm [m] at which the weight of a floating bowl has a moment [N m]."""
    if moment == 0.0:
        return 0.0
    return moment / (GRAVITY * case.water.density * _afloat(case, inner_level).displaced)


def _excess(case: Case, inner_level: float, heel: float, lever: float) -> float | None:
    """Righting arm at a heel less that of a moment [m]; None once the rim is under."""
    arm = righting_arm(case, inner_level, heel) if heel > 0.0 else 0.0
    return None if arm is None else arm - lever * math.cos(heel)


def flooding_heel(case: Case, inner_level: float) -> float:
    """Heel [rad] at which the rim's low point is at the outer surface.

    case : the bowl
    inner_level : height of the inner level above the inner base when upright [m]

    Raises ValueError if its rim is under even when upright.
    """
    bowl, floating = case.bowl, _afloat(case, inner_level)

    def freeboard(heel: float) -> float:
        outside = _heeled(bowl.outer_hull, floating.hull_volume, floating.hull_level, heel)
        return _low_point(bowl, heel) - outside.level

    if freeboard(LEAST_HEEL) <= 0.0:
        return LEAST_HEEL
    return root(freeboard, LEAST_HEEL, np.pi / 2, xtol=CLOSE_HEEL)


def righting_arm(case: Case, inner_level: float, heel: float) -> float | None:
    """Righting arm GZ [m] at a heel [rad], positive if it rights; None if the rim is under."""
    bowl, floating = case.bowl, _floating(case, inner_level)
    if floating is None:
        return None
    outside = _heeled(bowl.outer_hull, floating.hull_volume, floating.hull_level, heel)
    if outside.level >= _low_point(bowl, heel):
        return None
    across, upright = outside.moment_x, outside.moment_z - floating.weight
    if floating.water > 0.0:
        inside = _heeled(bowl.inner_hull, floating.water, floating.water_level, heel)
        across, upright = across - inside.moment_x, upright - inside.moment_z
    return (across * math.cos(heel) + upright * math.sin(heel)) / floating.displaced


def _low_point(bowl: Bowl, heel: float) -> float:
    """Height of the rim's lowest point over z = 0 on the axis, along the vertical [m]."""
    return bowl.rim_height * math.cos(heel) - bowl.rim_radius * math.sin(heel)


def heeled_water(hull: Hull, volume: float, heel: float) -> HeeledWater:
    """A volume of water [m^3] in a hull at a heel [rad], > 0."""
    return _heeled(hull, volume, float(hull.level(volume)), heel)


def _heeled(hull: Hull, volume: float, level: float, heel: float) -> HeeledWater:
    """The same, its level without heel [m] being known."""
    return HeeledWater(*heeled(hull.heights, hull.area, hull.widest_radius, volume, heel, level))
