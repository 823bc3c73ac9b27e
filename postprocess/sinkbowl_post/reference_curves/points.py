"""A run as a point of the reference curves, with the reduced models.

Dimensionless: hole over inner diameter of the rim, d/D; mass of bowl and ballast over that of the
water displaced with the rim at the surface, m / (rho V); time until the rim is under over the time
scale of the bowl, T sqrt(g / H), H its height (Froude similarity: the three do not change if all
lengths are scaled, as long as C_d is constant and surface tension is negligible).

Causes of a model's difference are found by attribution (comparing/reasons.py). Other readings:

- discharge: effective coefficient over the middle of the filling, over the model's;
- inertia: speed of the bowl as its rim passes under, over g T;
- jet: momentum flux of the jet, mean of rho Q^2 / a, over the weight;
- overflow: whether water came over the rim before the rim was under;
- plugged: whether the meniscus in the hole holds the head.
"""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np

from sinkbowl.case.case import Case
from sinkbowl.common import GRAVITY
from sinkbowl.corrected import MODELS
from sinkbowl.design.checking import verdict
from sinkbowl.files.result import Result
from sinkbowl.reduced.attribution.attribute import Reasons
from sinkbowl.scatter.interval import TimeInterval, hole_ratio
from sinkbowl_post.comparing.compare import compare


@dataclass(frozen=True)
class RunPoint:
    """A point of the reference curves.

    path, title : source, and bowl; the runs of a sweep have one title
    hole, hole_ratio, mass_ratio : hole's diameter [m], d/D and m / (rho V)
    interval : time until the rim is under, with its interval
    scale : sqrt(H / g) [s]
    models : sinking time of each reduced model [s], or None
    discharge, inertia, jet : see the module; discharge is relative, or None
    overflow, plugged : see the module
    reasons : causes of each model's difference, for models with known causes
    case : of the run; None for a point from a table
    """

    path: Path
    title: str
    hole: float
    hole_ratio: float
    mass_ratio: float
    interval: TimeInterval
    scale: float
    models: Mapping[str, float | None]
    discharge: float | None
    inertia: float
    jet: float
    overflow: bool
    plugged: bool
    reasons: Mapping[str, Reasons | None] = field(default_factory=dict)
    case: Case | None = None

    @property
    def time(self) -> float:
        """Until the rim is under [s]."""
        return self.interval.time

    def deviation(self, model: str) -> float | None:
        """Model's time over the flow solver's, minus 1."""
        time = self.models.get(model)
        return None if time is None else time / self.time - 1.0


def point_of(result: Result) -> RunPoint:
    """The point of one run that sank."""
    case, comparison, time = result.case, compare(result), result.sinking_time
    interval = result.interval
    assert time is not None
    assert interval is not None
    bowl, history = case.bowl, result.history
    before = history["t"] <= time
    flow, model = comparison.discharge["flow"], comparison.discharge["quasi-static"]
    jet_force = case.water.density * history["hole_flow"][before] ** 2 / case.hole.area
    weight = case.total_mass * GRAVITY
    return RunPoint(
        path=result.path,
        title=case.title,
        hole=case.hole.diameter,
        hole_ratio=hole_ratio(case),
        mass_ratio=case.total_mass / (case.water.density * displaced(case)),
        interval=interval,
        scale=math.sqrt(bowl.rim_height / GRAVITY),
        models={name: model.sinking_time for name, model in comparison.models.items()},
        discharge=flow / model - 1.0 if flow is not None and model else None,
        inertia=float(np.interp(time, history["t"], history["speed"])) / (GRAVITY * time),
        jet=float(np.trapezoid(jet_force, history["t"][before])) / (weight * time),
        overflow=result.events.get("over_rim", math.inf) < time,
        plugged=verdict(case) == "plugged",
        reasons=comparison.reasons,
        case=case,
    )


def models_of(points: Sequence[RunPoint]) -> list[str]:
    """Names of the models that some of the points have, in their usual order."""
    return [name for name in MODELS if any(name in point.models for point in points)]


def displaced(case: Case) -> float:
    """Volume inside the outer outline up to the rim, hole plugged [m^3]."""
    return float(case.bowl.outer_volume(case.bowl.rim_height))
