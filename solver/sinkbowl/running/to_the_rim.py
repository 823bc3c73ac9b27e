"""One release of a bowl, computed until its rim is under.

A whole run continues until the bowl is full, which takes most of the time of a bowl that falls
    freely; the map does not need it.
"""

from dataclasses import replace
from typing import NamedTuple

import numpy as np

from sinkbowl.bowl.shapes import thicken_inwards
from sinkbowl.case.case import Case
from sinkbowl.common.sinking import FloatArray, first_at
from sinkbowl.corrected.correction import with_coefficient
from sinkbowl.flow.layout import lay_out
from sinkbowl.flow.simulation import initialise
from sinkbowl.running.numerical_checks import guarded_step, next_step
from sinkbowl.scatter.disturbance import Disturbance

FREE_STREAMLINE = 0.5913
"""Discharge coefficient of a sharp hole in water without viscosity, that of the solver's jet
(free-streamline boundary elements; see reduced/discharge.py)."""


class Times(NamedTuple):
    """Times of rim under and of half of the way to it [s]."""

    rim: float
    half: float


def released(case: Case, disturbance: Disturbance) -> Times:
    """Times of one release by the flow solver.

    Raises
    ------
    CaseError : the case cannot be computed
    RunError : the run failed
    """
    sim = initialise(case, disturbance)
    t, draft = [0.0], [sim.draft]
    while draft[-1] < case.bowl.rim_height:
        guarded_step(sim, sim.body(), next_step(sim))
        t.append(sim.state.time)
        draft.append(sim.draft)
    return times_of(np.array(t), np.array(draft), case.bowl.rim_height)


def times_of(t: FloatArray, draft: FloatArray, rim: float) -> Times:
    """Times of a history of drafts (n,) [m] that reaches the rim."""
    return Times(*(first_at(t, draft, depth) for depth in (rim, 0.5 * (draft[0] + rim))))


def as_the_flow_sees_it(case: Case) -> Case:
    """The bowl with the wall thickness of the grid and the discharge coefficient of the flow's jet.

    Flow and model then compute the same bowl.
    """
    layout = lay_out(case)
    seen = case
    if layout.thickened > 0.0:
        seen = replace(seen, bowl=thicken_inwards(case.bowl, layout.thickened))
    return seen if layout.closed else with_coefficient(seen, FREE_STREAMLINE)
