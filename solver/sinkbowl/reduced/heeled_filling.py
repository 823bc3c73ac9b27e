"""The time of a bowl that heels: heel and filling computed together, by statics.

A bowl at rest at a heel phi (statics/heel.py) has the same volumes of water inside and outside
as upright, but other levels over the hole. Between upright walls, and as long as neither level
reaches a base or a rim, both turn about the axis, and the head is (D - z) cos(phi): less than
upright, so that it fills more slowly. Where the inner water has run clear of the hole, the head
is that over the hole's edge. One side of the rim is lower, and water comes over it earlier than
over that of the upright bowl.

The upright bowl's sinking is therefore timed anew, dt' = Q(upright head) / Q(heeled head) dt at
the same inner level. For the quasi-static model this is exact; the other models contribute the
inertia, and statics the heel. A hole beside the axis counts as in the middle. From a level at
which no heel is stable, the roll takes no time.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from sinkbowl.bowl.hull import FloatArray
from sinkbowl.case.case import Case
from sinkbowl.common.frozen import FrozenArrays
from sinkbowl.common.sinking import Sinking
from sinkbowl.reduced.discharge import discharge
from sinkbowl.statics.flooding import flooding
from sinkbowl.statics.heel import heeled_level
from sinkbowl.statics.hydrostatics import draft_at
from sinkbowl.statics.stability import StabilityCurve, stability_curve

VISIBLE_HEEL = np.radians(1.0)
"""Heel [rad] below which the bowl counts as upright."""

POINTS = 25
"""Fillings at which the heel of a bowl that does not tip is computed."""


@dataclass(frozen=True, eq=False)
class HeeledFilling(FrozenArrays):
    """The filling of a bowl that heels.

    Attributes
    ----------
    inner_level : above the inner base when upright [m], (n,)
    slower : flow of the upright bowl there over that of the heeled one (n,)
    tips : inner level from which no heel is stable [m]; None for a bowl that does not tip
    dips : inner level from which the lowest point of its rim is under [m]; None where that is not
        before the whole rim
    """

    inner_level: FloatArray
    slower: FloatArray
    tips: float | None
    dips: float | None

    def timed(self, upright: Sinking) -> Sinking:
        """The upright sinking with the events of the heeling bowl, where it gets so far."""
        events = dict(upright.events)
        if self.tips is not None:
            tips = self._reached(upright, self.tips)
            if tips is None:
                return upright
            events["tips"] = tips
            rim = None if self.dips is None else self._reached(upright, self.dips)
            rim = None if rim is None else max(tips, rim)
        else:
            rim = self._reached(upright, np.inf if self.dips is None else self.dips)
        if rim is not None:
            events["rim_dips"] = rim
        return replace(upright, events=events)

    def _reached(self, upright: Sinking, level: float) -> float | None:
        """Time [s] of the heeling bowl at an inner level [m], or at the whole rim before it.

        None if it comes to rest first, or, tipping, has its whole rim under.
        """
        end = min(upright.events.get(name, np.inf) for name in ("rim_under", "half_sunk"))
        until = upright.t <= end
        t, filled = upright.t[until], upright.inner_level[until]
        beside = 0.5 * (filled[1:] + filled[:-1])
        steps = np.diff(t) * np.interp(beside, self.inner_level, self.slower)
        clock = np.concatenate(([0.0], np.cumsum(steps)))
        there = np.flatnonzero(filled >= level)
        if there.size:
            near = slice(max(int(there[0]) - 1, 0), int(there[0]) + 1)
            return float(np.interp(level, filled[near], clock[near]))
        under = self.tips is None and "rim_under" in upright.events
        return float(clock[-1]) if under else None


def heeled_filling(case: Case) -> HeeledFilling | None:
    """How a bowl heels while it fills; None for one that does not, or has no time to."""
    curve = stability_curve(case)
    if curve is None or not curve.time_to_heel:
        return None
    if not curve.tips:
        greatest = curve.greatest_heel
        if greatest is None or greatest[1] < VISIBLE_HEEL:
            return None
        level, heel = _heels(curve)
        return HeeledFilling(level, _slower(case, level, heel), None, None)
    dips = flooding(case)
    if dips is None:
        level = curve.inner_level[:1]
        return HeeledFilling(level, np.ones(1), curve.tipping_level, None)
    slower = _slower(case, dips.inner_level, dips.heel)
    return HeeledFilling(dips.inner_level, slower, curve.tipping_level, dips.level)


def heeled_head(case: Case, inner_level: float, heel: float) -> float:
    """Head over the hole of a bowl held at a heel [m].

    Parameters
    ----------
    case : the bowl
    inner_level : above the inner base when upright [m]; at -base_thickness it is dry
    heel : [rad]

    Raises
    ------
    ValueError : if upright its rim is under
    """
    bowl, edge = case.bowl, case.bowl.inner_edge_height
    draft = draft_at(case, inner_level)
    if draft is None:
        raise ValueError(f"with its inner level at {inner_level:.4g} m the bowl is under")
    upright = edge + max(inner_level, 0.0)
    if heel == 0.0:
        return draft - upright
    outside = heeled_level(bowl.outer_hull, float(bowl.outer_volume(draft)), heel)
    over = edge * float(np.cos(heel))
    volume = float(bowl.inner_volume(upright))
    if inner_level > 0.0:
        over = max(over, heeled_level(bowl.inner_hull, volume, heel))
    return outside - over


def _heels(curve: StabilityCurve) -> tuple[FloatArray, FloatArray]:
    """Inner levels [m] of a bowl that heels and rights itself, and its heels there [rad]."""
    inclined = np.flatnonzero(curve.heel > 0.0)
    first, last = max(int(inclined[0]) - 1, 0), min(int(inclined[-1]) + 1, curve.heel.size - 1)
    some = np.unique(np.linspace(first, last, POINTS).astype(int))
    return curve.inner_level[some], curve.heel[some]


def _slower(case: Case, level: FloatArray, heel: FloatArray) -> FloatArray:
    """Flow of the upright bowl over that of the heeled one (n,); 1 where it is upright."""
    law, found = discharge(case), np.ones(level.size)
    for k in np.flatnonzero(heel > 0.0):
        upright = law.flow(heeled_head(case, float(level[k]), 0.0))
        heeled = law.flow(heeled_head(case, float(level[k]), float(heel[k])))
        if upright > 0.0 and heeled > 0.0:
            found[k] = upright / heeled
    return found
