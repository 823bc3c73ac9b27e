"""Small hole: Archimedes at every instant, Torricelli through the hole.

    m / rho + V_in(z) = V_hull(D),   dV_in/dt = Q(D - z) = C_d a sqrt(2 g (D - z)),

D the draft and z the inner level; differentiated, A_outer(D) dD/dt = A_inner(z) dz/dt = Q, for any
bowl shape. Nothing has inertia, and how the bowl is let go does not matter: it begins at its dry
draft. For an upright cylinder the filling time has a closed form (`upright_filling_time`).
"""

from __future__ import annotations

import numpy as np

from sinkbowl.case.case import Case
from sinkbowl.common.constants import GRAVITY
from sinkbowl.common.sinking import FloatArray, Sinking
from sinkbowl.reduced.course import follow
from sinkbowl.reduced.heave_equations import HeaveEquations
from sinkbowl.reduced.integrate import Care, Kink, Log, Moment, Stop, march
from sinkbowl.reduced.start import beginning, share_of_rest
from sinkbowl.statics.hydrostatics import floats

MODEL = "quasi-static"

METHOD = "DOP853"


def solve(case: Case, quick: bool = False) -> Sinking:
    """Sinking of a bowl that is in equilibrium all the way.

    With `quick` for the sinking time alone (see `follow`).

    Raises
    ------
    RunError : if the integration comes to no end
    """
    return follow(case, MODEL, _fill, quick)


def upright_filling_time(
    coefficient: float,
    hole_area: float,
    water_area: float,
    rise: float,
    head_start: float,
    head_end: float,
) -> float:
    """Time in which an upright cylinder fills by a rise of its inner level [s].

    With upright walls the head falls in proportion to the rise, so that
    sqrt(head_start) - sqrt(head_end) = (1 - A_i / A_o) C_d a sqrt(2 g) t / (2 A_i); written so that
    equal areas are no special case. The outer area only enters through the heads.

    Parameters
    ----------
    coefficient : C_d
    hole_area, water_area : a and A_i, inside the hole itself A_i = a [m^2]
    rise : of the inner level [m]
    head_start, head_end : [m], not negative, not both 0
    """
    roots = float(np.sqrt(head_start) + np.sqrt(head_end))
    jet = coefficient * hole_area * float(np.sqrt(2.0 * GRAVITY))
    return 2.0 * water_area * rise / (jet * roots)


def _fill(equations: HeaveEquations, log: Log, care: Care) -> tuple[str, Moment]:
    """Fill hole and bowl until the rim goes under or the head is gone; what ended it, and where."""
    vessel, law = equations.vessel, equations.law
    start = beginning(equations.case).draft

    def rates(y: FloatArray) -> list[float]:
        flow = law.flow(y[0] - y[1])
        return [flow / vessel.outer_area(y[0]), flow / vessel.water_area(y[1])]

    def observe(y: FloatArray) -> tuple[float, ...]:
        draft, z = float(y[0]), float(y[1])
        flow = law.flow(draft - z)
        speed = flow / vessel.outer_area(draft)
        return draft, speed, vessel.water(z), z - vessel.inner_edge, draft - z, flow

    def rest(y: FloatArray) -> float:
        _, speed, _, _, left, flow = observe(y)
        return share_of_rest(left, speed, flow / law.area, head)

    head = start - vessel.inner_edge
    stops: dict[str, Stop] = {"rim_under": lambda y: y[0] - vessel.rim}
    if floats(vessel.case):
        stops["half_sunk"] = rest
    kinks = [Kink(0, z) for z in vessel.outer_steps] + [Kink(1, z) for z in vessel.inner_steps]
    moment = 0.0, np.array([start, vessel.outer_edge])
    leg = march(rates, moment, stops, (head, head), METHOD, kinks, care)
    log.add(leg, observe)
    time, (draft, z) = leg.end
    # A bowl too heavy to float even dry passes its rim at once, its hole still plugged.
    flow = law.flow(draft - z) if time > 0.0 else 0.0
    speed = flow / vessel.outer_area(draft)
    return leg.stop, (time, np.array([draft, speed, z, flow, 0.0]))
