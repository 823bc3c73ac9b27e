"""The chart of a bowl: every hole against every load, with what happens there.

Nodes lie in columns, one a hole, and in rows, equal shares of each column's span of loads: so its
ends are the borders to the zones that float and that go under at once, whatever the shape. Between
the nodes logarithms of times are interpolated; where a bowl begins to tip, which has no size but
only a yes or no, the edge between two nodes is halved until the place is known.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from concurrent.futures import Executor, Future, as_completed
from dataclasses import dataclass
from functools import cached_property
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from sinkbowl.case.case import Case
from sinkbowl.common.errors import CaseError
from sinkbowl.common.monotone import Monotone
from sinkbowl.common.sinking import FloatArray
from sinkbowl.corrected import model as corrected
from sinkbowl.corrected.correction import without_map
from sinkbowl.design.charting.column import (
    CHART_MODELS,
    NOWHERE,
    Column,
    column_of,
    crossings_between,
    shares_of_rows,
)
from sinkbowl.design.charting.load import LoadKind, load_kind, span
from sinkbowl.design.sizing.design_variable import hole_setting
from sinkbowl.reduced import heave

COLUMNS = {corrected.MODEL: 25, heave.MODEL: 17}
"""Holes of a chart by the model: where bobbing counts the corrected times wave with the hole."""

WIDEST_OVER_NARROWEST = 40.0
"""Of the holes on a chart: narrower ones take hours."""

INWARDS = 0.9
"""Narrowest hole of the chart over one that must not lie on its edge."""

Progress = Callable[[int, int], None]


SMALL_GROWTH = 0.1
"""Exponent that no eye sees: what is below it is interpolated as if even."""


@dataclass(frozen=True, eq=False)
class Chart:
    """What a bowl does over holes and loads.

    Attributes
    ----------
    case : the bowl
    model : whose times they are
    kind : what the load is, "ballast" or the whole "bowl"
    columns : (n,) from the narrowest hole to the widest
    row_crossings : (n - 1, ROWS) share of the way, in the logarithm of the hole, from a column to
        the next at which it begins to tip or ceases to, nan where nothing changes
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
        """Whether lighter loads leave it afloat; else there are none."""
        return any(column.span.floats_below for column in self.columns)

    @property
    def under_above(self) -> bool:
        """Whether heavier loads take it under at once; else none fits."""
        return any(column.span.under_above for column in self.columns)

    def field(self, name: str) -> FloatArray:
        """A quantity of the soundings at all nodes, (n, ROWS)."""
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
        """Filling times over heave periods, likewise."""
        return self._scaled("periods", holes, shares)

    def margins(self, holes: FloatArray, shares: FloatArray) -> FloatArray:
        """By how much the start opens the hole, likewise; see `ChartPoint`."""
        return self._between(self.field("margin"), holes, shares)

    def growths(self, holes: FloatArray, shares: FloatArray) -> FloatArray:
        """Exponents by which a heel grows, likewise."""
        logs = np.log(SMALL_GROWTH + self.field("growth"))
        return np.asarray(np.exp(self._between(logs, holes, shares)) - SMALL_GROWTH)

    def _scaled(self, name: str, holes: FloatArray, shares: FloatArray) -> FloatArray:
        """A field that goes like d^-2 times what is left of the share; nan where it has none."""
        values, rows = self.field(name), shares_of_rows()
        known = np.isfinite(values)
        logs = np.log(np.where(known, values, 1.0) * self.holes[:, None] ** 2 / self._left(rows))
        found = np.exp(self._between(_filled(logs, known), holes, shares))
        at = np.clip(shares, rows[0], rows[-1])
        there = self._between(known.astype(float), holes, shares) > 0.5
        return np.asarray(np.where(there, found * self._left(at) / holes[:, None] ** 2, NOWHERE))

    def _between(self, values: FloatArray, holes: FloatArray, shares: FloatArray) -> FloatArray:
        """Values (n, ROWS) between the nodes; beyond the outermost rows, those of the row."""
        rows = shares_of_rows()
        at = np.clip(shares, rows[0], rows[-1])
        along = Monotone(_evened(rows), values.T)(_evened(at)).T
        return Monotone(np.log(self.holes), along)(np.log(holes))

    def _left(self, share: FloatArray) -> FloatArray:
        """1 - share where the bowl goes under at once at a share of 1, so that times go to 0."""
        return 1.0 - share if self.under_above else np.ones_like(share)


def chart(
    case: Case,
    *,
    model: str | None = None,
    narrowest: float | None = None,
    executor: Executor | None = None,
    progress: Progress | None = None,
) -> Chart:
    """Chart a bowl by a model.

    Parameters
    ----------
    case : the bowl; its hole and its ballast or mass are varied
    model : one of `CHART_MODELS`; None: corrected, or heave where the map has no such bowls
    narrowest : hole that has to be on the chart [m]; None: a fortieth of the widest will do
    executor : that sounds the columns; None: one after the other, here
    progress : called with the columns that are done and all of them

    Raises
    ------
    CaseError : no such model, a ring that floats or finds no room, or a bowl that goes under
        whatever its load
    RunError : if a reduced model comes to no end
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
    columns: dict[int, Column] = {}
    for k, column in _columns(case, [*holes[:-1], setting.high], top, model, executor):
        columns[k] = column
        if progress is not None:
            progress(len(columns), len(holes))
    found = tuple(columns[k] for k in range(len(holes)))
    between = [crossings_between(case, left, right, top) for left, right in pairwise(found)]
    return Chart(case, model, load_kind(case), found, np.array(between))


def _columns(
    case: Case, holes: list[float], top: float, model: str, executor: Executor | None
) -> Iterator[tuple[int, Column]]:
    """Columns with their place, as they are done."""
    if executor is None:
        yield from ((k, column_of(case, hole, top, model)) for k, hole in enumerate(holes))
        return
    waiting: dict[Future[Column], int] = {
        executor.submit(column_of, case, hole, top, model): k for k, hole in enumerate(holes)
    }
    for done in as_completed(waiting):
        yield waiting[done], done.result()


def _evened(shares: FloatArray) -> FloatArray:
    """Coordinate in which the rows are even: that brings out how fast times change at the ends."""
    return np.asarray(np.arccos(1.0 - 2.0 * shares))


def _filled(values: FloatArray, known: NDArray[np.bool_]) -> FloatArray:
    """Values with those that are not known taken from the known ones of their column, or 0."""
    rows = np.arange(values.shape[1])
    filled = np.zeros_like(values)
    for k, there in enumerate(known):
        if there.any():
            filled[k] = np.interp(rows, rows[there], values[k, there])
    return filled
