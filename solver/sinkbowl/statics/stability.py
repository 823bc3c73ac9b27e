"""Stability: metacentric height along the whole filling.

For a small heel, with a free surface inside,

    GM = KB + I_out / V - KG - I_in / V,

KB the height of the centre of the displaced volume V, I_out the second moment of the outer
waterplane, KG the centre of all weights (shell, ballast ring, water inside as if solid), I_in
that of the inner free surface: the free-surface loss, rho I_in / (rho V), depends only on the width
of the surface, not on the amount of water (textbook naval hydrostatics). The bowl fills along its
equilibrium drafts; flow through the hole while it heels is neglected.

With negative GM the bowl heels. It tips if there is no equilibrium before its rim dips (see `heel`)
and if it does not fill too fast for that: a heel grows like exp(N),

    N = int sqrt(-g GM) / k dt,    dt = dV_in / (C_d a sqrt(2 g head)),

with k the radius of gyration of a solid cylinder of its size, a stand-in for shell and water. The
same integral of sqrt(g |GM|) / k is the phase of the rolling of a bowl that stays upright.

Of the empty bowl `Centres` has the points themselves: G the centre of shell and ballast, B that of
the displaced water, M the metacentre, a height I_out / V above B. M above G: it stays upright.
"""

from dataclasses import dataclass
from functools import cached_property, lru_cache

import numpy as np
from numpy.typing import NDArray

from sinkbowl.bowl.hull import FloatArray
from sinkbowl.case.case import Case
from sinkbowl.common import GRAVITY
from sinkbowl.common.numerics import FrozenArrays, frozen, root
from sinkbowl.statics.heel import resting_heel, righted_between
from sinkbowl.statics.hydrostatics import (
    displaced_volume,
    draft_at,
    drafts_at,
    dry_draft,
    final_draft,
    water_inside,
    water_taken_in,
)

SAMPLES = 101  # inner levels of the curve, and of each pass of the search for its minimum
GROWTH_TO_TIP = 3.0  # N with which a heel of one degree, an unsteady hand, becomes twenty
USUAL_DISCHARGE = 0.6  # discharge coefficient for this estimate if the case gives none
LEAST_HEAD = 1e-6  # minimum head [m] of this estimate, for the end of the flow

PASSES = 3
"""Passes of the search for the minimum, each over a fiftieth of the levels of the one before."""

HEEL_SAMPLES = 9
"""Number of unstable levels at which the heel is computed; the others are interpolated."""


@dataclass(frozen=True, eq=False)
class StabilityCurve(FrozenArrays):
    """Metacentric height against the inner level, from dry to the rim or to rest.

    case : the bowl
    inner_level : above the inner base [m], (n,); the first one is dry (hole plugged)
    draft : at rest [m], (n,)
    metacentric_height : [m], (n,); negative: unstable upright
    """

    case: Case
    inner_level: FloatArray
    draft: FloatArray
    metacentric_height: FloatArray

    @cached_property
    def growth(self) -> float:
        """Exponent N of the growth of a heel until the bowl is upright again or under."""
        return self._longest(np.maximum(-self.metacentric_height, 0.0))

    @cached_property
    def phase(self) -> float:
        """Phase that its rolling goes through while it fills [rad]."""
        return self._longest(np.abs(self.metacentric_height))

    @property
    def minimum(self) -> float:
        """Minimum metacentric height [m]."""
        return self._least[0]

    @property
    def level_at_minimum(self) -> float:
        """Its inner level [m]."""
        return self._least[1]

    @cached_property
    def _least(self) -> tuple[float, float]:
        dry, low, high = self.inner_level[[0, 1, -1]]
        for _ in range(PASSES):
            level = np.linspace(low, high, SAMPLES)
            height = _heights(self.case, level, drafts_at(self.case, level))
            k = int(np.argmin(height))
            low, high = level[max(k - 1, 0)], level[min(k + 1, SAMPLES - 1)]
        upright = float(self.metacentric_height[0]), float(dry)
        return min(upright, (float(height[k]), float(level[k])))

    @cached_property
    def heel(self) -> FloatArray:
        """Equilibrium heel [rad], (n,); 0 upright, nan if there is none."""
        return frozen(_heels(self.case, self.inner_level, self.metacentric_height))

    @property
    def greatest_heel(self) -> tuple[float, float] | None:
        """Inner level [m] of the greatest heel, and that heel [rad]; None if it tips."""
        if np.any(np.isnan(self.heel)):
            return None
        worst = int(np.argmax(self.heel))
        return float(self.inner_level[worst]), float(self.heel[worst])

    @property
    def time_to_heel(self) -> bool:
        """Whether a small heel grows large before the bowl is upright again or under."""
        return self.growth >= GROWTH_TO_TIP

    @cached_property
    def tips(self) -> bool:
        """Whether at some level it heels until its rim dips, and has the time for it."""
        return self.time_to_heel and any(
            righted_between(self.case, float(self.inner_level[i])) is None
            for i in _tried(self.metacentric_height)
        )

    @cached_property
    def tips_dry(self) -> bool:
        """Whether the empty bowl tips."""
        return bool(self.metacentric_height[0] <= 0.0) and (
            righted_between(self.case, float(self.inner_level[0])) is None
        )

    @property
    def tipping_level(self) -> float | None:
        """Inner level [m] from which a bowl that tips has no stable heel; None for others."""
        return float(self.inner_level[np.isnan(self.heel)][0]) if self.tips else None

    def _longest(self, height: FloatArray) -> float:
        """Integral of sqrt(g height) / k dt over the longest stretch of heights above 0."""
        bowl, hole, level = self.case.bowl, self.case.hole, self.inner_level
        edge = bowl.inner_edge_height
        head = np.maximum(self.draft - edge - level, LEAST_HEAD)
        opening = (hole.discharge_coefficient or USUAL_DISCHARGE) * hole.area
        flow = opening * np.sqrt(2 * GRAVITY * head)
        volume = bowl.inner_volume(edge + level)
        gyration = np.sqrt(bowl.rim_radius**2 / 4.0 + bowl.rim_height**2 / 12.0)
        rate = np.sqrt(GRAVITY * height) / gyration
        longest = stretch = 0.0
        for step in 0.5 * (rate[1:] / flow[1:] + rate[:-1] / flow[:-1]) * np.diff(volume):
            stretch = stretch + float(step) if step > 0.0 else 0.0
            longest = max(longest, stretch)
        return longest


@lru_cache(maxsize=4)
def stability_curve(case: Case) -> StabilityCurve | None:
    """Metacentric height along the filling.

    None for a bowl that goes under at once, and for one without a base: neither is filled.
    """
    dry = dry_draft(case)
    if dry is None or case.base_gone:
        return None
    lowest, last = -case.bowl.base_thickness, _last_level(case)
    wetted = np.linspace(min(0.0, last), last, SAMPLES)
    level = np.concatenate(([lowest], wetted))
    draft = np.concatenate(([dry], drafts_at(case, wetted)))
    return StabilityCurve(case, level, draft, _heights(case, level, draft))


def metacentric_height(case: Case, inner_level: float) -> float:
    """Metacentric height at rest [m].

    case : the bowl
    inner_level : height of the inner level above the inner base [m]; at or below the hole's
        outer edge (-base_thickness) the bowl is dry

    Raises ValueError if there is no equilibrium with the rim above the water.
    """
    draft = draft_at(case, inner_level)
    if draft is None:
        raise ValueError(f"with its inner level at {inner_level:.4g} m the bowl is under")
    return float(_heights(case, np.array([inner_level]), np.array([draft]))[0])


def _heights(case: Case, inner_level: FloatArray, draft: FloatArray) -> FloatArray:
    """Metacentric heights [m], (n,), at inner levels and their equilibrium drafts."""
    bowl, rho = case.bowl, case.water.density
    within, beside = case.inner_ballast, case.outer_ballast
    z = bowl.inner_edge_height + inner_level
    inside, displaced = bowl.inner_volume(z), bowl.outer_volume(draft)
    buoyancy = bowl.outer_hull.moment_below(draft)
    outer = bowl.outer_hull.waterplane_inertia(draft)
    weight = bowl.mass * bowl.centroid_z + rho * bowl.inner_hull.moment_below(z)
    surface = bowl.inner_hull.waterplane_inertia(z)
    weight = weight + within.mass_moment + beside.mass_moment - rho * within.moments_below(z)
    inside = inside - within.volumes_below(z)
    surface = surface - within.waterplane_inertias(z)
    displaced = displaced + beside.volumes_below(draft)
    buoyancy = buoyancy + beside.moments_below(draft)
    outer = outer + beside.waterplane_inertias(draft)
    surface = np.where(inside > 0.0, surface, 0.0)
    centre = weight / (case.total_mass + rho * inside)
    loss = free_surface_loss(surface, rho, rho * displaced)
    return np.asarray((buoyancy + outer) / displaced - loss - centre)


def free_surface_loss(
    inertia: FloatArray, density: float, displaced_mass: FloatArray
) -> FloatArray:
    """Reduction of the metacentric height by a free surface [m], (n,).

    inertia : second moments of its free surface about the axis of the heel [m^4]
    density : of that liquid [kg/m^3]
    displaced_mass : of the whole vessel [kg]
    """
    return np.asarray(density * inertia / displaced_mass)


def _heels(case: Case, level: FloatArray, height: FloatArray) -> FloatArray:
    """Equilibrium heel [rad] at each level, nan if it tips; searched where GM is negative."""
    heel = np.zeros_like(level)
    tried = _tried(height)
    if tried.size:
        found = [resting_heel(case, float(level[i])) for i in tried]
        known = np.array([np.nan if value is None else value for value in found])
        unstable = np.flatnonzero(height <= 0.0)
        heel[unstable] = np.interp(unstable, tried, known)
    return heel


def _tried(height: FloatArray) -> NDArray[np.intp]:
    """Some of the unstable levels, at which the heel is computed."""
    unstable = np.flatnonzero(height <= 0.0)
    if unstable.size == 0:
        return unstable
    some = np.unique(np.linspace(0, unstable.size - 1, HEEL_SAMPLES).astype(int))
    return np.asarray(unstable[some])


def _last_level(case: Case) -> float:
    """Inner level at rest, or when its rim goes under [m]."""
    edge, rim = case.bowl.inner_edge_height, case.bowl.rim_height
    room, rest = water_taken_in(case), final_draft(case)
    if rest is not None:
        last = min(rest, rim)
        if water_inside(case, last) <= room:
            return last - edge
    low = case.bowl.outer_edge_height
    return root(lambda z: water_inside(case, z) - room, low, rim, xtol=1e-14) - edge


@dataclass(frozen=True)
class Centres:
    """Heights above the bowl's lowest outer point [m], of the empty bowl at its dry draft.

    draft : [m]
    weight : centre of shell and ballast, G
    buoyancy : centre of the displaced water, B
    metacentre : M; G and the metacentric height above it
    """

    draft: float
    weight: float
    buoyancy: float
    metacentre: float


def centres(case: Case) -> Centres | None:
    """Centres of the empty bowl; None if it goes under at once."""
    draft = dry_draft(case)
    if draft is None:
        return None
    weight = centre_of_weight(case)
    moment = float(case.bowl.outer_hull.moment_below(draft))
    moment += case.outer_ballast.moment_below(draft)
    upright = metacentric_height(case, -case.bowl.base_thickness)
    return Centres(draft, weight, moment / displaced_volume(case, draft), weight + upright)


def centre_of_weight(case: Case) -> float:
    """Height of the centre of shell and ballast ring above the lowest outer point [m]."""
    moment = case.bowl.mass * case.bowl.centroid_z + case.ballast.mass_moment
    return moment / case.total_mass
