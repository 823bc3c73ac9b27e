"""Small hole: Archimedes at every instant, Torricelli through the hole.

    m / rho + V_in(z) = V_hull(D),   dV_in/dt = Q(D - z) = C_d a sqrt(2 g (D - z)),

D the draft and z the inner level; differentiated, A_outer(D) dD/dt = A_inner(z) dz/dt = Q, for any
bowl shape. Nothing has inertia, and how the bowl is let go does not matter: it begins at its dry
draft. For an upright cylinder the filling time has a closed form (`upright_filling_time`).
"""

from __future__ import annotations

import numpy as np

from sinkbowl.case.case import Case
from sinkbowl.constants import GRAVITY
from sinkbowl.reduced.discharge import Discharge, discharge
from sinkbowl.reduced.heave_equations import HeaveEquations
from sinkbowl.reduced.integrate import Kink, Log, Moment, Stop, march
from sinkbowl.reduced.overflow import go_under
from sinkbowl.reduced.start import beginning, corner_answer, outcome_words, share_of_rest
from sinkbowl.reduced.vessel import Vessel
from sinkbowl.sinking import FloatArray, Sinking
from sinkbowl.statics.hydrostatics import floats

MODEL = "quasi-static"

METHOD = "DOP853"


def solve(case: Case) -> Sinking:
    """Sinking of a bowl that is in equilibrium all the way.

    Raises
    ------
    RunError : if the integration comes to no end
    """
    answer = corner_answer(case, MODEL)
    if answer is not None:
        return answer
    begin, log, vessel = beginning(case), Log(), Vessel(case)
    stop, moment = "rim_under", (0.0, np.array([begin.draft, vessel.outer_edge]))
    law = discharge(case)
    if not begin.under:
        stop, moment = _fill(vessel, law, log, moment)
    log.events[stop] = moment[0]
    if stop == "rim_under":
        draft, z = moment[1]
        flow = 0.0 if begin.under else law.flow(draft - z)
        speed = flow / vessel.outer_area(draft)
        go_under(HeaveEquations(case), log, (moment[0], np.array([draft, speed, z, flow, 0.0])))
    return log.sinking(MODEL, outcome_words(case, log.events, begin.under), floats(case))


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


def _fill(vessel: Vessel, law: Discharge, log: Log, moment: Moment) -> tuple[str, Moment]:
    """Fill hole and bowl until the rim goes under or the head is gone; what ended it, and where."""

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

    head = float(moment[1][0]) - vessel.inner_edge
    stops: dict[str, Stop] = {"rim_under": lambda y: y[0] - vessel.rim}
    if floats(vessel.case):
        stops["half_sunk"] = rest
    kinks = [Kink(0, z) for z in vessel.outer_steps] + [Kink(1, z) for z in vessel.inner_steps]
    leg = march(rates, moment, stops, (head, head), METHOD, kinks)
    log.add(leg, observe)
    return leg.stop, leg.end
