"""Trend of a coefficient from hole to hole.

A straight line through each hole's coefficient, weighted by its interval, against the logarithm of
the diameter. If the residuals are larger than the intervals, these are enlarged by a common factor
(Birge 1932, as in `estimate`). There is a trend if the slope differs from 0 at the level of all
intervals, by Student's t if the residuals set the scale.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from sinkbowl.common.constants import QUANTILE
from sinkbowl.common.student import student
from sinkbowl_post.fitting.estimate import ConfidenceInterval

FEWEST = 3
"""Minimum number of holes."""


@dataclass(frozen=True)
class Trend:
    """A trend of a coefficient, from the narrowest hole to the widest.

    Attributes
    ----------
    narrow, wide : those holes [m]
    first, last : the line's coefficient there
    """

    narrow: float
    wide: float
    first: float
    last: float

    def as_dict(self) -> dict[str, float]:
        """Numbers for JSON."""
        return {
            "narrowest_hole_m": self.narrow,
            "widest_hole_m": self.wide,
            "first": self.first,
            "last": self.last,
        }


def trend_of(
    holes: Sequence[float], coefficients: Sequence[ConfidenceInterval | None]
) -> Trend | None:
    """The trend of a model's coefficients over the holes [m], or None."""
    known = [(d, c) for d, c in zip(holes, coefficients, strict=True) if c and c.half_width > 0]
    if len(known) < FEWEST:
        return None
    x = np.log([d for d, _ in known])
    y = np.array([c.value for _, c in known])
    weight = (QUANTILE / np.array([c.half_width for _, c in known])) ** 2
    middle = float(np.average(x, weights=weight))
    spread = float(np.sum(weight * (x - middle) ** 2))
    slope = float(np.sum(weight * (x - middle) * y)) / spread
    level = float(np.average(y, weights=weight))
    freedom = len(known) - 2
    scale = float(np.sum(weight * (y - level - slope * (x - middle)) ** 2)) / freedom
    quantile = QUANTILE
    if scale > 1.0:
        quantile = student(freedom) * float(np.sqrt(scale))
    if abs(slope) <= quantile / np.sqrt(spread):
        return None
    ends = min(d for d, _ in known), max(d for d, _ in known)
    first, last = (level + slope * (float(np.log(d)) - middle) for d in ends)
    return Trend(*ends, first, last)
