"""A trial goes into the logbook, and the logbook says what all trials of that bowl say by now."""

from __future__ import annotations

import hashlib
import math
from dataclasses import dataclass
from datetime import datetime
from importlib.metadata import version
from pathlib import Path
from statistics import fmean, stdev
from typing import Any

from scipy.stats import t as student

from sinkbowl.case.case import Case
from sinkbowl.common.confidence import LEVEL
from sinkbowl.common.errors import CaseError
from sinkbowl.common.shown import seconds, seconds_with
from sinkbowl_post.logbook.book import append_row
from sinkbowl_post.logbook.outlier import ALPHA, FEWEST, Grubbs, grubbs
from sinkbowl_post.measured.measured import PLUGGED, SINKS, Trial
from sinkbowl_post.measured.odd_times import refuse_odd_time

SAME = 0.005
"""Relative difference up to which a hole or a mass is the same."""
HASH_DIGITS = 12


@dataclass(frozen=True, eq=False, repr=False)
class Logged:
    """What the logbook says after a trial.

    Attributes
    ----------
    trial : the one that was added
    times : of all trials with its hole and mass, in the file's order, it the last [s]
    plugged : of them that stayed plugged
    rows : trials in the whole logbook
    test : of the times' farthest; None for fewer than three
    """

    trial: Trial
    times: tuple[float, ...]
    plugged: int
    rows: int
    test: Grubbs | None

    @property
    def mean(self) -> float | None:
        """Of the times [s]."""
        return fmean(self.times) if self.times else None

    @property
    def half_width(self) -> float | None:
        """Half the mean's interval at 95 %, from the times' scatter (Student's t) [s]."""
        n = len(self.times)
        if n < 2:
            return None
        quantile = float(student.ppf(0.5 + 0.5 * LEVEL, n - 1))
        return quantile * stdev(self.times) / math.sqrt(n)

    @property
    def last_is_outlier(self) -> bool:
        """Whether the trial just added lies farthest off, and too far."""
        test = self.test
        return (
            not self.trial.plugged
            and test is not None
            and test.outlier
            and test.farthest == len(self.times) - 1
        )

    def __repr__(self) -> str:
        """What ``sinkbowl log`` prints."""
        return "\n".join([*self._told_mean(), *self._told_test()])

    def _told_mean(self) -> list[str]:
        which = f"Row {self.trial.row}; {len(self.times)} timed"
        which += f" and {self.plugged} plugged" if self.plugged else ""
        lines = [f"{which} with this hole and mass, {self.rows} in the logbook."]
        if self.mean is not None and self.half_width is not None:
            lines.append(f"Mean {seconds_with(self.mean, self.half_width)} (95 %).")
        elif self.mean is not None:
            lines.append(f"{seconds(self.mean)}; a second trial gives an interval.")
        return lines

    def _told_test(self) -> list[str]:
        test = self.test
        if self.trial.plugged or test is None:
            few = len(self.times) < FEWEST and not self.trial.plugged
            return [f"From {FEWEST} trials on outliers are told."] if few else []
        figures = f"(Grubbs, {100 * ALPHA:g} %: G = {test.g:.2f}, critical {test.critical:.2f})"
        if self.last_is_outlier:
            return [
                f"The last trial is an outlier {figures}. Find out what was different; leave it "
                "out only if you know."
            ]
        if test.outlier:
            return [
                f"Not the last trial but an earlier one, {seconds(self.times[test.farthest])}, is "
                f"an outlier {figures}."
            ]
        return [f"No outlier {figures}."]

    def as_dict(self) -> dict[str, Any]:
        """The figures as plain numbers, units in the keys."""
        test = self.test
        return {
            "row": self.trial.row,
            "trials": len(self.times),
            "plugged": self.plugged,
            "mean_s": self.mean,
            "half_width_s": self.half_width,
            "level": LEVEL,
            "grubbs": None if test is None else test.g,
            "grubbs_critical": None if test is None else test.critical,
            "last_is_outlier": self.last_is_outlier,
        }


def log_trial(
    path: str | Path,
    *,
    time: float | None,
    hole: float | None = None,
    mass: float | None = None,
    time_uncertainty: float | None = None,
    case: Case | None = None,
    comma: bool = False,
) -> Logged:
    """Add a trial to a logbook.

    Parameters
    ----------
    time : from release until the rim is under [s]; None: it stayed plugged
    hole, mass : diameter [m], bowl and ballast [kg]; None: the case's own
    time_uncertainty : standard [s]
    case : of the bowl; its hash goes into the row, and a time that it cannot take is refused
    comma : decimal commas

    Raises
    ------
    CaseError : neither hole nor case, a time that the bowl cannot take, or no table of trials
    ResultError : the file cannot be written
    """
    path = Path(path)
    offered: dict[str, float | str] = {}
    if case is not None:
        offered = {"hole": case.hole.diameter, "mass": case.total_mass}
        _refuse_odd(case, path, hole or case.hole.diameter, mass or case.total_mass, time)
    elif hole is None:
        raise CaseError("Not named: --hole", allowed="Name the hole, or the bowl with --case.")
    given = {"hole": hole, "mass": mass, "time": time, "time_uncertainty": time_uncertainty}
    cells: dict[str, float | str] = {
        name: number for name, number in given.items() if number is not None
    }
    cells["outcome"] = PLUGGED if time is None else SINKS
    cells["date"] = datetime.now().astimezone().isoformat(timespec="seconds")
    cells["version"] = f"sinkbowl {version('sinkbowl')}"
    if case is not None:
        digest = hashlib.sha256(case.text.encode()).hexdigest()
        cells["case_hash"] = f"sha256:{digest[:HASH_DIGITS]}"  # never taken for a number
    trials = append_row(path, cells, offered, comma).trials
    last = trials[-1]
    mine = [trial for trial in trials if _same(trial, last)]
    times = tuple(trial.time for trial in mine if trial.time is not None)
    return Logged(last, times, len(mine) - len(times), len(trials), grubbs(times))


def _refuse_odd(case: Case, path: Path, hole: float, mass: float, time: float | None) -> None:
    from sinkbowl_post.fitting.trial_cases import trial_cases
    from sinkbowl_post.measured.measured import Trials

    timing = None if time is None else max(1e-3 * time, 1e-5)
    asked = Trial(0, hole, mass, time, None, None, timing)
    (found,) = trial_cases(case, Trials(path, (asked,)))
    if time is not None:
        refuse_odd_time(found.case, time, path, 0)


def _same(one: Trial, other: Trial) -> bool:
    pairs = ((one.hole, other.hole), (one.mass, other.mass))
    return all(
        (a is None) == (b is None) and (a is None or b is None or abs(a - b) <= SAME * abs(b))
        for a, b in pairs
    )
