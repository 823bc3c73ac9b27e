"""Design variables: diameter of the hole, or mass of the ballast ring.

Each has its range and makes the case for a value.
"""

import math
from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Literal

from sinkbowl.bowl.ballast import Tube
from sinkbowl.case.blank import TRACING, widest_of
from sinkbowl.case.case import Case
from sinkbowl.case.pieces import room
from sinkbowl.case.schema import MOST_HOLES
from sinkbowl.common.errors import CaseError
from sinkbowl.common.numerics import root
from sinkbowl.statics.hydrostatics import ballast_needed, displaced_volume

Variable = Literal["hole", "ballast"]

KEYS: dict[Variable, str] = {"hole": "hole_diameter_m", "ballast": "ballast_mass_kg"}
"""Name of the sized quantity in JSON."""

NARROWEST = 1e-4  # narrowest hole a case may have [m]
HOOP = 0.8  # widest hole tried in a bowl without a flat base, as a share of its inner rim
LIGHTEST = 1e-4  # lightest ring a case may have [kg]

NEUTRAL = 1e-6
"""Relative excess of the lightest ring over that with which the bowl is as dense as water."""

STOUTEST = 0.9  # largest radius of a ring's section, as a share of the ring's radius


@dataclass(frozen=True)
class Setting:
    """A design variable of one case.

    now : its value in the case
    low, high : its range
    floats_below : whether it would float below the low end
    case_at : the case with another value
    """

    now: float
    low: float
    high: float
    floats_below: bool
    case_at: Callable[[float], Case]


def hole_setting(case: Case) -> Setting:
    """The hole's diameter [m], from the narrowest to the whole base."""
    blank = case.blank
    if blank.base_radius is not None:
        high = 2.0 * blank.base_radius
    else:
        high = 2.0 * HOOP * float(case.bowl.inner[-1, 0])
    high = min(high, widest_of(blank, case.finish), _clear_of_washers(case))
    alone = 2.0 * (blank.narrowest - TRACING) / case.hole.together
    low = max(NARROWEST, alone)
    return Setting(case.hole.diameter, low, max(high, case.hole.diameter), False, case.with_hole)


def _clear_of_washers(case: Case) -> float:
    """Widest hole not covered by a washer or band [m]."""
    pieces = case.ballast.pieces
    inner = min((piece.inner for piece in pieces if isinstance(piece, Tube)), default=math.inf)
    return 2.0 * inner / case.finish.together


def with_count(case: Case, count: int) -> Case:
    """The case with another number of equal holes of the same area, or narrower if they must be.

    Raises CaseError if there is no such number.
    """
    if not 1 <= count <= MOST_HOLES:
        raise CaseError(
            "is not a number of holes",
            key="count",
            given=count,
            allowed=f"Allowed is a whole number from 1 to {MOST_HOLES}.",
        )
    finish = replace(case.finish, ratios=(1.0,) * count)
    same_area = 2.0 * case.bowl.hole_radius / finish.together
    return case.with_hole(min(same_area, widest_of(case.blank, finish)), count)


def ballast_setting(case: Case) -> Setting:
    """The mass of the ring [kg]; place and material stay.

    From the lightest with which the bowl sinks to the heaviest that fits and floats dry. Raises
    CaseError if the case has no ring, or it floats, or one that sinks the bowl has no room.
    """
    ballast, name = case.ballast, str(case.path or case.title)
    ring = ballast.ring
    if ring is None:
        raise CaseError(
            "is missing: there is no ring whose mass could be found"
            if not ballast
            else "has no round ring, or several: it is not clear whose mass to find",
            file=name,
            key="ballast",
            allowed='Give one table [ballast] with shape = "ring" and any mass: its radius, height '
            "and density stay.",
        )
    if ring.density <= case.water.density:
        raise CaseError(
            "is not more than that of water: such a ring cannot sink a bowl",
            file=name,
            key="ballast.density",
            given=f"{ring.density:.4g} kg/m^3",
            allowed="Give a denser material.",
        )

    def case_at(mass: float) -> Case:
        return replace(case, ballast=ballast.with_ring(replace(ring, mass=mass)))

    def buoyancy(mass: float) -> float:
        other = case_at(mass)
        displaced = displaced_volume(other, case.bowl.rim_height)
        return case.water.density * displaced - other.total_mass

    missing = ballast_needed(case_at(LIGHTEST))
    lightest = (LIGHTEST + missing) * (1.0 + NEUTRAL)
    section = min(STOUTEST * ring.radius, room(case.bowl, ring.radius, ring.height))
    stoutest = 2.0 * math.pi**2 * section**2 * ring.radius * ring.density
    if stoutest < lightest:
        raise CaseError(
            f"leaves no room for a ring of {lightest * 1e3:.3g} g, which would sink this bowl",
            file=name,
            key="ballast.height",
            given=f"{ring.height * 1e3:.4g} mm",
            allowed=f"{stoutest * 1e3:.3g} g fit there. Hang the ring lower.",
        )
    heaviest = stoutest
    if buoyancy(lightest) > 0.0 > buoyancy(stoutest):
        heaviest = root(buoyancy, lightest, stoutest)
    return Setting(ring.mass, lightest, heaviest, missing > 0.0, case_at)
