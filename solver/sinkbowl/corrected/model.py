"""The best estimate: the heave model's sinking with times stretched by the map's factor.

Times up to the rim are multiplied by one factor; later times are shifted by the same amount as the
rim's. Rates follow by the chain rule; volumes, levels and heads stay with their drafts. If the map
does not apply, this is the heave model. `best_time` is the answer of all commands without a flow
run.
"""

from dataclasses import dataclass, replace
from functools import cached_property
from typing import Any

import numpy as np

from sinkbowl.case.case import Case
from sinkbowl.common.sinking import Best, FloatArray, Sinking
from sinkbowl.corrected.correction import Correction, correction, law_half
from sinkbowl.reduced import heave

MODEL = "corrected"

NAME = "best estimate"  # its name as the answer of a command


@dataclass(frozen=True)
class Corrected:
    """A sinking by the corrected model, with its correction."""

    case: Case
    sinking: Sinking
    correction: Correction

    @cached_property
    def best(self) -> Best | None:
        """Time until the rim is under; None if it stays dry or is under from the start."""
        time, found = self.sinking.sinking_time, self.correction
        if not time:
            return None
        parts = {**found.parts, "discharge coefficient": law_half(self.case)}
        text = f"heave model, not corrected: {found.reason}" if found.reason else NAME
        return Best(time, {k: v for k, v in parts.items() if v > 0.0}, found.sensitive, text)

    def as_dict(self) -> dict[str, Any]:
        """The answer as plain numbers, strings and None, units in the keys."""
        best = self.best
        return {
            "sinking_time_s": self.sinking.sinking_time,
            "interval_s": None if best is None else list(best.interval),
            "in_range": not self.correction.reason,
            "reason": self.correction.reason,
            "factor": self.correction.factor,
            "outcome": self.sinking.outcome,
        }


def best_time(case: Case) -> Best | None:
    """Time until the rim is under, without a flow run; None if it stays dry or is under at once.

    Raises RunError if the integration comes to no end.
    """
    return corrected(case, heave.solve(case, beyond=False)).best


def solve(case: Case, beyond: bool = True) -> Sinking:
    """Sinking of a bowl by the heave model with the map's correction, also `beyond` its rim.

    Raises RunError if the integration comes to no end.
    """
    return corrected(case, heave.solve(case, beyond)).sinking


def corrected(case: Case, by_heave: Sinking) -> Corrected:
    """The corrected sinking from that of the heave model."""
    found = correction(case, by_heave)
    if by_heave.sinking_time is None:
        return Corrected(case, replace(by_heave, model=MODEL), found)
    return Corrected(case, stretched(by_heave, found.factor), found)


def stretched(by_heave: Sinking, factor: float) -> Sinking:
    """The heave model's sinking with stretched times up to the rim.

    Its rim must go under.
    """
    rim = by_heave.sinking_time
    assert rim is not None

    def later(t: FloatArray) -> FloatArray:
        return np.asarray(t + (factor - 1.0) * np.minimum(t, rim))

    events = {name: float(later(np.array(t))) for name, t in by_heave.events.items()}
    if "rim_dips" in events:  # a heeling bowl: not computed beyond its rim
        events["rim_dips"] = factor * by_heave.events["rim_dips"]
    slower = np.where(by_heave.t < rim, factor, 1.0)
    return replace(
        by_heave,
        model=MODEL,
        t=later(by_heave.t),
        speed=by_heave.speed / slower,
        hole_flow=by_heave.hole_flow / slower,
        events=events,
        sinking_time=float(later(np.array(rim))),
    )
