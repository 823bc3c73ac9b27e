"""Ten bowls of the shipped map computed again, and how many are inside their interval.

The bowls are spread over the middle range and were kept out of the fit; each is released once, with
a new disturbance, on the grid of the map.
"""

import numpy as np

from sinkbowl.corrected.flow_map import KEPT_OUT, MapRow, shipped_rows
from sinkbowl.corrected.model import corrected
from sinkbowl.design.budget.variation import meniscus_aside
from sinkbowl.reduced import heave
from sinkbowl.running.to_the_rim import as_the_flow_sees_it, released
from sinkbowl.scatter.disturbance import drawn

from .verification_case import Check, VerificationCase

BOWLS, SEED = 10, 1

INSIDE = 8
"""Number of ten that must be inside: with 95 % each, fewer have a probability of 1 %."""

LONGEST = 1.5
"""Maximum sinking time of a bowl computed again [s]: ten take two minutes."""


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
