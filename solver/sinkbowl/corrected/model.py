"""Heave, corrected: the heave model's course, its times stretched as the map has it.

With s = t/T along the heave model's way to the rim and T' = factor T, the same draft is reached at

    t' = T' s (1 + b (1 - s)),

and after the rim as much later as the rim was. Rates follow by the chain rule; volumes, levels and
heads stay with their drafts. Where the map says nothing this is the heave model, and the outcome
says so.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from sinkbowl.case.case import Case
from sinkbowl.common.sinking import FloatArray, Sinking
from sinkbowl.corrected.correction import Correction, correction
from sinkbowl.reduced import heave

MODEL = "corrected"


@dataclass(frozen=True)
class Corrected:
    """A sinking by the corrected model, and what the map said of it."""

    sinking: Sinking
    correction: Correction

    @property
    def interval(self) -> tuple[float, float] | None:
        """Ends of the 95 % interval of one release [s]; None where the rim stays dry."""
        time = self.sinking.sinking_time
        if time is None:
            return None
        half = self.correction.half * time
        return max(0.0, time - half), time + half

    def as_dict(self) -> dict[str, Any]:
        """The answer as plain numbers, strings and None, units in the keys."""
        time, found = self.sinking.sinking_time, self.correction
        return {
            "sinking_time_s": time,
            "interval_s": None if self.interval is None else list(self.interval),
            "in_range": not found.reason,
            "reason": found.reason,
            "factor": found.factor,
            "map_share": found.unsure,
            "law_share": found.law,
            "scatter_share": found.scatter,
            "grid_share": found.grid,
            "outcome": self.sinking.outcome,
        }


def solve(case: Case, quick: bool = False) -> Sinking:
    """Sinking of a bowl by the heave model with the map's correction.

    `quick` leaves out what comes after the rim, see `follow`.

    Raises
    ------
    RunError : if the integration comes to no end
    """
    return corrected(case, heave.solve(case, quick)).sinking


def corrected(case: Case, by_heave: Sinking) -> Corrected:
    """The corrected sinking from that of the heave model."""
    found = correction(case, by_heave)
    if found.reason:
        told = f"{by_heave.outcome} (heave alone: {found.reason})"
        return Corrected(replace(by_heave, model=MODEL, outcome=told), found)
    return Corrected(stretched(by_heave, found.factor, found.bend), found)


def stretched(by_heave: Sinking, factor: float, bend: float) -> Sinking:
    """The heave model's course with its times stretched.

    The rim must go under in it.
    """
    rim = by_heave.sinking_time
    assert rim is not None

    def later(t: FloatArray) -> FloatArray:
        s = np.minimum(t / rim, 1.0)
        return np.asarray(factor * rim * s * (1.0 + bend * (1.0 - s)) + np.maximum(t - rim, 0.0))

    s = by_heave.t / rim
    slower = np.where(s < 1.0, factor * (1.0 + bend * (1.0 - 2.0 * s)), 1.0)
    events = {name: float(later(np.array(t))) for name, t in by_heave.events.items()}
    return replace(
        by_heave,
        model=MODEL,
        t=later(by_heave.t),
        speed=by_heave.speed / slower,
        hole_flow=by_heave.hole_flow / slower,
        events=events,
        sinking_time=float(later(np.array(rim))),
    )
