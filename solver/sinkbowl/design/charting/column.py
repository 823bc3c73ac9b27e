"""One column of a chart: a hole with all loads.

Rows are shares of the way from the lightest load that sinks the bowl to the heaviest with which it
still floats with its hole shut, denser at both ends, where times change fast.

The verdict is that of `check`, by the same functions. Times are those of a model without the
meniscus, so that they extend into the zone where the bowl needs a push.

The load is the mass of the ballast ring, which keeps its place and material, as in sizing, or that
of a bowl without one, which keeps its centre of gravity.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import Literal, NamedTuple

import numpy as np

from sinkbowl.case.case import Case
from sinkbowl.common.errors import CaseError
from sinkbowl.common.numerics import bisected
from sinkbowl.common.sinking import FloatArray
from sinkbowl.corrected import MODELS
from sinkbowl.corrected import model as corrected
from sinkbowl.design.budget.variation import meniscus_aside
from sinkbowl.design.checking import Verdict, filling_time, verdict
from sinkbowl.design.sizing.design_variable import NEUTRAL, ballast_setting
from sinkbowl.reduced import heave, quasi_static
from sinkbowl.reduced.start import start_margin
from sinkbowl.statics.capillarity import hole_gate
from sinkbowl.statics.hydrostatics import displaced_volume, dry_draft, heave_period, solid_volume
from sinkbowl.statics.stability import stability_curve

ROWS = 10

HALVINGS = 5  # bisections between two nodes for the border of tipping

NOWHERE = float("nan")


class Column(NamedTuple):
    """All loads of one hole.

    hole : diameter [m]
    span : of the loads
    chart_points : one per row
    crossings : (ROWS - 1,) share of the way from a row to the next at which tipping begins or ends;
        nan if nothing changes
    """

    hole: float
    span: Span
    chart_points: tuple[ChartPoint, ...]
    crossings: tuple[float, ...]


def shares_of_rows() -> FloatArray:
    """Shares of the span at which the rows lie, (ROWS,)."""
    return np.asarray(0.5 - 0.5 * np.cos(np.pi * (np.arange(ROWS) + 0.5) / ROWS))


def column_of(case: Case, hole: float, top: float, model: str = corrected.MODEL) -> Column:
    """Sound all loads of one hole [m], up to a heaviest one [kg], by a model."""
    drilled = case.with_hole(hole)
    reach = span(drilled, top)

    def at(share: float) -> Case:
        return with_load(drilled, reach.low + share * (reach.high - reach.low))

    rows = [float(share) for share in shares_of_rows()]
    found = [chart_point_of(at(share), model) for share in rows]
    crossings = []
    for (low, high), (below, above) in zip(pairwise(rows), pairwise(found), strict=True):

        def tips_at(way: float, low: float = low, high: float = high) -> bool:
            return tips(at(low + way * (high - low)))

        crossings.append(change(tips_at, below.tips, above.tips))
    return Column(hole, reach, tuple(found), tuple(crossings))


def crossings_between(case: Case, left: Column, right: Column, top: float) -> FloatArray:
    """Where tipping begins or ends between two columns, (ROWS,).

    Shares of the way in the logarithm of the hole; nan if nothing changes.
    """
    found = []
    rows = zip(shares_of_rows(), left.chart_points, right.chart_points, strict=True)
    for share, before, after in rows:

        def tips_at(way: float, share: float = float(share)) -> bool:
            drilled = case.with_hole(left.hole * (right.hole / left.hole) ** way)
            reach = span(drilled, top)
            return tips(with_load(drilled, reach.low + share * (reach.high - reach.low)))

        found.append(change(tips_at, before.tips, after.tips))
    return np.array(found)


def change(at: Callable[[float], bool], first: bool, last: bool) -> float:
    """Place between 0 and 1 at which a condition changes; nan if both ends are the same."""
    if first == last:
        return NOWHERE
    low, high = bisected(lambda way: at(way) == first, 0.0, 1.0, 0.5**HALVINGS)
    return 0.5 * (low + high)


CHART_MODELS = (corrected.MODEL, heave.MODEL)  # models of a chart: those valid for all holes


class ChartPoint(NamedTuple):
    """One bowl with one hole and one load.

    verdict : of `check`
    time : until the rim is under, once it has started [s]; nan if there is none
    margin : of the start over the meniscus; negative if the meniscus holds
    periods : filling time over heave period, which shows whether inertia matters; nan if the
        quasi-static model does not fill it
    growth : growth exponent of a heel while it fills, see `StabilityCurve`
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

    Raises RunError if a reduced model does not end.
    """
    open_hole = meniscus_aside(case)
    time = MODELS[model](open_hole, beyond=False).sinking_time
    curve = stability_curve(case)
    filling = filling_time(quasi_static.solve(open_hole, beyond=False))
    period = heave_period(case)
    return ChartPoint(
        verdict=verdict(case),
        time=float("nan") if time is None else time,
        margin=start_margin(case, hole_gate(case)),
        periods=filling / period if filling is not None and period else float("nan"),
        growth=0.0 if curve is None else curve.growth,
    )


def tips(case: Case) -> bool:
    """Whether `check` says so."""
    return verdict(case) == "tips"


BEYOND = 1e-4  # relative increase of the mass to find what limits the heaviest

LoadKind = Literal["ballast", "bowl"]


@dataclass(frozen=True)
class Span:
    """Masses with which a bowl with a given hole floats dry and finally sinks [kg].

    low, high : lightest that sinks, heaviest that floats with its hole shut or that fits
    floats_below : whether it floats below the low end
    under_above : whether it goes under at once above the high end; else nothing heavier fits
    """

    low: float
    high: float
    floats_below: bool
    under_above: bool


def load_kind(case: Case) -> LoadKind:
    """The varied part: the ring if there is one."""
    return "ballast" if case.ballast.ring else "bowl"


def load_of(case: Case) -> float:
    """Mass of the varied part [kg]."""
    return (case.ballast.ring or case.bowl).mass


def with_load(case: Case, mass: float) -> Case:
    """The case with another mass [kg] of ring or bowl."""
    ring = case.ballast.ring
    if ring is None:
        return replace(case, bowl=case.bowl.weighing(mass))
    return replace(case, ballast=case.ballast.with_ring(replace(ring, mass=mass)))


def span(case: Case, top: float = math.inf) -> Span:
    """Masses on the chart for the hole of the case.

    case : the bowl
    top : heaviest load of the chart [kg]

    Raises CaseError for a ring that floats or has no room, or a bowl that goes under with any
    ballast.
    """
    if load_kind(case) == "bowl":
        density, other = case.water.density, case.total_mass - case.bowl.mass
        low = density * solid_volume(case) * (1.0 + NEUTRAL) - other
        high = density * displaced_volume(case, case.bowl.rim_height) - other
        return Span(low, high, True, True)
    setting = ballast_setting(case)
    if dry_draft(with_load(case, setting.low)) is None:
        raise CaseError(
            "goes under at once, whatever hole and ballast: a chart would be empty",
            file=str(case.path or case.title),
            key="bowl.mass",
            given=f"{case.bowl.mass * 1e3:.4g} g",
            allowed="Give a lighter bowl.",
        )
    high = min(setting.high, top)
    beyond = dry_draft(with_load(case, high * (1.0 + BEYOND))) is None
    return Span(setting.low, high, setting.floats_below, beyond)
