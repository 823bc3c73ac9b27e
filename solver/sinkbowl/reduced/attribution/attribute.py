"""Which part of a model owes which part of the difference of sinking times.

A difference of sinking times attributed to its causes, whatever their order.

T is a function of how much of each cause is present, 0 (the model) to 1 (the flow). All causes are
brought in together, a little at a time; at each stage the time that one of them moves is its own:

    share_i = int_0^1 dT/dx_i (s, ..., s) ds

(Aumann & Shapley 1974, Values of Non-Atomic Games, ch. III; from memory). No order of causes
enters, causes can be lumped without changing the others, and the shares add up to T(1) - T(0). The
integral is taken by Gauss's rule with central differences over 2 `REACH`. T jumps where a bob just
reaches the rim or just does not, and a difference may reach across the jump. Along the common way
T is smooth, and its slope is the sum of the single ones: where they miss it, the largest of them is
set to what the others leave. What the rule misses is left over.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from functools import cache
from typing import Any, Protocol

import numpy as np

from sinkbowl.case.case import Case
from sinkbowl.common.errors import RunError
from sinkbowl.common.sinking import FloatArray
from sinkbowl.reduced import falling, heave, quasi_static
from sinkbowl.reduced.attribution.flow_course import FlowCourse, Record
from sinkbowl.reduced.attribution.replays import FallingReplay, HeaveReplay, QuasiStaticReplay
from sinkbowl.reduced.attribution.residuals import REST
from sinkbowl.reduced.start import beginning
from sinkbowl.reduced.tables import Tables, tabulate

STALLING = 0.25
"""Speed at the rim, over the mean speed from release to there, below which a draft
nearly stalls."""

STUCK = "the bowl does not sink on the way from the model to the flow"
UNREAD = "the history is too short or too rough for an attribution"


class Replay(Protocol):
    """A model that can be integrated with any share of its residuals."""

    @property
    def forces(self) -> tuple[str, ...]:
        """Names of the residual forces on the bowl."""
        ...

    @property
    def pressures(self) -> tuple[str, ...]:
        """Names of the residual pressures over the hole."""
        ...

    def time(self, amounts: FloatArray) -> float | None:
        """Sinking time [s] with these shares of its residuals; None where it never sinks."""
        ...


@dataclass(frozen=True)
class Reasons:
    """What a model's sinking time owes to what, signed, model minus flow [s].

    Attributes
    ----------
    total : model's time less the flow's
    hole : owed to the hole's law
    forces : owed to the forces on the bowl
    terms : of the forces, by name; with `rest` they add up to `forces`
    rest : of the forces, what no term claims
    hole_terms : of the hole's law, by name; they add up to `hole`
    remainder : total minus hole and forces
    speed : of the flow's bowl as its rim passes under [m/s]; 1 / speed is what a millimetre costs
    stalls : whether that is slow, so that small forces make long times
    note : why there is no attribution, in words; empty where there is one
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
    case: Case,
    record: Record,
    times: Mapping[str, float | None],
    flow_time: float | None = None,
) -> dict[str, Reasons | None]:
    """Share out what the models' sinking times are off; None for a model that has no time.

    Parameters
    ----------
    case : the bowl
    record : the flow's run of it, whose rim passed under
    times : sinking time of each model [s]
    flow_time : the flow's, where it is not that of the run itself but of several [s]; what the two
        differ by remains unshared
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
        replay = _replay(tables, path, model, max(time, path.end))
    except ValueError:
        return Reasons(total, remainder=total, note=UNREAD)
    speed = max(float(path.speed[-1]), 0.0)
    mean = (path.draft[-1] - path.draft[0]) / path.end
    stalls = bool(speed < STALLING * mean)
    try:
        shares = share_out(replay.time, len(replay.forces) + len(replay.pressures))
    except RunError:
        shares = None
    if shares is None and model == falling.MODEL:
        return Reasons(total, forces=total, rest=total, speed=speed, stalls=stalls, note=STUCK)
    if shares is None:
        return Reasons(total, remainder=total, speed=speed, stalls=stalls, note=STUCK)
    owed = [-share for share in shares]
    forces, pressures = owed[: len(replay.forces)], owed[len(replay.forces) :]
    terms = dict(zip(replay.forces, forces, strict=True))
    rest = terms.pop(REST, 0.0)
    hole, pushed = float(np.sum(pressures)), float(np.sum(forces))
    if model == falling.MODEL:
        # Nothing but forces acts on it: what the stages miss is theirs too.
        rest += total - pushed
        pushed = total
    return Reasons(
        total=total,
        hole=hole,
        forces=pushed,
        terms=terms,
        rest=rest,
        hole_terms=dict(zip(replay.pressures, pressures, strict=True)),
        remainder=total - hole - pushed,
        speed=speed,
        stalls=stalls,
    )


def _replay(tables: Tables, path: FlowCourse, model: str, longest: float) -> Replay:
    if model == quasi_static.MODEL:
        return QuasiStaticReplay(tables, path)
    if model == heave.MODEL:
        return HeaveReplay(tables, path, longest)
    return FallingReplay(tables, path, longest)


STAGES = 4
REACH = 0.04
"""Points of Gauss's rule, and half the way over which T is differentiated; the first
point is 0.069."""

MISSED = 0.1
"""Share of the largest slope by which their sum may miss the common one."""

Time = Callable[[FloatArray], float | None]
"""Sinking time [s] with these amounts (k,) of the causes; None where the rim stays up."""


def share_out(time: Time, causes: int) -> list[float] | None:
    """Shares of T(1) - T(0) of each cause [s]; None where the rim does not go under on the way.

    Parameters
    ----------
    time : sinking time with given amounts of the causes, 0..1
    causes : how many there are
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
    """Rate of T along a step; None where the rim stays up."""
    after, before = time(middle + step), time(middle - step)
    return None if after is None or before is None else (after - before) / (2.0 * REACH)


def _without_jump(single: FloatArray, common: float) -> FloatArray:
    """Slopes (k,) that add up to the common one, see the module."""
    largest = int(np.argmax(np.abs(single)))
    missed = common - float(np.sum(single))
    if abs(missed) > MISSED * abs(single[largest]):
        single[largest] += missed
    return single
