"""A smooth surface through scattered values: Gaussian process regression.

y(x) = y0 + f(x) + noise, f a Gaussian process with the kernel (Matern, nu = 5/2)

    k(x, x') = a^2 (1 + s + s^2/3) exp(-s),   s = sqrt(5 sum(((x_i - x'_i) / l_i)^2)),

Rasmussen & Williams 2006, "Gaussian Processes for Machine Learning", eq. 2.25-2.26 and 4.17 (from
memory). Its constants are found once, by scikit-learn, when the map is made (mapping/fit.py); what
is left for every day is a product of matrices, which a test holds against that library.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import NamedTuple

import numpy as np

from sinkbowl.common.sinking import FloatArray


class Estimate(NamedTuple):
    """Value of a surface at a point, and the standard deviation of the surface there."""

    value: float
    deviation: float


@dataclass(frozen=True, eq=False)
class Surface:
    """A fitted surface.

    Attributes
    ----------
    points : (n, k) where values are known
    values : (n,) there
    noise : (n,) standard deviation of each value about the surface
    amplitude : a, of the values' kind
    lengths : (k,) l_i, of the coordinates' kind
    mean : y0, to which the surface returns far from all points
    """

    points: FloatArray
    values: FloatArray
    noise: FloatArray
    amplitude: float
    lengths: FloatArray
    mean: float

    def at(self, point: FloatArray) -> Estimate:
        """Value and standard deviation at a point (k,)."""
        near = self._kernel(point[None, :], self.points)[0]
        value = self.mean + near @ self._weights
        variance = self.amplitude**2 - near @ self._inverse @ near
        return Estimate(float(value), float(np.sqrt(max(variance, 0.0))))

    def values_at(self, points: FloatArray) -> FloatArray:
        """Values (m,) at points (m, k); their deviations cost much more."""
        return np.asarray(self.mean + self._kernel(points, self.points) @ self._weights)

    def left_out(self) -> tuple[FloatArray, FloatArray]:
        """At each known point the value and deviation of a surface that does not know it, (n,).

        The deviation is that of a value measured there: surface and noise (eq. 5.12, as above).
        """
        diagonal = np.diag(self._inverse)
        return self.values - self._weights / diagonal, np.sqrt(1.0 / diagonal)

    def covariance(self, points: FloatArray) -> FloatArray:
        """Covariance of the surface between points (m, k), after all that is known, (m, m)."""
        near = self._kernel(points, self.points)
        return self._kernel(points, points) - near @ self._inverse @ near.T

    @cached_property
    def _between(self) -> FloatArray:
        """Covariance of the values that are known, (n, n)."""
        return self._kernel(self.points, self.points) + np.diag(self.noise**2)

    @cached_property
    def _inverse(self) -> FloatArray:
        return np.asarray(np.linalg.inv(self._between))

    @cached_property
    def _weights(self) -> FloatArray:
        return np.asarray(np.linalg.solve(self._between, self.values - self.mean))

    def _kernel(self, a: FloatArray, b: FloatArray) -> FloatArray:
        """Covariance of the surface between points (n, k) and (m, k)."""
        a, b = a / self.lengths, b / self.lengths
        squared = np.sum(a**2, axis=1)[:, None] + np.sum(b**2, axis=1) - 2.0 * a @ b.T
        s = np.sqrt(5.0 * np.maximum(squared, 0.0))  # rounded off, a point has a distance to itself
        return np.asarray(self.amplitude**2 * (1.0 + s + s**2 / 3.0) * np.exp(-s))
