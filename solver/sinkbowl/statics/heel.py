"""Equilibrium heel of an unstable bowl, or that it tips.

A film of water on the base has its full free-surface effect only at an infinitesimal heel: once it
has run to one side it moves no further. So a bowl with a negative metacentric height may heel by a
few degrees (angle of loll) until more water rights it. The righting arm at a finite heel phi
follows from the volumes below the inclined levels,

    W GZ / (rho g) = V B.t - V_in C.t - (m / rho) G.t,    t = (cos phi, sin phi),

with B and C the centres of the displaced and of the inner water in the bowl frame and G that of
shell and ring. Each horizontal slice is a disc cut by the level along a chord, with area and first
moment of a circular segment. The ring counts with the part that is wet when upright.
"""

from typing import NamedTuple

import numpy as np

from sinkbowl.bowl.hull import FloatArray, Hull
from sinkbowl.case.case import Case
from sinkbowl.common.constants import GRAVITY
from sinkbowl.common.roots import root
from sinkbowl.statics.hydrostatics import displaced_volume, draft_at

HEEL_STEPS = np.radians([0.02, 1.0, 3.0, 6.0, 10.0, 15.0, 20.0, 30.0, 45.0, 60.0])
"""Heels [rad] tried in turn while the rim is dry, then the one at which it just is; a bowl righted
at the first stays upright, one not righted at the last tips."""

LEAST_HEEL = float(HEEL_STEPS[0])
"""Small heel [rad] from which an upright bowl must be righted."""

NEARLY = 0.9999
"""Share of the flooding heel up to which heels are tried: its rim is just dry there."""

CLOSE_HEEL, CLOSE_REST = 1e-6, 1e-6
"""How close the flooding heel and a heel of rest are found [rad]."""

PANELS = 12
"""Equal panels of the quadrature over the height, split further at the hull's steps."""

NEWTON_STEPS, LEVEL_CLOSE = 60, 1e-10
"""Maximum number of steps towards a heeled level, and its accuracy [m]."""

GAUSS_X, GAUSS_W = np.polynomial.legendre.leggauss(8)


class HeeledWater(NamedTuple):
    """Water below an inclined level: volume and first moments.

    Attributes
    ----------
    volume : [m^3]
    moment_x : first moment towards the side that is down [m^4]
    moment_z : first moment about the bowl frame's z = 0 [m^4]
    """

    volume: float
    moment_x: float
    moment_z: float


def resting_heel(case: Case, inner_level: float, moment: float = 0.0) -> float | None:
    """Equilibrium heel [rad] after a small disturbance, 0 upright.

    Parameters
    ----------
    case : the bowl
    inner_level : height of the inner level above the inner base when upright [m]
    moment : heeling moment when upright [N m], >= 0; it falls with the cosine of the heel, as
        that of a force in the bowl's frame does that stays upright

    Returns
    -------
    The heel, or None if the bowl tips: it heels until its rim dips.
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


def _floating_draft(case: Case, inner_level: float) -> float:
    draft = draft_at(case, inner_level)
    if draft is None:
        raise ValueError(f"with its inner level at {inner_level:.4g} m the bowl is under")
    return draft


def _lever(case: Case, inner_level: float, moment: float) -> float:
    """Arm [m] at which the weight of a floating bowl has a moment [N m]."""
    if moment == 0.0:
        return 0.0
    draft = _floating_draft(case, inner_level)
    return moment / (GRAVITY * case.water.density * displaced_volume(case, draft))


def _excess(case: Case, inner_level: float, heel: float, lever: float) -> float | None:
    """Righting arm at a heel less that of a moment [m]; None once the rim is under."""
    arm = righting_arm(case, inner_level, heel) if heel > 0.0 else 0.0
    return None if arm is None else arm - lever * float(np.cos(heel))


def flooding_heel(case: Case, inner_level: float) -> float:
    """Heel [rad] at which the rim's low point is at the outer surface.

    Parameters
    ----------
    case : the bowl
    inner_level : height of the inner level above the inner base when upright [m]

    Raises
    ------
    ValueError : its rim is under even when upright
    """
    draft = _floating_draft(case, inner_level)
    bowl = case.bowl
    volume = float(bowl.outer_volume(draft))

    def freeboard(heel: float) -> float:
        low_point = bowl.rim_height * np.cos(heel) - bowl.rim_radius * np.sin(heel)
        return float(low_point - heeled_level(bowl.outer_hull, volume, heel))

    if freeboard(LEAST_HEEL) <= 0.0:
        return LEAST_HEEL
    return root(freeboard, LEAST_HEEL, np.pi / 2, xtol=CLOSE_HEEL)


def righting_arm(case: Case, inner_level: float, heel: float) -> float | None:
    """Righting arm GZ [m] at a heel [rad], positive if it rights; None if the rim is under."""
    bowl, rho = case.bowl, case.water.density
    draft = draft_at(case, inner_level)
    if draft is None:
        return None
    z = bowl.inner_edge_height + inner_level
    hull_volume = float(bowl.outer_volume(draft))
    level = heeled_level(bowl.outer_hull, hull_volume, heel)
    if level >= bowl.rim_height * np.cos(heel) - bowl.rim_radius * np.sin(heel):
        return None
    outside = water_below(bowl.outer_hull, level, heel)
    inside = HeeledWater(0.0, 0.0, 0.0)
    inner_volume = float(bowl.inner_volume(z))
    if inner_volume > 0.0:
        inside = water_below(
            bowl.inner_hull, heeled_level(bowl.inner_hull, inner_volume, heel), heel
        )
    displaced, weight_z = hull_volume, bowl.mass / rho * bowl.centroid_z
    within, beside = case.inner_ballast, case.outer_ballast
    weight_z += (within.mass_moment + beside.mass_moment) / rho
    weight_z -= within.moment_below(z) + beside.moment_below(draft)
    displaced += beside.volume_below(draft)
    across = outside.moment_x - inside.moment_x
    upright = outside.moment_z - inside.moment_z - weight_z
    return float((across * np.cos(heel) + upright * np.sin(heel)) / displaced)


def heeled_level(hull: Hull, volume: float, heel: float) -> float:
    """Distance [m] along the vertical from z = 0 on the axis to the level of a given volume.

    Newton's method inside a shrinking bracket: the volume grows with the level at the rate of the
    inclined waterplane's area.
    """
    reach = hull.widest_radius * np.sin(heel)
    low = float(hull.heights[0] * np.cos(heel) - reach)
    high = float(hull.heights[-1] * np.cos(heel) + reach)
    level = min(max(float(hull.level(volume)) * float(np.cos(heel)), low), high)
    for _ in range(NEWTON_STEPS):
        water, plane = _water_and_plane(hull, level, heel)
        excess = water.volume - volume
        low, high = (low, level) if excess > 0.0 else (level, high)
        following = level - excess / plane if plane > 0.0 else 0.5 * (low + high)
        if not low <= following <= high:
            following = 0.5 * (low + high)
        if abs(following - level) < LEVEL_CLOSE:
            return following
        level = following
    return level


def water_below(hull: Hull, level: float, heel: float) -> HeeledWater:
    """Water in a hull below an inclined level [m], heel > 0 [rad]."""
    return _water_and_plane(hull, level, heel)[0]


def _water_and_plane(hull: Hull, level: float, heel: float) -> tuple[HeeledWater, float]:
    """The water, and the area of its inclined surface [m^2]."""
    reach = hull.widest_radius * np.sin(heel)
    kinks = (np.array([level - reach, level + reach])) / np.cos(heel)
    z, weight = _nodes(hull, kinks)
    radius = np.sqrt(np.maximum(hull.waterplane(z), 0.0) / np.pi)
    chord = np.clip((z * np.cos(heel) - level) / np.sin(heel), -radius, radius)
    half = np.sqrt(radius**2 - chord**2)
    area = radius**2 * np.arctan2(half, chord) - chord * half
    water = HeeledWater(
        float(weight @ area), float(weight @ (2.0 / 3.0 * half**3)), float(weight @ (area * z))
    )
    return water, float(weight @ half) * 2.0 / float(np.sin(heel))


def _nodes(hull: Hull, kinks: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Heights and weights of a composite Gauss-Legendre rule up to the highest wetted point."""
    low, high = hull.heights[0], min(hull.heights[-1], float(kinks[1]))
    steps = hull.heights if hull.heights.size <= PANELS else hull.heights[:0]
    ends = np.unique(np.concatenate((np.linspace(low, high, PANELS + 1), steps, kinks)))
    ends = ends[(ends >= low) & (ends <= high)]
    half = 0.5 * np.diff(ends)[:, None]
    return (ends[:-1, None] + half * (1.0 + GAUSS_X)).ravel(), (half * GAUSS_W).ravel()
