"""Grubbs' test: whether the value farthest from the mean is an outlier.

G = max |x - mean| / s is an outlier's, at level alpha and two-sided, above

    (N - 1)/sqrt(N) sqrt(t^2 / (N - 2 + t^2)),  t the upper alpha/(2 N) point of Student's t, N - 2

(NIST/SEMATECH e-Handbook of Statistical Methods, 1.3.5.17.1, from memory). It holds for values from
one normal distribution with one outlier at most.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from statistics import fmean, stdev

from scipy.stats import t as student

ALPHA = 0.05
FEWEST = 3
"""Values below which nothing can be an outlier."""


@dataclass(frozen=True)
class Grubbs:
    """The test's figures.

    Attributes
    ----------
    farthest : index of the value farthest from the mean
    g, critical : its statistic, and the one above which it is an outlier
    """

    farthest: int
    g: float
    critical: float

    @property
    def outlier(self) -> bool:
        """Whether the farthest value is one."""
        return self.g > self.critical


def grubbs(values: Sequence[float]) -> Grubbs | None:
    """Test values; None for fewer than three, or where all are the same."""
    if len(values) < FEWEST or stdev(values) == 0.0:
        return None
    mean, spread = fmean(values), stdev(values)
    farthest = max(range(len(values)), key=lambda k: abs(values[k] - mean))
    g = abs(values[farthest] - mean) / spread
    return Grubbs(farthest, g, critical_value(len(values), ALPHA / 2.0))


def critical_value(count: int, alpha: float) -> float:
    """Statistic above which one side's farthest of ``count`` values is an outlier."""
    point = float(student.isf(alpha / count, count - 2))
    return (count - 1) / math.sqrt(count) * math.sqrt(point**2 / (count - 2 + point**2))
