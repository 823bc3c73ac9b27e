"""Propagation of uncertainties, to first order and by Monte Carlo.

First order, the law of propagation for independent inputs (JCGM 100:2008, formula 10):

    u_c^2 = sum_i (c_i u_i)^2,   c_i u_i = [f(x_i + u_i) - f(x_i - u_i)] / 2   (5.1.3, note 2).

Monte Carlo (JCGM 101:2008) samples normal inputs with a fixed seed. To make many samples cheap, it
samples a sum of parabolas through the three values of each input:

    F = F_0 + sum_i (a_i s_i + b_i s_i^2),   s_i = deviation / u_i,

which has no mixed terms: its error must be stated with the result.
"""

from dataclasses import dataclass

import numpy as np

from sinkbowl.common.sinking import FloatArray

TRIALS, SEED = 20_000, 20_260
COVERAGE = (2.5, 97.5)  # percentiles between which 95 % of the samples lie


@dataclass(frozen=True, eq=False)
class Response:
    """Sum of parabolas, see the module.

    centre : F_0
    slope, curvature : a_i and b_i, (n,)
    """

    centre: float
    slope: FloatArray
    curvature: FloatArray

    def at(self, deviations: FloatArray) -> FloatArray:
        """Values (k,) at deviations (k, n) in units of the standard uncertainties."""
        return self.centre + deviations @ self.slope + deviations**2 @ self.curvature


def response(centre: float, below: FloatArray, above: FloatArray) -> Response:
    """Parabolas through the values with the stated inputs and with one input changed.

    centre : value with all inputs as stated
    below, above : values with input i decreased, increased by its standard uncertainty, (n,)
    """
    return Response(centre, 0.5 * (above - below), 0.5 * (above + below) - centre)


def samples(inputs: int, trials: int = TRIALS, seed: int = SEED) -> FloatArray:
    """Standard normal deviates (trials, inputs), reproducible by the seed."""
    return np.random.default_rng(seed).standard_normal((trials, inputs))


def combined(effects: FloatArray) -> float:
    """Standard uncertainty from the effects c_i u_i of independent inputs."""
    return float(np.sqrt(np.sum(effects**2)))


@dataclass(frozen=True)
class Distribution:
    """Result of a Monte Carlo run.

    mean, deviation : of the samples
    low, high : 95 % interval
    """

    mean: float
    deviation: float
    low: float
    high: float


def distribution(values: FloatArray) -> Distribution:
    """Mean, standard deviation and 95 % interval of samples (k,), k >= 2."""
    low, high = np.percentile(values, COVERAGE)
    return Distribution(
        float(np.mean(values)), float(np.std(values, ddof=1)), float(low), float(high)
    )
