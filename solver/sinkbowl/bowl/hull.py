"""Volume below a level inside an outline of revolution, exact on the polyline.

An outline (r, z), revolved about the axis and closed by a flat disc at its first point's height,
encloses the volume

    V(z) = pi * int r(zeta)^2 dzeta   (signed along the outline, clipped at z),

Green's theorem with Pappus' weight: a part of the outline that runs downwards (a foot ring, the
outer side of a moat) counts negative, so any simple outline is measured exactly. Between two
vertex heights the area is a quadratic in z and the volume a cubic; both are tabulated once.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import ArrayLike, NDArray

from sinkbowl.common.numerics import FrozenArrays

FloatArray = NDArray[np.float64]

NEWTON_STEPS = 60
"""Upper bound; bisection alone closes an interval to round-off in about 53 halvings."""


@dataclass(frozen=True, eq=False)
class Hull(FrozenArrays):
    """Piecewise polynomials of the volume enclosed by a revolved outline.

    heights : (k+1,) distinct vertex heights, ascending [m]
    area : (k, 3) coefficients of the area [m^2] in powers of (z - heights[i])
    inertia : (k, 5) the same for the area's second moment about a diameter [m^4]
    volume : (k+1,) volume below each height [m^3]
    moment : (k+1,) first moment of that volume about z = 0 [m^4]
    """

    heights: FloatArray
    area: FloatArray
    inertia: FloatArray
    volume: FloatArray
    moment: FloatArray

    @classmethod
    def of_outline(cls, outline: FloatArray) -> Hull:
        """Tabulate an outline (n, 2) of r, z [m] that runs from its closing disc to its rim."""
        heights = np.unique(outline[:, 1])
        area, inertia = _section_coefficients(outline, heights)
        span = np.diff(heights)
        volume = np.concatenate(([0.0], np.cumsum(_integral(area, span))))
        moment = np.concatenate(([0.0], np.cumsum(_moment_integral(area, heights[:-1], span))))
        return cls(heights, area, inertia, volume, moment)

    @cached_property
    def widest_radius(self) -> float:
        """Largest radius of a disc as large as a section at a vertex [m]."""
        top = self.waterplane(self.heights[-1])
        return float(np.sqrt(max(self.area[:, 0].max(), top) / np.pi))

    def volume_below(self, z: ArrayLike) -> FloatArray:
        """Volume below height z [m^3]; 0 below the outline, the total volume above it."""
        i, s = self._locate(z)
        return np.asarray(self.volume[i] + _integral(self.area[i], s))

    def moment_below(self, z: ArrayLike) -> FloatArray:
        """First moment about z = 0 of the volume below height z [m^4]."""
        i, s = self._locate(z)
        return np.asarray(self.moment[i] + _moment_integral(self.area[i], self.heights[i], s))

    def waterplane(self, z: ArrayLike) -> FloatArray:
        """Area of the horizontal section at height z [m^2]; 0 outside the outline.

        On a flat step the area just above it, at the rim the area just below.
        """
        return self._section(z, self.area)

    def waterplane_inertia(self, z: ArrayLike) -> FloatArray:
        """Second moment of that area about a diameter [m^4], pi r^4 / 4 for a disc."""
        return self._section(z, self.inertia)

    def _section(self, z: ArrayLike, coefficients: FloatArray) -> FloatArray:
        i, s = self._locate(z)
        inside = (np.asarray(z) >= self.heights[0]) & (np.asarray(z) <= self.heights[-1])
        total = coefficients[i, -1]
        for k in range(coefficients.shape[1] - 2, -1, -1):
            total = total * s + coefficients[i, k]
        return np.where(inside, total, 0.0)

    def level(self, volume: ArrayLike) -> FloatArray:
        """Height below which the given volume lies [m]: the inverse of volume_below.

        Volumes outside 0 .. whole give the lowest and the highest vertex. Newton's method inside
        a shrinking bracket, so that it also converges where the area vanishes.
        """
        wanted = np.clip(np.asarray(volume, dtype=float), 0.0, self.volume[-1])
        i = np.clip(
            np.searchsorted(self.volume, wanted, side="right") - 1, 0, self.area.shape[0] - 1
        )
        c, rest = self.area[i], wanted - self.volume[i]
        low, high = np.zeros_like(rest), self.heights[i + 1] - self.heights[i]
        s = np.where(rest > 0.0, high, 0.0)
        for _ in range(NEWTON_STEPS):
            excess = _integral(c, s) - rest
            high, low = np.where(excess > 0.0, s, high), np.where(excess > 0.0, low, s)
            slope = c[..., 0] + s * (c[..., 1] + s * c[..., 2])
            newton = s - excess / np.where(slope > 0.0, slope, np.inf)
            inside = (newton >= low) & (newton <= high) & (slope > 0.0)
            following = np.where(excess == 0.0, s, np.where(inside, newton, 0.5 * (low + high)))
            step, s = np.abs(following - s), following
            if np.all(step <= 1e-15 * (self.heights[-1] - self.heights[0])):
                break
        return np.asarray(self.heights[i] + s)

    def _locate(self, z: ArrayLike) -> tuple[NDArray[np.intp], FloatArray]:
        """Interval of each height and the distance above its lower end, clipped to the outline."""
        low, high = self.heights[0], self.heights[-1]
        clipped = np.minimum(np.maximum(np.asarray(z, dtype=float), low), high)
        # The last height lies in the last interval, not in one of its own.
        i = np.searchsorted(self.heights[1:-1], clipped, side="right")
        return i, clipped - self.heights[i]


def _section_coefficients(
    outline: FloatArray, heights: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Signed sums of pi r^2 and pi r^4 / 4 over the segments that cross each height interval."""
    area, inertia = np.zeros((heights.size - 1, 3)), np.zeros((heights.size - 1, 5))
    (r0, z0), (r1, z1) = outline[:-1].T, outline[1:].T
    first, last = (np.searchsorted(heights, end(z0, z1)) for end in (np.minimum, np.maximum))
    # One row for each interval that each segment crosses; flat ones cross none.
    segment = np.repeat(np.arange(z0.size), last - first)
    before = np.concatenate(([0], np.cumsum(last - first)[:-1]))
    interval = first[segment] + np.arange(segment.size) - before[segment]
    r0, r1, z0, z1 = r0[segment], r1[segment], z0[segment], z1[segment]
    sign, m = np.sign(z1 - z0)[:, None], (r1 - r0) / (z1 - z0)
    # Powers of scalars: powers of arrays differ in the last bit.
    m2, m3, m4 = np.array([(x**2, x**3, x**4) for x in m]).reshape(-1, 3).T
    r = r0 + m * (heights[interval] - z0)
    square = np.stack((r**2, 2.0 * r * m, m2), axis=1)
    fourth = np.stack((r**4, 4.0 * r**3 * m, 6.0 * r**2 * m2, 4.0 * r * m3, m4), axis=1)
    np.add.at(area, interval, sign * np.pi * square)
    np.add.at(inertia, interval, sign * np.pi / 4.0 * fourth)
    return area, inertia


def _integral(c: FloatArray, s: FloatArray) -> FloatArray:
    """Integral of the quadratic with coefficients c (..., 3) from 0 to s."""
    return np.asarray(s * (c[..., 0] + s * (c[..., 1] / 2.0 + s * c[..., 2] / 3.0)))


def _moment_integral(c: FloatArray, base: FloatArray, s: FloatArray) -> FloatArray:
    """Integral of (base + x) times the quadratic with coefficients c from 0 to s."""
    about_base = s**2 * (c[..., 0] / 2.0 + s * (c[..., 1] / 3.0 + s * c[..., 2] / 4.0))
    return np.asarray(base * _integral(c, s) + about_base)


def distance_to(point: FloatArray, line: FloatArray) -> float:
    """Distance of a point (2,) from a polyline (n, 2) [m]."""
    start, step = line[:-1], np.diff(line, axis=0)
    share = np.sum((point - start) * step, axis=1) / np.sum(step**2, axis=1)
    nearest = start + np.clip(share, 0.0, 1.0)[:, None] * step
    return float(np.min(np.hypot(*(point - nearest).T)))
