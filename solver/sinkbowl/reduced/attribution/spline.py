"""Least-squares splines by the B-splines of Cox and de Boor (1972; from memory).

Importing scipy's would take as long as a whole attribution.
"""

from dataclasses import dataclass

import numpy as np

from sinkbowl.common.sinking import FloatArray


@dataclass(frozen=True, eq=False)
class Spline:
    """A spline by its knots (m + degree + 1,), repeated at the ends, and coefficients (m,)."""

    knots: FloatArray
    factors: FloatArray
    degree: int

    def __call__(self, t: FloatArray, order: int = 0) -> FloatArray:
        """Values, or derivatives of an order, at t (n,)."""
        if order == 0:
            return np.asarray(basis(self.knots, t, self.degree) @ self.factors)
        apart = self.knots[1 + self.degree : -1] - self.knots[1 : -1 - self.degree]
        slopes = self.degree * np.diff(self.factors) / apart
        return Spline(self.knots[1:-1], slopes, self.degree - 1)(t, order - 1)


def basis(knots: FloatArray, t: FloatArray, degree: int) -> FloatArray:
    """Value of each B-spline at t, (n, m)."""
    count = len(knots) - degree - 1
    i = np.clip(np.searchsorted(knots, t, side="right") - 1, degree, count - 1)
    found = [np.ones(len(t))]
    for k in range(1, degree + 1):
        higher = [np.zeros(len(t)) for _ in range(k + 1)]
        for j, lower in enumerate(found):
            left, right = knots[i + j + 1 - k], knots[i + j + 1]
            part = lower / (right - left)
            higher[j] += (right - t) * part
            higher[j + 1] += (t - left) * part
        found = higher
    whole = np.zeros((len(t), count))
    whole[np.arange(len(t))[:, None], i[:, None] - degree + np.arange(degree + 1)] = np.array(
        found
    ).T
    return whole


def fitted(knots: FloatArray, parts: FloatArray, values: FloatArray, degree: int) -> Spline:
    """Least-squares spline of values (n,), given its B-splines there, `parts` (n, m)."""
    factors = np.asarray(np.linalg.solve(parts.T @ parts, parts.T @ values), dtype=float)
    return Spline(knots, factors, degree)
