"""Small hole: Archimedes at every instant, Torricelli through the hole.

    m / rho + V_in(z) = V_hull(D),   dV_in/dt = Q(D - z) = C_d a sqrt(2 g (D - z)),

D the draft and z the inner level; differentiated, A_outer(D) dD/dt = A_inner(z) dz/dt = Q, for any
bowl shape. Nothing has inertia, and how the bowl is let go does not matter: it begins at its dry
draft.
"""

from __future__ import annotations

import numpy as np

from sinkbowl.case.case import Case
from sinkbowl.common.sinking import Sinking
from sinkbowl.reduced.course import follow
from sinkbowl.reduced.heave_equations import HeaveEquations
from sinkbowl.reduced.integrate import Care, Kink, Log, Moment, State, Stop, march
from sinkbowl.reduced.start import base_dry_answer, beginning, corner_answer, share_of_rest
from sinkbowl.statics.hydrostatics import floats

MODEL = "quasi-static"


def solve(case: Case, quick: bool = False, close: bool = False) -> Sinking:
    """Sinking of a bowl that is in equilibrium all the way.

    With `quick` for the sinking time alone, `close` as well as otherwise (see `follow`).

    Raises
    ------
    RunError : if the integration comes to no end
    """
    # Without inertia no push or drop takes the hole of such a bowl down to the water.
    dry = base_dry_answer(case, MODEL)
    if dry is not None and corner_answer(case, MODEL) is None:
        return dry
    return follow(case, MODEL, _fill, quick, close)


def _fill(equations: HeaveEquations, log: Log, care: Care) -> tuple[str, Moment]:
    """Fill hole and bowl until the rim goes under or the head is gone; what ended it, and where."""
    vessel, law = equations.vessel, equations.law
    start = beginning(equations.case).draft

    def rates(y: State) -> list[float]:
        flow = law.flow(y[0] - y[1])
        return [flow / vessel.outer_area(y[0]), flow / vessel.water_area(y[1])]

    def observe(y: State) -> tuple[float, ...]:
        draft, z = float(y[0]), float(y[1])
        flow = law.flow(draft - z)
        speed = flow / vessel.outer_area(draft)
        return draft, speed, vessel.water(z), z - vessel.inner_edge, draft - z, flow

    def rest(y: State) -> float:
        _, speed, _, _, left, flow = observe(y)
        return share_of_rest(left, speed, flow / law.area, head)

    head = start - vessel.inner_edge
    stops: dict[str, Stop] = {"rim_under": lambda y: y[0] - vessel.rim}
    if floats(vessel.case):
        stops["half_sunk"] = rest
    kinks = [Kink(0, z) for z in vessel.outer_steps] + [Kink(1, z) for z in vessel.inner_steps]
    moment = 0.0, np.array([start, vessel.outer_edge])
    leg = march(rates, moment, stops, (head, head), kinks, care)
    log.add(leg, observe)
    time, (draft, z) = leg.end
    # A bowl too heavy to float even dry passes its rim at once, its hole still plugged.
    flow = law.flow(draft - z) if time > 0.0 else 0.0
    speed = flow / vessel.outer_area(draft)
    return leg.stop, (time, np.array([draft, speed, z, flow, 0.0]))
