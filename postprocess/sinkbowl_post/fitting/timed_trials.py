"""The trials that sank, as arrays: times, model times, and their uncertainties.

Covariance of the measured times: each trial's own error is k u, u the prior uncertainty of its
timing and k a common factor from the scatter of trials with the same hole and mass about their
means, with k = 1 as a prior for few trials (`mean_time`). An error of the hole's diameter is shared
by all trials with that hole, one of the mass by all with that mass, one of the bowl's radius by
all. Shared errors scale with the model's time, not with the measured one, which would bias the fit
(Peelle's puzzle; D'Agostini 1994, Nucl. Instrum. Meth. A 346, 306, from memory).

The scatter of few trials is uncertain. The coefficient's interval has Student's t with the
effective degrees of freedom of Welch and Satterthwaite (JCGM 100:2008, G.4.1), nu / p^2, where p is
the share of the scatter, with nu degrees, in the variance.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray
from scipy.special import stdtrit

from sinkbowl.common import LEVEL, QUANTILE
from sinkbowl.common.errors import CaseError
from sinkbowl.common.sinking import FloatArray
from sinkbowl.corrected import MODELS
from sinkbowl_post.fitting.estimate import FitResult
from sinkbowl_post.fitting.time_law import FINE, USUAL, NeverSinks, TimeLaw, time_law
from sinkbowl_post.fitting.trial_cases import Setup, TrialCase
from sinkbowl_post.measured.mean_time import MeanTime, known_timing, mean_time, variance
from sinkbowl_post.measured.measured import Trials

PASSES = 2  # the covariance depends on the fitted times; one correction is enough

Chosen = NDArray[np.intp]
Progress = Callable[[int, int], None]


@dataclass(frozen=True, eq=False)
class TimedTrials:
    """Trials with a time, n of them.

    hole, mass, time : (n,) [m], [kg], [s]
    timing : (n,) standard deviation of each trial's own error [s]
    errors : uncertainty of each trial's hole, mass and radius, (n,) each [SI]
    model_times : for each model, times at each of `FINE`, (n, coefficients) [s]
    sensitivity : for each model, d ln T / dx of hole, mass and radius, (n,) each
    freedom : degrees of freedom of `timing`; infinite if it is not estimated
    groups, means : trials of one hole and mass, and their means
    """

    hole: FloatArray
    mass: FloatArray
    time: FloatArray
    timing: FloatArray
    errors: Mapping[str, FloatArray]
    model_times: Mapping[str, FloatArray]
    sensitivity: Mapping[str, Mapping[str, FloatArray]]
    freedom: float = math.inf
    groups: tuple[Chosen, ...] = ()
    means: tuple[MeanTime, ...] = ()

    @property
    def holes(self) -> tuple[float, ...]:
        """Different holes, ascending [m]."""
        return tuple(float(d) for d in np.unique(self.hole))

    def between(self, low: float, high: float) -> Chosen:
        """Trials with holes from low to high [m], inclusive."""
        return np.flatnonzero((self.hole >= low) & (self.hole <= high))

    def model_time(self, model: str, coefficient: float, chosen: Chosen) -> FloatArray:
        """Times by a model [s]."""
        rows = self.model_times[model][chosen]
        i = int(np.clip(np.searchsorted(FINE, coefficient) - 1, 0, len(FINE) - 2))
        share = (coefficient - FINE[i]) / (FINE[i + 1] - FINE[i])
        return np.asarray(rows[:, i] + share * (rows[:, i + 1] - rows[:, i]))

    def parts(self, model: str, coefficient: float, chosen: Chosen) -> dict[str, FloatArray]:
        """Covariance of the measured times by its causes, (k, k) each [s^2]; see the module."""
        time = self.model_time(model, coefficient, chosen)
        shared_by = {"hole": self.hole, "mass": self.mass, "radius": np.zeros_like(self.hole)}
        parts = {"timing": np.diag(self.timing[chosen] ** 2)}
        for name, key in shared_by.items():
            effect = time * (self.sensitivity[model][name] * self.errors[name])[chosen]
            same = key[chosen][:, None] == key[chosen][None, :]
            parts[name] = np.outer(effect, effect) * same
        return parts

    def covariance(self, model: str, coefficient: float, chosen: Chosen) -> FloatArray:
        """Covariance of the measured times (k, k) [s^2]."""
        parts = self.parts(model, coefficient, chosen)
        return np.asarray(np.sum(list(parts.values()), axis=0))

    def fit(self, model: str, chosen: Chosen) -> FitResult:
        """One constant discharge coefficient for some of the trials.

        Between two of `FINE` chi^2 is a parabola: the lowest of all minima is found without steps.
        """
        off, step = self.model_times[model][chosen] - self.time[chosen, None], np.diff(FINE)
        coefficient = USUAL
        for _ in range(PASSES):
            root = np.linalg.cholesky(self.covariance(model, coefficient, chosen))
            whitened = np.linalg.solve(root, off)
            here, rise = whitened[:, :-1], np.diff(whitened)
            steep = np.sum(rise**2, axis=0)
            share = np.clip(-np.sum(here * rise, axis=0) / steep, 0.0, 1.0)
            chi_square = np.sum((here + share * rise) ** 2, axis=0)
            i = int(np.argmin(chi_square))
            coefficient = float(FINE[i] + share[i] * step[i])
        return FitResult(
            parameters=np.array([coefficient]),
            covariance=np.array([[step[i] ** 2 / steep[i]]]),
            residuals=-off[:, i] - share[i] * (off[:, i + 1] - off[:, i]),
            chi_square=float(chi_square[i]),
            freedom=len(chosen) - 1,
            inside=bool(0.0 < i + share[i] < len(step)),
        )

    def shares(self, model: str, coefficient: float, chosen: Chosen) -> dict[str, float]:
        """Share of each cause in the variance of a fitted coefficient.

        With slope J = dT/dC the fit weighs the times by J^T S^-1; S is the sum of its parts.
        """
        parts = self.parts(model, coefficient, chosen)
        near = np.clip(coefficient * np.array([0.999, 1.001]), FINE[0], FINE[-1])
        less, more = (self.model_time(model, float(c), chosen) for c in near)
        weight = np.linalg.solve(np.sum(list(parts.values()), axis=0), more - less)
        variance = {name: float(weight @ part @ weight) for name, part in parts.items()}
        total = sum(variance.values())
        return {name: value / total for name, value in variance.items()}

    def quantile(self, model: str, coefficient: float, chosen: Chosen) -> float:
        """Half-width of the coefficient's interval in standard uncertainties; see the module."""
        share = self.shares(model, coefficient, chosen)["timing"]
        return float(stdtrit(self.freedom / share**2, 0.5 + 0.5 * LEVEL)) if share else QUANTILE

    def with_own_scatter(self) -> TimedTrials:
        """The same trials with `timing` from the scatter of the groups, and its freedom."""
        squares, freedom = 0.0, len(self.time) - len(self.groups)
        for group in self.groups:
            weight = self.timing[group] ** -2.0
            off = self.time[group] - np.average(self.time[group], weights=weight)
            squares += float(np.sum(weight * off**2))
        k_squared, together = variance(squares, freedom, 1.0)
        return replace(self, timing=math.sqrt(k_squared) * self.timing, freedom=float(together))


def timed_trials(
    cases: Sequence[TrialCase], trials: Trials, progress: Progress | None = None
) -> TimedTrials:
    """Collect the trials that sank, with the time law of each model.

    progress : called with the number of laws done and in total

    Raises CaseError if no trial sank, or a model does not sink one of them; RunError if a model
    does not end.
    """
    sunk = [one for one in cases if one.trial.time is not None]
    if not sunk:
        raise CaseError("No trial of this table sank", file=trials.path)
    setups = {one.setup: one for one in sunk}
    groups = {setup: [k for k, one in enumerate(sunk) if one.setup == setup] for setup in setups}
    means = [
        mean_time([sunk[k].trial for k in group], setups[setup].case)
        for setup, group in groups.items()
    ]
    laws: dict[str, dict[Setup, TimeLaw]] = {name: {} for name in MODELS}
    for done, (model, setup) in enumerate((m, s) for s in setups for m in MODELS):
        if progress:
            progress(done, len(MODELS) * len(setups))
        laws[model][setup] = _law(setups[setup], model, trials)
    found = TimedTrials(
        hole=np.array([one.setup.hole for one in sunk]),
        mass=np.array([one.case.total_mass for one in sunk]),
        time=np.array([one.trial.time for one in sunk], dtype=float),
        timing=np.array([known_timing(one.trial, one.case) for one in sunk]),
        errors={
            "hole": np.array([one.hole_uncertainty for one in sunk]),
            "mass": np.array([one.mass_uncertainty for one in sunk]),
            "radius": np.array([one.case.uncertainty.radius for one in sunk]),
        },
        model_times={
            name: np.exp([law[one.setup].log_product for one in sunk]) / FINE
            for name, law in laws.items()
        },
        sensitivity={
            name: {
                cause: np.array([law[one.setup].sensitivity[cause] for one in sunk])
                for cause in ("hole", "mass", "radius")
            }
            for name, law in laws.items()
        },
        groups=tuple(np.array(group, dtype=np.intp) for group in groups.values()),
        means=tuple(mean for mean in means if mean is not None),
    )
    return found.with_own_scatter()


def _law(one: TrialCase, model: str, trials: Trials) -> TimeLaw:
    try:
        return time_law(one.case, model)
    except NeverSinks as reason:
        raise CaseError(
            f"{one.trial.place} says that it sank, but by the {model} model it {reason}",
            file=trials.path,
            allowed="Check the row's mass and hole, and the bowl in the case file.",
        ) from None
