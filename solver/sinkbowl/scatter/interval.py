"""The interval of a sinking time: in which the time of one release lies, with 95 %.

Two things move the time of one release about. *Scatter*: no two releases are alike, and once the
fountain breaks up the smallest difference parts them. n members with the standard deviation s tell
where the next release falls,

    median +- t s sqrt(1 + 1/n),      t = t(0.975; n - 1),

the prediction interval for normally distributed draws, and where their mean lies, +- t s / sqrt(n)
(Student's t, from first principles). *Grid*: the error that the cells make, by the grid convergence
index of the means on several grids (convergence.py). The two add by the root of their squares.

A single run is one draw, n = 1. Its s comes from a table (draws.py); the next release lies within
sqrt(1 + 1/1) times the table's half-width of it.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from scipy.special import stdtrit

from sinkbowl.case.case import Case
from sinkbowl.common.confidence import LEVEL
from sinkbowl.common.shown import seconds_with
from sinkbowl.scatter.draws import draws_at, hole_ratio

MEMBERS, GRIDS, TABLE, NOT_COUNTED = "members", "grids", "table", "not counted"
"""Where a part of an interval comes from."""


@dataclass(frozen=True)
class Interval:
    """A sinking time and the interval of one release around it, at 95 %.

    Attributes
    ----------
    time : median of the members, or the one draw [s]
    scatter : half-width from one release to the next [s]
    grid : half-width by the error of the grid [s], 0 where it is not counted
    members : how many releases it rests on
    scatter_from, grid_from : "members" or "table"; "grids", "table" or "not counted"
    hole_ratio : hole over bowl, d/D
    """

    time: float
    scatter: float
    grid: float
    members: int
    scatter_from: str
    grid_from: str
    hole_ratio: float

    @property
    def half(self) -> float:
        """Half-width of both together [s]."""
        return math.hypot(self.scatter, self.grid)

    @property
    def low(self) -> float:
        """Lower end [s]; a time is never below 0."""
        return max(0.0, self.time - self.half)

    @property
    def high(self) -> float:
        """Upper end [s]."""
        return self.time + self.half

    @property
    def words(self) -> str:
        """What the interval is made of, in sentences."""
        scatter, grid = (_percent(part / self.time) for part in (self.scatter, self.grid))
        at = f"at d/D {self.hole_ratio:.2f}"
        if self.members == 1:
            told = (
                f"This is one draw of many: {at} the next release lies within {scatter} of it "
                f"(95 %, by the package's table; --members computes it)"
            )
        else:
            told = f"Median of {self.members} releases; the next lies within {scatter} of it (95 %)"
        return (
            told
            + {
                GRIDS: f", and the grid's error adds {grid} (by the grids).",
                TABLE: f", and the grid's error adds {grid} (by the table; --levels computes it).",
                NOT_COUNTED: ". The grid's error is not in it; --levels adds it.",
            }[self.grid_from]
        )


def one_draw(case: Case, time: float | None, grid: float | None = None) -> Interval | None:
    """Interval of a single run; None where its rim did not pass under.

    Parameters
    ----------
    time : its sinking time [s]
    grid : half-width by the grid's error where several grids were run [s]; None: the table's
    """
    if time is None:
        return None
    ratio = hole_ratio(case)
    draws = draws_at(ratio)
    return Interval(
        time=time,
        scatter=draws.scatter * time * math.sqrt(2.0),
        grid=draws.grid * time if grid is None else grid,
        members=1,
        scatter_from=TABLE,
        grid_from=TABLE if grid is None else GRIDS,
        hole_ratio=ratio,
    )


def of_members(
    case: Case, times: Sequence[float | None], grid: float | None = None
) -> Interval | None:
    """Interval of an ensemble; None where not every rim passed under.

    Parameters
    ----------
    times : sinking time of each member [s], two or more
    grid : half-width by the grid's error where several grids were run [s]
    """
    known = [time for time in times if time is not None]
    if len(known) < len(times):
        return None
    return Interval(
        time=float(np.median(known)),
        scatter=next_release(known),
        grid=grid or 0.0,
        members=len(known),
        scatter_from=MEMBERS,
        grid_from=NOT_COUNTED if grid is None else GRIDS,
        hole_ratio=hole_ratio(case),
    )


def next_release(times: Sequence[float]) -> float:
    """Half-width of the prediction interval of one more release [s]."""
    return mean_uncertainty(times) * math.sqrt(len(times) + 1.0)


def mean_uncertainty(times: Sequence[float]) -> float:
    """Half-width of the confidence interval of the members' mean [s]; nan for a single one."""
    n = len(times)
    if n < 2:
        return math.nan
    student = float(stdtrit(n - 1, 0.5 * (1.0 + LEVEL)))
    return student * float(np.std(times, ddof=1)) / math.sqrt(n)


def as_attributes(interval: Interval | None) -> dict[str, float | str]:
    """The interval as root attributes of a result file; nan and empty where there is none."""
    if interval is None:
        numbers = ("sinking_time_low_s", "sinking_time_high_s", *NUMBERS)
        return dict.fromkeys(numbers, math.nan) | dict.fromkeys(SOURCES, "")
    return {
        "sinking_time_low_s": interval.low,
        "sinking_time_high_s": interval.high,
        "sinking_time_scatter_s": interval.scatter,
        "sinking_time_grid_s": interval.grid,
        "hole_ratio": interval.hole_ratio,
        "scatter_from": interval.scatter_from,
        "grid_from": interval.grid_from,
    }


def from_attributes(attrs: Mapping[str, Any]) -> Interval | None:
    """The interval in the root attributes of a result file, None where there is none."""
    time, scatter, grid, ratio = (
        float(attrs.get(name, math.nan)) for name in ("sinking_time_s", *NUMBERS)
    )
    scatter_from, grid_from = (str(attrs.get(name, "")) for name in SOURCES)
    known = scatter_from in (MEMBERS, TABLE) and grid_from in (GRIDS, TABLE, NOT_COUNTED)
    if not (known and all(map(math.isfinite, (time, scatter, grid, ratio)))):
        return None
    members = int(attrs.get("members", 1))
    return Interval(time, scatter, grid, members, scatter_from, grid_from, ratio)


NUMBERS = ("sinking_time_scatter_s", "sinking_time_grid_s", "hole_ratio")
SOURCES = ("scatter_from", "grid_from")


def figures(interval: Interval | None) -> dict[str, Any]:
    """The interval for scripts, units in the keys; null where there is none."""
    if interval is None:
        names = ("interval_s", "scatter_s", "grid_s", "scatter_from", "grid_from")
        return dict.fromkeys(names)
    return {
        "interval_s": [interval.low, interval.high],
        "scatter_s": interval.scatter,
        "grid_s": None if interval.grid_from == NOT_COUNTED else interval.grid,
        "scatter_from": interval.scatter_from,
        "grid_from": interval.grid_from,
    }


def told_time(time: float | None, interval: Interval | None) -> str:
    """A sinking time in words, with its interval where there is one: '0.568 ± 0.023 s'."""
    if time is None:
        return "none"
    return seconds_with(time, interval.half if interval else None)


def interval_words(intervals: Sequence[Interval | None]) -> str:
    """What the intervals of several runs are made of, in a sentence; empty where there are none."""
    known = [interval for interval in intervals if interval is not None]
    if not known:
        return ""
    members = sorted({interval.members for interval in known})
    of = " or ".join(map(str, members))
    scatter = _sources(interval.scatter_from for interval in known)
    grid = _sources(interval.grid_from for interval in known)
    draws = "each time is one draw of many" if members == [1] else f"medians of {of} releases"
    return f"±: where one more release falls, 95 %; {draws}. Scatter by {scatter}; grid: {grid}."


def _sources(told: Iterable[str]) -> str:
    return " or ".join(sorted(set(told)))


def _percent(share: float) -> str:
    return f"± {100.0 * share:.2g} %"
