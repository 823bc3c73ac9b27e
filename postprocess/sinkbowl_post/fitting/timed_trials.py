"""The trials that sank, as arrays: what was timed, what a model says, and how far both can be off.

Covariance of the measured times: the timing of each trial is its own; an error of the hole's
diameter is shared by all trials with that hole, one of the mass by all with that mass, one of the
bowl's radius by all. Shared errors scale with the time that the model gives, not with the measured
one, or they would pull the fit down (Peelle's puzzle; D'Agostini 1994, Nucl. Instrum. Meth. A 346,
306, from memory).
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sinkbowl.common.errors import CaseError
from sinkbowl.common.sinking import FloatArray
from sinkbowl.corrected import MODELS
from sinkbowl_post.fitting.estimate import Estimate, fit_parameters
from sinkbowl_post.fitting.time_law import FINE, USUAL, NeverSinks, TimeLaw, time_law
from sinkbowl_post.fitting.trial_cases import Setup, TrialCase
from sinkbowl_post.measured.measured import Trials

PASSES = 2
"""The covariance follows the fitted times; once corrected it hardly changes any more."""

Chosen = NDArray[np.intp]
Progress = Callable[[int, int], None]


@dataclass(frozen=True, eq=False)
class TimedTrials:
    """Trials with a time, n of them.

    Attributes
    ----------
    hole, mass, time, timing : (n,) [m], [kg], [s], [s]
    errors : uncertainty of each trial's hole, mass and radius, (n,) each [SI]
    log_product : for each model, rows of ln(C T) as in `TimeLaw`, (n, coefficients)
    sensitivity : for each model, d ln T / dx of hole, mass and radius, (n,) each
    """

    hole: FloatArray
    mass: FloatArray
    time: FloatArray
    timing: FloatArray
    errors: Mapping[str, FloatArray]
    log_product: Mapping[str, FloatArray]
    sensitivity: Mapping[str, Mapping[str, FloatArray]]

    @property
    def holes(self) -> tuple[float, ...]:
        """Different holes, ascending [m]."""
        return tuple(float(d) for d in np.unique(self.hole))

    def between(self, low: float, high: float) -> Chosen:
        """Trials with holes from low to high [m], both included."""
        return np.flatnonzero((self.hole >= low) & (self.hole <= high))

    def model_time(self, model: str, coefficient: float, chosen: Chosen) -> FloatArray:
        """Times by a model [s]."""
        rows = self.log_product[model][chosen]
        i = int(np.clip(np.searchsorted(FINE, coefficient) - 1, 0, len(FINE) - 2))
        share = np.log(coefficient / FINE[i]) / np.log(FINE[i + 1] / FINE[i])
        log_product = rows[:, i] + share * (rows[:, i + 1] - rows[:, i])
        return np.asarray(np.exp(log_product) / coefficient)

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

    def fit(self, model: str, chosen: Chosen) -> Estimate:
        """One constant discharge coefficient for some of the trials."""
        coefficient = USUAL
        for _ in range(PASSES):
            estimate = fit_parameters(
                lambda p: self.model_time(model, float(p[0]), chosen),
                self.time[chosen],
                self.covariance(model, coefficient, chosen),
                [coefficient],
                ([FINE[0]], [FINE[-1]]),
            )
            coefficient = float(estimate.parameters[0])
        return estimate

    def shares(self, model: str, coefficient: float, chosen: Chosen) -> dict[str, float]:
        """Share of each cause in the variance of a fitted coefficient.

        With slope J = dT/dC the fit weighs the times by J^T S^-1; S is the sum of its parts.
        """
        near = np.clip(coefficient * np.array([0.999, 1.001]), FINE[0], FINE[-1])
        less, more = (self.model_time(model, float(c), chosen) for c in near)
        parts = self.parts(model, coefficient, chosen)
        weight = np.linalg.solve(np.sum(list(parts.values()), axis=0), more - less)
        variance = {name: float(weight @ part @ weight) for name, part in parts.items()}
        total = sum(variance.values())
        return {name: value / total for name, value in variance.items()}


def timed_trials(
    cases: Sequence[TrialCase], trials: Trials, progress: Progress | None = None
) -> TimedTrials:
    """Gather the trials that sank and let every model time them.

    Parameters
    ----------
    progress : is told how many laws are done, of how many

    Raises
    ------
    CaseError : no trial sank, or by a model one of them cannot
    RunError : if a model comes to no end
    """
    sunk = [one for one in cases if not one.trial.plugged]
    if not sunk:
        raise CaseError("No trial of this table sank", file=trials.path)
    setups = {one.setup: one for one in sunk}
    laws: dict[str, dict[Setup, TimeLaw]] = {name: {} for name in MODELS}
    for done, (model, setup) in enumerate((m, s) for m in MODELS for s in setups):
        if progress:
            progress(done, len(MODELS) * len(setups))
        laws[model][setup] = _law(setups[setup], model, trials)
    return TimedTrials(
        hole=np.array([one.setup.hole for one in sunk]),
        mass=np.array([one.case.total_mass for one in sunk]),
        time=np.array([one.trial.time for one in sunk], dtype=float),
        timing=np.array([one.timing for one in sunk]),
        errors={
            "hole": np.array([one.hole_uncertainty for one in sunk]),
            "mass": np.array([one.mass_uncertainty for one in sunk]),
            "radius": np.array([one.case.spread.radius for one in sunk]),
        },
        log_product={
            name: np.array([law[one.setup].log_product for one in sunk])
            for name, law in laws.items()
        },
        sensitivity={
            name: {
                cause: np.array([law[one.setup].sensitivity[cause] for one in sunk])
                for cause in ("hole", "mass", "radius")
            }
            for name, law in laws.items()
        },
    )


def _law(one: TrialCase, model: str, trials: Trials) -> TimeLaw:
    try:
        return time_law(one.case, model)
    except NeverSinks as reason:
        raise CaseError(
            f"Row {one.trial.row} says that it sank, but by the {model} model it {reason}",
            file=trials.path,
            allowed="Check the row's mass and hole, and the bowl in the case file.",
        ) from None
