"""A smooth surface through scattered values, with a prior whose scale is known: a Gaussian process.

y(x) = s(x) f(x) + noise, s given, f a Gaussian process of mean 0 with the kernel (Matern, nu = 5/2)

    k(x, x') = a^2 (1 + d + d^2/3) exp(-d),   d = sqrt(5 sum(((x_i - x'_i) / l_i)^2)),

Rasmussen & Williams 2006, "Gaussian Processes for Machine Learning", eq. 2.25-2.26, 4.17 and, for
what a surface without one of its points says there, 5.12 (from memory). Its constants are those of
greatest likelihood (eq. 5.9), found once, when the map is made (mapping/fit.py).
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import NamedTuple

import numpy as np

from sinkbowl.common.constants import LEVEL, QUANTILE
from sinkbowl.common.frozen import FrozenArrays
from sinkbowl.common.sinking import FloatArray


class Prediction(NamedTuple):
    """Value of a surface at a point, its standard deviation there, and that of the prior."""

    value: float
    deviation: float
    prior: float


@dataclass(frozen=True, eq=False)
class Surface(FrozenArrays):
    """A fitted surface.

    Attributes
    ----------
    points : (n, k) where values are known
    values : (n,) there
    scale : (n,) s there
    noise : (n,) standard deviation of each value about the surface
    amplitude : a
    lengths : (k,) l_i, of the coordinates' kind
    """

    points: FloatArray
    values: FloatArray
    scale: FloatArray
    noise: FloatArray
    amplitude: float
    lengths: FloatArray

    def at(self, point: FloatArray, scale: float) -> Prediction:
        """Value and standard deviations at a point (k,) with its scale."""
        prior = self.amplitude * scale
        near = self._kernel(point[None, :], np.array([scale]), self.points, self.scale)[0]
        variance = prior**2 - near @ self._inverse @ near
        return Prediction(float(near @ self._weights), float(np.sqrt(max(variance, 0.0))), prior)

    def left_out(self) -> tuple[FloatArray, FloatArray]:
        """At each known point the value and deviation of a surface that does not know it, (n,).

        The deviation is that of a value measured there: surface and noise.
        """
        diagonal = np.diag(self._inverse)
        return self.values - self._weights / diagonal, np.sqrt(1.0 / diagonal)

    @cached_property
    def widening(self) -> float:
        """Of the deviations, so that of the points left out 95 % lie within 1.96 of them."""
        value, deviation = self.left_out()
        off = np.abs(self.values - value) / deviation
        return max(1.0, float(np.quantile(off, LEVEL)) / QUANTILE)

    def covariance(self, points: FloatArray, scale: FloatArray) -> FloatArray:
        """Covariance between points (m, k) of scale (m,), after all that is known, (m, m)."""
        near = self._kernel(points, scale, self.points, self.scale)
        return self._kernel(points, scale, points, scale) - near @ self._inverse @ near.T

    @cached_property
    def _inverse(self) -> FloatArray:
        between = self._kernel(self.points, self.scale, self.points, self.scale)
        return np.asarray(np.linalg.inv(between + np.diag(self.noise**2)))

    @cached_property
    def _weights(self) -> FloatArray:
        return np.asarray(self._inverse @ self.values)

    def _kernel(self, a: FloatArray, s: FloatArray, b: FloatArray, t: FloatArray) -> FloatArray:
        """Covariance between points (n, k) of scale (n,) and (m, k) of scale (m,)."""
        kernel, _ = matern(a / self.lengths, b / self.lengths)
        return np.asarray(self.amplitude**2 * np.outer(s, t) * kernel)


def matern(a: FloatArray, b: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Kernel of unit amplitude and lengths between points (n, k) and (m, k), and its slope.

    The slope is minus that over half the squared distance.
    """
    squared = np.sum(a**2, axis=1)[:, None] + np.sum(b**2, axis=1) - 2.0 * a @ b.T
    d = np.sqrt(5.0 * np.maximum(squared, 0.0))  # rounded off, a point has a distance to itself
    return (1.0 + d + d**2 / 3.0) * np.exp(-d), 5.0 / 3.0 * (1.0 + d) * np.exp(-d)
