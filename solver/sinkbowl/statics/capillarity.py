"""Surface tension at the hole and at the rim: breakthrough head and push to start.

A dry hole set in water holds a cap of water on its inner edge. Its head against the outer surface
grows with the cap's slope until the cap either slides out over the base (slope = contact angle) or
passes its most curved shape. Small holes: 2 sigma sin(theta) / (rho g a), at most 2 sigma /
(rho g a), a the hole's radius; the Young-Laplace equation with gravity is solved here. At the rim,
by the same edge condition, water comes over it only at a depth of 2 l sin(theta / 2) (straight rim,
l the capillary length).

Static values for clean surfaces; on real bowls contact angles depend on the wetting history, and
errors of 20 % are usual.

*Menisci*, lengths in capillary lengths. Along the arc s of an axisymmetric meniscus, with slope
angle phi and height z in the direction in which the pressure difference grows (z = 0 where the
surface, continued, would be flat),

    dr/ds = cos(phi),  dz/ds = sin(phi),  dphi/ds = z - sin(phi) / r.

Two families are needed: the cap above a hole, which begins on the axis, and the meniscus outside a
rim, which decays at infinity (z ~ K_0(r)). Each is integrated up to the wanted slope, with shooting
for the wanted radius. (Hartland & Hartley 1976, Axisymmetric Fluid-Liquid Interfaces.)
"""

import math
from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from sinkbowl.case.case import Case
from sinkbowl.common import GRAVITY
from sinkbowl.common.numerics import least, root
from sinkbowl.common.water import Water
from sinkbowl.statics.hydrostatics import dry_draft, immersion_work
from sinkbowl.statics.kernels import MOST_STEPS, PARTS, followed

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


FAR = 10.0  # distance from a rim at which its meniscus has decayed, in capillary lengths

REACH, PANELS = 9.0, 60
"""Upper end of the integrals of K over 1 / sqrt(r), r > 10, and panels up to there."""

FLAT = 1e-4  # slope over the wanted slope up to which a meniscus follows the linear theory
LOWEST = 1e-4  # slope [rad] below which there is no meniscus
LONG_SERIES = 100.0  # argument up to which the series of a Bessel function is summed here


@lru_cache(maxsize=256)
def cap_head(radius: float, slope: float) -> float:
    """Head over the air's pressure at the edge of a cap on a hole, in capillary lengths.

    radius : of the hole, in capillary lengths, > 0
    slope : of the surface at the edge [rad], 0..pi
    """
    if slope <= LOWEST:
        return 0.0

    def miss(log_height: float) -> float:
        return math.log(_cap(log_height, slope)[0] / radius)

    highest = 2.0 / radius if slope >= 0.5 * np.pi else 2.0 * np.sin(slope) / radius
    start = float(np.log(highest)) + 1e-6
    found = root(miss, start - 2.0 * radius - 5.0, start, xtol=1e-9)
    return _cap(found, slope)[1]


@lru_cache(maxsize=256)
def rim_depth(radius: float, slope: float) -> float:
    """Depth of a round edge below the surface around it, in capillary lengths.

    2 sin(slope / 2) for a straight edge.

    radius : of the edge, in capillary lengths
    slope : of the surface at the edge [rad], 0..pi

    Raises ValueError for a radius below 1, at which steep menisci neck in above the edge.
    """
    if radius < 1.0:
        raise ValueError("a rim narrower than one capillary length is outside the theory")
    if slope <= LOWEST:
        return 0.0

    def miss(log_height: float) -> float:
        return _outside(radius, float(np.exp(log_height)), slope)[0] - radius

    found = root(miss, -2.0 * FAR, float(np.log(4.0)) - 0.1 * FAR, xtol=1e-9)
    return _outside(radius, float(np.exp(found)), slope)[1]


def _cap(log_height: float, slope: float) -> tuple[float, float]:
    """Radius and head at which a cap has a slope; log_height: logarithm of the head at its apex.

    The head itself underflows for a hole hundreds of capillary lengths wide.
    """
    # While flat, the surface is z = height I_0(r); start before it is steeper than FLAT.
    steep = math.log(slope) - log_height
    r = max(math.exp(min(0.0, steep)) * FLAT, math.log(FLAT) + steep)
    apex = math.exp(log_height + r)
    first = (r, apex * _scaled_bessel_i(0, r), apex * _scaled_bessel_i(1, r))
    return _until_slope(first, slope, 1.0)


def _outside(radius: float, height: float, slope: float) -> tuple[float, float]:
    """Radius and depth at which a meniscus, followed inwards from a small height, has a slope."""
    r = radius + FAR
    rise = height * _ratio_k(r)
    return _until_slope((r, height, math.atan(rise)), slope, -1.0)


def _until_slope(
    first: tuple[float, float, float], slope: float, outwards: float
) -> tuple[float, float]:
    """Radius and height of a meniscus followed outwards (1) or inwards (-1) to a slope."""
    r, z, phi = first
    room = np.empty((len(PARTS), 2))
    log_r, z = followed(math.log(phi), math.log(r), z, math.log(slope), outwards, room)
    if math.isnan(log_r):
        raise ArithmeticError(f"the shape of a meniscus did not end after {MOST_STEPS} steps")
    return math.exp(log_r), z


def _scaled_bessel_i(order: int, r: float) -> float:
    """exp(-r) I_0(r) or exp(-r) I_1(r)."""
    if r <= LONG_SERIES:
        return _bessel_i(order, r) * math.exp(-r)
    from scipy.special import ive  # slow to import, and hardly a hole is that wide

    return float(ive(order, r))


def _bessel_i(order: int, r: float) -> float:
    """I_0 or I_1 by its series, whose terms are all positive (Abramowitz & Stegun 9.6.10)."""
    term = total = (0.5 * r) ** order
    k = 1
    while term > 1e-17 * total:
        term *= 0.25 * r * r / (k * (k + order))
        total += term
        k += 1
    return total


def _ratio_k(r: float) -> float:
    """K_1 / K_0 far out, by the integrals of exp(-r cosh t) cosh(n t) (Abramowitz & Stegun 9.6.24).

    The trapezoidal rule gives them to round-off: they decay faster than any exponential.
    """
    t = np.linspace(0.0, REACH / math.sqrt(r), PANELS + 1)
    weight = np.exp(-r * (np.cosh(t) - 1.0))
    weight[0] *= 0.5
    return float(np.sum(weight * np.cosh(t)) / np.sum(weight))
