"""The course of a flow run, smoothed so that it can be differentiated twice.

Draft and inner water are fitted by quintic splines (least squares) with at least `STEPS_A_KNOT`
steps per knot; faster changes are splash. Readings of force are fitted as their time integrals:
impulses count, not single steps. The splines are the B-splines of Cox and de Boor (1972; from
memory): importing scipy's would take as long as a whole attribution.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from sinkbowl.common.sinking import FloatArray
from sinkbowl.reduced.start import release_draft, release_water
from sinkbowl.statics.vessel import Vessel

DEGREE = 5
MOST_KNOTS, STEPS_A_KNOT, FEWEST_KNOTS = 40, 8, 4
POINTS_A_KNOT = 30
"""Times between two knots at which the equations are evaluated. Water lands in bursts of some
milliseconds, whose impulse fewer miss: of 45 ms at a 40 mm hole 6 leave 28 unexplained, 30 two."""

BEYOND = 0.03  # share of the sinking time by which the fit extends beyond the rim
LEVELS = 4001  # heights of the table of inner volumes


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


@dataclass(frozen=True, eq=False)
class Record:
    """Data of a flow run for the attribution.

    t, draft : (n,) time since release [s], draft [m]
    inner_level : (n,) mean inner level above the hole's inner edge [m]
    time : until the rim is under [s]
    joined : when water first comes over the rim [s], infinite if it does not
    readings : further columns of the history by name (n,), if present
    """

    t: FloatArray
    draft: FloatArray
    inner_level: FloatArray
    time: float
    joined: float
    readings: Mapping[str, FloatArray]


class FlowCourse:
    """A run's draft and inner water as smooth functions of time, until the rim is under.

    t : (n,) equidistant times, the first at release [s]
    draft, speed, rise : (n,) draft [m] and its first two derivatives
    z : (n,) height of the mean inner level [m]
    flow, gain : (n,) inflow [m^3/s] and its derivative
    volume : (n,) water inside, including what is thrown above the rim [m^3]
    end : until the rim is under [s]
    readings : names of the further columns of the record
    """

    def __init__(self, vessel: Vessel, record: Record) -> None:
        self._record, self.end, self.readings = record, record.time, set(record.readings)
        last = min(record.time * (1.0 + BEYOND), record.joined)
        self._kept = (record.t > 0.0) & (record.t <= max(last, record.time))
        steps = int(np.count_nonzero(self._kept))
        self.knots = min(MOST_KNOTS, steps // STEPS_A_KNOT)
        if self.knots < FEWEST_KNOTS:
            raise ValueError(f"{steps} steps until the rim is under are too few for an attribution")
        self._end = float(record.t[self._kept][-1])
        self.t = np.linspace(0.0, min(record.time, self._end), POINTS_A_KNOT * self.knots + 1)
        heights = np.linspace(vessel.outer_edge, vessel.rim, LEVELS)
        table = np.asarray(vessel.inner.volume(heights))
        level = np.minimum(record.inner_level + vessel.inner_edge, vessel.rim)
        volume = np.interp(level, heights, table)
        if "aloft_volume" in record.readings:
            volume = volume + record.readings["aloft_volume"]
        start = vessel.case.start.kind
        calm = start in ("set down", "held")
        draft = self._spline(record.draft, release_draft(vessel.case), calm)
        inside = self._spline(volume, release_water(vessel), calm)
        self.draft, self.speed, self.rise = (draft(self.t, k) for k in range(3))
        self.volume, self.flow, self.gain = (inside(self.t, k) for k in range(3))
        self.z = np.interp(self.volume, table, heights)

    @cached_property
    def progress(self) -> NDArray[np.int64]:
        """Indices of the times at which the inner level is higher than ever before (m,), ascending.

        Raises ValueError if it does not rise.
        """
        highest = np.maximum.accumulate(np.concatenate(([-np.inf], self.z[:-1])))
        found = np.flatnonzero(self.z > highest + 1e-12)
        if len(found) < 2:
            raise ValueError("the inner level does not rise: there is nothing to attribute")
        return found

    def reading(self, name: str) -> FloatArray:
        """A reading of force or pressure at the times (n,), averaged over about a knot."""
        t, values = self._record.t, self._record.readings[name]
        steps = 0.5 * (values[1:] + values[:-1]) * np.diff(t)
        impulse = np.cumsum(np.concatenate(([values[0] * t[0]], steps)))
        return np.asarray(self._spline(impulse, 0.0, False)(self.t, 1))

    def rate(self, name: str) -> FloatArray:
        """Rate of a reading of momentum at the times (n,); it is 0 at release."""
        values = self._record.readings[name]
        return self._spline(values, 0.0, False)(self.t, 1)

    def _spline(self, values: FloatArray, start: float, even: bool) -> Spline:
        """Fit values (all rows of the record); `even` if their rate is zero at release.

        The time before release is then a mirror image, since splines are inaccurate at their ends.
        """
        y = np.concatenate(([start], values[self._kept]))
        knots, parts = self._mirrored if even else self._plain
        return fitted(knots, parts, np.concatenate((y[:0:-1], y)) if even else y, DEGREE)

    @cached_property
    def _plain(self) -> tuple[FloatArray, FloatArray]:
        """Knots from release on, and the B-splines at the record's times."""
        t = np.concatenate(([0.0], self._record.t[self._kept]))
        return self._with_basis(t, np.linspace(0.0, self._end, self.knots + 1))

    @cached_property
    def _mirrored(self) -> tuple[FloatArray, FloatArray]:
        """The same with the mirror image before release."""
        t = np.concatenate(([0.0], self._record.t[self._kept]))
        t = np.concatenate((-t[:0:-1], t))
        return self._with_basis(t, np.linspace(-self._end, self._end, 2 * self.knots + 1))

    def _with_basis(self, t: FloatArray, places: FloatArray) -> tuple[FloatArray, FloatArray]:
        first, last = np.full(DEGREE, places[0]), np.full(DEGREE, places[-1])
        knots = np.concatenate((first, places, last))
        return knots, basis(knots, t, DEGREE)
