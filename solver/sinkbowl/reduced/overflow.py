"""Water over the rim: a sharp-crested weir around the whole circumference.

    Q = 2/3 C sqrt(2 g) 2 pi R y^(3/2),  C = 0.611  (Rehbock's limit for a low head; ISO 1438),

y the depth of the rim under the still surface, R its outer radius. It starts when the meniscus at
the rim gives way (capillarity.rim_lag) and ends when the bowl is full; until then the surface
inside is taken to lie below the crest, and the outer one to be still. From the rim on, the bowl
moves by the heave equations, whichever model brought it there.
"""

from __future__ import annotations

import numpy as np

from sinkbowl.common.constants import GRAVITY
from sinkbowl.reduced.heave_equations import HeaveEquations
from sinkbowl.reduced.integrate import Log, Moment, Stop, march
from sinkbowl.statics.capillarity import rim_lag
from sinkbowl.statics.hydrostatics import floats

WEIR = 0.611
"""Discharge coefficient of a sharp crest under a low head."""


def rim_flow(depth: float, rim_radius: float) -> float:
    """Flow over a rim at a depth below the outer surface [m^3/s]; 0 above it."""
    crest = 2.0 * np.pi * rim_radius
    return float(2.0 / 3.0 * WEIR * np.sqrt(2.0 * GRAVITY) * crest * max(depth, 0.0) ** 1.5)


def go_under(equations: HeaveEquations, log: Log, start: Moment) -> None:
    """Follow a bowl from the moment its rim goes under until it is full (or up again, at rest).

    A bowl that comes to its rim brimful, by the momentum of the water in it, ends there.

    Parameters
    ----------
    equations : of the bowl
    log : gets the legs and the events over_rim, full, half_sunk
    start : time [s] and state (5,) of the heave equations
    """
    case, vessel = equations.case, equations.vessel
    radius = vessel.rim_radius
    give_way = vessel.rim + rim_lag(radius, case.water, case.contact_angle)
    stops: dict[str, Stop] = {"full": lambda y: y[2] - vessel.rim}
    if floats(case):
        stops["half_sunk"] = equations.rest
    leg = march(
        equations.rates,
        start,
        {**stops, "over_rim": lambda y: y[0] - give_way},
        equations.scales,
        equations.kinks,
    )
    log.add(leg, equations.observe)
    log.events[leg.stop] = leg.end[0]
    if leg.stop != "over_rim":
        return
    leg = march(
        lambda y: equations.rates(y, rim_flow(y[0] - vessel.rim, radius), rim_wet=True),
        leg.end,
        stops,
        equations.scales,
        equations.kinks,
    )
    log.add(leg, equations.observe)
    log.events[leg.stop] = leg.end[0]
