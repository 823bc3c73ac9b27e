"""Fit of trials: discharge coefficient, contact angle, range of validity of each model.

For each model one constant coefficient is fitted to the times by least squares with correlated
errors (`estimate`, `timed_trials`). A model cannot be excluded over a range of holes if that one
coefficient fits all times there within their uncertainties:

- the probability of a larger chi^2 is at least 5 %;
- no cut at either end reduces chi^2 significantly (the reduction follows chi^2 with as many degrees
  of freedom as trials cut off; 5 % for all cuts together): a model fails first at one end, which
  many good holes would hide.

The longest range of neighbouring holes counts, and the reported coefficient is fitted to it. A
single hole proves nothing: any model has a coefficient for it.
"""

import math
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from typing import Any

import numpy as np
from scipy.special import chdtrc

from sinkbowl.case.case import Case
from sinkbowl.common import LEVEL, QUANTILE
from sinkbowl.common.shown import for_terminal
from sinkbowl.common.sinking import FloatArray
from sinkbowl.corrected import MODELS
from sinkbowl.design.budget.variation import starting_coefficient
from sinkbowl.reduced import falling
from sinkbowl_post.fitting.estimate import DOUBTFUL, ConfidenceInterval, Trend, misfit, trend_of
from sinkbowl_post.fitting.time_law import USUAL
from sinkbowl_post.fitting.timed_trials import Chosen, Progress, TimedTrials, timed_trials
from sinkbowl_post.fitting.trial_cases import trial_cases
from sinkbowl_post.fitting.wetting import AngleFit, fit_angle
from sinkbowl_post.measured.measured import PLUGGED, Trials, counted


@dataclass(frozen=True, eq=False)
class ModelFit:
    """One model against the trials.

    model : its name
    coefficient : discharge coefficient of the range (of all trials without a range); None for a
        model without one, or if the best one is at a bound
    holes : narrowest and widest hole of the range that supports the model [m], or None
    trials : number of trials in the fit
    shares : of timing, hole, mass and radius in the coefficient's variance; empty without one
    chi_square, freedom, chance : of the fit, and probability of a larger chi^2
    ratio : (n,) measured over model time of all trials that sank, at that coefficient
    scatter : (n,) standard uncertainty of that ratio
    """

    model: str
    coefficient: ConfidenceInterval | None
    holes: tuple[float, float] | None
    trials: int
    shares: Mapping[str, float]
    chi_square: float
    freedom: int
    chance: float
    ratio: FloatArray
    scatter: FloatArray


@dataclass(frozen=True)
class HoleFit:
    """One hole alone.

    hole : diameter [m]
    trials : number of trials with it that sank
    coefficient : of each model, fitted only to them; None as in `ModelFit`
    """

    hole: float
    trials: int
    coefficient: Mapping[str, ConfidenceInterval | None]


@dataclass(frozen=True, eq=False, repr=False)
class TrialFit:
    """Result of the fit of a table of trials.

    Attributes
    ----------
    title : of the case
    timed : the trials that sank
    models : of each reduced model
    holes : each hole alone, ascending
    angle : contact angle, or None
    failed : numbers of other outcomes
    expected : expected coefficient of a single hole, None for several
    """

    title: str
    timed: TimedTrials
    models: Mapping[str, ModelFit]
    holes: tuple[HoleFit, ...]
    angle: AngleFit | None
    failed: Mapping[str, int]
    expected: ConfidenceInterval | None

    def __repr__(self) -> str:
        """The page that ``sinkbowl fit`` prints."""
        from sinkbowl_post.fitting.fit import fit_page  # imports this module

        return for_terminal(fit_page(self))

    def covered(self, model: str) -> int:
        """Number of holes in the range that supports a model."""
        found = self.models[model].holes
        if found is None:
            return 0
        return sum(found[0] <= d <= found[1] for d in self.timed.holes)

    def trend(self, model: str) -> Trend | None:
        """Trend of a model's coefficient over all holes, or None."""
        found = [one.coefficient[model] for one in self.holes]
        return trend_of([one.hole for one in self.holes], found)

    @property
    def best(self) -> ModelFit:
        """The model with the longest range; of equal ones the first and simplest."""
        return max(self.models.values(), key=lambda fit: self.covered(fit.model))

    def as_dict(self) -> dict[str, Any]:
        """The fit as plain numbers, strings and None, units in the keys."""
        angle = self.angle
        return {
            "title": self.title,
            "kind": "trials",
            "trials": len(self.timed.time),
            "plugged": self.failed.get(PLUGGED, 0),
            "failed": dict(self.failed),
            "level": LEVEL,
            "best": self.best.model,
            "models": {
                name: _model_figures(fit) | {"trend": trend.as_dict() if trend else None}
                for name, fit in self.models.items()
                for trend in (self.trend(name),)
            },
            "holes": [
                {
                    "hole_m": one.hole,
                    "trials": one.trials,
                    "means": [
                        {"mass_kg": float(self.timed.mass[group[0]]), **mean.as_dict()}
                        for group, mean in zip(self.timed.groups, self.timed.means, strict=True)
                        if self.timed.hole[group[0]] == one.hole
                    ],
                    "discharge_coefficient": {
                        name: _interval(found) for name, found in one.coefficient.items()
                    },
                }
                for one in self.holes
            ],
            "contact_angle": None
            if angle is None
            else {
                "value_deg": _degrees(angle.angle),
                "low_deg": _degrees(angle.low),
                "high_deg": _degrees(angle.high),
                "plugged": angle.plugged,
                "started": angle.started,
            },
        }


def fit_trials(case: Case, trials: Trials, progress: Progress | None = None) -> TrialFit:
    """Fit every reduced model to a table of trials.

    Raises CaseError if the trials do not fit the case, or none of them sank; RunError if a model
    does not end.
    """
    cases = trial_cases(case, trials)
    timed, holes = timed_trials(cases, trials, progress), []
    for hole in timed.holes:
        alone = timed.between(hole, hole)
        found = {name: _try(timed, name, alone).coefficient for name in MODELS}
        holes.append(HoleFit(hole, len(alone), found))
    return TrialFit(
        title=case.title,
        timed=timed,
        models={name: _model_fit(timed, name) for name in MODELS},
        holes=tuple(holes),
        angle=fit_angle(cases),
        failed=counted(trials.trials),
        expected=_expected(cases[0].case) if len(timed.holes) == 1 else None,
    )


def _expected(case: Case) -> ConfidenceInterval:
    """Coefficient of the hole by case or estimate, with its uncertainty."""
    value, half = starting_coefficient(case), QUANTILE * case.uncertainty.discharge_coefficient
    return ConfidenceInterval(value, value - half, value + half)


@dataclass(frozen=True)
class _Try:
    """Coefficient and misfit of a model for some trials."""

    chosen: Chosen
    coefficient: ConfidenceInterval | None
    used: float
    chi_square: float
    freedom: int
    chance: float


def _try(timed: TimedTrials, model: str, chosen: Chosen) -> _Try:
    if model == falling.MODEL:
        off = timed.time[chosen] - timed.model_time(model, USUAL, chosen)
        chi_square, chance = misfit(off, timed.covariance(model, USUAL, chosen))
        return _Try(chosen, None, USUAL, chi_square, len(chosen), chance)
    found = timed.fit(model, chosen)
    used = float(found.parameters[0])
    quantile = timed.quantile(model, used, chosen)
    return _Try(
        chosen,
        found.interval(quantile=quantile) if found.inside else None,
        used,
        found.chi_square,
        found.freedom,
        found.chance if found.inside else 0.0,
    )


def _model_fit(timed: TimedTrials, model: str) -> ModelFit:
    everything = np.arange(len(timed.time))
    ranges = _Ranges(timed, model)
    range_ = ranges.longest()
    tried = _try(timed, model, everything if range_ is None else timed.between(*range_))
    expected = timed.model_time(model, tried.used, everything)
    variance = np.diag(timed.covariance(model, tried.used, everything))
    return ModelFit(
        model=model,
        coefficient=tried.coefficient,
        holes=range_,
        trials=len(tried.chosen),
        shares=timed.shares(model, tried.used, tried.chosen) if tried.coefficient else {},
        chi_square=tried.chi_square,
        freedom=tried.freedom,
        chance=tried.chance,
        ratio=timed.time / expected,
        scatter=np.sqrt(variance) / expected,
    )


class _Ranges:
    """Fits of a model to ranges of neighbouring holes, each computed once."""

    def __init__(self, timed: TimedTrials, model: str) -> None:
        self._holes = timed.holes
        self._fit = cache(
            lambda i, j: _try(timed, model, timed.between(self._holes[i], self._holes[j]))
        )

    def longest(self) -> tuple[float, float] | None:
        """Longest range explained by the model, of equal ones the more probable one."""
        holes = self._holes
        for count in range(len(holes), 1 if len(holes) > 1 else 0, -1):
            ranges = [(i, i + count - 1) for i in range(len(holes) - count + 1)]
            good = [one for one in ranges if self._holds(*one)]
            if good:
                i, j = max(good, key=lambda one: self._fit(*one).chance)
                return holes[i], holes[j]
        return None

    def _holds(self, i: int, j: int) -> bool:
        whole = self._fit(i, j)
        if whole.chance < DOUBTFUL:
            return False
        cuts = [(i, k) for k in range(i, j)] + [(k, j) for k in range(i + 1, j + 1)]
        for rest in (self._fit(*cut) for cut in cuts):
            drop = max(whole.chi_square - rest.chi_square, 0.0)
            if chdtrc(len(whole.chosen) - len(rest.chosen), drop) < DOUBTFUL / len(cuts):
                return False
        return True


def _model_figures(fit: ModelFit) -> dict[str, Any]:
    low, high = fit.holes or (None, None)
    return {
        "discharge_coefficient": _interval(fit.coefficient),
        "supported": fit.holes is not None,
        "narrowest_hole_m": low,
        "widest_hole_m": high,
        "trials": fit.trials,
        "shares_of_variance": dict(fit.shares),
        "chi_square": fit.chi_square,
        "degrees_of_freedom": fit.freedom,
        "chance": fit.chance,
    }


def _interval(found: ConfidenceInterval | None) -> dict[str, float] | None:
    return None if found is None else found.as_dict()


def _degrees(angle: float | None) -> float | None:
    return None if angle is None else math.degrees(angle)
