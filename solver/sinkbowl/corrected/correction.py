"""By how much the flow solver's sinking time differs from the heave model's, with its interval.

The factor comes from the map (flow_map.py) at the bowl's dimensionless numbers (similarity.py).
Four things spread the time of one release about it, and add by the root of their squares: how
sure the surface is there, with what no smooth surface explains; how well the law of the hole is
known; how one release differs from the next; and the error of the grid that the map was computed
on.

Beyond the map there is no correction, and the reason is told. Heave then stands alone, with the
error that it has on the map's bowls with holes as wide.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from sinkbowl.case.case import Case
from sinkbowl.case.parts import usual_tub
from sinkbowl.common.confidence import LEVEL, QUANTILE
from sinkbowl.common.sinking import Sinking
from sinkbowl.corrected.flow_map import MEASURED, FlowMap, flow_map
from sinkbowl.corrected.similarity import NAMES, similarity
from sinkbowl.scatter.draws import draws_at, hole_ratio
from sinkbowl.statics.capillarity import hole_gate
from sinkbowl.statics.hydrostatics import dry_draft, floats

MOST_UNSURE = 0.08
"""Standard deviation of ln(time) above which the map's surface says too little."""

SLACK = 0.02
"""Of the range of each number, by which a bowl may lie beyond all bowls of the map."""

NEIGHBOURS = 60
"""Bowls of the map with the nearest holes, by which the error of heave alone is told."""

LAW = 0.03
"""Error of an estimated discharge coefficient at 95 % (reduced/discharge.py), and so of the time:
the flow solver's own jet has 0.5913, real sharp holes 0.60 to 0.63."""

WORDS = {
    "hole": "hole over rim diameter",
    "load": "mass over that of the water it displaces to the rim",
    "shell": "volume of the shell over that of the bowl",
    "height": "height over rim radius (logarithm)",
    "fullness": "volume over that of a cylinder around it",
    "foot": "waterplane near the base over that of the rim",
    "lip": "length over diameter of the hole",
    "size": "size (logarithm of Galilei's number over 2)",
    "pace": "sinking time over bobbing period (asinh of twice it)",
}


@dataclass(frozen=True)
class Correction:
    """What the map says of a case.

    Attributes
    ----------
    reason : why it says nothing, in a sentence; empty where it does
    factor : of the heave model's times; 1 where it says nothing
    bend : b of t'/T' = s (1 + b (1 - s)), the course up to the rim; 0 where it says nothing
    unsure : half-width at 95 % by the map, share of the time; of heave's own error where it says
        nothing
    law : half-width at 95 % by the hole's law, share of the time; 0 where the case gives C
    scatter : half-width at 95 % from one release to the next, share of the time
    grid : half-width at 95 % by the map's grid, share of the time
    """

    reason: str
    factor: float
    bend: float
    unsure: float
    law: float
    scatter: float
    grid: float

    @property
    def half(self) -> float:
        """Half-width of all together at 95 %, share of the time."""
        return math.sqrt(self.unsure**2 + self.law**2 + self.scatter**2 + self.grid**2)


def correction(case: Case, heave: Sinking) -> Correction:
    """What the map says of a case whose heave model went down as `heave`."""
    return correction_on(flow_map(), case, heave)


def correction_on(flow: FlowMap, case: Case, heave: Sinking) -> Correction:
    """The same by another map."""
    reason = _beside_the_map(case, heave)
    if reason:
        return _heave_alone(flow, case, reason)
    assert heave.sinking_time is not None
    numbers = similarity(case, heave.sinking_time)
    reach = SLACK * (flow.high - flow.low)
    beyond = (numbers < flow.low - reach) | (numbers > flow.high + reach)
    if np.any(beyond):
        k = int(np.argmax(beyond))
        reason = (
            f"{WORDS[NAMES[k]]} is {numbers[k]:.3g}, the map has {flow.low[k]:.3g} to "
            f"{flow.high[k]:.3g}"
        )
        return _heave_alone(flow, case, reason)
    time = flow.time.at(numbers)
    if time.deviation > MOST_UNSURE:
        return _heave_alone(flow, case, "the map has no bowls near enough to this one")
    return Correction(
        reason="",
        factor=math.exp(time.value),
        bend=float(np.clip(flow.bend.at(numbers).value, -MOST_BEND, MOST_BEND)),
        unsure=QUANTILE * flow.widening * math.hypot(time.deviation, flow.white),
        law=LAW if case.hole.discharge_coefficient is None else 0.0,
        scatter=QUANTILE * math.exp(flow.scatter.at(numbers).value),
        grid=draws_at(hole_ratio(case)).grid,
    )


MOST_BEND = 0.9
"""Below 1, so that time never runs back."""


def without_map(case: Case) -> str:
    """Why a case is none of the map's kind whatever its hole and mass; empty where it may be."""
    if case.hole.count > 1:
        return "the map's bowls have one hole each"
    if case.start.kind != "set down":
        return "the map's bowls were set down, none was dropped or pushed"
    if case.flow.tub_radius < usual_tub(case.bowl.rim_radius) * (1.0 - 1e-9):
        return "its tub is narrower than the map's"
    if case.flow.tub_depth is not None:
        return "the map's tubs are deep"
    return ""


def _beside_the_map(case: Case, heave: Sinking) -> str:
    """Why a case is none of the map's kind; empty where it is."""
    if floats(case) or heave.sinking_time is None:
        return "its rim does not go under by itself"
    if dry_draft(case) is None:
        return "it goes under at once"
    reason = without_map(case)
    if not reason and hole_gate(case).plugged:
        return "its meniscus holds it"
    return reason


def _heave_alone(flow: FlowMap, case: Case, reason: str) -> Correction:
    """No correction: heave with the error that it has on bowls of the map with holes as wide."""
    measured = [row for row in flow.rows if row.use == MEASURED]
    holes = np.array([row.numbers[0] for row in measured])
    ratio = case.bowl.hole_radius / case.bowl.rim_radius
    near = np.argsort(np.abs(holes - ratio))[:NEIGHBOURS]
    off = np.abs([measured[k].log_factor for k in near])
    return Correction(reason, 1.0, 0.0, float(np.quantile(off, LEVEL)), 0.0, 0.0, 0.0)
