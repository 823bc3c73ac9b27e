"""Ten bowls of the shipped map computed again, and how many are inside their interval.

The bowls are spread over the middle range and were kept out of the fit; each is released once, with
a new disturbance, on the grid of the map.
"""

from dataclasses import replace
from typing import NamedTuple

import numpy as np

from sinkbowl.bowl.shapes import thicken_inwards
from sinkbowl.case.case import Case
from sinkbowl.common.sinking import first_at
from sinkbowl.corrected.correction import with_coefficient
from sinkbowl.corrected.flow_map import KEPT_OUT, MapRow, shipped_rows
from sinkbowl.corrected.model import corrected
from sinkbowl.design.budget.variation import meniscus_aside
from sinkbowl.flow.layout import lay_out
from sinkbowl.flow.simulation import initialise
from sinkbowl.reduced import heave
from sinkbowl.running.numerical_checks import guarded_step, next_step
from sinkbowl.scatter import Disturbance, drawn

from . import Check, VerificationCase

FREE_STREAMLINE = 0.5913
"""Discharge coefficient of a sharp hole in water without viscosity, that of the solver's jet
(free-streamline boundary elements; see reduced/discharge.py)."""

BOWLS, SEED = 10, 1

INSIDE = 8  # number of ten that must be inside: with 95 % each, fewer have a probability of 1 %
LONGEST = 1.5  # maximum sinking time of a bowl computed again [s]: ten take two minutes


class Times(NamedTuple):
    """Times of rim under and of half of the way to it [s]."""

    rim: float
    half: float


def released(case: Case, disturbance: Disturbance) -> Times:
    """Times of one release by the flow solver, computed until its rim is under.

    A whole run continues until the bowl is full, which takes most of the time of a bowl that falls
    freely. Raises CaseError if the case cannot be computed, RunError if the run failed.
    """
    sim = initialise(case, disturbance)
    times, drafts = [0.0], [sim.draft]
    while drafts[-1] < case.bowl.rim_height:
        guarded_step(sim, sim.body(), next_step(sim))
        times.append(sim.state.time)
        drafts.append(sim.draft)
    t, draft, rim = np.array(times), np.array(drafts), case.bowl.rim_height
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


def chosen() -> list[MapRow]:
    """The bowls, from the narrowest hole to the widest."""
    rows = [row for row in shipped_rows() if row.use == KEPT_OUT and row.time <= LONGEST]
    rows.sort(key=lambda row: row.numbers[0])
    return [rows[int(k)] for k in np.linspace(0, len(rows) - 1, BOWLS).round()]


def again() -> VerificationCase:
    """Number of bowls inside the interval of the corrected model."""
    inside, errors = 0, []
    for row in chosen():
        case = row.bowl.case()
        seen = meniscus_aside(as_the_flow_sees_it(case))
        best = corrected(seen, heave.solve(seen)).best
        assert best is not None
        off = released(case, drawn(SEED, 0)).rim / best.time - 1.0
        inside += abs(off) <= best.share
        errors.append(f"{row.numbers[0]:.2f}: {100 * off:+.1f} of {100 * best.share:.1f} %")
    return VerificationCase(
        name="bowls of the map inside their interval",
        source="the package's own map, bowls kept out of its fit; at 95 % each, binomial",
        reference=float(BOWLS),
        ours=float(inside),
        allowed=1.0 - INSIDE / BOWLS,
        kind="at least",
        note=f"d/D: error in half intervals: {'; '.join(errors)}",
    )


CHECKS: tuple[Check, ...] = (again,)
