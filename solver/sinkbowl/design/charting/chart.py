"""The chart of a bowl: outcome and time over hole and load.

Nodes lie in columns, one per hole, and in rows, equal shares of each column's span of loads, whose
ends are the borders of the zones that float and that go under at once. Between nodes the logarithms
of times are interpolated. Whether a bowl tips is only yes or no: the border is found by bisection
between two nodes.
"""

import math
from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from sinkbowl.case.case import Case
from sinkbowl.common.errors import CaseError
from sinkbowl.common.numerics import Monotone
from sinkbowl.common.sinking import FloatArray
from sinkbowl.corrected import model as corrected
from sinkbowl.corrected.correction import without_map
from sinkbowl.design.charting.column import (
    CHART_MODELS,
    NOWHERE,
    Column,
    LoadKind,
    column_of,
    crossings_between,
    load_kind,
    shares_of_rows,
    span,
)
from sinkbowl.design.sizing.design_variable import hole_setting
from sinkbowl.reduced import heave

COLUMNS = {corrected.MODEL: 25, heave.MODEL: 17}
"""Holes of a chart by model: the corrected times oscillate with the hole where heave matters."""

WIDEST_OVER_NARROWEST = 40.0  # ratio of the holes on a chart; narrower ones take hours
INWARDS = 0.9  # narrowest hole of the chart over a hole that must not lie on its border

Progress = Callable[[int, int], None]


SMALL_GROWTH = 0.1  # invisible growth exponent: smaller ones are interpolated as constant


@dataclass(frozen=True, eq=False)
class Chart:
    """Outcome and times over holes and loads.

    case : the bowl
    model : of the times
    kind : of the load, "ballast" or the whole "bowl"
    columns : (n,) from the narrowest hole to the widest
    row_crossings : (n - 1, ROWS) share of the way, in the logarithm of the hole, from a column to
        the next at which tipping begins or ends; nan if nothing changes
    """

    case: Case
    model: str
    kind: LoadKind
    columns: tuple[Column, ...]
    row_crossings: FloatArray

    @cached_property
    def holes(self) -> FloatArray:
        """Diameters of the columns [m], (n,)."""
        return np.array([column.hole for column in self.columns])

    @cached_property
    def low(self) -> FloatArray:
        """Lightest load that sinks with each hole [kg], (n,)."""
        return np.array([column.span.low for column in self.columns])

    @cached_property
    def high(self) -> FloatArray:
        """Heaviest load that floats dry, or fits, with each hole [kg], (n,)."""
        return np.array([column.span.high for column in self.columns])

    @property
    def floats_below(self) -> bool:
        """Whether it floats with lighter loads; otherwise there are none."""
        return any(column.span.floats_below for column in self.columns)

    @property
    def under_above(self) -> bool:
        """Whether it goes under at once with heavier loads; otherwise none fits."""
        return any(column.span.under_above for column in self.columns)

    def field(self, name: str) -> FloatArray:
        """A quantity of the chart points at all nodes, (n, ROWS)."""
        rows = [[getattr(one, name) for one in column.chart_points] for column in self.columns]
        return np.array(rows, dtype=float)

    def span_at(self, hole: float) -> tuple[float, float]:
        """Lightest and heaviest load [kg] of a hole [m]."""
        low, high = self.loads(np.array([hole]), np.array([0.0, 1.0]))[0]
        return float(low), float(high)

    def loads(self, holes: FloatArray, shares: FloatArray) -> FloatArray:
        """Loads [kg], (i, j), at shares (j,) of the spans of holes (i,) [m]."""
        x, at = np.log(self.holes), np.log(holes)
        low, high = np.interp(at, x, self.low), np.interp(at, x, self.high)
        return np.asarray(low[:, None] + shares * (high - low)[:, None])

    def times(self, holes: FloatArray, shares: FloatArray) -> FloatArray:
        """Sinking times [s], (i, j), of holes (i,) [m] at shares (j,) of their spans."""
        return self._scaled("time", holes, shares)

    def periods(self, holes: FloatArray, shares: FloatArray) -> FloatArray:
        """Filling times over heave periods, in the same shape."""
        return self._scaled("periods", holes, shares)

    def margins(self, holes: FloatArray, shares: FloatArray) -> FloatArray:
        """Margins of the start, in the same shape; see `ChartPoint`."""
        return self._between(self.field("margin"), holes, shares)

    def growths(self, holes: FloatArray, shares: FloatArray) -> FloatArray:
        """Growth exponents of a heel, in the same shape."""
        logs = np.log(SMALL_GROWTH + self.field("growth"))
        return np.asarray(np.exp(self._between(logs, holes, shares)) - SMALL_GROWTH)

    def _scaled(self, name: str, holes: FloatArray, shares: FloatArray) -> FloatArray:
        """A field that goes like d^-2 times (1 - share); nan where undefined."""
        values, rows = self.field(name), shares_of_rows()
        known = np.isfinite(values) & (values > 0.0)  # a bowl under at once has no exponent
        logs = np.log(np.where(known, values, 1.0) * self.holes[:, None] ** 2 / self._left(rows))
        found = np.exp(self._between(_filled(logs, known), holes, shares))
        at = np.clip(shares, rows[0], rows[-1])
        there = self._between(known.astype(float), holes, shares) > 0.5
        return np.asarray(np.where(there, found * self._left(at) / holes[:, None] ** 2, NOWHERE))

    def _between(self, values: FloatArray, holes: FloatArray, shares: FloatArray) -> FloatArray:
        """Values (n, ROWS) between the nodes; constant beyond the outermost rows."""
        rows = shares_of_rows()
        at = np.clip(shares, rows[0], rows[-1])
        along = Monotone(_evened(rows), values.T)(_evened(at)).T
        return Monotone(np.log(self.holes), along)(np.log(holes))

    def _left(self, share: FloatArray) -> FloatArray:
        """1 - share if the bowl goes under at once at a share of 1, so that times tend to 0."""
        return 1.0 - share if self.under_above else np.ones_like(share)


def chart(
    case: Case,
    *,
    model: str | None = None,
    narrowest: float | None = None,
    progress: Progress | None = None,
) -> Chart:
    """Chart a bowl by a model.

    Parameters
    ----------
    case : the bowl; its hole and its ballast or mass are varied
    model : one of `CHART_MODELS`; None: corrected, or heave if the map does not apply
    narrowest : hole that must be on the chart [m]; None: a fortieth of the widest
    progress : called with the number of columns done and in total

    Raises
    ------
    CaseError : no such model, a ring that floats or has no room, or a bowl that goes under with any
        load
    RunError : a reduced model does not end
    """
    if model is None:
        model = heave.MODEL if without_map(case) else corrected.MODEL
    if model not in CHART_MODELS:
        raise CaseError(
            f'There is no model "{model}" to chart', allowed=f"There are {', '.join(CHART_MODELS)}."
        )
    setting, own = hole_setting(case), span(case)
    first = min(narrowest or math.inf, case.hole.diameter) * INWARDS
    first = min(setting.high / WIDEST_OVER_NARROWEST, first)
    holes = [float(d) for d in np.geomspace(max(first, setting.low), setting.high, COLUMNS[model])]
    top = math.inf if own.under_above else own.high
    found: list[Column] = []
    for hole in [*holes[:-1], setting.high]:
        found.append(column_of(case, hole, top, model))
        if progress is not None:
            progress(len(found), len(holes))
    between = [crossings_between(case, left, right, top) for left, right in pairwise(found)]
    return Chart(case, model, load_kind(case), tuple(found), np.array(between))


def _evened(shares: FloatArray) -> FloatArray:
    """Coordinate in which the rows are equidistant; it resolves the fast change at the ends."""
    return np.asarray(np.arccos(1.0 - 2.0 * shares))


def _filled(values: FloatArray, known: NDArray[np.bool_]) -> FloatArray:
    """Values with unknown ones replaced by known ones of their column, or 0."""
    rows = np.arange(values.shape[1])
    filled = np.zeros_like(values)
    for k, there in enumerate(known):
        if there.any():
            filled[k] = np.interp(rows, rows[there], values[k, there])
    return filled
