"""What the reduced models need to know of bowl and ballast at a draft and an inner level.

The same volumes as hydrostatics.py, one number at a time and fast: a differential equation asks for
them many thousand times. Heights are in the bowl frame (z = 0 at the lowest outer point). Above its
rim the hull counts as going on straight up: as long as the meniscus at the rim holds the water
back, the dry space above the rim carries weight like the hull.
"""

from __future__ import annotations

import math
from bisect import bisect_right
from typing import NamedTuple

from sinkbowl.bowl.hull import Hull
from sinkbowl.case.case import Case
from sinkbowl.statics.added_mass import OuterInertia, outer_inertia

ROUND_OFF = 1e-12
"""Share of the draft by which a flat base's hull may seem to lack volume."""


class Outside(NamedTuple):
    """The outer water at a draft.

    area : of the waterplane, an outer ring included [m^2]
    radius : of the hull's waterplane [m]
    displaced : water displaced by the plugged hull and an outer ring [m^3]
    depth : of the half spheroid that is as full as the wetted hull, 0 for a flat base [m]
    inertia : of the water outside
    """

    area: float
    radius: float
    displaced: float
    depth: float
    inertia: OuterInertia


class Vessel:
    """Areas, volumes and outer inertia of one bowl with its ballast.

    Parameters
    ----------
    case : the bowl, its hole, ballast and water

    Attributes
    ----------
    mass : bowl and ballast [kg]
    density : of the water [kg/m^3]
    rim, inner_edge, outer_edge : heights of the rim and of the hole's edges [m]
    rim_radius, hole_radius : [m]
    hole_area : [m^2]
    outer_steps, inner_steps : heights of flat faces, where an area jumps [m]
    plug_volume : of the water in the full hole [m^3]
    hull_volume : displaced with the rim at the surface and the inside dry [m^3]
    """

    def __init__(self, case: Case) -> None:
        bowl = case.bowl
        self.case = case
        self.mass = case.total_mass
        self.density = case.water.density
        self.rim = bowl.rim_height
        self.rim_radius = bowl.rim_radius
        self.inner_edge = bowl.inner_edge_height
        self.outer_edge = bowl.outer_edge_height
        self.hole_radius = bowl.hole_radius
        self.hole_area = math.pi * self.hole_radius**2
        self._outer, self._inner = _Levels(bowl.outer_hull), _Levels(bowl.inner_hull)
        self._beside, self._within = case.outer_ballast, case.inner_ballast
        self.outer_steps = tuple(sorted((*self._outer.steps(), *self._beside.flat_faces)))
        self.inner_steps = tuple(sorted((*self._inner.steps(), *self._within.flat_faces)))
        self.plug_volume = self.water(self.inner_edge)
        self.hull_volume = self.displaced(self.rim)

    def outer_area(self, draft: float) -> float:
        """Area of the outer waterplane, an outer ring included [m^2]."""
        return self._outer.at(draft)[0] + self._beside.area_at(draft)

    def displaced(self, draft: float) -> float:
        """Water displaced by the plugged hull and an outer ring [m^3]."""
        return self._displaced(draft, *self._outer.at(min(draft, self.rim)))

    def water_area(self, z: float) -> float:
        """Area of the inner surface at height z, less an inner ring's [m^2]."""
        return self.inside(z)[0]

    def water(self, z: float) -> float:
        """Water in bowl and hole up to height z, less what an inner ring takes [m^3]."""
        return self.inside(z)[1]

    def inside(self, z: float) -> tuple[float, float]:
        """Area of the inner surface [m^2] and water below it [m^3], as the two above."""
        area, volume = self._inner.at(min(z, self.rim))
        level = min(z, self.rim)
        return area - self._within.area_at(z), volume - self._within.volume_below(level)

    def outside(self, draft: float) -> Outside:
        """The outer water at a draft."""
        wet = min(draft, self.rim)
        plane, volume = self._outer.at(wet)
        missing = wet - self.outer_edge - (volume / plane if plane > 0.0 else 0.0)
        depth = 3.0 * missing if missing > ROUND_OFF * wet else 0.0
        radius = max(math.sqrt(plane / math.pi), self.hole_radius)
        return Outside(
            area=plane + self._beside.area_at(draft),
            radius=radius,
            displaced=self._displaced(draft, plane, volume),
            depth=depth,
            inertia=outer_inertia(radius, self.hole_radius, depth, self.density),
        )

    def _displaced(self, draft: float, plane: float, volume: float) -> float:
        """Displaced water [m^3], area and volume of the hull up to draft or rim being known."""
        above_rim = max(draft - self.rim, 0.0) * plane
        return volume + above_rim + self._beside.volume_below(draft)


class _Levels:
    """Area and volume of a `Hull` at single heights, constant beyond its ends."""

    def __init__(self, hull: Hull) -> None:
        self._heights: list[float] = hull.heights.tolist()
        self._area: list[list[float]] = hull.area.tolist()
        self._volume: list[float] = hull.volume.tolist()

    def at(self, z: float) -> tuple[float, float]:
        """Area [m^2] at height z [m], and volume below it [m^3]."""
        heights = self._heights
        clipped = min(max(z, heights[0]), heights[-1])
        i = min(bisect_right(heights, clipped), len(self._area)) - 1
        (c0, c1, c2), s = self._area[i], clipped - heights[i]
        return (
            c0 + s * (c1 + s * c2),
            self._volume[i] + s * (c0 + s * (c1 / 2.0 + s * c2 / 3.0)),
        )

    def steps(self) -> tuple[float, ...]:
        """Heights inside the hull at which the area jumps [m]."""
        inside = enumerate(self._heights[1:-1], start=1)
        return tuple(z for i, z in inside if not math.isclose(self._end_area(i), self._area[i][0]))

    def _end_area(self, i: int) -> float:
        """Area just below height i [m^2]."""
        c0, c1, c2 = self._area[i - 1]
        s = self._heights[i] - self._heights[i - 1]
        return float(c0 + s * (c1 + s * c2))
