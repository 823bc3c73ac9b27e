"""The sinking time by the flow solver for the bowl as described, and its interval.

Members of an axisymmetric flow differ by numerical noise: after the fountain breaks up they diverge
from the smallest difference, while in three dimensions two releases differ ten times less. So their
mean is the answer, and its uncertainty decreases with their number n,

    mean +- t s / sqrt(n),      t = t(0.975; f + n - 1),

s the larger of the members' standard deviation and that of runs of other bowls with the same d/D
(*repeat_runs.csv*), with f degrees of freedom (Student's t, from first principles). A single run is
n = 1. *Grid*: the grid error, by the grid convergence index of the means on several grids
(convergence.py), or by that table.

*not_computed.csv* has the effects that the flow solver leaves out, which shift the time and add
their own uncertainty. In axisymmetric flow ring vortices at the jet's edge stay whole and retard
the jet. The ring of closed-off air (d/D 0.3 to 0.7) stays whole in a run and breaks into bubbles in
reality; as a void it has no resistance. *Ballast inside* is not on the grid, and water fills its
place: to take in W until the rim is under, a bowl with ballast of volume V there needs W + V in a
run, and its time is divided by 1 + V/W. The squares of all parts add (common/sinking.py).
"""

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from functools import cache, cached_property
from typing import Any

import numpy as np
from numpy.typing import NDArray

from sinkbowl.case.case import Case
from sinkbowl.common.numerics import frozen, student
from sinkbowl.common.shown import listed, seconds, seconds_with
from sinkbowl.common.sinking import SENSITIVE, STALL_HALF, Best, widened
from sinkbowl.common.text_file import shipped_table
from sinkbowl.statics.hydrostatics import water_taken_in

REPEAT_RUNS, NOT_COMPUTED = "repeat_runs.csv", "not_computed.csv"

RUNS, FREEDOM, STUDENT = 15, 12, 2.1788
"""Runs of each row of the first table, on three grids; degrees of freedom of their standard
deviation; Student's t of it at 97.5 %."""

RELEASE = 0.006
"""Half-width at 95 % of careful releases of a bowl, share of the time: runs in three dimensions
scatter by 0.2 to 0.4 % (another code, unpublished)."""


@dataclass(frozen=True)
class RepeatRuns:
    """Half-widths at 95 %, as shares of the sinking time.

    scatter: of another run about the mean; grid: error of the default grid.
    """

    scatter: float
    grid: float

    @property
    def deviation(self) -> float:
        """Standard deviation of the table's runs, share of the time."""
        return self.scatter / (STUDENT * math.sqrt(1.0 + 1.0 / RUNS))


@dataclass(frozen=True)
class NotComputed:
    """Shares of the sinking time.

    shift: by three dimensions; shift_half, air_half: half-widths at 95 % of the shift and by
    closed-off air.
    """

    shift: float
    shift_half: float
    air_half: float


def hole_ratio(case: Case) -> float:
    """Hole over inner diameter of the rim, d/D [1]."""
    return case.hole.diameter / (2.0 * float(case.bowl.inner[-1, 0]))


def repeat_runs_at(ratio: float) -> RepeatRuns:
    """The first table at d/D."""
    scatter, grid = _at(ratio, REPEAT_RUNS)[:2]
    return RepeatRuns(scatter, grid)


def not_computed(ratio: float, air: str) -> NotComputed:
    """The second table at d/D; air: "kept" or "void"."""
    shift, shift_half, kept, void = _at(ratio, NOT_COMPUTED)
    return NotComputed(shift, shift_half, kept if air == "kept" else void)


def _at(ratio: float, name: str) -> list[float]:
    """Columns of a table at d/D; linear between rows, constant beyond."""
    rows = numbers(name)
    return [float(np.interp(ratio, rows[:, 0], column)) for column in rows[:, 1:].T]


@cache
def numbers(name: str) -> NDArray[np.float64]:
    """Numbers of a table, d/D first, (n, 3) or (n, 5), sorted by d/D."""
    width = {REPEAT_RUNS: 3, NOT_COMPUTED: 5}[name]
    rows = shipped_table(__package__, name)
    return frozen(np.array([[float(cell) for cell in [*row.values()][:width]] for row in rows]))


MEMBERS, GRIDS, TABLE = "members", "grids", "table"  # sources of the parts of an interval

MODEL = "flow"

INSIDE = "ballast inside"  # a part of the interval
CHANGES = {
    "axisymmetry": "the effect of three dimensions",
    INSIDE: "ballast inside, whose place water fills in a run",
}

PLACE_HALF = 0.5
"""Half-width at 95 % of the change for ballast inside, as a share of it. A shallow dish with 13 ml
of lead in it: run 3.11 s, changed 2.57, heave 2.67 s."""

NOTEWORTHY = 3e-3  # shift, share of the time, from which it is mentioned


@dataclass(frozen=True)
class TimeInterval:
    """A sinking time by the flow solver, with all parts of its 95 % interval.

    mean : of the members, or the single run [s]
    scatter : half-width of the mean by numerical noise [s]
    grid : half-width by the error of the grid [s]
    members : number of runs
    scatter_from, grid_from : "members" or "table"; "grids" or "table"
    hole_ratio : hole over bowl, d/D
    shift : by effects left out, a share of the time, signed
    other : other half-widths by cause, shares of the time
    sensitive : whether the bowl nearly stalls before its rim is under
    """

    mean: float
    scatter: float
    grid: float
    members: int
    scatter_from: str
    grid_from: str
    hole_ratio: float
    shift: float = 0.0
    other: Mapping[str, float] = field(default_factory=dict)
    sensitive: bool = False

    @cached_property
    def best(self) -> Best:
        """The answer that every command prints."""
        by_run = {"numerical noise": self.scatter / self.mean, "grid": self.grid / self.mean}
        parts = widened({**by_run, **self.other}, STALL_HALF if self.sensitive else 0.0)
        return Best(self.mean * (1.0 + self.shift), parts, self.sensitive, MODEL)

    @property
    def time(self) -> float:
        """Best time [s]."""
        return self.best.time

    @property
    def half(self) -> float:
        """Half-width of all together [s]."""
        return self.best.half

    @property
    def low(self) -> float:
        """Lower end [s]; a time is never below 0."""
        return self.best.interval[0]

    @property
    def high(self) -> float:
        """Upper end [s]."""
        return self.best.interval[1]

    @property
    def words(self) -> str:
        """The parts of the interval, in sentences."""
        of = "One run" if self.members == 1 else f"Mean of {self.members} runs"
        phrase = f"{of}; \u00b1 at 95 %: {self.best.made_of}."
        if abs(self.shift) >= NOTEWORTHY:
            changes = [words for cause, words in CHANGES.items() if cause in self.other]
            phrase += (
                f" {'Its time' if self.members == 1 else 'The mean'}, "
                f"{seconds(self.mean, self.time)}, is changed by {100 * self.shift:+.1f} % for "
                f"{listed(changes)}."
            )
        return phrase + (f" {SENSITIVE}" if self.sensitive else "")

    @property
    def other_text(self) -> str:
        """Shift, other half-widths and sensitivity as one text; see `other_of`."""
        facts = {"shift": self.shift, **self.other, "sensitive": float(self.sensitive)}
        return "; ".join(f"{name}={float(fact)!r}" for name, fact in facts.items() if fact)


def other_of(text: str) -> dict[str, Any]:
    """Shift, other and sensitive of a `TimeInterval` from their text.

    Raises ValueError if it is no such text.
    """
    pairs = [part.split("=") for part in text.split("; ") if part]
    facts = {name: float(fact) for name, fact in pairs}
    known = all(math.isfinite(fact) and abs(fact) < MOST_SHARE for fact in facts.values())
    if not known or abs(facts.get("shift", 0.0)) >= 1.0:
        raise ValueError(f"not parts of a time: {text}")
    shift, sensitive = facts.pop("shift", 0.0), bool(facts.pop("sensitive", 0.0))
    return {"shift": shift, "other": facts, "sensitive": sensitive}


def interval_of(
    mean: float,
    scatter: float,
    grid: float,
    members: int,
    scatter_from: str,
    grid_from: str,
    hole_ratio: float,
    other: str,
) -> TimeInterval:
    """A `TimeInterval` from the values in a file; other is its text.

    Raises ValueError if they are none.
    """
    known = scatter_from in (MEMBERS, TABLE) and grid_from in (GRIDS, TABLE) and members >= 1
    known = known and all(map(math.isfinite, (mean, scatter, grid, hole_ratio)))
    if not (known and mean >= SHORTEST and scatter >= 0.0 and grid >= 0.0):
        raise ValueError("the numbers are no interval of a sinking time")
    return TimeInterval(
        mean, scatter, grid, members, scatter_from, grid_from, hole_ratio, **other_of(other)
    )


SHORTEST = 1e-9
"""Shortest sinking time that a file may have [s]; logarithmic axes need a lower limit."""

MOST_SHARE = 10.0  # upper limit of shares of a sinking time


def of_runs(
    case: Case,
    times: Sequence[float | None],
    grid: float | None = None,
    *,
    law: float | None = None,
    sensitive: bool = False,
) -> TimeInterval | None:
    """Interval of one run or an ensemble; None if not every rim passed under.

    times : sinking time of each member [s]
    grid : half-width by the grid error, if there are several grids [s]; None: the table's
    law : half-width by the orifice model, a share; None for a resolved hole
    sensitive : whether a member nearly stalls before its rim is under
    """
    known = [time for time in times if time is not None]
    if len(known) < len(times):
        return None
    ratio, mean = hole_ratio(case), float(np.mean(known))
    repeats, of_hole = repeat_runs_at(ratio), resolved(ratio, case.flow.air)
    if law is not None:
        of_hole = {"other": {"discharge coefficient": law} if law > 0.0 else {}}
    place = _place_of_ballast(case)
    if place > 0.0:
        of_hole["shift"] = (1.0 + of_hole.get("shift", 0.0)) / (1.0 + place) - 1.0
        of_hole["other"][INSIDE] = PLACE_HALF * place / (1.0 + place)
    return TimeInterval(
        mean=mean,
        scatter=mean_noise(known, repeats.deviation * mean),
        grid=repeats.grid * mean if grid is None else grid,
        members=len(known),
        scatter_from=MEMBERS if len(known) > 1 else TABLE,
        grid_from=TABLE if grid is None else GRIDS,
        hole_ratio=ratio,
        sensitive=sensitive,
        **of_hole,
    )


def _place_of_ballast(case: Case) -> float:
    """Volume of ballast inside over the water that the bowl takes in until its rim is under [1]."""
    taken = water_taken_in(case)
    return case.inner_ballast.volume / taken if taken > 0.0 else 0.0


def resolved(ratio: float, air: str) -> dict[str, Any]:
    """Shift and other of a `TimeInterval` with a resolved hole of d/D."""
    left_out = not_computed(ratio, air)
    other = {"axisymmetry": left_out.shift_half, "closed-off air": left_out.air_half}
    return {"shift": left_out.shift, "other": {k: half for k, half in other.items() if half > 0.0}}


def mean_noise(times: Sequence[float], usual: float) -> float:
    """Half-width of the mean of members by numerical noise [s].

    usual: standard deviation of runs with the same d/D [s].
    """
    n = len(times)
    own = float(np.std(times, ddof=1)) if n > 1 else 0.0
    return student(FREEDOM + n - 1) * max(own, usual) / math.sqrt(n)


def next_run(times: Sequence[float]) -> float:
    """Half-width of one more run about the mean of several [s]."""
    return mean_uncertainty(times) * math.sqrt(len(times) + 1.0)


def mean_uncertainty(times: Sequence[float]) -> float:
    """Half-width of the confidence interval of the members' mean [s]; nan for a single one."""
    n = len(times)
    if n < 2:
        return math.nan
    return student(n - 1) * float(np.std(times, ddof=1)) / math.sqrt(n)


def as_attributes(interval: TimeInterval | None) -> dict[str, float | str]:
    """The interval as root attributes of a result file; nan and empty if there is none."""
    if interval is None:
        numbers = ("sinking_time_low_s", "sinking_time_high_s", *NUMBERS)
        return dict.fromkeys(numbers, math.nan) | dict.fromkeys((*SOURCES, OTHER), "")
    return {
        "sinking_time_low_s": interval.low,
        "sinking_time_high_s": interval.high,
        "sinking_time_mean_s": interval.mean,
        "sinking_time_scatter_s": interval.scatter,
        "sinking_time_grid_s": interval.grid,
        "hole_ratio": interval.hole_ratio,
        "scatter_from": interval.scatter_from,
        "grid_from": interval.grid_from,
        OTHER: interval.other_text,
    }


def from_attributes(attrs: Mapping[str, Any]) -> TimeInterval | None:
    """The interval in the root attributes of a result file; None if there is none.

    None also for files of earlier versions, whose interval was another.
    """
    mean, scatter, grid, ratio = (float(attrs.get(name, math.nan)) for name in NUMBERS)
    scatter_from, grid_from = (str(attrs.get(name, "")) for name in SOURCES)
    members, other = int(attrs.get("members", 1)), str(attrs.get(OTHER, ""))
    try:
        return interval_of(mean, scatter, grid, members, scatter_from, grid_from, ratio, other)
    except ValueError:
        return None


NUMBERS = (*(f"sinking_time_{name}_s" for name in ("mean", "scatter", "grid")), "hole_ratio")
SOURCES = ("scatter_from", "grid_from")
OTHER = "sinking_time_other"


def figures(interval: TimeInterval | None) -> dict[str, Any]:
    """The interval for scripts, units in the keys; null if there is none."""
    if interval is None:
        names = ("best", "interval_s", "scatter_s", "grid_s", "scatter_from", "grid_from")
        return dict.fromkeys(names)
    return {
        "best": interval.best.as_dict(),
        "interval_s": [interval.low, interval.high],
        "scatter_s": interval.scatter,
        "grid_s": interval.grid,
        "scatter_from": interval.scatter_from,
        "grid_from": interval.grid_from,
    }


def time_text(
    time: float | None, interval: TimeInterval | None, longest: float | None = None
) -> str:
    """Time until the rim is under, in words: '0.568 \u00b1 0.023 s'; longest as for `seconds`."""
    if time is None:
        return "none"
    if interval is None:
        return seconds(time, longest)
    return seconds_with(interval.time, interval.half, longest)


def longest_of(times: Iterable[float | None], intervals: Iterable[TimeInterval | None]) -> float:
    """The longest of several times or ends of intervals [s], for one unit of all; 1 s without."""
    ends = [interval.high for interval in intervals if interval is not None]
    return max([*ends, *(time for time in times if time is not None)], default=1.0)


def interval_words(intervals: Sequence[TimeInterval | None]) -> str:
    """The parts of the intervals of several runs, in a sentence; empty if there are none."""
    known = [interval for interval in intervals if interval is not None]
    if not known:
        return ""
    counts = sorted({interval.members for interval in known})
    of = "one run each" if counts == [1] else f"the mean of {' or '.join(map(str, counts))} runs"
    phrase = f"\u00b1: 95 %, for {of}: numerical noise, grid, and effects left out."
    sensitive = sum(interval.sensitive for interval in known)
    return phrase + (f" Nearly stalling before the rim is under: {sensitive}." if sensitive else "")
