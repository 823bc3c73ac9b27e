"""Own trials on the reference curves, in dimensionless numbers."""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from sinkbowl.case.case import Case
from sinkbowl.common import GRAVITY
from sinkbowl.common.errors import CaseError
from sinkbowl.design.budget.variation import meniscus_aside
from sinkbowl.files.result import read_result
from sinkbowl.reduced import heave
from sinkbowl.scatter.interval import hole_ratio
from sinkbowl_post.fitting.trial_cases import TrialCase, trial_cases
from sinkbowl_post.measured.mean_time import MeanTime, mean_time
from sinkbowl_post.measured.measured import Trace, Trials
from sinkbowl_post.reference_curves.breakdown import families
from sinkbowl_post.reference_curves.points import RunPoint, displaced
from sinkbowl_post.reference_curves.table import result_files

SAME_MASS = 0.05  # maximum relative distance of a mass ratio from those of the runs


@dataclass(frozen=True)
class TrialPoint:
    """Trials of a bowl with one hole.

    hole, hole_ratio, mass_ratio : [m], d/D and m / (rho V), as of runs
    timed : mean time until the rim was under, and its interval
    scale : sqrt(H / g) [s]
    deviation : measured over flow solver's time, minus 1; None if no run is near
    """

    hole: float
    hole_ratio: float
    mass_ratio: float
    timed: MeanTime
    scale: float
    deviation: float | None


def case_behind(places: Sequence[Path]) -> Case | None:
    """Case of the first result file among some places; None if all are tables."""
    first = next((file for file in result_files(places) if file.suffix.lower() != ".csv"), None)
    return None if first is None else read_result(first).case


def trial_points(
    case: Case, measured: Trials | Trace, points: Sequence[RunPoint]
) -> tuple[TrialPoint, ...]:
    """Points of all trials that sank, by hole.

    case : the bowl
    measured : table of its trials
    points : of the runs

    Raises CaseError for a trace, or if a trial does not fit the case.
    """
    if isinstance(measured, Trace):
        raise CaseError(
            "Is a trace of one bowl's depth, and cannot be shown on the curves",
            file=measured.path,
            allowed="Compare it with its run: sinkbowl compare RESULT --measured TRACE.",
        )
    setups: dict[tuple[float, float], list[TrialCase]] = {}
    for one in trial_cases(case, measured):
        if one.trial.time is not None:
            setups.setdefault((one.setup.hole, one.case.total_mass), []).append(one)
    return tuple(_point(setups[key], points) for key in sorted(setups))


def _point(trials: Sequence[TrialCase], points: Sequence[RunPoint]) -> TrialPoint:
    case = trials[0].case
    timed = mean_time([one.trial for one in trials], case)
    assert timed is not None  # those without a time were left out
    ratio, mass = hole_ratio(case), case.total_mass / (case.water.density * displaced(case))
    near = _flow_time(case, ratio, mass, points)
    return TrialPoint(
        hole=case.hole.diameter,
        hole_ratio=ratio,
        mass_ratio=mass,
        timed=timed,
        scale=math.sqrt(case.bowl.rim_height / GRAVITY),
        deviation=None if near is None else timed.mean / near - 1.0,
    )


def _flow_time(case: Case, ratio: float, mass: float, points: Sequence[RunPoint]) -> float | None:
    """The flow solver's time [s] of a bowl between the runs; None if none is near.

    The heave model's time with the interpolated deviation of the runs around it, which changes
    little with hole and mass.
    """
    model = heave.solve(meniscus_aside(case), beyond=False).sinking_time
    found: list[tuple[float, float]] = []
    for own, family in families(points):
        deviations = [(p.hole_ratio, p.deviation(heave.MODEL)) for p in family]
        known = [(at, off) for at, off in deviations if off is not None]
        if known and known[0][0] * 0.999 <= ratio <= known[-1][0] * 1.001:
            x, off = np.log([at for at, _ in known]), [value for _, value in known]
            found.append((own, float(np.interp(math.log(ratio), x, off))))
    found.sort()
    reach = 1.0 + SAME_MASS
    if model is None or not found or not found[0][0] / reach <= mass <= found[-1][0] * reach:
        return None
    masses, off = [own for own, _ in found], [value for _, value in found]
    return model / (1.0 + float(np.interp(mass, masses, off)))
