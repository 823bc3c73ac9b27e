"""Heave with a fountain in flight, from release until the bowl is full or at rest.

The equations are those of kernels/heave.py, which solver/HEAVE.md derives.
"""

import numpy as np

from sinkbowl.case.case import Case
from sinkbowl.common import GRAVITY
from sinkbowl.common.sinking import FloatArray, Sinking
from sinkbowl.reduced.kernels.heave import STATE
from sinkbowl.reduced.kernels.rosenbrock import HEAVE
from sinkbowl.reduced.legs import integrate, sinking
from sinkbowl.reduced.start import corner_answer, release_draft, release_water
from sinkbowl.reduced.tables import Tables, tabulate
from sinkbowl.statics.hydrostatics import floats

MODEL = "heave"


def solve(case: Case, beyond: bool = True) -> Sinking:
    """Sinking of a bowl that heaves with the inertia of all the water it moves.

    It goes on `beyond` its rim until it is full or at rest. Raises RunError if the integration does
    not end.
    """
    answer = corner_answer(case, MODEL)
    if answer is not None:
        return answer
    tables = tabulate(case)
    leg = integrate(HEAVE, tables.bowl, first_state(tables), floats(case), beyond=beyond)
    return sinking(case, MODEL, tables.bowl, leg)


def first_state(tables: Tables) -> FloatArray:
    """State (STATE,) just after release.

    An impulse (a push, or the shock of a dropped bowl's bottom on the water) is divided between
    bowl, outer water and the fluid in the hole by the inertia matrix of the dry bowl.
    """
    case, vessel = tables.case, tables.vessel
    start = case.start
    draft = release_draft(case)
    fall = vessel.mass * np.sqrt(2.0 * GRAVITY * start.drop_height)
    impulse = {"push": start.push, "drop": float(fall)}.get(start.kind, 0.0)
    m = vessel.outside(draft).inertia
    speed = impulse / (vessel.mass + m.bowl - m.cross**2 / m.hole)
    state = np.zeros(STATE)
    state[:4] = draft, speed, release_water(vessel), speed * m.cross / m.hole
    return state
