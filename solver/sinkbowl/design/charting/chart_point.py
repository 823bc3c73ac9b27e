"""What one bowl does, in the numbers that a chart is drawn from.

The words are those of `check`: the same functions tell whether it tips and whether its hole stays
shut. Times are those of a model, the meniscus put aside, so that they go on into the zone where it
holds the bowl until somebody pushes.
"""

from __future__ import annotations

from typing import NamedTuple

from sinkbowl.case.case import Case
from sinkbowl.common.best import Best
from sinkbowl.corrected import MODELS
from sinkbowl.corrected import model as corrected
from sinkbowl.design.budget.variation import meniscus_aside
from sinkbowl.design.checking import Verdict, filling_time, verdict
from sinkbowl.reduced import heave, quasi_static
from sinkbowl.reduced.start import start_margin
from sinkbowl.statics.capillarity import hole_gate
from sinkbowl.statics.hydrostatics import heave_period
from sinkbowl.statics.stability import stability_curve

CHART_MODELS = (corrected.MODEL, heave.MODEL)
"""Whose times a chart can show: those of any hole that fills a bowl with inertia."""


class ChartPoint(NamedTuple):
    """One bowl with one hole and one load.

    verdict : of `check`
    time : until the rim is under, once it has started [s]; nan where there is none
    margin : by how much its start opens the hole, negative where the meniscus holds
    periods : filling time over heave period, which tells how far inertia counts; nan where the
        quasi-static model does not fill it
    growth : exponent by which a heel grows while it fills, see `StabilityCurve`
    """

    verdict: Verdict
    time: float
    margin: float
    periods: float
    growth: float

    @property
    def tips(self) -> bool:
        """Whether it capsizes."""
        return self.verdict == "tips"


def chart_point_of(case: Case, model: str = corrected.MODEL) -> ChartPoint:
    """Sound one bowl that floats dry and sinks in the end, by one of `CHART_MODELS`.

    Raises
    ------
    RunError : if a reduced model comes to no end
    """
    open_hole = meniscus_aside(case)
    time = MODELS[model](open_hole, quick=True).sinking_time
    curve = stability_curve(case)
    filling, period = filling_time(quasi_static.solve(open_hole, quick=True)), heave_period(case)
    return ChartPoint(
        verdict=verdict(case),
        time=float("nan") if time is None else time,
        margin=start_margin(case, hole_gate(case)),
        periods=filling / period if filling is not None and period else float("nan"),
        growth=0.0 if curve is None else curve.growth,
    )


def best_of(case: Case, model: str) -> Best | None:
    """The answer of `check` for a bowl once it has started; None for another model than its own."""
    return corrected.best_time(meniscus_aside(case)) if model == corrected.MODEL else None


def tips(case: Case) -> bool:
    """Whether `check` says so."""
    return verdict(case) == "tips"
