"""Contributions of causes to a difference of sinking times, independent of their order.

T is a function of how much of each cause is present, 0 (the model) to 1 (the flow). All causes grow
together; the share of each is

    share_i = int_0^1 dT/dx_i (s, ..., s) ds

(Aumann & Shapley 1974, Values of Non-Atomic Games, ch. III; from memory). The order of causes does
not matter, causes can be combined without changing the others, and the shares add up to T(1) -
T(0). The integral uses Gauss's rule with central differences over 2 `REACH`. T jumps where a heave
just reaches the rim or just does not, and a difference may reach across the jump. Along the common
way T is smooth, and its slope is the sum of the single ones: if they disagree, the largest is set
to the rest. The error of the rule is the remainder.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from functools import cache
from typing import Any

import numpy as np

from sinkbowl.case.case import Case
from sinkbowl.common.errors import RunError
from sinkbowl.common.sinking import FloatArray
from sinkbowl.reduced import falling, heave, quasi_static
from sinkbowl.reduced.attribution.flow_course import FlowCourse, Record
from sinkbowl.reduced.attribution.modified_models import (
    ModifiedFalling,
    ModifiedHeave,
    ModifiedQuasiStatic,
)
from sinkbowl.reduced.attribution.residuals import REST
from sinkbowl.reduced.start import beginning
from sinkbowl.reduced.tables import Tables, tabulate

STALLING = 0.25  # speed at the rim over the mean speed below which the bowl nearly stalls

STUCK = "the bowl does not sink on the way from the model to the flow"
UNREAD = "the history is too short or too rough for an attribution"


@dataclass(frozen=True)
class Reasons:
    """Contributions to the difference of sinking times, model minus flow [s].

    total : model's time minus the flow's
    hole : by the discharge law
    forces : by the forces on the bowl
    terms : of the forces, by name; with `rest` they add up to `forces`
    rest : of the forces, without a term
    hole_terms : of the discharge law, by name; they add up to `hole`
    remainder : total minus hole and forces
    speed : of the flow's bowl as its rim passes under [m/s]; 1 / speed is the cost of draft
    stalls : whether that is slow, so that small forces change the time a lot
    note : why there is no attribution, in words; empty if there is one
    """

    total: float
    hole: float = 0.0
    forces: float = 0.0
    terms: Mapping[str, float] = field(default_factory=dict)
    rest: float = 0.0
    hole_terms: Mapping[str, float] = field(default_factory=dict)
    remainder: float = 0.0
    speed: float = 0.0
    stalls: bool = False
    note: str = ""

    def as_dict(self) -> dict[str, Any]:
        """The figures, ready for JSON."""
        return {
            "total_s": self.total,
            "hole_s": self.hole,
            "forces_s": self.forces,
            "terms_s": dict(self.terms),
            "rest_s": self.rest,
            "hole_terms_s": dict(self.hole_terms),
            "remainder_s": self.remainder,
            "rim_speed_m_s": self.speed,
            "stalls": self.stalls,
            "note": self.note,
        }


def attribute(
    case: Case, record: Record, times: Mapping[str, float | None], flow_time: float | None = None
) -> dict[str, Reasons | None]:
    """Attribute the models' errors of the sinking time; None for a model without a time.

    case : the bowl
    record : its flow run, whose rim passed under
    times : sinking time of each model [s]
    flow_time : of the flow, if it is the mean of several runs [s]; its difference from the run's is
        not attributed
    """
    if beginning(case).under and case.start.kind != "held":
        return dict.fromkeys(times)
    tables = tabulate(case)
    path = cache(lambda: FlowCourse(tables.vessel, record))
    return {
        name: None if time is None else _reasons(tables, path, name, time, flow_time or record.time)
        for name, time in times.items()
    }


def _reasons(
    tables: Tables, find: Callable[[], FlowCourse], model: str, time: float, flow_time: float
) -> Reasons:
    total = time - flow_time
    try:
        path = find()
        modified = _modified(tables, path, model, max(time, path.end))
    except ValueError:
        return Reasons(total, remainder=total, note=UNREAD)
    speed = max(float(path.speed[-1]), 0.0)
    mean = (path.draft[-1] - path.draft[0]) / path.end
    stalls = bool(speed < STALLING * mean)
    try:
        shares = shares_of_causes(modified.time, len(modified.forces) + len(modified.pressures))
    except RunError:
        shares = None
    if shares is None and model == falling.MODEL:
        return Reasons(total, forces=total, rest=total, speed=speed, stalls=stalls, note=STUCK)
    if shares is None:
        return Reasons(total, remainder=total, speed=speed, stalls=stalls, note=STUCK)
    owed = [-share for share in shares]
    forces, pressures = owed[: len(modified.forces)], owed[len(modified.forces) :]
    terms = dict(zip(modified.forces, forces, strict=True))
    rest = terms.pop(REST, 0.0)
    hole, pushed = float(np.sum(pressures)), float(np.sum(forces))
    if model == falling.MODEL:
        # Only forces act on it: the remainder is theirs too.
        rest += total - pushed
        pushed = total
    return Reasons(
        total=total,
        hole=hole,
        forces=pushed,
        terms=terms,
        rest=rest,
        hole_terms=dict(zip(modified.pressures, pressures, strict=True)),
        remainder=total - hole - pushed,
        speed=speed,
        stalls=stalls,
    )


def _modified(
    tables: Tables, path: FlowCourse, model: str, longest: float
) -> ModifiedQuasiStatic | ModifiedHeave | ModifiedFalling:
    if model == quasi_static.MODEL:
        return ModifiedQuasiStatic(tables, path)
    if model == heave.MODEL:
        return ModifiedHeave(tables, path, longest)
    return ModifiedFalling(tables, path, longest)


STAGES = 4
REACH = 0.04
"""Points of Gauss's rule, and half-width of the differences of T; the first point is 0.069."""

MISSED = 0.1  # tolerance of the sum of slopes, as a share of the largest

Time = Callable[[FloatArray], float | None]
"""Sinking time [s] with these amounts (k,) of the causes; None if the rim stays dry."""


def shares_of_causes(time: Time, causes: int) -> list[float] | None:
    """Share of each cause in T(1) - T(0) [s]; None if the rim does not go under on the way.

    time : sinking time with given amounts of the causes, 0..1
    causes : their number
    """
    shares = np.zeros(causes)
    for place, weight in zip(*np.polynomial.legendre.leggauss(STAGES), strict=True):
        middle = np.full(causes, 0.5 + 0.5 * place)
        steps = [*(REACH * np.eye(causes)), np.full(causes, REACH)]
        slopes = [_slope(time, middle, step) for step in steps]
        if any(slope is None for slope in slopes):
            return None
        *single, common = np.array(slopes, dtype=float)
        shares += 0.5 * weight * _without_jump(np.array(single), float(common))
    return [float(share) for share in shares]


def _slope(time: Time, middle: FloatArray, step: FloatArray) -> float | None:
    """Slope of T along a direction; None if the rim stays dry."""
    after, before = time(middle + step), time(middle - step)
    return None if after is None or before is None else (after - before) / (2.0 * REACH)


def _without_jump(single: FloatArray, common: float) -> FloatArray:
    """Slopes (k,) that add up to the common one, see the module."""
    largest = int(np.argmax(np.abs(single)))
    missed = common - float(np.sum(single))
    if abs(missed) > MISSED * abs(single[largest]):
        single[largest] += missed
    return single
