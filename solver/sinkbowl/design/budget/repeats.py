"""Number of repeats with which a difference of two means is significant.

Two bowls, n trials each, scatter s from trial to trial, compared by a two-sided t test. It finds a
true difference D with the power

    P(|T| > t_(1 - alpha/2, 2n - 2)),

T noncentral t with 2n - 2 degrees of freedom and the noncentrality D sqrt(n / 2) / s

(Cohen 1988, Statistical Power Analysis for the Behavioral Sciences, ch. 2, from memory); the
normal approximation is n = 2 (z_(1 - alpha/2) + z_power)^2 (s / D)^2.
"""

import math
from statistics import NormalDist

import numpy as np

from sinkbowl.common.numerics import student

LEVEL, POWER = 0.05, 0.8
"""Probability of a false positive, and of detecting a true difference (common practice)."""

FAR = 6.0  # range of the density over its width 1 / sqrt(freedom) to each side

PLACES, WEIGHTS = np.polynomial.legendre.leggauss(80)

MANY = 2_000  # number of trials from which the normal approximation is used


def power(difference: float, scatter: float, trials: int, level: float = LEVEL) -> float:
    """Probability that the t test detects a difference of two means.

    difference, scatter : true difference and standard deviation, in the same unit, > 0
    trials : of each of the two, at least 2
    level : two-sided significance level
    """
    return seen(difference / scatter * math.sqrt(0.5 * trials), 2 * trials - 2, level)


def seen(shift: float, freedom: int, level: float = LEVEL) -> float:
    """Power of a two-sided t test with the noncentrality `shift`.

    T = (Z + shift) / u, Z normal, u the sample's standard deviation over the true one: the normal
    probability for each u, integrated over the density of u by Gauss's rule (scipy's function
    returns some nan).
    """
    critical, half = student(freedom, 1.0 - level), 0.5 * freedom
    low, high = max(0.0, 1.0 - FAR / math.sqrt(freedom)), 1.0 + FAR / math.sqrt(freedom)
    u = low + 0.5 * (high - low) * (PLACES + 1.0)
    density = math.log(2.0) + half * math.log(half) - math.lgamma(half) - half * u**2
    density += (freedom - 1.0) * np.log(u)
    cdf = NormalDist().cdf
    both = [cdf(shift - critical * one) + cdf(-shift - critical * one) for one in u.tolist()]
    return float(0.5 * (high - low) * np.sum(WEIGHTS * np.exp(density) * both))


def repeats_needed(difference: float, scatter: float) -> int:
    """Number of trials of each of two bowls that shows a difference of their mean times.

    difference : to be shown, > 0
    scatter : standard deviation from trial to trial, >= 0, in the same unit

    At least 2: one has no scatter to compare with. Raises ValueError if the difference is not
    positive.
    """
    if not difference > 0.0:
        raise ValueError(f"a difference to be shown must be above 0, not {difference}")
    normal = NormalDist()
    deviates = normal.inv_cdf(1.0 - 0.5 * LEVEL) + normal.inv_cdf(POWER)
    rough = 2.0 * (deviates * scatter / difference) ** 2
    if rough > MANY:
        return math.ceil(rough)
    trials = max(2, math.floor(rough))
    while scatter > 0.0 and power(difference, scatter, trials) < POWER:
        trials += 1
    return trials
