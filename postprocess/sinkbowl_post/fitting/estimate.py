"""Least squares, with confidence intervals.

The parameters p minimise chi^2 = r^T S^-1 r, r = y - f(p), S the covariance of the measured y
(Aitken 1935, Proc. R. Soc. Edinburgh 55, 42), which is the square of L^-1 r, S = L L^T. With J the
derivative of that at the minimum, the parameters' covariance is (J^T J)^-1, from which intervals
follow by linearisation (Seber & Wild 1989, Nonlinear Regression, sec. 5.1, from memory).
chi^2 tests whether the errors are as large as in S: it then follows its distribution with n - k
degrees of freedom.

Also the trend of a coefficient from hole to hole: a straight line through each hole's coefficient,
weighted by its interval, against the logarithm of the diameter. There is a trend if the slope
differs from 0 at the level of all intervals, by Student's t if the residuals set the scale.
"""

from collections.abc import Callable, Sequence
from dataclasses import asdict, dataclass

import numpy as np
from scipy.special import chdtrc, stdtrit

from sinkbowl.common import LEVEL, QUANTILE
from sinkbowl.common.numerics import student
from sinkbowl.common.sinking import FloatArray

DOUBTFUL = 0.05  # probability of a larger chi^2 below which the errors do not explain the residuals
FEWEST_HOLES = 3  # minimum number of holes of a trend


@dataclass(frozen=True)
class ConfidenceInterval:
    """A value and its confidence interval, of `LEVEL`."""

    value: float
    low: float
    high: float

    @property
    def half_width(self) -> float:
        """Half the interval's width."""
        return 0.5 * (self.high - self.low)

    def as_dict(self) -> dict[str, float]:
        """Numbers for JSON."""
        return asdict(self)


@dataclass(frozen=True, eq=False)
class FitResult:
    """Result of a fit.

    parameters : (k,)
    covariance : of the parameters, (k, k)
    residuals : y - f(p), (n,)
    chi_square : see the module
    freedom : degrees of freedom n - k
    inside : whether the minimum is inside the bounds; otherwise the rest is meaningless
    """

    parameters: FloatArray
    covariance: FloatArray
    residuals: FloatArray
    chi_square: float
    freedom: int
    inside: bool

    @property
    def chance(self) -> float:
        """Probability of a chi^2 this large or larger; 1 without freedom."""
        return float(chdtrc(self.freedom, self.chi_square)) if self.freedom > 0 else 1.0

    def interval(self, i: int = 0, quantile: float = QUANTILE) -> ConfidenceInterval:
        """Confidence interval of a parameter, with a half-width in standard uncertainties.

        If the errors do not explain the residuals they are enlarged by a common factor, sqrt(chi^2
        / freedom) (Birge 1932, Phys. Rev. 40, 207), and Student's t replaces the normal
        distribution.
        """
        if self.chance < DOUBTFUL:
            quantile = float(stdtrit(self.freedom, 0.5 + 0.5 * LEVEL))
            quantile *= float(np.sqrt(self.chi_square / self.freedom))
        half = quantile * float(np.sqrt(self.covariance[i, i]))
        value = float(self.parameters[i])
        return ConfidenceInterval(value, value - half, value + half)


def fit_parameters(
    model: Callable[[FloatArray], FloatArray],
    measured: FloatArray,
    errors: FloatArray,
    start: Sequence[float],
    bounds: tuple[Sequence[float], Sequence[float]],
) -> FitResult:
    """Least squares with independent errors.

    model : (k,) parameters to (n,) values
    measured : (n,)
    errors : standard deviations of the measured values (n,)
    start : (k,) initial parameters, inside the bounds
    bounds : lowest and highest values of the parameters
    """
    from scipy.optimize import least_squares  # slow to import; fits of trials do without

    found = least_squares(
        lambda p: (model(p) - measured) / errors,
        start,
        bounds=bounds,
        x_scale="jac",
        xtol=1e-12,
        ftol=1e-12,
        gtol=1e-12,
    )
    information = found.jac.T @ found.jac
    return FitResult(
        parameters=found.x,
        covariance=np.linalg.pinv(information),
        residuals=measured - model(found.x),
        chi_square=2.0 * float(found.cost),
        freedom=len(measured) - len(found.x),
        inside=not np.any(found.active_mask),
    )


def misfit(residuals: FloatArray, covariance: FloatArray) -> tuple[float, float]:
    """chi^2 of residuals (n,) without parameters, and the probability of a larger one."""
    value = float(residuals @ np.linalg.solve(covariance, residuals))
    return value, float(chdtrc(len(residuals), value))


@dataclass(frozen=True)
class Trend:
    """A trend of a coefficient, from the narrowest hole to the widest.

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
    if len(known) < FEWEST_HOLES:
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
