"""Mean of the timed trials of one bowl, its interval, and a suspect trial.

With four or more trials only their own scatter counts: with the mean x and the standard deviation s
of n trials

    x +- t s / sqrt(n),      t = t(0.975; n - 1)

(JCGM 100:2008, 4.2.3 and G.3.2). One to three trials do not determine their scatter. The prior
standard uncertainty u of the timing then counts like nu_0 more degrees of freedom,

    s^2 = (nu_0 u^2 + (n - 1) s_n^2) / nu,      t = t(0.975; nu),      nu = nu_0 + n - 1,

the posterior of a normal mean whose variance has a scaled inverse chi^2 prior (Gelman et al. 2013,
Bayesian Data Analysis, 3rd ed., sec. 3.3, from memory). nu_0 = 2: u is known within a half (JCGM
100:2008, eq. (G.3), nu = (du/u)^-2 / 2). The same applies to more trials if all written times are
equal.

A trial is suspect if it differs by a factor of three from the others' median or from the heave
model, which is within a third for any bowl that sinks; or if it is an outlier by Grubbs' test and
more than three standard uncertainties of the timing off. A suspect trial stays in the mean: the
user decides.

By Grubbs' test the value farthest from the mean is an outlier, two-sided at level alpha, if
G = max |x - mean| / s exceeds

    (N - 1)/sqrt(N) sqrt(t^2 / (N - 2 + t^2)),  t the upper alpha/(2 N) point of Student's t, N - 2

(NIST/SEMATECH e-Handbook of Statistical Methods, 1.3.5.17.1, from memory). The test is for values
from one normal distribution with at most one outlier.

A time off from the heave model by a factor of 30, as with a mistyped unit, is not a measurement of
that bowl and is refused.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from statistics import fmean, median, stdev
from typing import Any

from sinkbowl.case.case import Case
from sinkbowl.case.parts import DEFAULT_TIMING
from sinkbowl.common import LEVEL
from sinkbowl.common.errors import CaseError
from sinkbowl.common.numerics import student
from sinkbowl.common.shown import capital, seconds, seconds_with
from sinkbowl.design.budget.uncertainty import FILMED, timing_uncertainty
from sinkbowl.design.budget.variation import meniscus_aside
from sinkbowl.reduced import heave
from sinkbowl_post.measured.measured import Trial

FEW = 3  # number of trials up to which the prior of the timing counts
PRIOR_FREEDOM = 2  # degrees of freedom of the prior

APART = 3.0
"""Factor from the other trials or the model from which a time is suspect for any scatter."""

REACH = 3.0  # standard uncertainties of the timing within which no trial is suspect
ODD = 30.0  # factor between time and model from which a time is refused

QUESTIONS = ((300.0, "ms typed as s?"), (ODD, "seconds typed as minutes, or two digits swapped?"))
"""Questions for times too long by a factor, or too short by it."""


@dataclass(frozen=True)
class MeanTime:
    """Trials of a bowl with one hole and one mass, at least one.

    trials : that sank
    timing : prior standard uncertainty of the timing [s]
    expected : time by the heave model [s], or None
    """

    trials: tuple[Trial, ...]
    timing: float
    expected: float | None = None

    @property
    def times(self) -> tuple[float, ...]:
        """Of each trial [s]."""
        return tuple(trial.time or 0.0 for trial in self.trials)

    @property
    def mean(self) -> float:
        """Of the times [s]."""
        return fmean(self.times)

    @property
    def own_scatter(self) -> float | None:
        """Standard deviation of the times themselves [s], None for a single one."""
        return stdev(self.times) if len(self.times) > 1 else None

    @property
    def scatter(self) -> float:
        """Standard deviation of one trial [s], with the prior for few trials."""
        return math.sqrt(self._variance[0])

    @property
    def freedom(self) -> int:
        """Degrees of freedom of the scatter."""
        return self._variance[1]

    @property
    def uncertainty(self) -> float:
        """Standard uncertainty of the mean [s]."""
        return self.scatter / math.sqrt(len(self.times))

    @property
    def half_width(self) -> float:
        """Half the mean's interval of `LEVEL` [s]."""
        return student(self.freedom) * self.uncertainty

    @property
    def words(self) -> str:
        """Mean and interval: '1.80 ± 0.05 s'."""
        return seconds_with(self.mean, self.half_width)

    @property
    def suspect(self) -> int | None:
        """Index of the suspect time, or None."""
        found = self._farthest()
        return None if found is None else found[0]

    @property
    def suspect_words(self) -> str:
        """Sentence on the suspect row and the reason, or empty."""
        found = self._farthest()
        if found is None:
            return ""
        k, why = found
        time, place = seconds(self.times[k]), capital(self.trials[k].place)
        return f"{place}, {time}, is suspect: {why}."

    def as_dict(self) -> dict[str, Any]:
        """The figures as plain numbers, units in the keys."""
        place = self.suspect
        return {
            "mean_s": self.mean,
            "half_width_s": self.half_width,
            "level": LEVEL,
            "scatter_s": self.own_scatter,
            "degrees_of_freedom": self.freedom,
            "suspect_row": None if place is None else self.trials[place].row,
            "suspect_s": None if place is None else self.times[place],
        }

    @property
    def _variance(self) -> tuple[float, int]:
        more = len(self.times) - 1
        return variance(more * (self.own_scatter or 0.0) ** 2, more, self.timing)

    def _farthest(self) -> tuple[int, str] | None:
        """Index of the suspect time, and the reason."""
        times = self.times
        if len(times) > 1:
            middle = self.expected if len(times) == 2 and self.expected else median(times)
            k = max(range(len(times)), key=lambda i: (abs(math.log(times[i] / middle)), i))
            others = median(times[:k] + times[k + 1 :])
            off = max(times[k] / others, others / times[k])
            if off > APART:
                return k, f"{_times_off(times[k], others)} the others' {seconds(others)}"
            test = grubbs(times)
            if test is not None and test.outlier:
                k = test.farthest
                others = fmean(times[:k] + times[k + 1 :])
                if abs(times[k] - others) > REACH * self.timing:
                    return k, f"Grubbs' test finds it too far off the others' {seconds(others)}"
        if self.expected:
            model = self.expected
            k = max(range(len(times)), key=lambda i: abs(math.log(times[i] / model)))
            if max(times[k] / model, model / times[k]) > APART:
                return k, f"{_times_off(times[k], model)} the heave model's {seconds(model)}"
        return None


def variance(squares: float, freedom: int, known: float) -> tuple[float, int]:
    """Variance of one trial and its degrees of freedom, with the prior for few trials.

    squares : sum of the squared deviations from the mean, or from several means
    freedom : trials minus means
    known : prior standard uncertainty of a trial, in the unit of a deviation
    """
    if freedom >= FEW and squares > 0.0:
        return squares / freedom, freedom
    together = PRIOR_FREEDOM + freedom
    return (PRIOR_FREEDOM * known**2 + squares) / together, together


def _times_off(time: float, other: float) -> str:
    return f"{time / other:.2g} times" if time > other else f"1/{other / time:.2g} of"


def mean_time(trials: Sequence[Trial], case: Case | None = None) -> MeanTime | None:
    """Mean of trials of a bowl with one hole and one mass; None if none of them sank.

    case : the bowl, with that hole and mass; None: default timing of a stopwatch or a film
    """
    sunk = [trial for trial in trials if trial.time is not None]
    if not sunk:
        return None
    known = [known_timing(trial, case) for trial in sunk]
    return MeanTime(
        trials=tuple(sunk),
        timing=math.sqrt(fmean(one**2 for one in known)),
        expected=None if case is None else model_time(case),
    )


def known_timing(trial: Trial, case: Case | None) -> float:
    """Standard uncertainty of a trial's time [s]: its own, the case's, or the default."""
    if trial.time_uncertainty is not None:
        return trial.time_uncertainty
    time = trial.time or 0.0
    return min(DEFAULT_TIMING, FILMED * time) if case is None else timing_uncertainty(case, time)


ALPHA = 0.05
FEWEST = 3  # minimum number of values of the test


@dataclass(frozen=True)
class Grubbs:
    """Result of the test.

    farthest : index of the value farthest from the mean
    g, critical : its statistic, and the critical value
    """

    farthest: int
    g: float
    critical: float

    @property
    def outlier(self) -> bool:
        """Whether the farthest value is one."""
        return self.g > self.critical


def grubbs(values: Sequence[float]) -> Grubbs | None:
    """Test values; None for fewer than three, or if all are equal."""
    if len(values) < FEWEST or stdev(values) == 0.0:
        return None
    mean, spread = fmean(values), stdev(values)
    farthest = max(range(len(values)), key=lambda k: abs(values[k] - mean))
    g = abs(values[farthest] - mean) / spread
    return Grubbs(farthest, g, critical_value(len(values), ALPHA / 2.0))


def critical_value(count: int, alpha: float) -> float:
    """Critical value of the statistic for ``count`` values."""
    point = student(count - 2, 1.0 - 2.0 * alpha / count)
    return (count - 1) / math.sqrt(count) * math.sqrt(point**2 / (count - 2 + point**2))


@lru_cache(maxsize=64)
def model_time(case: Case) -> float | None:
    """Sinking time by the heave model [s], without meniscus; None if it does not sink."""
    return heave.solve(meniscus_aside(case), beyond=False).sinking_time


def refuse_odd_time(case: Case, trial: Trial, path: Path) -> None:
    """Refuse a trial with an impossible time for its bowl.

    case : with the hole and mass of the trial
    path : its table

    Raises CaseError if the time differs from the heave model's by a factor of 30 or more.
    """
    model, time = model_time(case), trial.time
    if not model or time is None:
        return
    ratio = max(time / model, model / time)
    asked = next((words for factor, words in QUESTIONS if ratio >= factor), None)
    if asked is None:
        return
    if time < model:
        asked = "s typed as ms?" if ratio >= QUESTIONS[0][0] else "minutes typed as seconds?"
    raise CaseError(
        f"is {ratio:.0f} times {'longer' if time > model else 'shorter'} than the heave model's "
        f"{seconds(model)}: {asked}",
        file=path,
        key=f"{trial.place}, time",
        given=f"{time:.6g} s",
        allowed="Correct it, or the case if it is another bowl.",
    )
