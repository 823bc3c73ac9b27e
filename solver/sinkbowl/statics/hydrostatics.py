"""Hydrostatics: draft, head, sink or float, missing ballast.

At rest, with the water inside up to the height z_i (bowl frame) and the outer surface at the
draft D,

    m / rho + V_in(z_i) = V_out(D) + V_ring,

V_out the plugged outer hull below D, V_in the water inside with that in the hole, V_ring the wetted
part of the ballast ring (below D outside the bowl, below z_i inside it). It sinks if its mean
density exceeds the water's; otherwise it comes to rest part-sunk, with equal levels inside and
outside. The weight of the air is neglected (1.2 kg/m^3, 0.1 %).

Free heave of the dry bowl: a mass on the spring of its waterplane.
"""

from collections.abc import Callable
from functools import lru_cache

import numpy as np

from sinkbowl.bowl.hull import FloatArray
from sinkbowl.case.case import Case
from sinkbowl.common import GRAVITY
from sinkbowl.common.numerics import root
from sinkbowl.statics.vessel import vessel_of

BRASS_DENSITY = 8500.0
"""Density of the proposed ring of a case without ballast [kg/m^3] (common practice, no source)."""

ROUND_OFF = 1e-12
"""Relative deficit of buoyancy at the rim with which a bowl still counts as afloat."""


def solid_volume(case: Case) -> float:
    """Volume of shell and ballast ring [m^3]."""
    return case.bowl.solid_volume + case.ballast.volume


def mean_density(case: Case) -> float:
    """Mass over volume of shell and ballast together [kg/m^3]."""
    return case.total_mass / solid_volume(case)


def floats(case: Case) -> bool:
    """Whether it comes to rest part-sunk: its mean density is not above the water's."""
    return mean_density(case) <= case.water.density


def displaced_volume(case: Case, draft: float) -> float:
    """Water displaced outside by the plugged hull and an outer ring at a draft [m^3]."""
    return float(case.bowl.outer_volume(draft)) + case.outer_ballast.volume_below(draft)


def water_taken_in(case: Case) -> float:
    """Water in a bowl that floats with its rim at the surface [m^3]."""
    return displaced_volume(case, case.bowl.rim_height) - case.total_mass / case.water.density


def immersion_work(case: Case, first: float, last: float) -> float:
    """Work [J] to push the dry bowl, hole plugged, from one draft [m] down to another.

    Integral of buoyancy minus weight; with M the first moment of the displaced volume about z = 0,
    the integral of V_out(D) is D V_out(D) - M(D) (by parts). Both drafts at most the rim's height.
    """

    def buoyant(draft: float) -> float:
        moment = float(case.bowl.outer_hull.moment_below(draft))
        moment += case.outer_ballast.moment_below(draft)
        return draft * displaced_volume(case, draft) - moment

    lifted = case.water.density * (buoyant(last) - buoyant(first))
    return GRAVITY * (lifted - case.total_mass * (last - first))


def water_inside(case: Case, z: float) -> float:
    """Water in bowl and hole up to height z (bowl frame), minus an inner ring's volume [m^3]."""
    return float(case.bowl.inner_volume(z)) - case.inner_ballast.volume_below(z)


@lru_cache(maxsize=16)  # asked for by all that a bowl is asked
def dry_draft(case: Case) -> float | None:
    """Draft [m] at rest with the hole plugged and no water inside.

    None if it goes under at once: the weight exceeds the buoyancy of the hull up to its rim.
    """
    return _draft_for(case, case.total_mass / case.water.density)


def draft_at(case: Case, inner_level: float) -> float | None:
    """Draft [m] at rest with water inside; None without an equilibrium with a dry rim.

    inner_level : above the inner base [m]; 0 leaves the hole full
    """
    inside = water_inside(case, case.bowl.inner_edge_height + inner_level)
    return _draft_for(case, case.total_mass / case.water.density + inside)


def drafts_at(case: Case, inner_levels: FloatArray) -> FloatArray:
    """Drafts [m] at inner levels (n,), as `draft_at` gives them one by one; nan for its None."""
    outside, hull = case.outer_ballast, case.bowl.outer_hull
    z = case.bowl.inner_edge_height + inner_levels
    volume = case.total_mass / case.water.density + case.bowl.inner_volume(z)
    volume = volume - case.inner_ballast.volumes_below(z)
    outer = np.full_like(volume, outside.volume)
    draft = hull.level(volume - outer)
    # Assumed so far: outer ballast fully wet. Otherwise each draft is found separately.
    for k in np.flatnonzero(outer > 0.0):
        if draft[k] < outside.highest:
            found = _draft_for(case, float(volume[k]))
            draft[k] = np.nan if found is None else found
    most = hull.volume[-1] + outer
    return np.where(volume * (1.0 - ROUND_OFF) > most, np.nan, draft)


def held_level(case: Case) -> float | None:
    """Height [m] of the water in a bowl at release; None if it is dry inside.

    Only a bowl held with its hole open has water: as high inside as outside.
    """
    start = case.start
    wet = start.inside == "level" and start.draft > case.bowl.inner_edge_height
    return start.draft if wet else None


def start_head(case: Case) -> float | None:
    """Head [m] on the inner edge of the hole, the bowl dry at its draft; None if it goes under.

    Negative if the base floats so high that the water does not reach the inner edge.
    """
    draft = dry_draft(case)
    return None if draft is None else draft - case.bowl.inner_edge_height


def final_draft(case: Case) -> float | None:
    """Draft [m] at which a bowl that floats comes to rest, levels equal; None if it sinks."""
    if not floats(case):
        return None

    def excess(draft: float) -> float:
        ballast = case.ballast.volume_below(draft)
        return float(case.bowl.solid_volume_below(draft)) + ballast - wanted

    wanted = case.total_mass / case.water.density
    return _root(excess, _lowest(case), max(case.bowl.rim_height, case.ballast.highest))


def ballast_needed(case: Case, density: float | None = None) -> float:
    """Further ballast [kg] that raises the mean density to the water's; 0 if it sinks.

    (m + b) / rho = V + b / rho_b. In practice a little more is needed, or it hovers.

    case : the bowl, with the ballast it has
    density : of the further ballast [kg/m^3]; None: that of the case's ring if denser than water,
        else brass

    Raises ValueError if the ballast itself floats.
    """
    water = case.water.density
    if density is None:
        sinks = case.ballast and case.ballast.density > water
        density = case.ballast.density if sinks else BRASS_DENSITY
    missing = water * solid_volume(case) - case.total_mass
    if missing <= 0.0:
        return 0.0
    if density <= water:
        raise ValueError(f"ballast of {density:g} kg/m^3 floats and cannot sink a bowl")
    return missing / (1.0 - water / density)


def _draft_for(case: Case, volume: float) -> float | None:
    """Draft at which a volume is displaced outside; None if the hull has less."""
    rim = case.bowl.rim_height
    if displaced_volume(case, rim) < volume * (1.0 - ROUND_OFF):
        return None
    return _root(lambda draft: displaced_volume(case, draft) - volume, _lowest(case), rim)


def _lowest(case: Case) -> float:
    """Height of the lowest point of bowl and ballast [m]."""
    return min(0.0, case.ballast.lowest)


def _root(function: Callable[[float], float], low: float, high: float) -> float:
    """Root of an increasing function, to 1e-14 m."""
    if function(high) <= 0.0:
        return high
    return root(function, low, high, xtol=1e-14, rtol=1e-14)


def heave_period(case: Case) -> float | None:
    """Period of free heave at the dry draft, hole plugged, without waves [s].

    None if the bowl goes under at once.
    """
    draft = dry_draft(case)
    if draft is None:
        return None
    outside = vessel_of(case).outside(draft)
    moving = case.total_mass + outside.inertia.bowl
    spring = case.water.density * GRAVITY * outside.area
    return float(2.0 * np.pi * np.sqrt(moving / spring))
