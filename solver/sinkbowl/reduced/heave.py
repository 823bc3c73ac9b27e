"""Heave with slug inertia, from release until the bowl is full or at rest.

The equations are those of heave_equations.py; water over the rim is overflow.py's.
"""

from __future__ import annotations

from collections.abc import Mapping
from functools import partial

import numpy as np

from sinkbowl.case.case import Case
from sinkbowl.common.constants import GRAVITY
from sinkbowl.common.errors import RunError
from sinkbowl.common.sinking import FloatArray, Sinking
from sinkbowl.reduced.course import follow
from sinkbowl.reduced.heave_equations import HeaveEquations
from sinkbowl.reduced.integrate import REACHED, Care, Log, Moment, Stop, march
from sinkbowl.reduced.start import beginning
from sinkbowl.statics.hydrostatics import floats

MODEL = "heave"

CLEAR = 2.0 * REACHED
"""Of the inner level below the brim as a full bowl begins to drain [m]."""

MOST_LEGS = 10_000
"""Times that a bowl is brimful or drains; one that bobs does so some ten times."""


def solve(case: Case, quick: bool = False, close: bool = False) -> Sinking:
    """Sinking of a bowl that heaves with the inertia of all the water it moves.

    With `quick` for the sinking time alone, `close` as well as otherwise (see `follow`).

    Raises
    ------
    RunError : if the integration comes to no end
    """
    return follow(case, MODEL, _fill, quick, close)


def first_state(equations: HeaveEquations) -> FloatArray:
    """State (5,) just after release.

    An impulse (a push, or the shock of a dropped bowl's bottom on the water) is shared between
    bowl, outer water and the slug in the hole by the inertia matrix.
    """
    case, vessel = equations.case, equations.vessel
    start = case.start
    draft = 0.0 if start.kind == "drop" else beginning(case).draft
    fall = vessel.mass * np.sqrt(2.0 * GRAVITY * start.drop_height)
    impulse = {"set down": 0.0, "push": start.push, "drop": float(fall)}[start.kind]
    z = vessel.outer_edge
    speed, flow = equations.inertia(draft, z).accelerations(impulse, 0.0)
    return np.array([draft, speed, z, flow, 0.0])


def _fill(equations: HeaveEquations, log: Log, care: Care) -> tuple[str, Moment]:
    """Fill hole and bowl until the rim goes under or all is at rest; what ended it, and where."""
    rim = equations.vessel.rim
    ends: dict[str, Stop] = {"rim_under": lambda y: y[0] - rim}
    if floats(equations.case):
        ends["half_sunk"] = equations.rest
    return fill_until(equations, (0.0, first_state(equations)), ends, log, care)


def fill_until(
    equations: HeaveEquations, moment: Moment, ends: Mapping[str, Stop], log: Log, care: Care
) -> tuple[str, Moment]:
    """Fill the bowl from a moment until one of the ends comes; which one, and where.

    Water that comes up fast can reach the brim before the rim is under; it then spills over.

    Raises
    ------
    RunError : no end comes
    """
    rim = equations.vessel.rim
    filling: dict[str, Stop] = {**ends, "brimful": lambda y: y[2] - rim}
    spilling: dict[str, Stop] = {**ends, "draining": lambda y: -y[3]}
    stop = "draining"
    for _ in range(MOST_LEGS):
        full = stop == "brimful"
        leg = march(
            partial(equations.rates, spilling=full),
            moment,
            spilling if full else filling,
            equations.scales,
            equations.kinks,
            care,
        )
        log.add(leg, equations.observe)
        stop, moment = leg.stop, leg.end
        if stop in ends:
            return stop, moment
        if stop == "draining":  # clear of the brim, or the next leg would end where it begins
            moment[1][2] = min(moment[1][2], rim - CLEAR)
    raise RunError(f"The reduced model spills and drains without end after {moment[0]:.4g} s.")
