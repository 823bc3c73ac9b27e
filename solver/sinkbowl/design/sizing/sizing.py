"""Hole or ballast for a wanted sinking time: inversion of a model.

The larger the hole or ring, the faster the bowl sinks; T ~ d^-2 for the hole, so log T against log
d is nearly straight. The root is bracketed along that slope and found by Brent's method, without
the meniscus, which is checked afterwards. A time that no hole or ring gives is a result, not an
error.
"""

import math
from functools import cache
from pathlib import Path

from sinkbowl.case.case import Case, load_case
from sinkbowl.common.errors import CaseError
from sinkbowl.common.numerics import root as find_root
from sinkbowl.common.sinking import Best
from sinkbowl.common.units import Kind, number_of
from sinkbowl.corrected import MODELS
from sinkbowl.corrected import model as corrected
from sinkbowl.corrected.correction import without_map
from sinkbowl.design.budget.variation import held_by_meniscus, meniscus_aside
from sinkbowl.design.checking import density_warning
from sinkbowl.design.checking import verdict as check_verdict
from sinkbowl.design.sizing.design_variable import (
    KEYS,
    Setting,
    ballast_setting,
    hole_setting,
    with_count,
)
from sinkbowl.design.sizing.drills import drill_not_below, drills_around, oversize
from sinkbowl.design.sizing.sized import DrillChoice, Sized, Verdict
from sinkbowl.reduced import heave, quasi_static
from sinkbowl.statics.capillarity import hole_gate
from sinkbowl.statics.hydrostatics import dry_draft, heave_period

SIZING_MODELS = (corrected.MODEL, heave.MODEL, quasi_static.MODEL)
"""Models with a hole; the falling body has none."""

SINKING_TIME = Kind("a time", "s", "10 ms", "1000 hour", "5 min")

NEVER, AT_ONCE = 1e7, 1e-6
"""Times [s] assigned to a bowl that floats and to one that goes under at once."""

OVERSHOOT, LEAST_STEP = 1.1, 0.02
"""Of the way to the root along T ~ d^-2, so that the next step lies beyond it."""

CLOSE = 1e-6  # relative accuracy of the hole or mass
AGREES = 1e-3  # relative error of the time above which the time jumps and there is no root


def size(
    case: Case | str | Path,
    time: float | str,
    by: str = "hole",
    model: str = corrected.MODEL,
    count: int | None = None,
) -> Sized:
    """Hole or ballast with which the rim goes under after a wanted time.

    Parameters
    ----------
    case : the bowl, with the hole and ballast it has, or its file
    time : wanted [s], or text with a unit
    by : "hole", or "ballast": the mass of the case's ring, whose place and material stay
    model : one of `SIZING_MODELS`
    count : number of equal holes, None: as in the case; by "hole" the diameter of each is sought,
        by "ballast" their total area stays

    Raises
    ------
    CaseError : not a time, no such model or variable, no ring in the case, or a ring that floats
    RunError : the reduced model does not end
    """
    case, time = load_case(case), number_of("time", time, SINKING_TIME)
    if count is not None:
        case = with_count(case, count)
    if by not in KEYS:
        raise CaseError(f'"{by}" cannot be sized', allowed="Possible are hole and ballast.")
    hole = by == "hole"
    setting = hole_setting(case) if hole else ballast_setting(case)
    if model not in SIZING_MODELS:
        raise CaseError(
            f'There is no model "{model}" with a hole to size',
            allowed=f"There are {', '.join(SIZING_MODELS)}.",
        )
    search = _Search(setting, time, model)
    value, verdict = search.find()
    first = None
    if value is not None and held_by_meniscus(search.case_at(value)):
        first = search.first_that_starts(value)
        verdict = "plugged" if verdict == "found" else verdict
    found = None if value is None else search.case_at(value)
    draft = None if found is None else dry_draft(found)
    ring = None if found is None or hole else found.ballast.ring
    return Sized(
        title=case.title,
        model=model,
        by="hole" if hole else "ballast",
        wanted=time,
        verdict=verdict,
        ratios=case.hole.ratios,
        value=value,
        time=None if value is None else search.time(value),
        best=None if found is None else best_of(found, model),
        gate=None if found is None else hole_gate(found),
        freeboard=None if draft is None else case.bowl.rim_height - draft,
        section=None if ring is None else 2.0 * ring.section_radius,
        heave_period=None if found is None else heave_period(found),
        tips=found is not None and check_verdict(found) == "tips",
        question=density_warning(case if found is None else found),
        first=first,
        time_at_first=None if first is None else search.time(first),
        drills=_drills(search, verdict, value, first) if hole and case.hole.equal else (),
    )


def best_of(case: Case, model: str) -> Best | None:
    """Best estimate of `check` after the start; None for a model that is not its own."""
    own = model == corrected.MODEL or (model == heave.MODEL and without_map(case))
    return corrected.best_time(meniscus_aside(case)) if own else None


class _Search:
    """Sinking time against the design variable, and the value for a wanted time."""

    def __init__(self, setting: Setting, wanted: float, model: str) -> None:
        self.setting, self.wanted, self.solve = setting, wanted, MODELS[model]
        self.case_at, self.time = cache(setting.case_at), cache(self._time)

    def _time(self, value: float) -> float | None:
        """Sinking time without the meniscus [s]; None if it floats, 0 if it goes under at once."""
        return self.solve(meniscus_aside(self.case_at(value)), beyond=False).sinking_time

    def find(self) -> tuple[float | None, Verdict]:
        """Value that gives the wanted time, or the nearest that sinks, and the verdict."""
        ends = self._bracket()
        if isinstance(ends, float):
            if self.time(ends) is None:
                return None, "floats"
            if ends == self.setting.high:
                return ends, "too quick"
            return ends, "floats" if self.setting.floats_below else "too slow"
        below, above = ends
        root = find_root(self._miss, below, above, xtol=CLOSE, rtol=CLOSE)
        if abs(self._miss(root)) <= AGREES:
            return math.exp(root), "found"
        floating = self.time(math.exp(max(below, root - 2.0 * CLOSE))) is None
        return math.exp(min(above, root + 2.0 * CLOSE)), "floats" if floating else "jumps"

    def first_that_starts(self, value: float) -> float | None:
        """Smallest value above a plugged one with which the bowl starts by itself."""

        def held(logarithm: float) -> float:
            case = self.case_at(math.exp(logarithm))
            return 1.0 if held_by_meniscus(case) else -1.0

        low, high = math.log(value), math.log(self.setting.high)
        if held(high) > 0.0:
            return None
        return math.exp(find_root(held, low, high, xtol=AGREES) + AGREES)

    def _bracket(self) -> tuple[float, float] | float:
        """Logarithms of two values around the root, or the end beyond which it is."""
        low, high = math.log(self.setting.low), math.log(self.setting.high)
        here = min(max(math.log(self.setting.now), low), high)
        while True:
            miss = self._miss(here)
            if (here == high and miss > 0.0) or (here == low and miss < 0.0):
                return self.setting.high if miss > 0.0 else self.setting.low
            step = 0.5 * OVERSHOOT * miss + math.copysign(LEAST_STEP, miss)
            ahead = min(max(here + step, low), high)
            if self._miss(ahead) * miss <= 0.0:
                return min(here, ahead), max(here, ahead)
            here = ahead

    def _miss(self, logarithm: float) -> float:
        """Logarithm of the time over the wanted one; positive if it sinks too slowly."""
        setting = self.setting
        time = self.time(min(max(math.exp(logarithm), setting.low), setting.high))
        time = NEVER if time is None else max(time, AT_ONCE)
        return math.log(time / self.wanted)


def _drills(
    search: _Search, verdict: Verdict, value: float | None, first: float | None
) -> tuple[DrillChoice, ...]:
    """Preferred diameters next to the hole, or the first one that starts."""
    diameters: tuple[float, ...] = ()
    if first is not None:
        enough = drill_not_below(first)
        diameters = () if enough is None else (enough,)
    elif verdict == "found" and value is not None:
        diameters = drills_around(value)
    setting = search.setting
    return tuple(_choice(search, d) for d in diameters if setting.low <= d <= setting.high)


def _choice(search: _Search, diameter: float) -> DrillChoice:
    widest = min(diameter + oversize(diameter), search.setting.high)
    return DrillChoice(
        diameter=diameter,
        time=search.time(diameter),
        starts=not held_by_meniscus(search.case_at(diameter)),
        widest=widest,
        time_at_widest=search.time(widest),
    )
