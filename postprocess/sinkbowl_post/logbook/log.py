"""Logging of a trial, and the mean of all trials of that bowl."""

import hashlib
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from datetime import datetime
from importlib.metadata import version
from pathlib import Path
from typing import Any

from sinkbowl.case.case import Case, load_case
from sinkbowl.case.schema import LENGTH, MASS
from sinkbowl.common.errors import CaseError
from sinkbowl.common.shown import capital
from sinkbowl.common.units import number_of
from sinkbowl_post.logbook.book import append_row
from sinkbowl_post.measured.mean_time import ALPHA, FEWEST, Grubbs, MeanTime, grubbs, mean_time
from sinkbowl_post.measured.measured import (
    OUTCOMES,
    SINKS,
    TIME,
    TIME_UNCERTAINTY,
    Trial,
    Trials,
    counted,
    counted_words,
    outcome_of,
    read_measured,
)
from sinkbowl_post.style import seconds

SAME = 0.005  # relative difference up to which a hole or a mass is the same
HASH_DIGITS = 12


@dataclass(frozen=True, eq=False, repr=False)
class Logged:
    """State of the logbook after a trial.

    trial : the one that was added
    timed : mean of all trials with its hole and mass, with it as the last; None if none sank
    failed : numbers of other outcomes
    rows : trials in the whole logbook
    case : of the trial, with its hole and mass; None: not given
    """

    trial: Trial
    timed: MeanTime | None
    failed: Mapping[str, int]
    rows: int
    case: Case | None = None

    @property
    def times(self) -> tuple[float, ...]:
        """Times of the trials that sank, in the file's order [s]."""
        return () if self.timed is None else self.timed.times

    @property
    def test(self) -> Grubbs | None:
        """Grubbs' test of the times; None for fewer than three."""
        return grubbs(self.times)

    @property
    def last_is_outlier(self) -> bool:
        """Whether the added trial is the outlier."""
        test = self.test
        return (
            self.trial.outcome == SINKS
            and test is not None
            and test.outlier
            and test.farthest == len(self.times) - 1
        )

    def __repr__(self) -> str:
        """The text printed by ``sinkbowl log``."""
        return "\n".join([*self._mean_text(), *self._test_text()])

    def _mean_text(self) -> list[str]:
        which = f"{capital(self.trial.place)}; {len(self.times)} timed"
        which += f", {counted_words(self.failed)}" if self.failed else ""
        lines = [f"{which} with this hole and mass, {self.rows} in the logbook."]
        if self.timed is not None:
            lines.append(f"Mean {self.timed.words} (95 %).")
            test = self.test
            if self.timed.suspect_words and not (test and test.outlier):
                lines.append(self.timed.suspect_words)
        return lines

    def _test_text(self) -> list[str]:
        test = self.test
        if self.trial.outcome != SINKS or test is None:
            few = len(self.times) < FEWEST and self.trial.outcome == SINKS
            return [f"Outliers are shown from {FEWEST} trials on."] if few else []
        figures = f"(Grubbs, {100 * ALPHA:g} %: G = {test.g:.2f}, critical {test.critical:.2f})"
        if self.last_is_outlier:
            return [
                f"The last trial is an outlier {figures}. Find out what was different. Leave it "
                "out only if you know why (--undo removes it)."
            ]
        if test.outlier:
            return [
                f"An earlier trial, {seconds(self.times[test.farthest])}, is an outlier {figures}."
            ]
        return [f"No outlier {figures}."]

    def as_dict(self) -> dict[str, Any]:
        """The results as plain numbers, units in the keys."""
        test, timed = self.test, self.timed
        nothing = dict.fromkeys(MeanTime((Trial(time=1.0),), 1.0).as_dict())
        return {
            "row": self.trial.row,
            "trials": len(self.times),
            "plugged": self.failed.get("plugged", 0),
            "failed": dict(self.failed),
            **(nothing if timed is None else timed.as_dict()),
            "grubbs": None if test is None else test.g,
            "grubbs_critical": None if test is None else test.critical,
            "last_is_outlier": self.last_is_outlier,
        }


def log_trial(
    path: str | Path,
    *,
    time: float | str | None = None,
    hole: float | str | None = None,
    mass: float | str | None = None,
    time_uncertainty: float | str | None = None,
    outcome: str | None = None,
    remarks: str | None = None,
    case: Case | str | Path | None = None,
    comma: bool = False,
    doubted: Callable[[str], None] | None = None,
) -> Logged:
    """Add a trial to a logbook.

    Parameters
    ----------
    time : from release until the rim is under [s], or text with a unit; None: it did not sink
    hole, mass : diameter [m], bowl and ballast [kg], or text; None: the case's
    time_uncertainty : standard [s], or text
    outcome : one of `OUTCOMES`; None: it sank, or, without a time, stayed plugged
    remarks : text for the row
    case : of the bowl, or its file; its hash is written into the row, and impossible times are
        refused
    comma : decimal commas
    doubted : called before a suspect trial is written, with the reason; if it raises, the trial is
        not written

    Raises
    ------
    CaseError : neither hole nor case, an impossible time, or not a table of trials
    ResultError : the file cannot be written
    """
    path = Path(path)
    case = None if case is None else load_case(case)
    numbers = {
        name: None if given is None else number_of(name, given, kind)
        for name, (given, kind) in {
            "hole": (hole, LENGTH),
            "mass": (mass, MASS),
            "time": (time, TIME),
            "time_uncertainty": (time_uncertainty, TIME_UNCERTAINTY),
        }.items()
    }
    what = outcome_of(outcome or (SINKS if time is not None else "plugged"))
    if what is None or (what == SINKS) != (time is not None):
        raise CaseError(
            "needs a time" if what == SINKS else "is not an outcome of such a trial",
            key="outcome",
            given=outcome,
            allowed=f"With a time it is {SINKS}; without: {', '.join(list(OUTCOMES)[1:])}.",
        )
    if case is None and hole is None:
        raise CaseError("Not given: --hole", allowed="Give the hole, or the bowl with --case.")
    offered: dict[str, float | str] = {}
    new = Trial(
        hole=numbers["hole"],
        mass=numbers["mass"],
        time=numbers["time"],
        time_uncertainty=numbers["time_uncertainty"],
        outcome=what,
    )
    if case is not None:
        digest = hashlib.sha256(case.text.encode()).hexdigest()
        case = _refuse_odd(case, path, new)
        offered = {"hole": case.hole.diameter, "mass": case.total_mass}
        new = replace(new, hole=case.hole.diameter, mass=case.total_mass)
    doubt = _doubt(path, new, case) if doubted else ""
    if doubt and doubted:
        doubted(doubt)
    cells: dict[str, float | str] = {
        name: number for name, number in numbers.items() if number is not None
    }
    cells["outcome"] = what
    if remarks:
        cells["remarks"] = remarks
    cells["date"] = datetime.now().astimezone().isoformat(timespec="seconds")
    cells["version"] = f"sinkbowl {version('sinkbowl')}"
    if case is not None:
        cells["case_hash"] = f"sha256:{digest[:HASH_DIGITS]}"  # never read as a number
    trials = append_row(path, cells, offered, comma).trials
    mine = [trial for trial in trials if _same(trial, trials[-1])]
    return Logged(trials[-1], mean_time(mine, case), counted(mine), len(trials), case)


def _doubt(path: Path, new: Trial, case: Case | None) -> str:
    """Reason why a trial not yet written is suspect, or empty."""
    earlier: tuple[Trial, ...] = ()
    if path.is_file():
        try:
            read = read_measured(path)
        except CaseError:  # only a heading; other errors are reported when writing
            read = None
        earlier = read.trials if isinstance(read, Trials) else ()
    timed = mean_time([*(one for one in earlier if _same(one, new)), new], case)
    if new.time is None or timed is None or timed.suspect != len(timed.times) - 1:
        return ""
    return timed.suspect_words


def _refuse_odd(case: Case, path: Path, new: Trial) -> Case:
    """The case of the trial; CaseError for an impossible time."""
    from sinkbowl_post.fitting.trial_cases import trial_cases

    timing = None if new.time is None else new.time_uncertainty or max(1e-3 * new.time, 1e-5)
    asked = replace(new, time_uncertainty=timing)
    (found,) = trial_cases(case, Trials(path, (asked,)))
    return found.case


def _same(one: Trial, other: Trial) -> bool:
    """Whether hole and mass are equal, if both trials have them."""
    pairs = ((one.hole, other.hole), (one.mass, other.mass))
    return all(a is None or b is None or abs(a - b) <= SAME * abs(b) for a, b in pairs)
