"""The error budget of a case by a reduced model, as `error_budget` returns it."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from sinkbowl.common.shown import seconds
from sinkbowl.design.budget.propagation import SEED, TRIALS, Distribution, combined
from sinkbowl.design.budget.repeats import LEVEL, POWER

UNITS = {
    "hole": "m",
    "mass": "kg",
    "radius": "m",
    "temperature": "K",
    "contact_angle": "rad",
    "discharge_coefficient": "1",
    "salinity": "kg/kg",
    "surface_tension": "N/m",
    "timing": "s",
}
"""Inputs and the unit of their values."""


@dataclass(frozen=True)
class Contribution:
    """Contribution of one input to the uncertainty of the time.

    name : as in [uncertainty]
    value, uncertainty : stated value and standard uncertainty [SI]; the value of timing is 0
    stated : whether the case gives the uncertainty; otherwise it is a default
    effect : sensitivity of the time times uncertainty [s], signed
    share : of the variance
    averages_out : whether repeats with the same bowl average it out
    """

    name: str
    value: float
    uncertainty: float
    stated: bool
    effect: float
    share: float
    averages_out: bool

    @property
    def sensitivity(self) -> float | None:
        """Of the time to the input [s per SI unit]; None where the uncertainty is 0."""
        return self.effect / self.uncertainty if self.uncertainty > 0.0 else None

    def as_dict(self) -> dict[str, Any]:
        """The contribution as plain numbers and strings."""
        return {
            "name": self.name,
            "value": self.value,
            "standard_uncertainty": self.uncertainty,
            "unit": UNITS[self.name],
            "stated": self.stated,
            "sensitivity": self.sensitivity,
            "effect_s": self.effect,
            "share_of_variance": self.share,
            "averages_out": self.averages_out,
        }


def trial_words(interval: Sequence[float]) -> str:
    """Ends of the interval of a careful trial [s] in words."""
    low, high = interval
    end = seconds(high)
    return f"{seconds(low, high)} to {end}" if low > 0.0 else f"up to {end}"


@dataclass(frozen=True)
class Repeats:
    """Number of trials of each of two bowls that shows a difference [s] of their times."""

    difference: float
    trials: int


@dataclass(frozen=True)
class Budget:
    """Error budget of one case and one reduced model.

    model : name of the reduced model
    time : until the rim is under, with the stated inputs [s]; None if there is no such time, also
        one standard uncertainty away; dependent figures are then empty or None
    outcome : what the bowl does, in words; without a time, the reason
    contributions : one per input, the largest share first
    uncertainty : standard uncertainty of a single trial to first order [s]
    monte_carlo : of the trials that sink; a check of the first order
    fit_miss : largest relative error of the parabolas in some samples solved in full
    plugged : share of the trials that the meniscus holds; None with a push or a drop, and for the
        falling body, which has no meniscus
    floating, under : shares of the trials that float and that go under at once
    repeats : for the given differences
    trial : 95 % interval of a careful trial [s], from model, inputs, timing and release; None for
        models other than the corrected one
    """

    model: str
    time: float | None
    outcome: str
    contributions: tuple[Contribution, ...]
    uncertainty: float | None
    monte_carlo: Distribution | None
    fit_miss: float | None
    plugged: float | None
    floating: float
    under: float
    repeats: tuple[Repeats, ...]
    trial: tuple[float, float] | None = None

    @property
    def trial_scatter(self) -> float:
        """Standard uncertainty that repeats average out [s]."""
        return combined(np.array([c.effect for c in self.contributions if c.averages_out]))

    @property
    def systematic(self) -> float:
        """Standard uncertainty that repeats with the same bowl do not reduce [s]."""
        return combined(np.array([c.effect for c in self.contributions if not c.averages_out]))

    def as_dict(self) -> dict[str, Any]:
        """The budget as plain numbers, strings and None, units in the keys."""
        drawn = self.monte_carlo
        return {
            "model": self.model,
            "sinking_time_s": self.time,
            "outcome": self.outcome,
            "standard_uncertainty_s": self.uncertainty,
            "monte_carlo": None
            if drawn is None
            else {
                "mean_s": drawn.mean,
                "standard_deviation_s": drawn.deviation,
                "low_s": drawn.low,
                "high_s": drawn.high,
                "trials": TRIALS,
                "seed": SEED,
            },
            "trial": None if self.trial is None else {"interval_s": list(self.trial)},
            "fit_miss": self.fit_miss,
            "share_plugged": self.plugged,
            "share_floating": self.floating,
            "share_under_at_once": self.under,
            "contributions": [c.as_dict() for c in self.contributions],
            "trial_scatter_s": self.trial_scatter,
            "systematic_uncertainty_s": self.systematic,
            "repeats": [{"difference_s": r.difference, "trials": r.trials} for r in self.repeats],
            "repeats_level": LEVEL,
            "repeats_power": POWER,
        }
