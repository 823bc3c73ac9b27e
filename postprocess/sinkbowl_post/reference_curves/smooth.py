"""Smooth reference curves: sinking time against hole by a model, with its band.

The bowl of the family's first run is computed by the model with holes from the narrowest to the
widest of the family.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from statistics import fmean

import numpy as np

from sinkbowl.case.case import Case
from sinkbowl.common.errors import CaseError
from sinkbowl.common.sinking import FloatArray
from sinkbowl.corrected import MODELS
from sinkbowl.corrected import model as corrected
from sinkbowl.design.budget.variation import meniscus_aside
from sinkbowl.reduced import heave
from sinkbowl.scatter.interval import hole_ratio
from sinkbowl_post.reference_curves.points import RunPoint, displaced

HOLES = 32  # holes of a curve, at equal ratios

SMOOTH_MODELS = (corrected.MODEL, heave.MODEL)


@dataclass(frozen=True, eq=False)
class SmoothFamily:
    """One curve: d/D (n,), and dimensionless time with the ends of its 95 % interval, nan in gaps.

    model : its model; without an interval low and high are the time itself
    """

    model: str
    ratio: FloatArray
    time: FloatArray
    low: FloatArray
    high: FloatArray


def smooth_family(
    family: Sequence[RunPoint], model: str, tried: Case | None = None
) -> SmoothFamily | None:
    """The curve of a family; None if its bowl is unknown.

    tried: the bowl of points from a table, with the family's mass. Raises RunError if a model does
    not end.
    """
    known = [point.case for point in family if point.case is not None]
    if not known and tried is None:
        return None
    case = known[0] if known or tried is None else tried
    mass = None
    if not known:  # that of the bowl without its ballast, for the mass ratio of the family [kg]
        ratio = fmean(point.mass_ratio for point in family)
        mass = ratio * case.water.density * displaced(case) - case.ballast.mass
    scale = family[0].scale
    narrow, wide = (pick(point.hole for point in family) for pick in (min, max))
    holes = np.geomspace(narrow, wide, HOLES)
    rows = np.array([_times(case, float(hole), mass, model) for hole in holes])
    return SmoothFamily(model, rows[:, 0], *(rows[:, 1:] / scale).T)


def _times(
    case: Case, hole: float, mass: float | None, model: str
) -> tuple[float, float, float, float]:
    """d/D, time and the ends of its interval [s], or nan.

    mass: of the drilled bowl [kg]; None: by drilling.
    """
    try:
        drilled = case.with_hole(hole)
    except CaseError:
        return np.nan, np.nan, np.nan, np.nan
    if mass is not None:
        drilled = replace(drilled, bowl=drilled.bowl.weighing(mass))
    other, ratio = meniscus_aside(drilled), hole_ratio(drilled)
    if model != corrected.MODEL:
        time = MODELS[model](other, beyond=False).sinking_time or np.nan
        return ratio, time, time, time
    found = corrected.corrected(other, heave.solve(other, beyond=False))
    if found.best is None:
        return ratio, np.nan, np.nan, np.nan
    return ratio, found.best.time, *found.best.interval
