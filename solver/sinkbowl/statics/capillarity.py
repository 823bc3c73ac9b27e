"""Surface tension at the hole and at the rim: breakthrough head and push to start.

A dry hole set in water holds a cap of water on its inner edge. Its head against the outer surface
grows with the cap's slope until the cap either slides out over the base (slope = contact angle) or
passes its most curved shape. Small holes: 2 sigma sin(theta) / (rho g a), at most 2 sigma /
(rho g a), a the hole's radius; the Young-Laplace equation with gravity (meniscus.py) is solved
here. At the rim, by the same edge condition, water comes over it only at a depth of 2 l sin(theta /
2) (straight rim, l the capillary length).

Static values for clean surfaces; on real bowls contact angles depend on the wetting history, and
errors of 20 % are usual.
"""

from dataclasses import dataclass

import numpy as np

from sinkbowl.case.case import Case
from sinkbowl.common.constants import GRAVITY
from sinkbowl.common.numerics import least
from sinkbowl.common.water import Water
from sinkbowl.statics.hydrostatics import dry_draft, immersion_work
from sinkbowl.statics.meniscus import cap_head, rim_depth

CLOSE = 1e-3  # accuracy of the slope with the highest head [rad]


@dataclass(frozen=True)
class HoleGate:
    """Whether the meniscus in the hole of a dry bowl, set down gently, lets water in.

    head : outer surface above the hole's inner edge at the dry draft [m] (at the rim for a bowl
        that goes under at once)
    breakthrough_head : head at which the meniscus breaks [m]
    push_force : steady downward force that lets water in [N], 0 if none is needed
    push_impulse : downward impulse that lets water in [N s], 0 if none is needed
    under_first : whether such a push takes the rim under before the meniscus breaks; force and
        impulse are then those that take the rim under
    """

    head: float
    breakthrough_head: float
    push_force: float
    push_impulse: float
    under_first: bool

    @property
    def plugged(self) -> bool:
        """Whether the meniscus holds."""
        return self.head < self.breakthrough_head

    @property
    def missing_head(self) -> float:
        """Missing head to start [m], or 0."""
        return max(self.breakthrough_head - self.head, 0.0)


def capillary_length(water: Water) -> float:
    """sqrt(sigma / (rho g)) [m]."""
    return float(np.sqrt(water.surface_tension / (water.density * GRAVITY)))


def hole_breakthrough_head(diameter: float, water: Water, contact_angle: float) -> float:
    """Head at which the meniscus in a dry hole lets water into the bowl [m].

    Parameters
    ----------
    diameter : of the hole [m], > 0
    water : its density and surface tension
    contact_angle : advancing angle on the inner base [rad], 0..pi

    Returns
    -------
    Height of the outer surface above the hole's inner edge.

    Raises
    ------
    ValueError : the diameter is not positive or the angle is outside 0..pi
    """
    if not diameter > 0.0:
        raise ValueError(f"a hole needs a diameter above 0, not {diameter} m")
    _check_angle(contact_angle)
    unit = capillary_length(water)
    radius = 0.5 * diameter / unit
    upright = 0.5 * np.pi
    if contact_angle <= upright:
        return unit * cap_head(radius, contact_angle)
    # Up to 90 degrees the head grows with the slope; its maximum, if any, lies beyond.
    _, head = least(lambda slope: -cap_head(radius, slope), upright, contact_angle, CLOSE)
    return unit * max(-head, cap_head(radius, contact_angle))


def rim_lag(radius: float, water: Water, contact_angle: float) -> float:
    """Depth of a round rim below the still surface at which water first comes over it [m].

    radius : of the rim [m], at least one capillary length
    water : its density and surface tension
    contact_angle : advancing angle on the rim's top [rad], 0..pi

    Raises ValueError if the rim is too narrow or the angle is outside 0..pi.
    """
    _check_angle(contact_angle)
    unit = capillary_length(water)
    return unit * rim_depth(radius / unit, contact_angle)


def hole_gate(case: Case, diameter: float | None = None) -> HoleGate:
    """Whether the hole starts by itself, and the push that it needs otherwise.

    For several holes, the one of a diameter [m]; default: the widest, which starts first.

    The bowl is a mass (with the added mass) on the spring of its waterplane: the impulse gives it
    the kinetic energy to reach the draft.
    """
    from sinkbowl.statics.vessel import vessel_of  # which needs the gate for its own start

    vessel = vessel_of(case)
    draft = dry_draft(case)
    needed = hole_breakthrough_head(
        case.hole.diameter if diameter is None else diameter, case.water, case.contact_angle
    )
    if draft is None:
        return HoleGate(vessel.rim - vessel.inner_edge, needed, 0.0, 0.0, False)
    head = draft - vessel.inner_edge
    if head >= needed:
        return HoleGate(head, needed, 0.0, 0.0, False)
    wanted = vessel.inner_edge + needed
    target = min(wanted, vessel.rim)
    force = GRAVITY * (case.water.density * vessel.displaced(target) - vessel.mass)
    # A head that is missing only by round-off takes no work.
    work = max(immersion_work(case, draft, target), 0.0)
    moving = vessel.mass + vessel.outside(draft).inertia.bowl
    return HoleGate(head, needed, force, float(np.sqrt(2.0 * moving * work)), wanted > vessel.rim)


def _check_angle(angle: float) -> None:
    if not 0.0 <= angle <= np.pi:
        raise ValueError(f"a contact angle lies between 0 and pi rad, not {angle}")
