"""A family of reference curves without runs: sinking time against hole by a model, with its band.

The bowl of the family's first run is drilled anew, from a little under the narrowest hole of the
family to the widest, and the model is asked each time; where the corrected model has no correction
the curve has a gap.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from sinkbowl.before.budget.variation import meniscus_aside
from sinkbowl.case.case import Case
from sinkbowl.common.errors import CaseError
from sinkbowl.common.sinking import FloatArray
from sinkbowl.corrected import MODELS
from sinkbowl.corrected import model as corrected
from sinkbowl.reduced import heave
from sinkbowl.scatter.draws import hole_ratio
from sinkbowl_post.reference_curves.points import RunPoint

HOLES = 32
"""Holes of a curve, at equal ratios."""

BEYOND = 0.9
"""Where it begins, in the narrowest hole of the runs."""

SMOOTH_MODELS = (corrected.MODEL, heave.MODEL)


@dataclass(frozen=True, eq=False)
class SmoothFamily:
    """One curve: d/D (n,), and dimensionless time with the ends of its 95 % interval, nan in gaps.

    model : whose it is; low and high are the time itself where it tells no interval
    """

    model: str
    ratio: FloatArray
    time: FloatArray
    low: FloatArray
    high: FloatArray


def smooth_family(family: Sequence[RunPoint], model: str) -> SmoothFamily | None:
    """The curve of a family; None where no run of it tells its bowl.

    Raises
    ------
    RunError : a model comes to no end
    """
    known = [point for point in family if point.case is not None]
    if not known:
        return None
    case, scale = known[0].case, known[0].scale
    assert case is not None
    narrow, wide = (pick(point.hole for point in family) for pick in (min, max))
    holes = np.geomspace(BEYOND * narrow, wide, HOLES)
    rows = np.array([_times(case, float(hole), model) for hole in holes])
    return SmoothFamily(model, rows[:, 0], *(rows[:, 1:] / scale).T)


def _times(case: Case, hole: float, model: str) -> tuple[float, float, float, float]:
    """d/D, time and the ends of its interval [s], nan where there are none."""
    try:
        other = meniscus_aside(case.with_hole(hole))
    except CaseError:
        return np.nan, np.nan, np.nan, np.nan
    ratio = hole_ratio(other)
    if model != corrected.MODEL:
        time = MODELS[model](other, quick=True).sinking_time or np.nan
        return ratio, time, time, time
    found = corrected.corrected(other, heave.solve(other, quick=True))
    if found.interval is None or found.correction.reason:
        return ratio, np.nan, np.nan, np.nan
    return ratio, found.sinking.sinking_time or np.nan, *found.interval
