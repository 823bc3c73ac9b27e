"""A smooth surface through scattered values with a prior of given scale: a Gaussian process.

y(x) = s(x) f(x) + noise, s given, f a Gaussian process of mean 0 with the kernel (Matern, nu = 5/2)

    k(x, x') = a^2 (1 + d + d^2/3) exp(-d),   d = sqrt(5 sum(((x_i - x'_i) / l_i)^2)),

Rasmussen & Williams 2006, "Gaussian Processes for Machine Learning", eq. 2.25-2.26, 4.17 and, for
leaving out one point, 5.12 (from memory). Its constants maximise the likelihood (eq. 5.9); they are
fitted once, with the map (tests/benchmarks/mapping/fit.py).

The surface of ln(flow over heave) is shipped with the map's table: surface.toml has its constants
    and a row per bowl, made by ``python tests/benchmarks/fit_map.py``.
"""

import hashlib
import tomllib
from dataclasses import dataclass
from functools import cache, cached_property
from importlib.resources import files
from typing import NamedTuple

import numpy as np

from sinkbowl.common import LEVEL, QUANTILE
from sinkbowl.common.errors import ResultError
from sinkbowl.common.numerics import FrozenArrays
from sinkbowl.common.sinking import FloatArray
from sinkbowl.corrected.flow_map import TABLE
from sinkbowl.corrected.similarity import Likeness


class Prediction(NamedTuple):
    """Value at a point, its standard deviation, and that of the prior."""

    value: float
    deviation: float
    prior: float


@dataclass(frozen=True, eq=False)
class Surface(FrozenArrays):
    """A fitted surface.

    points : (n, k) of the data
    values : (n,) at the points
    scale : (n,) s at the points
    noise : (n,) standard deviation of each value about the surface
    amplitude : a
    lengths : (k,) l_i, in units of the coordinates
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
        """Value and deviation at each point of a surface fitted without it, (n,).

        The deviation includes surface and noise.
        """
        diagonal = np.diag(self._inverse)
        return self.values - self._weights / diagonal, np.sqrt(1.0 / diagonal)

    @cached_property
    def widening(self) -> float:
        """Factor of the deviations so that 95 % of the left-out points are within 1.96 of them."""
        value, deviation = self.left_out()
        off = np.abs(self.values - value) / deviation
        return max(1.0, float(np.quantile(off, LEVEL)) / QUANTILE)

    def covariance(self, points: FloatArray, scale: FloatArray) -> FloatArray:
        """Covariance between points (m, k) of scale (m,), given the data, (m, m)."""
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


SURFACE = "surface.toml"

FLOOR = 0.003  # minimum standard deviation of ln(time) of flow over heave


@dataclass(frozen=True, eq=False)
class Learnt:
    """The surface; white: standard deviation of ln(time) about it for `Likeness.rough` = 1."""

    surface: Surface
    white: float

    def noise(self, like: Likeness) -> float:
        """Standard deviation of a bowl's ln(time) about the surface."""
        return float(np.hypot(self.white * np.sqrt(like.rough), FLOOR))


@cache
def learnt() -> Learnt:
    """The shipped surface; ResultError if it does not belong to the shipped map."""
    shipped = files(__package__)
    content = tomllib.loads(shipped.joinpath(SURFACE).read_text(encoding="utf-8"))
    if checksum(shipped.joinpath(TABLE).read_bytes()) != content["table_sha256"]:
        raise ResultError(f"{TABLE} and {SURFACE} do not belong together. Install sinkbowl again.")
    rows = np.loadtxt(content["rows"].splitlines(), delimiter=",")
    surface = Surface(
        points=rows[:, :-3],
        scale=rows[:, -3],
        noise=rows[:, -2],
        values=rows[:, -1],
        amplitude=content["amplitude"],
        lengths=np.array(content["lengths"]),
    )
    return Learnt(surface, content["white"])


def checksum(table: bytes) -> str:
    """Checksum of the table that a surface belongs to."""
    return hashlib.sha256(table).hexdigest()
