"""Base gone: a body that falls through still water, the water inside level with the water outside.

    (m + m_a) dV/dt = (m - rho V_solid(D)) g - 1/2 rho C_D A V |V|,

V_solid the wetted solid with its ballast, A what the hole leaves of the waterplane (drag.py), m_a
the added mass of that ring in the surface, through which the water passes freely (added_mass.py).
With constant coefficients V = V_t tanh(t / tau) and the way is V_t tau ln cosh(t / tau).
"""

from __future__ import annotations

import numpy as np

from sinkbowl.case.case import Case
from sinkbowl.common.constants import GRAVITY
from sinkbowl.common.sinking import Sinking
from sinkbowl.reduced.drag import drag_force
from sinkbowl.reduced.integrate import Log, State, Stop, care_for, march
from sinkbowl.reduced.start import beginning, outcome_words
from sinkbowl.statics.hydrostatics import floats
from sinkbowl.statics.vessel import Vessel

MODEL = "falling"


def solve(case: Case, quick: bool = False, close: bool = False) -> Sinking:
    """Sinking of a bowl as if its base held no water back at all.

    A bowl that floats is followed until it first comes to a standstill. The fall is over at the
    rim; `quick` and `close` (see `follow`) only leave out the way there.

    Raises
    ------
    RunError : if the integration comes to no end
    """
    vessel, log, begin = Vessel(case), Log(), beginning(case)
    mass, (draft, speed) = first_motion(vessel)
    if begin.under and case.start.kind != "drop":
        log.rows.append((0.0, *_observe(vessel, np.array([draft, speed]))))
        log.events.update(rim_under=0.0, full=0.0)
        return log.sinking(MODEL, outcome_words(case, log.events), floats(case))
    stops: dict[str, Stop] = {"rim_under": lambda y: y[0] - vessel.rim}
    if floats(case):
        stops["standstill"] = lambda y: -y[1]
    leg = march(
        lambda y: rates(vessel, mass, y),
        (0.0, np.array([draft, speed])),
        stops,
        (vessel.rim, np.sqrt(GRAVITY * vessel.rim)),
        care=care_for(quick, close),
    )
    log.add(leg, lambda y: _observe(vessel, y))
    if leg.stop == "rim_under":
        log.events.update(rim_under=leg.end[0], full=leg.end[0])
    return log.sinking(MODEL, outcome_words(case, log.events), floats(case))


def first_motion(vessel: Vessel) -> tuple[float, tuple[float, float]]:
    """Mass with the added one [kg]; draft [m] and speed [m/s] just after release."""
    case, draft = vessel.case, beginning(vessel.case).draft
    mass = vessel.mass + ring_added_mass(vessel, draft)
    if case.start.kind == "push":
        return mass, (draft, case.start.push / mass)
    if case.start.kind == "drop":
        speed = float(np.sqrt(2.0 * GRAVITY * case.start.drop_height))
        return mass, (0.0, speed * vessel.mass / mass)
    return mass, (draft, 0.0)


def ring_added_mass(vessel: Vessel, draft: float) -> float:
    """Added mass [kg] of what the hole leaves of the bottom, wetted on one side."""
    m = vessel.outside(draft).inertia
    return m.bowl - m.cross**2 / m.hole


def rates(vessel: Vessel, mass: float, y: State) -> list[float]:
    """Time derivatives of draft and speed, y (2,)."""
    draft, speed = y
    outside = vessel.outside(draft)
    solid = outside.displaced - vessel.water(draft)
    weight = GRAVITY * (vessel.mass - vessel.density * solid)
    drag = drag_force(outside, vessel.hole_area, vessel.density, speed)
    return [speed, (weight - drag) / mass]


def _observe(vessel: Vessel, y: State) -> tuple[float, ...]:
    draft, speed = float(y[0]), float(y[1])
    flow = vessel.water_area(draft) * speed
    return draft, speed, vessel.water(draft), draft - vessel.inner_edge, 0.0, flow
