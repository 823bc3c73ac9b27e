"""The time of a bowl that heels: heel and filling computed together, by statics.

A bowl at rest at a heel phi (statics/heel.py) has the same volumes of water inside and outside
as upright, but other levels over the hole. Between upright walls, and as long as neither level
reaches a base or a rim, both turn about the axis, and the head is (D - z) cos(phi): less than
upright, so that it fills more slowly. Where the inner water has run clear of the hole, the head
is that over the hole's edge. One side of the rim is lower, and water comes over it earlier than
over that of the upright bowl.

The upright bowl's sinking is therefore timed anew, dt' = Q(upright head) / Q(heeled head) dt at
the same inner level. For the quasi-static model this is exact; the other models contribute the
inertia, and statics the heel. From a level at which no heel is stable, the roll takes no time.

A hole beside the axis heels the bowl: the jet that enters lifts it there, and so does the metal
that is missing there, by its weight less its buoyancy. The moment (from first principles)

    M = e (rho Q v + (rho_s - rho) g t a),

e the offset, Q and v the flow and the jet's speed under the head at that inner level, t a the
volume drilled out of the shell of density rho_s, stands against the righting moment at the heel,
rho g V GZ, with the water inside run to the lower side (statics/heel.py; for a small heel rho g V
GM tan(phi)). All of the jet's thrust is assumed to act on the bowl, although its water gives some
back where it falls down, and the bowl is assumed to have time to heel so far: an upper bound. The
heel at rest includes that of the bowl by itself. The hole is on the higher side: while the inner
water leaves it dry, its depth is less than at the axis by e sin(phi). (Where M is negative, in a
shell lighter than water, it is on the lower side.)
"""

import math
from collections.abc import Iterator
from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np

from sinkbowl.bowl.hull import FloatArray
from sinkbowl.case.case import Case
from sinkbowl.common import GRAVITY
from sinkbowl.common.numerics import FrozenArrays, bisected
from sinkbowl.common.sinking import Sinking, first_at
from sinkbowl.reduced.discharge import discharge
from sinkbowl.statics.flooding import CLOSE_LEVEL, flooding
from sinkbowl.statics.heel import flooding_heel, heeled_water, resting_heel
from sinkbowl.statics.hydrostatics import draft_at
from sinkbowl.statics.stability import StabilityCurve, stability_curve

VISIBLE_HEEL = np.radians(1.0)  # heel [rad] below which the bowl counts as upright
POINTS = 25  # fillings at which the heel of a bowl that does not tip is computed

PHASE_TO_HEEL = np.pi / 2.0
"""Phase of rolling [rad] after which a bowl under a heeling moment reaches its heel at rest."""


@dataclass(frozen=True, eq=False)
class HeeledFilling(FrozenArrays):
    """The filling of a bowl that heels.

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
        if np.any(filled >= level):
            return first_at(clock, filled, level)
        under = self.tips is None and "rim_under" in upright.events
        return float(clock[-1]) if under else None


@dataclass(frozen=True, eq=False)
class OffsetHeels(FrozenArrays):
    """Heels of rest of a bowl with a hole beside its axis.

    inner_level : above the inner base when upright [m], (n,), from dry
    heel : of rest there [rad], (n,)
    dips : whether at the last of them the lowest point of the rim is at the outer surface
    """

    inner_level: FloatArray
    heel: FloatArray
    dips: bool


def with_heel(case: Case, upright: Sinking) -> Sinking:
    """A sinking by a model that fills the bowl, with the events of its heel: `tips`, `rim_dips`."""
    if len(upright.t) > 1 or "rim_under" in upright.events:
        heeled = heeled_filling(case)
        return upright if heeled is None else heeled.timed(upright)
    # A bowl that does not fill has all the time it needs to tip.
    curve = stability_curve(case)
    if curve is None or not curve.tips_dry:
        return upright
    dips = flooding(case)
    at_once = dips is not None and dips.level == curve.inner_level[0]
    events = {**upright.events, "tips": 0.0}
    return replace(upright, events={**events, "rim_dips": 0.0} if at_once else events)


@lru_cache(maxsize=4)
def heeled_filling(case: Case) -> HeeledFilling | None:
    """How a bowl heels while it fills; None for one that does not, or has no time to."""
    curve = stability_curve(case)
    if curve is None:
        return None
    if case.hole.offset > 0.0:
        return _with_offset(case, curve)
    if not curve.time_to_heel or not _heels_by_itself(curve):
        return None
    if not curve.tips:
        level, heel = _heels(curve)
        return HeeledFilling(level, _slower(case, level, heel), None, None)
    dips = flooding(case)
    if dips is None:
        level = curve.inner_level[:1]
        return HeeledFilling(level, np.ones(1), curve.tipping_level, None)
    slower = _slower(case, dips.inner_level, dips.heel)
    return HeeledFilling(dips.inner_level, slower, curve.tipping_level, dips.level)


def offset_moment(case: Case, inner_level: float) -> float:
    """Heeling moment [N m] of a hole beside the axis; positive: away from the hole.

    case : the bowl
    inner_level : above the inner base [m], below it where the bowl is dry

    Raises ValueError if upright its rim is under.
    """
    law, rho = discharge(case), case.water.density
    flow = law.flow(max(heeled_head(case, inner_level, 0.0), 0.0))
    jet, _ = law.jet(flow, 0.0, case.bowl.rim_radius)
    shell = case.bowl.mass / case.bowl.solid_volume
    missing = (shell - rho) * GRAVITY * case.bowl.base_thickness * case.hole.area
    return case.hole.offset * (rho * flow * jet + missing)


@lru_cache(maxsize=4)
def offset_heels(case: Case) -> OffsetHeels | None:
    """Heels of rest under the moment of a hole beside the axis, to where the rim dips under.

    None for a bowl that is not filled.
    """
    curve = stability_curve(case)
    if curve is None:
        return None
    levels = curve.inner_level[np.linspace(0, curve.inner_level.size - 1, POINTS).astype(int)]
    heels = list(_held(case, levels))
    if len(heels) == POINTS:
        return OffsetHeels(levels, np.array(heels), False)
    if not heels:
        return OffsetHeels(levels[:1], np.array([flooding_heel(case, float(levels[0]))]), True)
    held, lost = map(float, levels[len(heels) - 1 : len(heels) + 1])
    lost = bisected(lambda z: _heel_with_offset(case, z) is not None, held, lost, CLOSE_LEVEL)[1]
    levels = levels[: len(heels)]
    if len(heels) < POINTS // 2:
        levels = np.linspace(levels[0], lost, POINTS)[:-1]
        heels = heels[:1] + list(_held(case, levels[1:]))
    heels.append(flooding_heel(case, lost))
    return OffsetHeels(np.append(levels, lost), np.array(heels), True)


def heeled_head(case: Case, inner_level: float, heel: float) -> float:
    """Head over the hole of a bowl held at a heel [m].

    case : the bowl
    inner_level : above the inner base when upright [m]; at -base_thickness it is dry
    heel : [rad]

    Raises ValueError if upright its rim is under.
    """
    bowl, edge = case.bowl, case.bowl.inner_edge_height
    draft = draft_at(case, inner_level)
    if draft is None:
        raise ValueError(f"with its inner level at {inner_level:.4g} m the bowl is under")
    upright = edge + max(inner_level, 0.0)
    if heel == 0.0:
        return draft - upright
    outside = heeled_water(bowl.outer_hull, float(bowl.outer_volume(draft)), heel).level
    over = edge * float(np.cos(heel))
    if case.hole.offset > 0.0:
        over += math.copysign(case.hole.offset, offset_moment(case, inner_level)) * math.sin(heel)
    volume = float(bowl.inner_volume(upright))
    if inner_level > 0.0:
        over = max(over, heeled_water(bowl.inner_hull, volume, heel).level)
    return outside - over


def _with_offset(case: Case, curve: StabilityCurve) -> HeeledFilling | None:
    follows = curve.phase >= PHASE_TO_HEEL
    in_time = curve.time_to_heel if _heels_by_itself(curve) else follows
    found = offset_heels(case) if in_time else None
    if found is None or float(found.heel.max()) < VISIBLE_HEEL:
        return None
    slower = _slower(case, found.inner_level, found.heel)
    dips = float(found.inner_level[-1]) if found.dips else None
    tips = curve.tipping_level
    if tips is not None and dips is not None:
        tips = min(tips, dips)
    return HeeledFilling(found.inner_level, slower, tips, dips)


def _heel_with_offset(case: Case, inner_level: float) -> float | None:
    """Heel of rest with the hole's moment [rad]; None where the rim is under."""
    if draft_at(case, inner_level) is None:
        return None
    return resting_heel(case, inner_level, abs(offset_moment(case, inner_level)))


def _held(case: Case, levels: FloatArray) -> Iterator[float]:
    """Heels of rest with the hole's moment [rad] at inner levels, up to the first without one."""
    for level in map(float, levels):
        heel = _heel_with_offset(case, level)
        if heel is None:
            return
        yield heel


def _heels_by_itself(curve: StabilityCurve) -> bool:
    greatest = curve.greatest_heel
    return greatest is None or greatest[1] >= VISIBLE_HEEL


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
