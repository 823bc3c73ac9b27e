"""The interval of a sinking by the flow solver, from its runs.

A bowl that nearly stalls may miss its rim by one heave and take a period longer. A narrow hole's
bowl bobs on its way without harm: a period is little of its time.
"""

from collections.abc import Mapping, Sequence

from sinkbowl.case.case import Case
from sinkbowl.common.best import STALL_HALF
from sinkbowl.common.sinking import FloatArray, nearly_stalls
from sinkbowl.corrected.correction import law_half
from sinkbowl.scatter.interval import TimeInterval, of_runs
from sinkbowl.statics.hydrostatics import heave_period


def flow_interval(
    case: Case,
    times: Sequence[float | None],
    histories: Sequence[Mapping[str, FloatArray]],
    closed: bool,
    grid: float | None = None,
) -> TimeInterval | None:
    """Interval of one run or an ensemble; None if not every rim passed under.

    times, histories : sinking time [s] of each member, and its t, draft and speed
    closed : whether the hole followed a discharge law
    grid : half-width by the grid error, if there are several grids [s]
    """
    known = [time for time in times if time is not None]
    if len(known) < len(times):
        return None
    period = heave_period(case)
    stalls = any(
        nearly_stalls(one["t"], one["draft"], one["speed"], time)
        and (period is None or period >= STALL_HALF * time)
        for one, time in zip(histories, known, strict=True)
    )
    law = law_half(case) if closed else None
    return of_runs(case, known, grid, law=law, sensitive=stalls)
