"""Base gone: a body that falls through still water, with equal levels inside and outside.

    (m + m_a) dV/dt = (m - rho V_solid(D)) g - 1/2 rho C_D A V |V|,

V_solid the wetted solid with its ballast, A the waterplane minus the hole (resistance.py), m_a the
added mass of that ring in the surface, through which the water passes freely (added_mass.py). With
constant coefficients V = V_t tanh(t / tau) and the distance is V_t tau ln cosh(t / tau).
"""

import numpy as np

from sinkbowl.case.case import Case
from sinkbowl.common import GRAVITY
from sinkbowl.common.sinking import FloatArray, Sinking
from sinkbowl.reduced.kernels.heave import DRAFT, FLOW, SPEED, STATE, WATER
from sinkbowl.reduced.kernels.integration import FULL, RIM_UNDER, ROW, ROW_LEVEL, TIMES
from sinkbowl.reduced.kernels.rosenbrock import FALLING
from sinkbowl.reduced.legs import Leg, integrate, sinking
from sinkbowl.reduced.resistance import drag_factor
from sinkbowl.reduced.start import beginning, release_draft
from sinkbowl.reduced.tables import Tables, tabulate
from sinkbowl.statics.hydrostatics import floats

MODEL = "falling"

STEPS, STEP_SHARE = 1000, 1e-3  # finer steps than of `legs`: a fall takes a few hundred


def solve(case: Case, beyond: bool = False) -> Sinking:
    """Sinking of a bowl as if it had no base.

    A bowl that floats is followed until it first stops. The fall ends at the rim, as if `beyond`
    were false. Raises RunError if the integration does not end.
    """
    tables = tabulate(case)
    state = first_state(tables)
    if beginning(case).under and case.start.kind not in ("drop", "held"):
        leg = Leg(np.zeros((1, ROW)), np.full(TIMES, np.nan), RIM_UNDER)
        leg.rows[0, 1 : 1 + STATE], leg.times[RIM_UNDER] = state, 0.0
    else:
        leg = integrate(
            FALLING, tables.bowl, state, floats(case), steps=STEPS, step_share=STEP_SHARE
        )
    leg.times[FULL] = leg.times[RIM_UNDER]
    # water and flow of a bowl with equal levels
    draft, inner = leg.rows[:, 1 + DRAFT], tables.vessel.inner
    level = np.minimum(draft, tables.bowl.rim)
    leg.rows[:, 1 + WATER] = inner.volume(level)
    leg.rows[:, 1 + FLOW] = inner.area(level) * leg.rows[:, 1 + SPEED]
    leg.rows[:, ROW_LEVEL] = draft
    return sinking(case, MODEL, tables.bowl, leg)


def first_state(tables: Tables) -> FloatArray:
    """State (STATE,) just after release."""
    case, bowl = tables.case, tables.bowl
    mass, state = bowl.mass + bowl.ring_mass, np.zeros(STATE)
    state[DRAFT] = release_draft(case)
    if case.start.kind == "push":
        state[SPEED] = case.start.push / mass
    if case.start.kind == "drop":
        speed = np.sqrt(2.0 * GRAVITY * case.start.drop_height)
        state[SPEED] = speed * bowl.mass / mass
    return state


def force_missing(
    tables: Tables, draft: FloatArray, speed: FloatArray, gain: FloatArray
) -> FloatArray:
    """Residual force [N] of the equation for given drafts, speeds and accelerations, (n,)."""
    vessel, bowl = tables.vessel, tables.bowl
    outside = vessel.outside(draft)
    solid = outside.displaced - vessel.inner.volume(np.minimum(draft, vessel.rim))
    drag = drag_factor(outside, vessel.hole_area, bowl.density) * speed * np.abs(speed)
    weight = GRAVITY * (bowl.mass - bowl.density * solid)
    return np.asarray((bowl.mass + bowl.ring_mass) * gain - weight + drag)
